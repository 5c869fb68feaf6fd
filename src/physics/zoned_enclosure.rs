//! Exchange in an enclosure whose surfaces see each other by zone: the same as [`close`](super::view_factors::close) and
//! [`ExchangeMatrix::new`], in a small part of their time.
//!
//! With a sight `V` between zones, closing scales `V_zy x_i x_j` so that each surface's area is used up; so all view factors
//! are `A F = U V U' + P`, where `U` holds each surface's `x` in the column of its zone and `P` is nearly empty: no surface
//! sees itself, and some pairs are given. Radiosity then asks for inverses of the size of the zones and of what given pairs
//! tie together (Sherman, Morrison and Woodbury's formula; Golub and Van Loan, *Matrix Computations*, sec. 2.1, from memory).

use nalgebra::{DMatrix, DVector};

use super::radiation::ExchangeMatrix;
use super::view_factors::{CLOSURE, FixedViewFactor};

/// Passes until the scaling stands.
const MOST_PASSES: usize = 200;

/// An enclosure by zone.
#[derive(Debug, Clone, Copy)]
pub struct ZonedEnclosure<'e> {
    /// Areas [m2].
    pub areas_m2: &'e [f64],
    /// Emissivities [0-1].
    pub emissivities: &'e [f64],
    /// Zone of each surface.
    pub zones: &'e [usize],
    /// Sight between zones, symmetric [-].
    pub sight: &'e DMatrix<f64>,
    /// Given view factors.
    pub fixed: &'e [FixedViewFactor],
}

/// A pair whose view factor is given: both surfaces and area times view factor [m2].
type Pair = (usize, usize, f64);

impl ZonedEnclosure<'_> {
    /// Exchange among all surfaces; `None` where it takes the way of any enclosure to find it, or to say why there is none.
    pub fn exchange(&self) -> Option<ExchangeMatrix> {
        let n = self.areas_m2.len();
        let (pairs, rest) = self.given()?;
        let x = self.close(&pairs, &rest)?;
        let sight = |i: usize, j: usize| self.sight[(self.zones[i], self.zones[j])];
        // what `U V U'` has too much or too little
        let own = DVector::from_fn(n, |i, _| -sight(i, i) * x[i] * x[i]);
        let pairs = pairs
            .iter()
            .map(|&(i, j, m2)| (i, j, m2 - sight(i, j) * x[i] * x[j]));
        let matrix = self.reflect(&x, &own, &pairs.collect::<Vec<_>>())?;
        let closes = (0..n).all(|i| {
            let want = self.areas_m2[i] * self.emissivities[i];
            (matrix.row(i).sum() - want).abs() <= 1e-9 * self.areas_m2[i]
        });
        closes.then(|| ExchangeMatrix::symmetric(matrix))
    }

    /// Given pairs, and the area that they leave of each surface [m2].
    fn given(&self) -> Option<(Vec<Pair>, Vec<f64>)> {
        let mut rest = self.areas_m2.to_vec();
        let mut pairs: Vec<Pair> = Vec::new();
        for p in self.fixed {
            let twice = |q: &Pair| (q.0, q.1) == (p.from, p.to) || (q.1, q.0) == (p.from, p.to);
            let inside = p.from < rest.len() && p.to < rest.len() && p.from != p.to;
            if !inside || !(0.0..=1.0).contains(&p.view_factor) || pairs.iter().any(twice) {
                return None;
            }
            let m2 = self.areas_m2[p.from] * p.view_factor;
            rest[p.from] -= m2;
            rest[p.to] -= m2;
            pairs.push((p.from, p.to, m2));
        }
        // a surface with nothing left sees none but its given pairs, a mirror absorbs nothing: leave them to the other way
        let leaves = rest
            .iter()
            .zip(self.areas_m2)
            .all(|(r, a)| *r > CLOSURE * a);
        let absorb = self.emissivities.iter().all(|e| *e > 0.0 && *e <= 1.0);
        (leaves && absorb).then_some((pairs, rest))
    }

    /// The scaling with which all that is left of each surface is used up, three quarters of the way on a logarithmic scale in
    /// each pass: that converges whatever sees whatever, in fewer passes than half of it.
    fn close(&self, pairs: &[Pair], rest: &[f64]) -> Option<Vec<f64>> {
        let sight = |i: usize, j: usize| self.sight[(self.zones[i], self.zones[j])];
        let zones = self.sight.nrows();
        let seen = |x: &[f64], out: &mut Vec<f64>| {
            let mut of_zone = DVector::zeros(zones);
            for (&x, &zone) in x.iter().zip(self.zones) {
                of_zone[zone] += x;
            }
            let by_zone = self.sight * of_zone;
            out.clear();
            out.extend((0..x.len()).map(|i| by_zone[self.zones[i]] - sight(i, i) * x[i]));
            for &(i, j, _) in pairs {
                out[i] -= sight(i, j) * x[j];
                out[j] -= sight(i, j) * x[i];
            }
        };
        let mut sees = Vec::new();
        seen(self.areas_m2, &mut sees);
        let areas = self.areas_m2.iter().zip(&sees);
        let mut x: Vec<f64> = areas.map(|(a, sees)| a / (a * sees).sqrt()).collect();
        for _ in 0..MOST_PASSES {
            seen(&x, &mut sees);
            let mut worst: f64 = 0.0;
            for i in 0..x.len() {
                let used = x[i] * sees[i];
                let miss = (used - rest[i]).abs() / self.areas_m2[i];
                if !(miss.is_finite() && used > 0.0) {
                    return None;
                }
                worst = worst.max(miss);
            }
            if worst <= 1e-2 * CLOSURE {
                return Some(x);
            }
            for i in 0..x.len() {
                let half = (rest[i] / (x[i] * sees[i])).sqrt();
                x[i] *= half * half.sqrt();
            }
        }
        None
    }

    /// `A eps X eps` with `X = (A - S R)^-1 S` and `S = U V U' + P`, all reflections included.
    fn reflect(&self, x: &[f64], own: &DVector<f64>, pairs: &[Pair]) -> Option<DMatrix<f64>> {
        let (n, zones) = (x.len(), self.sight.nrows());
        let reflects = |i: usize| 1.0 - self.emissivities[i];
        // without the zones' product: Y = (A - P R)^-1, and Y U, U' + U' R Y P, Y P
        let mut to_zone = DMatrix::zeros(n, zones);
        let mut from_zone = DMatrix::zeros(zones, n);
        let mut nearby: Vec<Pair> = Vec::new();
        for members in tied(n, pairs) {
            if let [i] = members[..] {
                let d = self.areas_m2[i] - own[i] * reflects(i);
                to_zone[(i, self.zones[i])] = x[i] / d;
                from_zone[(self.zones[i], i)] = x[i] * self.areas_m2[i] / d;
                nearby.push((i, i, own[i] / d));
                continue;
            }
            let k = members.len();
            let mut p = DMatrix::from_diagonal(&DVector::from_fn(k, |a, _| own[members[a]]));
            let place = |i: usize| members.iter().position(|&m| m == i);
            for &(i, j, m2) in pairs {
                if let (Some(a), Some(b)) = (place(i), place(j)) {
                    (p[(a, b)], p[(b, a)]) = (m2, m2);
                }
            }
            let d = DMatrix::from_fn(k, k, |a, b| {
                let area = if a == b {
                    self.areas_m2[members[a]]
                } else {
                    0.0
                };
                area - p[(a, b)] * reflects(members[b])
            });
            let y = d.try_inverse()?;
            let yp = &y * &p;
            for (a, &i) in members.iter().enumerate() {
                from_zone[(self.zones[i], i)] += x[i];
                for (b, &j) in members.iter().enumerate() {
                    to_zone[(i, self.zones[j])] += y[(a, b)] * x[j];
                    from_zone[(self.zones[i], j)] += x[i] * reflects(i) * yp[(a, b)];
                    nearby.push((i, j, yp[(a, b)]));
                }
            }
        }
        let mut among = DMatrix::zeros(zones, zones);
        for i in 0..n {
            for zone in 0..zones {
                among[(self.zones[i], zone)] += x[i] * reflects(i) * to_zone[(i, zone)];
            }
        }
        let system = DMatrix::identity(zones, zones) - self.sight * among;
        let between = system.lu().solve(self.sight)?;
        let mut full = to_zone * between * from_zone;
        for (i, j, value) in nearby {
            full[(i, j)] += value;
        }
        for j in 0..n {
            for i in 0..n {
                full[(i, j)] *= self.areas_m2[i] * self.emissivities[i] * self.emissivities[j];
            }
        }
        Some(full)
    }
}

/// Surfaces that pairs tie together, each in one list.
fn tied(surfaces: usize, pairs: &[Pair]) -> Vec<Vec<usize>> {
    let mut list: Vec<usize> = (0..surfaces).collect();
    for &(i, j, _) in pairs {
        let (a, b) = (list[i], list[j]);
        list.iter_mut().filter(|l| **l == b).for_each(|l| *l = a);
    }
    let mut out = vec![Vec::new(); surfaces];
    for (surface, &list) in list.iter().enumerate() {
        out[list].push(surface);
    }
    out.retain(|members| !members.is_empty());
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::view_factors::close;

    /// Numbers that look random and are the same each time (splitmix64, Steele et al. 2014).
    fn random(state: &mut u64) -> f64 {
        *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = *state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    #[test]
    fn verify_it_is_the_exchange_of_any_enclosure() {
        let mut state = 7;
        let mut next = |low: f64, high: f64| low + (high - low) * random(&mut state);
        for case in 0..40 {
            let (n, zones) = (12 + case % 20, 1 + case % 5);
            let areas_m2: Vec<f64> = (0..n).map(|_| next(0.01, 0.4)).collect();
            let emissivities: Vec<f64> =
                (0..n).map(|i| [next(0.05, 0.95), 1.0][i % 9 / 8]).collect();
            let of_zone: Vec<usize> = (0..n).map(|i| i % zones).collect();
            let mut sight = DMatrix::from_fn(zones, zones, |_, _| next(0.03, 0.5));
            sight = &sight + sight.transpose();
            sight.fill_diagonal(1.0);
            let given = |from: usize, to: usize, most: f64| FixedViewFactor {
                from,
                to,
                view_factor: most * (areas_m2[to] / areas_m2[from]).min(1.0),
            };
            // a star and a lone pair, or nothing given
            let fixed = match case % 3 {
                0 => vec![],
                1 => vec![given(0, 5, 0.3)],
                _ => vec![
                    given(1, 2, 0.2),
                    given(1, 3, 0.1),
                    given(4, 1, 0.15),
                    given(6, 7, 0.4),
                ],
            };
            let zoned = ZonedEnclosure {
                areas_m2: &areas_m2,
                emissivities: &emissivities,
                zones: &of_zone,
                sight: &sight,
                fixed: &fixed,
            };
            let weights = DMatrix::from_fn(n, n, |i, j| {
                let seen = i != j;
                f64::from(u8::from(seen)) * sight[(of_zone[i], of_zone[j])]
            });
            let factors = close(&areas_m2, &weights, &fixed).unwrap();
            let any = ExchangeMatrix::new(&areas_m2, &factors, &emissivities).unwrap();
            let found = zoned.exchange().unwrap_or_else(|| panic!("case {case}"));
            for i in 0..n {
                for j in 0..n {
                    let (a, b) = (found.area_factor_m2(i, j), any.area_factor_m2(i, j));
                    assert!((a - b).abs() < 1e-10, "case {case}, {i} {j}: {a} {b}");
                }
            }
        }
    }

    #[test]
    fn what_it_cannot_do_it_leaves_to_the_other_way() {
        let sight = DMatrix::from_element(1, 1, 1.0);
        let enclosure = |areas_m2: &[f64], fixed: &[FixedViewFactor]| {
            let zoned = ZonedEnclosure {
                areas_m2,
                emissivities: &vec![0.5; areas_m2.len()],
                zones: &vec![0; areas_m2.len()],
                sight: &sight,
                fixed,
            };
            zoned.exchange().is_some()
        };
        assert!(enclosure(&[1.0, 1.0, 1.0], &[]));
        // larger than all that it could see
        assert!(!enclosure(&[3.0, 1.0, 1.0], &[]));
        let all = FixedViewFactor {
            from: 0,
            to: 1,
            view_factor: 1.0,
        };
        assert!(!enclosure(&[1.0, 1.0, 1.0], &[all]));
        assert!(!enclosure(&[1.0, 1.0, 1.0], &[all, all]));
    }
}
