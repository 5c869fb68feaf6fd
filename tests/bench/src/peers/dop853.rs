//! Dop853 of ode_solvers.
//!
//! Its tableau has two nodes of zero, so it is wrong where rates depend on time: time is a state here. Sparse output, since
//! its dense output extrapolates; stiffness check off, since it aborts plausible networks.

use std::cell::RefCell;

use baysoak::study::recording::Recording;
use nalgebra::DVector;
use ode_solvers::{Dop853, OutputType, System};

use super::rhs::{Rhs, start};
use super::{Cost, States};
use crate::Fault;

struct Handle<'h, 'a> {
    rhs: &'h RefCell<Rhs<'a>>,
    nodes: usize,
}

impl System<f64, DVector<f64>> for Handle<'_, '_> {
    fn system(&self, _x: f64, y: &DVector<f64>, dy: &mut DVector<f64>) {
        let t = y[self.nodes];
        self.rhs
            .borrow_mut()
            .call(t, y.as_slice(), dy.as_mut_slice());
        dy[self.nodes] = 1.0;
    }
}

/// Marches at an absolute tolerance [K].
pub fn march(recording: &Recording, absolute: f64) -> Result<(States, Cost), Fault> {
    let rhs = RefCell::new(Rhs::new(recording));
    let mut y = start(recording);
    let nodes = y.len();
    let (mut states, mut cost) = (Vec::new(), Cost::default());
    let mut step = 0.0;
    for drive in &recording.drives {
        rhs.borrow_mut().enter(drive);
        let (t0, t1) = drive.span_s;
        let span = t1 - t0;
        if span > 0.0 {
            let mut from = y.clone();
            from.push(t0);
            let handle = Handle { rhs: &rhs, nodes };
            // safety, beta, least and greatest change, as the crate's own defaults
            let mut solver = Dop853::from_param(
                handle,
                0.0,
                span,
                span,
                DVector::from_vec(from),
                0.0,
                absolute,
                0.9,
                0.0,
                0.333,
                6.0,
                span,
                f64::min(step, span),
                1_000_000,
                u32::MAX,
                OutputType::Sparse,
            );
            let stats = solver.integrate().map_err(|e| format!("at {t0} s: {e}"))?;
            cost.steps += u64::from(stats.accepted_steps);
            let times = solver.x_out();
            // the last step is cut short by the end of the span
            step = times.windows(2).map(|w| w[1] - w[0]).fold(0.0, f64::max);
            let end = solver.y_out().last().ok_or("no end")?;
            y.copy_from_slice(&end.as_slice()[..nodes]);
        }
        states.extend_from_slice(&y);
    }
    cost.rhs = rhs.borrow().calls;
    Ok((states, cost))
}
