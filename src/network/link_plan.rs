//! Links laid out for speed: ordered by law, numbers in columns, convection several at a time.

use super::conditions::Conditions;
use super::link::{AirSpeed, Law, Link, Shape, cylinder_coefficient, plate_coefficient};
use super::node::NodeIndex;
use super::rates::LinkBooks;
use crate::physics::conduction;
use crate::physics::convection::annulus;

/// Surfaces of one shape in air, in columns.
#[derive(Debug, Clone, Default)]
struct Surfaces {
    length_m: Vec<f64>,
    area_m2: Vec<f64>,
    speed: Vec<AirSpeed>,
}

/// All links but radiation, ordered by law.
#[derive(Debug, Clone, Default)]
pub struct LinkPlan {
    /// Link that stands at each place.
    links: Vec<usize>,
    ends: Vec<(NodeIndex, NodeIndex)>,
    /// Constant conductances [W/K]; they come first.
    constant_w_k: Vec<f64>,
    /// Running and still part of pumped conductances [W/K].
    pumped_w_k: Vec<(f64, f64)>,
    /// Shape factor [m], conductivity at 300 K [W/m/K] and its rise [W/m/K2].
    layers: Vec<(f64, f64, f64)>,
    /// Effective length and shape factor of air gaps [m].
    gaps_m: Vec<(f64, f64)>,
    cylinders: Surfaces,
    plates: Surfaces,
    /// (place, sign) of what feeds the ledger, slot by slot.
    books: Vec<(usize, f64)>,
    /// (ledger slot, first, end) of what feeds it.
    booked: Vec<(usize, usize, usize)>,
}

/// Work space of the links.
#[derive(Debug, Clone, Default)]
pub struct LinkScratch {
    /// Conductance of each link in the plan's order [W/K].
    pub w_k: Vec<f64>,
    /// Heat along each [W].
    watts: Vec<f64>,
    surface_k: Vec<f64>,
    air_k: Vec<f64>,
    speed_m_s: Vec<f64>,
}

impl LinkPlan {
    /// Orders the links.
    pub fn new(links: &[Link], books: &[LinkBooks]) -> Self {
        let rank = |law: &Law| match law {
            Law::Conductance(_) => Some(0),
            Law::Pumped { .. } => Some(1),
            Law::Layer { .. } => Some(2),
            Law::Gap { .. } => Some(3),
            Law::Convection {
                shape: Shape::Cylinder(_),
                ..
            } => Some(4),
            Law::Convection {
                shape: Shape::Plate(_),
                ..
            } => Some(5),
            Law::Radiation { .. } => None,
        };
        let mut order: Vec<(u8, usize)> = links
            .iter()
            .enumerate()
            .filter_map(|(i, link)| Some((rank(&link.law)?, i)))
            .collect();
        order.sort_unstable();
        let mut plan = Self::default();
        let mut fed = Vec::new();
        for (place, &(_, i)) in order.iter().enumerate() {
            plan.links.push(i);
            plan.ends.push((links[i].from, links[i].to));
            fed.extend(books[i].iter().map(|&(slot, sign)| (slot, place, sign)));
            plan.add(&links[i].law);
        }
        fed.sort_by_key(|&(slot, place, _)| (slot, place));
        for of_slot in fed.chunk_by(|a, b| a.0 == b.0) {
            let first = plan.books.len();
            plan.books
                .extend(of_slot.iter().map(|&(_, place, sign)| (place, sign)));
            plan.booked.push((of_slot[0].0, first, plan.books.len()));
        }
        plan
    }

    fn add(&mut self, law: &Law) {
        match *law {
            Law::Conductance(w_k) => self.constant_w_k.push(w_k),
            Law::Pumped {
                running_w_k,
                still_w_k,
                ..
            } => self.pumped_w_k.push((running_w_k, still_w_k)),
            Law::Layer { shape_m, k0, k1 } => self.layers.push((shape_m, k0, k1)),
            Law::Gap {
                effective_m,
                shape_m,
            } => self.gaps_m.push((effective_m, shape_m)),
            Law::Convection {
                shape,
                area_m2,
                speed,
            } => {
                let (surfaces, length_m) = match shape {
                    Shape::Cylinder(length_m) => (&mut self.cylinders, length_m),
                    Shape::Plate(length_m) => (&mut self.plates, length_m),
                };
                surfaces.length_m.push(length_m);
                surfaces.area_m2.push(area_m2);
                surfaces.speed.push(speed);
            }
            Law::Radiation { .. } => {}
        }
    }

    /// Both ends of each link, in the plan's order.
    pub fn ends(&self) -> &[(NodeIndex, NodeIndex)] {
        &self.ends
    }

    /// Place of each in the list of links, in the plan's order.
    pub fn links(&self) -> &[usize] {
        &self.links
    }

    /// Places of the convection links in the list of links.
    pub fn convection(&self) -> &[usize] {
        &self.links[self.links.len() - self.surfaces()..]
    }

    /// Number of surfaces in air; their links come last.
    fn surfaces(&self) -> usize {
        self.cylinders.length_m.len() + self.plates.length_m.len()
    }

    /// Adds the heat of all links; leaves their conductances behind.
    pub fn add_heat(
        &self,
        c: &Conditions,
        pressure_pa: f64,
        node_k: &[f64],
        (heat_w, books_w): (&mut [f64], &mut [f64]),
        s: &mut LinkScratch,
    ) {
        self.conductances(c, pressure_pa, node_k, s);
        s.watts.resize(self.ends.len(), 0.0);
        for ((&(from, to), w_k), watts) in self.ends.iter().zip(&s.w_k).zip(&mut s.watts) {
            *watts = w_k * (node_k[from] - node_k[to]);
            heat_w[from] -= *watts;
            heat_w[to] += *watts;
        }
        for &(slot, first, end) in &self.booked {
            let fed = self.books[first..end].iter();
            books_w[slot] += fed.map(|&(place, sign)| sign * s.watts[place]).sum::<f64>();
        }
    }

    fn conductances(&self, c: &Conditions, pressure_pa: f64, node_k: &[f64], s: &mut LinkScratch) {
        if s.w_k.len() != self.ends.len() {
            s.w_k.clone_from(&self.constant_w_k);
            s.w_k.resize(self.ends.len(), 0.0);
        }
        let (_, rest) = s.w_k.split_at_mut(self.constant_w_k.len());
        let (pumped, rest) = rest.split_at_mut(self.pumped_w_k.len());
        for (w_k, (running, still)) in pumped.iter_mut().zip(&self.pumped_w_k) {
            *w_k = still + running * c.scalars.pump;
        }
        let (layers, rest) = rest.split_at_mut(self.layers.len());
        let mut at = self.constant_w_k.len() + pumped.len();
        for ((w_k, &(shape_m, k0, k1)), &(from, to)) in
            layers.iter_mut().zip(&self.layers).zip(&self.ends[at..])
        {
            let mean_k = 0.5 * (node_k[from] + node_k[to]);
            *w_k = shape_m * conduction::linear_conductivity(k0, k1, mean_k);
        }
        let (gaps, rest) = rest.split_at_mut(self.gaps_m.len());
        at += layers.len();
        for ((w_k, &(effective_m, shape_m)), &(from, to)) in
            gaps.iter_mut().zip(&self.gaps_m).zip(&self.ends[at..])
        {
            let faces_k = [node_k[from], node_k[to]];
            *w_k = shape_m * annulus::effective_conductivity(effective_m, faces_k, pressure_pa);
        }
        rest.copy_from_slice(&c.surface_w_k);
    }

    /// Settles the conductances of all surfaces in air under conditions `c`, which must hold all air speeds already.
    pub fn settle_surfaces(
        &self,
        c: &mut Conditions,
        pressure_pa: f64,
        node_k: &[f64],
        s: &mut LinkScratch,
    ) {
        let count = self.surfaces();
        let convection = &self.ends[self.ends.len() - count..];
        s.surface_k.clear();
        s.surface_k.extend(convection.iter().map(|e| node_k[e.0]));
        s.air_k.clear();
        s.air_k.extend(convection.iter().map(|e| node_k[e.1]));
        let speeds = self.cylinders.speed.iter().chain(&self.plates.speed);
        s.speed_m_s.clear();
        s.speed_m_s.extend(speeds.map(|speed| match *speed {
            AirSpeed::Zone(zone, factor) => c.zone_speed_m_s[zone] * factor,
            AirSpeed::Outside(factor) => {
                let road = c.scalars.speed_m_s * factor;
                (road * road + c.scalars.wind_m_s * c.scalars.wind_m_s).sqrt()
            }
        }));
        c.surface_w_k.resize(count, 0.0);
        let kernel = Convection {
            cylinders: &self.cylinders,
            plates: &self.plates,
            surface_k: &s.surface_k,
            air_k: &s.air_k,
            speed_m_s: &s.speed_m_s,
            pressure_pa,
            w_k: &mut c.surface_w_k,
        };
        // the widest registers that this machine has, found when the program runs
        pulp::Arch::new().dispatch(kernel);
    }
}

/// Conductance of all surfaces in air; written so that a compiler takes several at once.
struct Convection<'a> {
    cylinders: &'a Surfaces,
    plates: &'a Surfaces,
    surface_k: &'a [f64],
    air_k: &'a [f64],
    speed_m_s: &'a [f64],
    pressure_pa: f64,
    w_k: &'a mut [f64],
}

impl pulp::NullaryFnOnce for Convection<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let n = self.cylinders.length_m.len();
        let (cylinders, plates) = self.w_k.split_at_mut(n);
        let columns = [self.surface_k, self.air_k, self.speed_m_s];
        let [first, second] = [columns.map(|c| &c[..n]), columns.map(|c| &c[n..])];
        fill::<false>(self.cylinders, first, self.pressure_pa, cylinders);
        fill::<true>(self.plates, second, self.pressure_pa, plates);
    }
}

/// Which shape is known when the program is compiled, so that no call stands in the loop.
#[inline(always)]
fn fill<const PLATE: bool>(
    surfaces: &Surfaces,
    [surface_k, air_k, speed_m_s]: [&[f64]; 3],
    pressure_pa: f64,
    w_k: &mut [f64],
) {
    let n = w_k.len();
    let (length_m, area_m2) = (&surfaces.length_m[..n], &surfaces.area_m2[..n]);
    let (surface_k, air_k, speed_m_s) = (&surface_k[..n], &air_k[..n], &speed_m_s[..n]);
    for i in 0..n {
        let (length, at) = (length_m[i], (surface_k[i], air_k[i], speed_m_s[i]));
        let h = if PLATE {
            plate_coefficient(length, at.0, at.1, at.2, pressure_pa)
        } else {
            cylinder_coefficient(length, at.0, at.1, at.2, pressure_pa)
        };
        w_k[i] = h * area_m2[i];
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn w_k(on: pulp::Arch, plates: bool) -> Vec<f64> {
        let n = 37;
        let column = |from: f64, to: f64| -> Vec<f64> {
            (0..n)
                .map(|i| from + (to - from) * ((i * i) % n) as f64 / n as f64)
                .collect()
        };
        let surfaces = Surfaces {
            length_m: column(0.02, 0.6),
            area_m2: column(0.001, 1.2),
            speed: Vec::new(),
        };
        let none = Surfaces::default();
        let mut w_k = vec![0.0; n];
        let mut air_k = column(330.0, 260.0);
        air_k.rotate_left(5);
        on.dispatch(Convection {
            cylinders: if plates { &none } else { &surfaces },
            plates: if plates { &surfaces } else { &none },
            surface_k: &column(300.0, 1100.0),
            air_k: &air_k,
            speed_m_s: &column(40.0, 0.0),
            pressure_pa: 9.5e4,
            w_k: &mut w_k,
        });
        w_k
    }

    #[test]
    fn wide_registers_give_the_numbers_of_one_at_a_time() {
        for plates in [false, true] {
            let (wide, single) = (
                w_k(pulp::Arch::new(), plates),
                w_k(pulp::Arch::Scalar, plates),
            );
            assert!(single.iter().all(|w| *w > 0.0));
            assert_eq!(wide, single);
        }
    }
}
