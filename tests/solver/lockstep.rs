//! Systems side by side, marched with steps in common.

use baysoak::number::{LANES, Lanes, Number};
use baysoak::solve::{Integrator, Lockstep, Method, SolveError, System, Tolerance};

const TOLERANCE: Tolerance = Tolerance {
    relative: 0.0,
    absolute: 1e-3,
};

/// A body that cools towards 300 K, and how much has gone; each lane has a rate of its own.
struct Cooling<N> {
    per_s: N,
    calls: u64,
}

impl<N: Number> System<N> for Cooling<N> {
    fn len(&self) -> usize {
        2
    }

    fn rates(&mut self, _t: f64, y: &[N], dy: &mut [N]) {
        self.calls += 1;
        dy[0] = -self.per_s * (y[0] - 300.0);
        dy[1] = -dy[0];
    }

    fn implicit_states(&self) -> usize {
        1
    }
}

fn per_s(lane: usize) -> f64 {
    0.02 * 3.0_f64.powi(lane as i32)
}

fn side_by_side() -> Cooling<Lanes> {
    Cooling {
        per_s: Lanes::from_lanes(std::array::from_fn(per_s)),
        calls: 0,
    }
}

/// T = 300 K + 500 K exp(-k t), k from 0.02 to 44 1/s.
#[test]
fn verify_every_lane_cools_as_its_own_rate_says() {
    let mut system = side_by_side();
    let mut lockstep = Lockstep::new(&system, Method::Rosenbrock, TOLERANCE).unwrap();
    let mut y = [Lanes::of(800.0), Lanes::of(0.0)];
    for second in 0..10 {
        let t = f64::from(second);
        lockstep.advance(&mut system, t, t + 1.0, &mut y).unwrap();
    }
    for lane in 0..LANES {
        let exact = 300.0 + 500.0 * (-10.0 * per_s(lane)).exp();
        let got = y[0].lane(lane);
        assert!((got - exact).abs() < 0.02, "lane {lane}: {got} {exact}");
        let kept = y[0].lane(lane) + y[1].lane(lane);
        assert!((kept - 800.0).abs() < 0.01, "lane {lane}: {kept}");
    }
    let work = lockstep.work();
    assert!(
        work.rhs_calls <= system.calls && work.steps > 10,
        "{work:?}"
    );
}

#[test]
fn lanes_that_are_all_alike_take_the_steps_and_the_numbers_of_one() {
    let mut alone = Cooling {
        per_s: 0.7,
        calls: 0,
    };
    let mut integrator = Integrator::new(Method::Rosenbrock, TOLERANCE);
    let mut one = [800.0, 0.0];
    integrator.advance(&mut alone, 0.0, 9.0, &mut one).unwrap();
    let mut system = Cooling {
        per_s: Lanes::of(0.7),
        calls: 0,
    };
    let mut lockstep = Lockstep::new(&system, Method::Rosenbrock, TOLERANCE).unwrap();
    let mut y = [Lanes::of(800.0), Lanes::of(0.0)];
    lockstep.advance(&mut system, 0.0, 9.0, &mut y).unwrap();
    for (together, one) in y.iter().zip(one) {
        assert!(
            (together.lane(3) - one).abs() < 1e-6 * 800.0,
            "{together:?} {one}"
        );
    }
    assert_eq!(lockstep.work(), integrator.work());
}

#[test]
fn one_lane_that_is_no_number_stops_all_and_leaves_them_as_they_were() {
    let mut system = side_by_side();
    system.per_s.set_lane(5, f64::NAN);
    let mut lockstep = Lockstep::new(&system, Method::Rosenbrock, TOLERANCE).unwrap();
    let start = [Lanes::of(800.0), Lanes::of(0.0)];
    let mut y = start;
    let error = lockstep.advance(&mut system, 0.0, 1.0, &mut y).unwrap_err();
    assert!(matches!(error, SolveError::NotFinite { .. }), "{error}");
    assert_eq!(y, start);
    let backwards = lockstep.advance(&mut side_by_side(), 1.0, 0.0, &mut y);
    assert!(matches!(backwards, Err(SolveError::BadInterval { .. })));
}
