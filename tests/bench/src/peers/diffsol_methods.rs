//! Methods of diffsol, dense, with Jacobians by forward differences as they are for CVODE.

use std::cell::RefCell;

use baysoak::study::recording::Recording;
use diffsol::{NalgebraLU, NalgebraMat, OdeBuilder, OdeSolverMethod, OdeSolverStopReason};

use super::rhs::{Rhs, start};
use super::{Cost, States};
use crate::Fault;

/// First step of a span that is tried again, as a share of it.
const FIRST_STEP: f64 = 1e-3;

/// Which method.
#[derive(Debug, Clone, Copy)]
pub enum Kind {
    /// Backward differences, order 1 to 5.
    Bdf,
    /// Trapezium and BDF2.
    TrBdf2,
    /// Singly diagonally implicit Runge-Kutta with an explicit first stage, order 3(4).
    Esdirk34,
    /// Explicit Runge-Kutta 5(4).
    Tsit45,
}

/// Rates and the last place at which they were asked for: each column of a Jacobian needs them there.
struct Differences<'a> {
    rhs: Rhs<'a>,
    place: Vec<f64>,
    time: f64,
    base: Vec<f64>,
    moved: Vec<f64>,
}

impl Differences<'_> {
    fn product(&mut self, y: &[f64], t: f64, v: &[f64], out: &mut [f64]) {
        if self.time != t || self.place != y {
            self.place.copy_from_slice(y);
            self.time = t;
            self.rhs.call(t, y, &mut self.base);
        }
        let size = v.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
        if size == 0.0 {
            out.fill(0.0);
            return;
        }
        // root of the machine epsilon on temperatures of some hundred kelvin
        let step = f64::EPSILON.sqrt() * 300.0 / size;
        for (m, (y, v)) in self.moved.iter_mut().zip(y.iter().zip(v)) {
            *m = y + step * v;
        }
        self.rhs.call(t, &self.moved, out);
        for (o, b) in out.iter_mut().zip(&self.base) {
            *o = (*o - b) / step;
        }
    }
}

/// Marches at an absolute tolerance [K].
pub fn march(kind: Kind, recording: &Recording, absolute: f64) -> Result<(States, Cost), Fault> {
    let y0 = start(recording);
    let nodes = y0.len();
    let mut rhs = Rhs::new(recording);
    let first = recording.drives.first().ok_or("nothing to drive")?;
    rhs.enter(first);
    let shared = RefCell::new(Differences {
        rhs,
        place: vec![f64::NAN; nodes],
        time: f64::NAN,
        base: vec![0.0; nodes],
        moved: vec![0.0; nodes],
    });
    let problem = OdeBuilder::<NalgebraMat<f64>>::new()
        .t0(first.span_s.0)
        .rtol(1e-12)
        .atol(vec![absolute; nodes])
        .rhs_implicit(
            |y, _p, t, dy| shared.borrow_mut().rhs.call(t, y, dy),
            |y, _p, t, v, out| shared.borrow_mut().product(y, t, v, out),
        )
        .init(move |_p, _t, y: &mut [f64]| y.copy_from_slice(&y0), nodes)
        .build()?;
    macro_rules! drive {
        ($solver:expr) => {{
            let mut solver = $solver?;
            let states = spans(&mut solver, recording, &shared)?;
            let statistics = solver.get_statistics();
            let cost = Cost {
                steps: statistics.number_of_steps as u64,
                rhs: shared.borrow().rhs.calls,
                factorisations: statistics.number_of_linear_solver_setups as u64,
            };
            Ok((states, cost))
        }};
    }
    match kind {
        Kind::Bdf => drive!(problem.bdf::<NalgebraLU<f64>>()),
        Kind::TrBdf2 => drive!(problem.tr_bdf2::<NalgebraLU<f64>>()),
        Kind::Esdirk34 => drive!(problem.esdirk34::<NalgebraLU<f64>>()),
        Kind::Tsit45 => drive!(problem.tsit45()),
    }
}

fn spans<'p, Eqn, S>(
    solver: &mut S,
    recording: &Recording,
    shared: &RefCell<Differences>,
) -> Result<States, Fault>
where
    Eqn: diffsol::OdeEquations<T = f64, V = diffsol::NalgebraVec<f64>> + 'p,
    S: OdeSolverMethod<'p, Eqn>,
{
    let mut states = Vec::new();
    for drive in &recording.drives {
        let (t0, t1) = drive.span_s;
        if t1 > t0 {
            {
                let mut shared = shared.borrow_mut();
                shared.rhs.enter(drive);
                shared.time = f64::NAN;
                // touching the state makes the solver start afresh, with the step that it had
                let state = solver.state_mut();
                shared.rhs.call(
                    t0,
                    state.y.batch_as_slice(0),
                    state.dy.batch_as_mut_slice(0),
                );
                *state.h = state.h.min(t1 - t0);
            }
            let before = solver.state_clone();
            if reach(solver, t1).is_err() {
                // an old Jacobian and step may be of no use where engine and fan change at once: again with new ones
                solver.set_state(before);
                *solver.state_mut().h = FIRST_STEP * (t1 - t0);
                let state = solver.checkpoint();
                solver.set_state(state);
                reach(solver, t1)?;
            }
        }
        let state = solver.state();
        states.extend_from_slice(state.y.batch_as_slice(0));
    }
    Ok(states)
}

fn reach<'p, Eqn, S>(solver: &mut S, t1: f64) -> Result<(), Fault>
where
    Eqn: diffsol::OdeEquations<T = f64, V = diffsol::NalgebraVec<f64>> + 'p,
    S: OdeSolverMethod<'p, Eqn>,
{
    solver.set_stop_time(t1)?;
    while !matches!(solver.step()?, OdeSolverStopReason::TstopReached) {}
    Ok(())
}
