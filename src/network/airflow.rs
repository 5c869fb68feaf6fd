//! Air between zones and the outside, and mixing.

use super::conditions::Conditions;
use super::rates::{Circuit, Scratch};
use crate::number::{Number, side_by_side};
use crate::physics::air;
use crate::sheet::build::Opening;

/// Least flow that leaves the bay, so that what it carries has a mean [kg/s].
pub(super) const LEAST_LEAVING_KG_S: f64 = 1e-9;

/// What turns that share of an interval before or after a step's end needs no step of its own.
const NEAR_A_STEP: f64 = 0.02;

/// An opening as the air sees it.
#[derive(Debug, Clone, Copy)]
pub struct Way<N = f64> {
    /// Zone that it leads from; `None`: outside.
    pub from: Option<usize>,
    /// Zone that it leads to; `None`: outside.
    pub to: Option<usize>,
    /// 1 where air that has left the bay may come in again, else 0.
    pub takes_back: N,
}
side_by_side!(Way {
    numbers: [takes_back],
    same: [from, to]
});

impl<N: Number> Way<N> {
    /// What of a flow along it comes into the bay, below 0 what leaves it, where it joins a zone to the outside.
    #[inline(always)]
    pub fn inward(&self, flow: N) -> N {
        if self.from.is_none() { flow } else { -flow }
    }
}

impl Way {
    /// Of an opening.
    pub fn new(opening: &Opening) -> Self {
        Self {
            from: opening.from,
            to: opening.to,
            takes_back: f64::from(opening.pressure_coefficient > 0.0),
        }
    }
}

/// Neighbouring zones between which eddies mix.
#[derive(Debug, Clone)]
pub struct Mixing<N = f64> {
    /// Opening between them.
    pub opening: usize,
    /// The zones.
    pub zones: (usize, usize),
    /// Area of the opening [m2].
    pub area_m2: N,
}
side_by_side!(Mixing {
    numbers: [area_m2],
    same: [opening, zones]
});

impl<N: Number> Circuit<N> {
    /// Air moving between zones and the outside, mixing and radiator.
    #[inline(always)]
    pub(super) fn add_airflow(&self, c: &Conditions<N>, s: &mut Scratch<N>) {
        let (zone0, zero) = (self.roles.first_zone, N::default());
        let h_ambient = air::enthalpy(c.scalars.ambient_k);
        // mean enthalpy of what leaves the bay, which is what comes back when standing
        let least = N::of(LEAST_LEAVING_KG_S);
        let zone_j_kg = &s.zone_j_kg[..];
        let (mut leaving, mut leaving_h) = (least, h_ambient * least);
        for (way, &flow) in self.ways.iter().zip(&c.opening_kg_s) {
            let ((Some(zone), None) | (None, Some(zone))) = (way.from, way.to) else {
                continue;
            };
            let out = (-way.inward(flow)).max(zero);
            leaving += out;
            leaving_h += out * zone_j_kg[zone];
        }
        let h_back = leaving_h / leaving;
        let comes_back = c.scalars.recirculation * (h_back - h_ambient);
        let mut out_w = zero;
        let zone_w = &mut s.heat_w[zone0..];
        for (way, &flow) in self.ways.iter().zip(&c.opening_kg_s) {
            match (way.from, way.to) {
                (Some(a), Some(b)) => {
                    let h = zone_j_kg[a] - zone_j_kg[b];
                    zone_w[a] -= (-flow).max(zero) * h;
                    zone_w[b] += flow.max(zero) * h;
                }
                (Some(zone), None) | (None, Some(zone)) => {
                    let inward = way.inward(flow);
                    let (enters, leaves) = (inward.max(zero), (-inward).max(zero));
                    let h_outside = h_ambient + comes_back * way.takes_back;
                    let h = zone_j_kg[zone];
                    zone_w[zone] += enters * (h_outside - h);
                    out_w += leaves * h - enters * h_outside;
                }
                (None, None) => {}
            }
        }
        s.books_w[self.slots.out] += out_w;
        self.mix_zones(c, s);
        self.add_radiator(c, s);
    }

    /// Air that eddies carry to and fro between two zones [kg/s], from the sum of the speeds there; below 0 they don't get
    /// through.
    #[inline(always)]
    fn eddies(&self, mixing: &Mixing<N>, density: N, speeds_m_s: N, through_kg_s: N) -> N {
        let (share, still_m_s) = self.mixing_speed;
        let speed = share * 0.5 * speeds_m_s + still_m_s;
        // eddies must work against what flows through anyway
        density * mixing.area_m2 * speed - through_kg_s.abs()
    }

    /// Where between `w` and `end`, shares of an interval, an opening's flow first turns round or eddies set in or end;
    /// `end` if nowhere. Of several cars side by side it looks at the first.
    pub fn next_kink(&self, from: &Conditions<N>, to: &Conditions<N>, w: f64, end: f64) -> f64 {
        let blend = |a: N, b: N, w: f64| a.lane(0) + (b.lane(0) - a.lane(0)) * w;
        let crossing = |at: &dyn Fn(f64) -> f64, end: f64| {
            let (a, b) = (at(w), at(end));
            let found = (a * b < 0.0).then(|| w + (end - w) * a / (a - b));
            found.filter(|&x| x > w + NEAR_A_STEP && x < end - NEAR_A_STEP)
        };
        let flow = |i: usize, w: f64| blend(from.opening_kg_s[i], to.opening_kg_s[i], w);
        let mut stop = end;
        for i in 0..from.opening_kg_s.len() {
            stop = crossing(&|w| flow(i, w), end).map_or(stop, |x| x.min(stop));
        }
        // straight up to where a flow turns round
        let straight = stop;
        let density = air::density(from.scalars.ambient_k, self.pressure_pa);
        for mixing in &self.mixing {
            let (a, b) = mixing.zones;
            let speed = |z: usize, w: f64| blend(from.zone_speed_m_s[z], to.zone_speed_m_s[z], w);
            let eddies = |w: f64| {
                let speeds = N::of(speed(a, w) + speed(b, w));
                let through = N::of(flow(mixing.opening, w));
                self.eddies(mixing, density, speeds, through).lane(0)
            };
            stop = crossing(&eddies, straight).map_or(stop, |x| x.min(stop));
        }
        stop
    }

    /// Eddies between neighbouring zones.
    #[inline(always)]
    fn mix_zones(&self, c: &Conditions<N>, s: &mut Scratch<N>) {
        let zone0 = self.roles.first_zone;
        let density = air::density(c.scalars.ambient_k, self.pressure_pa);
        let cp = air::specific_heat(c.scalars.ambient_k);
        s.mixing_w_k.resize(self.mixing.len(), N::default());
        for (mixing, w_k) in self.mixing.iter().zip(&mut s.mixing_w_k) {
            let (a, b) = mixing.zones;
            let speeds = c.zone_speed_m_s[a] + c.zone_speed_m_s[b];
            let through = c.opening_kg_s[mixing.opening];
            let eddies = self.eddies(mixing, density, speeds, through);
            let eddies = eddies.max(N::default());
            *w_k = eddies * cp;
            let w = eddies * (s.zone_j_kg[a] - s.zone_j_kg[b]);
            s.heat_w[zone0 + a] -= w;
            s.heat_w[zone0 + b] += w;
        }
    }
}
