//! Problems whose answers are known, for every method to be tried on.
//!
//! Each is a system together with its exact solution. States are temperatures in kelvin unless said otherwise.

use baysoak::solve::System;
use nalgebra::{DMatrix, DVector};

/// Stefan-Boltzmann constant [W/m2/K4] (CODATA 2018), as in rows 72 and 73 of the reference checks.
const SIGMA_W_M2_K4: f64 = 5.670_374_419e-8;

type Rates = Box<dyn Fn(f64, &[f64], &mut [f64])>;

/// A system with its start, the times at which it must be stopped, and where it must be at the end.
pub struct Problem {
    pub name: &'static str,
    rates: Rates,
    pub start: Vec<f64>,
    /// Start, kinks, end [s].
    pub stops_s: Vec<f64>,
    pub end: Vec<f64>,
    /// How well `end` is known, in units of the state.
    pub end_known_to: f64,
}

impl Problem {
    pub fn end_s(&self) -> f64 {
        *self.stops_s.last().expect("a problem has an end")
    }

    /// Largest error of `y` against the exact end, in units of `absolute + relative * |exact|`.
    pub fn error_in_tolerances(&self, y: &[f64], relative: f64, absolute: f64) -> f64 {
        assert_eq!(y.len(), self.end.len());
        let error = |(y, e): (&f64, &f64)| (y - e).abs() / (absolute + relative * e.abs());
        y.iter().zip(&self.end).map(error).fold(0.0, |worst, e| {
            if e.is_nan() || e > worst { e } else { worst }
        })
    }
}

impl System for Problem {
    fn len(&self) -> usize {
        self.start.len()
    }
    fn rates(&mut self, t: f64, y: &[f64], dy: &mut [f64]) {
        (self.rates)(t, y, dy);
    }
    fn state_name(&self, i: usize) -> String {
        format!("{} node {i}", self.name)
    }
}

/// Every problem that is marched through time, Robertson's apart (its rates are too fast for a fixed step).
pub fn transient() -> Vec<Problem> {
    vec![
        one_node(),
        two_nodes_stiff(),
        radiating_to_nothing(),
        radiating_to_ambient(),
        ramp_driven(),
        kinked_ambient(),
        random_network(40, 11, 120.0),
    ]
}

/// Every problem whose end is where it comes to rest; `start` is the first guess.
pub fn at_rest() -> Vec<Problem> {
    vec![
        chain_at_rest(),
        cylinder_at_rest(),
        radiator_at_rest(),
        skin_on_casting_at_rest(),
        random_network_at_rest(40, 5),
    ]
}

/// One node heated from rest: T = Ta + P/G (1 - exp(-G t / C)). Row 70 of the reference checks: 174.277 C at 60 s.
pub fn one_node() -> Problem {
    let (capacity, conductance, power, ambient) = (500.0, 8.0, 2000.0, 293.15);
    let end =
        |t: f64| ambient + power / conductance * (1.0 - f64::exp(-conductance * t / capacity));
    Problem {
        name: "one node",
        rates: Box::new(move |_, y, dy| {
            dy[0] = (power - conductance * (y[0] - ambient)) / capacity
        }),
        start: vec![ambient],
        stops_s: vec![0.0, 60.0],
        end: vec![end(60.0)],
        end_known_to: 1e-10,
    }
}

/// Light node on a heavy one: time constants 0.0999 s and 199.7 s. Rows 74 and 75 of the reference checks.
pub fn two_nodes_stiff() -> Problem {
    let matrix = DMatrix::from_row_slice(2, 2, &[-10.0, 10.0, 10.0 / 1000.0, -15.0 / 1000.0]);
    linear(
        "two nodes",
        matrix,
        DVector::from_element(2, 300.0),
        vec![1000.0, 300.0],
        100.0,
    )
}

/// Node radiating to 0 K: T = (T0^-3 + 3 eps sigma A t / C)^(-1/3). Row 72 of the reference checks.
pub fn radiating_to_nothing() -> Problem {
    let rate = SIGMA_W_M2_K4 * 0.04 / 500.0;
    Problem {
        name: "radiating to nothing",
        rates: Box::new(move |_, y, dy| dy[0] = -rate * y[0].powi(4)),
        start: vec![1000.0],
        stops_s: vec![0.0, 300.0],
        end: vec![(1000f64.powi(-3) + 3.0 * rate * 300.0).powf(-1.0 / 3.0)],
        end_known_to: 1e-10,
    }
}

/// Node radiating to ambient a: 4 k a^3 t = F(T) - F(T0), F(T) = ln((T + a)/(T - a)) + 2 atan(T/a), by partial
/// fractions of 1 / (T^4 - a^4).
pub fn radiating_to_ambient() -> Problem {
    let rate = SIGMA_W_M2_K4 * 0.04 / 500.0;
    let (ambient, start, t) = (300.0f64, 1000.0, 900.0);
    let f = |temp: f64| ((temp + ambient) / (temp - ambient)).ln() + 2.0 * (temp / ambient).atan();
    let target = f(start) + 4.0 * rate * ambient.powi(3) * t;
    // F falls from infinity at the ambient temperature, so bisection always holds the root.
    let (mut low, mut high) = (ambient, start);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if f(middle) > target {
            low = middle
        } else {
            high = middle
        }
    }
    Problem {
        name: "radiating to ambient",
        rates: Box::new(move |_, y, dy| dy[0] = -rate * (y[0].powi(4) - ambient.powi(4))),
        start: vec![start],
        stops_s: vec![0.0, t],
        end: vec![0.5 * (low + high)],
        end_known_to: 1e-9,
    }
}

/// Node following an ambient that rises by r per second: T = Ta + r (t - tau (1 - exp(-t / tau))).
pub fn ramp_driven() -> Problem {
    let (tau, rise, ambient, t) = (12.0f64, 0.8, 288.15, 40.0);
    Problem {
        name: "ramp",
        rates: Box::new(move |t, y, dy| dy[0] = (ambient + rise * t - y[0]) / tau),
        start: vec![ambient],
        stops_s: vec![0.0, t],
        end: vec![ambient + rise * (t - tau * (1.0 - (-t / tau).exp()))],
        end_known_to: 1e-10,
    }
}

/// Node following an ambient that rises, stays and falls: on each straight piece of slope r the node is
/// T = A(t) - r tau + (T(s) - A(s) + r tau) exp(-(t - s) / tau), s the start of the piece.
pub fn kinked_ambient() -> Problem {
    let tau = 3.0;
    let corners = [
        (0.0, 300.0),
        (7.3, 420.0),
        (20.1, 420.0),
        (22.7, 310.0),
        (60.0, 310.0),
    ];
    let mut temp = corners[0].1;
    for pair in corners.windows(2) {
        let ((s, at_s), (t, at_t)) = (pair[0], pair[1]);
        let lag = (at_t - at_s) / (t - s) * tau;
        temp = at_t - lag + (temp - at_s + lag) * f64::exp(-(t - s) / tau);
    }
    let stops_s = corners.iter().map(|c| c.0).collect();
    let ambient = move |t: f64| {
        let last = corners.len() - 2;
        let i = (0..last).find(|&i| t <= corners[i + 1].0).unwrap_or(last);
        let ((s, at_s), (e, at_e)) = (corners[i], corners[i + 1]);
        at_s + (at_e - at_s) * (t - s) / (e - s)
    };
    Problem {
        name: "kinked ambient",
        rates: Box::new(move |t, y, dy| dy[0] = (ambient(t) - y[0]) / tau),
        start: vec![300.0],
        stops_s,
        end: vec![temp],
        end_known_to: 1e-10,
    }
}

/// Robertson's reaction to t = 40 (states are fractions): row 76 of the reference checks (Radau at 1e-10).
pub fn robertson() -> Problem {
    Problem {
        name: "Robertson",
        rates: Box::new(|_, y, dy| {
            let (slow, fast, back) = (0.04 * y[0], 3e7 * y[1] * y[1], 1e4 * y[1] * y[2]);
            dy[0] = -slow + back;
            dy[1] = slow - back - fast;
            dy[2] = fast;
        }),
        start: vec![1.0, 0.0, 0.0],
        stops_s: vec![0.0, 40.0],
        end: vec![7.158_270_69e-1, 9.185_534_76e-6, 2.841_637_46e-1],
        end_known_to: 1e-9,
    }
}

/// A network of random links between nodes of random capacity, some tied to 300 K: matrix exponential by nalgebra.
pub fn random_network(nodes: usize, seed: u64, end_s: f64) -> Problem {
    let (matrix, _) = random_links(nodes, seed);
    let mut random = Random(seed ^ 0xabcd);
    let start = (0..nodes).map(|_| random.between(280.0, 1100.0)).collect();
    linear(
        "random network",
        matrix,
        DVector::from_element(nodes, 300.0),
        start,
        end_s,
    )
}

/// The same kind of network with heat put into its nodes, at rest: T = 300 K - A^-1 q.
pub fn random_network_at_rest(nodes: usize, seed: u64) -> Problem {
    let (matrix, capacities) = random_links(nodes, seed);
    let mut random = Random(seed ^ 0x1234);
    let heating = DVector::from_iterator(
        nodes,
        capacities.iter().map(|c| random.between(0.0, 200.0) / c),
    );
    let offset = matrix
        .clone()
        .lu()
        .solve(&-&heating)
        .expect("every node is tied to ambient");
    Problem {
        name: "random network at rest",
        rates: Box::new(move |_, y, dy| {
            for i in 0..y.len() {
                dy[i] = heating[i]
                    + (0..y.len())
                        .map(|j| matrix[(i, j)] * (y[j] - 300.0))
                        .sum::<f64>();
            }
        }),
        start: vec![300.0; nodes],
        stops_s: vec![0.0],
        end: offset.iter().map(|d| 300.0 + d).collect(),
        end_known_to: 1e-7,
    }
}

/// Five equal-current resistances between 900 K and 300 K: each node lies where its share of the resistance puts it.
pub fn chain_at_rest() -> Problem {
    let resistances = [0.02, 0.5, 0.1, 1.3, 0.04];
    let capacities = [5.0, 800.0, 0.3, 12_000.0];
    let (hot, cold) = (900.0, 300.0);
    let flow = (hot - cold) / resistances.iter().sum::<f64>();
    let end = resistances[..4]
        .iter()
        .scan(hot, |temp, r| {
            *temp -= flow * r;
            Some(*temp)
        })
        .collect();
    Problem {
        name: "chain",
        rates: Box::new(move |_, y, dy| {
            for i in 0..4 {
                let before = if i == 0 { hot } else { y[i - 1] };
                let after = if i == 3 { cold } else { y[i + 1] };
                dy[i] = ((before - y[i]) / resistances[i] - (y[i] - after) / resistances[i + 1])
                    / capacities[i];
            }
        }),
        start: vec![300.0; 4],
        stops_s: vec![0.0],
        end,
        end_known_to: 1e-8,
    }
}

/// Hot gas in a tube of steel with an insulating layer, cooled outside: per metre of length, convection 1 / (2 pi r h)
/// and conduction ln(r2 / r1) / (2 pi k) in series (Incropera et al., section 3.3; from memory). Nodes: inner face,
/// interface, outer face.
pub fn cylinder_at_rest() -> Problem {
    let around = 2.0 * std::f64::consts::PI;
    let radii = [0.021, 0.0226, 0.0286];
    let (h_in, h_out, k_steel, k_wrap) = (120.0, 15.0, 25.0, 0.09);
    let (gas, air) = (1050.0, 330.0);
    let resistances = [
        1.0 / (around * radii[0] * h_in),
        f64::ln(radii[1] / radii[0]) / (around * k_steel),
        f64::ln(radii[2] / radii[1]) / (around * k_wrap),
        1.0 / (around * radii[2] * h_out),
    ];
    let capacities = [400.0, 420.0, 2.0];
    let flow = (gas - air) / resistances.iter().sum::<f64>();
    let end = resistances[..3]
        .iter()
        .scan(gas, |temp, r| {
            *temp -= flow * r;
            Some(*temp)
        })
        .collect();
    Problem {
        name: "cylinder",
        rates: Box::new(move |_, y, dy| {
            for i in 0..3 {
                let before = if i == 0 { gas } else { y[i - 1] };
                let after = if i == 2 { air } else { y[i + 1] };
                dy[i] = ((before - y[i]) / resistances[i] - (y[i] - after) / resistances[i + 1])
                    / capacities[i];
            }
        }),
        start: vec![300.0; 3],
        stops_s: vec![0.0],
        end,
        end_known_to: 1e-7,
    }
}

/// Heated node that only radiates: T = (P / (eps sigma A) + Ta^4)^(1/4). The guess is far on the cold side, where
/// Newton's method alone would shoot past 10,000 K.
pub fn radiator_at_rest() -> Problem {
    let (power, area, ambient) = (2500.0, 0.04, 250.0f64);
    let conductance = SIGMA_W_M2_K4 * area;
    Problem {
        name: "radiator",
        rates: Box::new(move |_, y, dy| {
            dy[0] = (power - conductance * (y[0].powi(4) - ambient.powi(4))) / 500.0;
        }),
        start: vec![ambient],
        stops_s: vec![0.0],
        end: vec![(power / conductance + ambient.powi(4)).powf(0.25)],
        end_known_to: 1e-6,
    }
}

/// Thin radiating skin (0.2 J/K) on a casting (40 kJ/K) that takes 600 W: all of it must leave by the skin, which is
/// then as hot as a radiator of 600 W, and the casting hotter by 600 W / 12 W/K.
pub fn skin_on_casting_at_rest() -> Problem {
    let (power, link, ambient) = (600.0, 12.0, 300.0f64);
    let conductance = SIGMA_W_M2_K4 * 0.03;
    let skin = (power / conductance + ambient.powi(4)).powf(0.25);
    Problem {
        name: "skin on casting",
        rates: Box::new(move |_, y, dy| {
            let through = link * (y[1] - y[0]);
            dy[0] = (through - conductance * (y[0].powi(4) - ambient.powi(4))) / 0.2;
            dy[1] = (power - through) / 40_000.0;
        }),
        start: vec![ambient; 2],
        stops_s: vec![0.0],
        end: vec![skin, skin + power / link],
        end_known_to: 1e-6,
    }
}

/// dy/dt = A (y - rest), whose solution is rest + exp(A t) (start - rest).
fn linear(
    name: &'static str,
    matrix: DMatrix<f64>,
    rest: DVector<f64>,
    start: Vec<f64>,
    end_s: f64,
) -> Problem {
    let offset = (&matrix * end_s).exp() * (DVector::from_column_slice(&start) - &rest);
    Problem {
        name,
        end: (&rest + offset).iter().copied().collect(),
        rates: Box::new(move |_, y, dy| {
            for i in 0..y.len() {
                dy[i] = (0..y.len())
                    .map(|j| matrix[(i, j)] * (y[j] - rest[j]))
                    .sum();
            }
        }),
        start,
        stops_s: vec![0.0, end_s],
        end_known_to: 1e-8,
    }
}

/// Matrix of a network with random positive conductances, each node also tied to ambient, and its capacities [J/K].
pub fn random_links(nodes: usize, seed: u64) -> (DMatrix<f64>, Vec<f64>) {
    let mut random = Random(seed);
    let capacities: Vec<f64> = (0..nodes)
        .map(|_| random.log_between(5.0, 20_000.0))
        .collect();
    let mut matrix = DMatrix::zeros(nodes, nodes);
    for i in 0..nodes {
        let to_ambient = random.log_between(0.05, 3.0);
        matrix[(i, i)] -= to_ambient / capacities[i];
        for j in 0..i {
            // A ring, and one further pair in five.
            if j + 1 == i || (i + 1 == nodes && j == 0) || random.between(0.0, 1.0) < 0.2 {
                let link = random.log_between(0.05, 10.0);
                matrix[(i, j)] += link / capacities[i];
                matrix[(j, i)] += link / capacities[j];
                matrix[(i, i)] -= link / capacities[i];
                matrix[(j, j)] -= link / capacities[j];
            }
        }
    }
    (matrix, capacities)
}

/// The same numbers on every machine: splitmix64 (Steele, Lea and Flood 2014; from memory).
pub struct Random(pub u64);

impl Random {
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        low + (high - low) * ((z >> 11) as f64 / (1u64 << 53) as f64)
    }

    pub fn log_between(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }
}
