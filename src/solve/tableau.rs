//! Coefficients of Rosenbrock W-methods of order 3(2): four stages, stiffly accurate, L-stable.

pub(super) const STAGES: usize = 4;

/// A method as its order conditions are written: stage `k_i` takes the rates at `y + sum alpha_ij k_j` and, through W,
/// `sum gamma_ij k_j`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tableau {
    /// Diagonal of Gamma.
    gamma: f64,
    alpha: [[f64; STAGES]; STAGES],
    /// Gamma beside its diagonal.
    coupling: [[f64; STAGES]; STAGES],
    weight: [f64; STAGES],
    /// Of the embedded method of order 2.
    weight_low: [f64; STAGES],
    /// Stages with rates of their own; the rest share those of the one before.
    calls: usize,
    /// Power of the step that the error of an accepted one is taken to follow: one more than the embedded method's order,
    /// where fast states don't take from it.
    error_order: f64,
}

/// ROS34PW2: J. Rang and L. Angermann, *New Rosenbrock W-methods of order 3 for partial differential algebraic equations
/// of index 1*, BIT 45 (2005) 761-787, table 4.2 (digits from memory; the order conditions are tested below).
pub(super) const FOUR_CALLS: Tableau = Tableau {
    gamma: GAMMA_4,
    alpha: [
        [0.0; STAGES],
        [8.717_330_430_169_18e-1, 0.0, 0.0, 0.0],
        [
            8.445_706_001_536_942e-1,
            -1.129_906_423_648_418_5e-1,
            0.0,
            0.0,
        ],
        [0.0, 0.0, 1.0, 0.0],
    ],
    coupling: [
        [0.0; STAGES],
        [-8.717_330_430_169_18e-1, 0.0, 0.0, 0.0],
        [
            -9.033_805_701_304_408e-1,
            5.418_067_238_809_532_6e-2,
            0.0,
            0.0,
        ],
        [
            2.421_238_070_609_534_6e-1,
            -1.223_250_583_904_514_7,
            5.452_602_553_351_021e-1,
            0.0,
        ],
    ],
    weight: [
        2.421_238_070_609_534_6e-1,
        -1.223_250_583_904_514_7,
        1.545_260_255_335_102,
        GAMMA_4,
    ],
    weight_low: [
        3.781_090_314_581_937e-1,
        -9.604_229_221_242_318e-2,
        0.5,
        2.179_332_607_542_295e-1,
    ],
    calls: 4,
    error_order: 3.0,
};
const GAMMA_4: f64 = 4.358_665_215_084_59e-1;

/// Three calls of the rates a step: the last two stages share theirs. Our own: for a gamma and a time of the second stage
/// the order conditions have a few solutions; this one, at 0.54 and 0.55, took the least work of some 300 at equal
/// largest errors over the built-in builds and cycles. How far the embedded method stands off is free: as far as makes the
/// tolerance of a run leave an error of 0.07 K, as it does with [`FOUR_CALLS`].
pub(super) const THREE_CALLS: Tableau = Tableau {
    gamma: 0.54,
    alpha: [[0.0; STAGES], [0.55, 0.0, 0.0, 0.0], SHARED, SHARED],
    coupling: [
        [0.0; STAGES],
        [-0.891, 0.0, 0.0, 0.0],
        [0.201_162_958_188_261, -0.797_241_058_949_080_6, 0.0, 0.0],
        [
            0.793_935_673_401_507_6,
            -0.873_570_206_080_834_1,
            -0.331_333_209_256_157_33,
            0.0,
        ],
    ],
    weight: [
        0.212_682_379_349_046_02,
        0.578_650_829_907_111_4,
        -0.331_333_209_256_157_33,
        0.54,
    ],
    weight_low: [
        0.240_587_477_887_619_8,
        0.502_928_451_963_242_8,
        -0.073_015_524_018_381_68,
        0.329_499_594_167_519_1,
    ],
    calls: 3,
    error_order: 2.5,
};
const SHARED: [f64; STAGES] = [-0.581_253_294_052_461_6, 1.452_221_035_987_945_5, 0.0, 0.0];

/// A method in the variables `U = h Gamma K` (Hairer and Wanner 1996, eq. IV.7.25), which spares the
/// products of W with the stages.
#[derive(Debug, Clone, Copy)]
pub(super) struct Transformed {
    /// States at which the rates are asked for: `alpha Gamma^-1`.
    pub state: [[f64; STAGES]; STAGES],
    /// What stages hand on to later ones, over h: `I / gamma - Gamma^-1`.
    pub hand_on: [[f64; STAGES]; STAGES],
    /// Times of the stages: sums of alpha.
    pub time: [f64; STAGES],
    /// New state: `b Gamma^-1`.
    pub new: [f64; STAGES],
    /// New state less that of the embedded method.
    pub error: [f64; STAGES],
    /// The same of a state that takes no part in W, over `h K`.
    pub plain_error: [f64; STAGES],
    /// New state of one that takes no part in W, over `h K`.
    pub plain_new: [f64; STAGES],
    /// Diagonal of Gamma.
    pub gamma: f64,
    /// Stages with rates of their own; the rest share those of the one before.
    pub calls: usize,
    /// Power of the step that the error of an accepted one is taken to follow.
    pub error_order: f64,
}

impl Transformed {
    pub fn new(tableau: &Tableau) -> Self {
        let Tableau {
            gamma,
            alpha,
            coupling,
            weight,
            weight_low,
            calls,
            error_order,
        } = *tableau;
        // Gamma is lower triangular with one number on its diagonal: forward substitution
        let inverse_columns: [[f64; STAGES]; STAGES] = std::array::from_fn(|column| {
            let mut x = [0.0; STAGES];
            for (row, of_row) in coupling.iter().enumerate().skip(column) {
                let known: f64 = of_row.iter().zip(&x).map(|(c, x)| c * x).sum();
                x[row] = (f64::from(row == column) - known) / gamma;
            }
            x
        });
        let times_inverse = |row: &[f64; STAGES]| -> [f64; STAGES] {
            inverse_columns.map(|column| row.iter().zip(&column).map(|(a, b)| a * b).sum())
        };
        let difference = std::array::from_fn(|i| weight[i] - weight_low[i]);
        Self {
            state: std::array::from_fn(|i| times_inverse(&alpha[i])),
            hand_on: std::array::from_fn(|i| {
                std::array::from_fn(|j| if i == j { 0.0 } else { -inverse_columns[j][i] })
            }),
            time: std::array::from_fn(|i| alpha[i].iter().sum()),
            new: times_inverse(&weight),
            error: times_inverse(&difference),
            plain_error: difference,
            plain_new: weight,
            gamma,
            calls,
            error_order,
        }
    }
}

#[cfg(test)]
mod tests {
    use nalgebra::{Complex, Matrix4, Vector4};

    use super::*;

    /// Order conditions of a W-method up to order 3: Hairer and Wanner 1996, *Solving Ordinary
    /// Differential Equations II*, sec. IV.7 (trees with any placing of the approximate Jacobian).
    #[test]
    fn verify_the_order_conditions_for_any_jacobian() {
        for tableau in [&THREE_CALLS, &FOUR_CALLS] {
            meets_the_order_conditions(tableau);
        }
    }

    fn meets_the_order_conditions(tableau: &Tableau) {
        let gamma = |i: usize, j: usize| {
            if i == j {
                tableau.gamma
            } else {
                tableau.coupling[i][j]
            }
        };
        let alpha_sum = |i: usize| -> f64 { tableau.alpha[i].iter().sum() };
        let gamma_sum = |i: usize| -> f64 { (0..STAGES).map(|j| gamma(i, j)).sum() };
        let weighted = |f: &dyn Fn(usize) -> f64, b: [f64; STAGES]| -> f64 {
            (0..STAGES).map(|i| b[i] * f(i)).sum()
        };
        let nested = |outer: &dyn Fn(usize, usize) -> f64, inner: &dyn Fn(usize) -> f64| -> f64 {
            (0..STAGES)
                .flat_map(|i| (0..STAGES).map(move |j| (i, j)))
                .map(|(i, j)| tableau.weight[i] * outer(i, j) * inner(j))
                .sum()
        };
        let conditions = [
            (weighted(&|_| 1.0, tableau.weight), 1.0),
            (weighted(&alpha_sum, tableau.weight), 1.0 / 2.0),
            (weighted(&gamma_sum, tableau.weight), 0.0),
            (
                weighted(&|i| alpha_sum(i).powi(2), tableau.weight),
                1.0 / 3.0,
            ),
            (nested(&|i, j| tableau.alpha[i][j], &alpha_sum), 1.0 / 6.0),
            (nested(&|i, j| tableau.alpha[i][j], &gamma_sum), 0.0),
            (nested(&gamma, &alpha_sum), 0.0),
            (nested(&gamma, &gamma_sum), 0.0),
            (weighted(&|_| 1.0, tableau.weight_low), 1.0),
            (weighted(&alpha_sum, tableau.weight_low), 1.0 / 2.0),
            (weighted(&gamma_sum, tableau.weight_low), 0.0),
        ];
        for (i, (got, want)) in conditions.into_iter().enumerate() {
            assert!(
                (got - want).abs() < 1e-12,
                "condition {i}: {got} is not {want}"
            );
        }
        // stiffly accurate: the last stage ends at the new state
        for j in 0..STAGES {
            assert!((tableau.alpha[3][j] + gamma(3, j) - tableau.weight[j]).abs() < 1e-12);
        }
    }

    #[test]
    fn stages_beyond_the_calls_share_the_state_of_the_one_before() {
        for tableau in [&THREE_CALLS, &FOUR_CALLS] {
            for i in tableau.calls..STAGES {
                assert_eq!(tableau.alpha[i], tableau.alpha[i - 1]);
            }
        }
    }

    /// With the exact Jacobian `y' = z y` is multiplied by `R(z) = 1 + z b (I - z (alpha + Gamma))^-1 1`: Hairer and Wanner
    /// 1996, eq. IV.7.14.
    #[test]
    fn verify_the_methods_are_l_stable() {
        for tableau in [&THREE_CALLS, &FOUR_CALLS] {
            let stage = |i: usize, j: usize| {
                let gamma = if i == j { tableau.gamma } else { 0.0 };
                Complex::from(tableau.alpha[i][j] + tableau.coupling[i][j] + gamma)
            };
            let growth = |z: Complex<f64>| {
                let matrix = Matrix4::identity() - Matrix4::from_fn(stage) * z;
                let ones = Vector4::repeat(Complex::from(1.0));
                let stages = matrix.lu().solve(&ones).unwrap();
                let sum: Complex<f64> = (0..STAGES).map(|i| stages[i] * tableau.weight[i]).sum();
                (Complex::from(1.0) + z * sum).norm()
            };
            for i in -300..=600 {
                let size = 10.0_f64.powf(f64::from(i) * 0.01);
                assert!(growth(Complex::new(0.0, size)) < 1.0 + 1e-9, "{size}");
            }
            // all poles lie at 1 / gamma, so what holds on the axis holds left of it
            assert!(growth(Complex::from(-1e9)) < 1e-6);
            assert!(tableau.gamma > 0.0);
        }
    }
}
