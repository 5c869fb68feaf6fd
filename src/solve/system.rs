//! The contract between a network and the solvers.

use nalgebra::DMatrix;

use crate::number::{Number, widest};

/// A first-order system dy/dt = f(t, y), smooth between the times at which it is stopped; or one in each lane.
///
/// # Limitations
/// Jumps and kinks in time belong to the ends of the intervals handed to
/// [`Integrator::advance`](crate::solve::Integrator::advance): the rates are asked for at both ends, so at a jump the
/// implementer must know on which side of it the present interval lies.
pub trait System<N: Number = f64> {
    /// Number of states.
    fn len(&self) -> usize;

    /// True if there is nothing to solve.
    fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Writes the rates of change at time `t` [s] into `dy`, each in the unit of its state per second.
    fn rates(&mut self, t: f64, y: &[N], dy: &mut [N]);

    /// Writes the Jacobian df/dy [1/s for like states] into `out`, row = rate, column = state.
    ///
    /// The default takes forward differences: `implicit_states() + 1` calls of `rates`, about half the digits of an exact
    /// one; the columns of the other states, which act on no rate, are zero.
    fn jacobian(&mut self, t: f64, y: &[N], out: &mut DMatrix<N>) {
        let n = self.len();
        let mut moved = y.to_vec();
        let mut base = vec![N::default(); n];
        let mut dy = vec![N::default(); n];
        self.rates(t, y, &mut base);
        out.fill(N::default());
        for column in 0..self.implicit_states() {
            // Step of sqrt(machine epsilon), relative to the state (Dennis and Schnabel 1983, section 5.4; from memory).
            let size = y[column].abs().max(N::of(self.tolerance_scale(column)));
            moved[column] = y[column] + size * N::EPSILON.sqrt();
            // The step as it came out in floating point, not as it was meant.
            let step = moved[column] - y[column];
            self.rates(t, &moved, &mut dy);
            moved[column] = y[column];
            for row in 0..n {
                out[(row, column)] = (dy[row] - base[row]) / step;
            }
        }
    }

    /// How many of the first states take part in the implicit part of a W-method; the rest must not act back on any
    /// rate (sums over time, say).
    fn implicit_states(&self) -> usize {
        self.len()
    }

    /// The (row, column) pairs of the approximate Jacobian of a W-method: the strong couplings. A pair may come twice.
    ///
    /// The default takes all pairs.
    fn couplings(&self) -> Vec<(usize, usize)> {
        let n = self.implicit_states();
        (0..n)
            .flat_map(|row| (0..n).map(move |column| (row, column)))
            .collect()
    }

    /// Writes the derivatives that belong to [`System::couplings`], in their order [1/s]; entries of a pair add up.
    ///
    /// Called right after [`System::rates`] at the same time and state. What is left out costs steps, never accuracy.
    fn coupling_rates(&mut self, t: f64, y: &[N], out: &mut [N]) {
        let n = self.len();
        let mut dense = DMatrix::from_element(n, n, N::default());
        self.jacobian(t, y, &mut dense);
        let implicit = self.implicit_states();
        for (i, rate) in out.iter_mut().enumerate() {
            *rate = dense[(i / implicit, i % implicit)];
        }
    }

    /// Where the rates have their first kink between `t` and `end` [s], `end` if nowhere; the W-method ends a step there.
    fn next_kink(&self, _t: f64, end: f64) -> f64 {
        end
    }

    /// Name of a state for messages.
    fn state_name(&self, i: usize) -> String {
        format!("state {i}")
    }

    /// How many absolute tolerances an error in this state may have; 1 for a temperature in kelvin.
    ///
    /// A counter of energy in joules should say here how many joules matter as much as one kelvin, or it alone sets the
    /// step. Must be finite and above 0.
    fn tolerance_scale(&self, _i: usize) -> f64 {
        1.0
    }
}

impl<N: Number, S: System<N> + ?Sized> System<N> for &mut S {
    fn len(&self) -> usize {
        (**self).len()
    }
    fn rates(&mut self, t: f64, y: &[N], dy: &mut [N]) {
        (**self).rates(t, y, dy);
    }
    fn jacobian(&mut self, t: f64, y: &[N], out: &mut DMatrix<N>) {
        (**self).jacobian(t, y, out);
    }
    fn implicit_states(&self) -> usize {
        (**self).implicit_states()
    }
    fn couplings(&self) -> Vec<(usize, usize)> {
        (**self).couplings()
    }
    fn coupling_rates(&mut self, t: f64, y: &[N], out: &mut [N]) {
        (**self).coupling_rates(t, y, out);
    }
    fn next_kink(&self, t: f64, end: f64) -> f64 {
        (**self).next_kink(t, end)
    }
    fn state_name(&self, i: usize) -> String {
        (**self).state_name(i)
    }
    fn tolerance_scale(&self, i: usize) -> f64 {
        (**self).tolerance_scale(i)
    }
}

/// Index of the first entry that is not finite.
pub(super) fn first_not_finite<N: Number>(values: &[N]) -> Option<usize> {
    // what is not finite stays so in a sum
    let sum = widest(
        #[inline(always)]
        || {
            let mut sums = [N::default(); 4];
            let (chunks, last) = values.as_chunks::<4>();
            for chunk in chunks {
                for k in 0..4 {
                    sums[k] += chunk[k].abs();
                }
            }
            let sums = sums.into_iter().chain(last.iter().map(
                #[inline(always)]
                |x| x.abs(),
            ));
            sums.fold(N::default(), N::add)
        },
    );
    if sum.is_finite() {
        return None;
    }
    values.iter().position(|v| !v.is_finite())
}
