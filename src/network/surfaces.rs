//! Surfaces in air, laid out for speed: numbers in columns, convection several at a time.

use super::conditions::Conditions;
use super::link::{
    AirSpeed, Law, Link, Shape, cylinder_coefficient, cylinder_ranges, plate_coefficient,
    plate_ranges, rayleigh_and_reynolds,
};
use super::node::NodeIndex;
use crate::number::{Number, side_by_side, turn_by_turn, widest};
use crate::physics::range::Range;

/// Surfaces of one shape in air, in columns.
#[derive(Debug, Clone, Default)]
struct Surfaces<N> {
    length_m: Vec<N>,
    area_m2: Vec<N>,
    /// Zone whose air passes it; `None`: outside.
    zone: Vec<Option<usize>>,
    /// Speed at the surface over that of the zone, or that of the road.
    speed_factor: Vec<N>,
}
side_by_side!(Surfaces {
    numbers: [length_m, area_m2, speed_factor],
    same: [zone]
});

/// All surfaces in air, shape by shape.
#[derive(Debug, Clone, Default)]
pub struct SurfacesInAir<N = f64> {
    /// Place of each link in the list of links, in the order in which a [`LinkPlan`](super::link_plan::LinkPlan) has them.
    links: Vec<usize>,
    /// Place of each surface in that order.
    places: Vec<usize>,
    /// Surface and air.
    ends: Vec<(NodeIndex, NodeIndex)>,
    cylinders: Surfaces<N>,
    plates: Surfaces<N>,
}
side_by_side!(SurfacesInAir {
    numbers: [cylinders, plates],
    same: [links, places, ends]
});

/// Work space of the surfaces.
#[derive(Debug, Clone, Default)]
pub struct SurfaceScratch<N = f64> {
    surface_k: Vec<N>,
    air_k: Vec<N>,
    speed_m_s: Vec<N>,
    w_k: Vec<N>,
    rayleigh: Vec<N>,
    reynolds: Vec<N>,
}

impl SurfacesInAir {
    /// Takes the surfaces out of the links; `order` is the plan's.
    pub fn new(links: &[Link], order: &[usize]) -> Self {
        let mut out = Self {
            links: order.to_vec(),
            ..Self::default()
        };
        let plate = |&place: &usize| {
            matches!(
                links[order[place]].law,
                Law::Convection {
                    shape: Shape::Plate(_),
                    ..
                }
            )
        };
        let (plates, cylinders): (Vec<usize>, Vec<usize>) = (0..order.len()).partition(plate);
        for place in cylinders.into_iter().chain(plates) {
            let i = order[place];
            let Law::Convection {
                shape,
                area_m2,
                speed,
            } = links[i].law
            else {
                continue;
            };
            let (surfaces, length_m) = match shape {
                Shape::Cylinder(length_m) => (&mut out.cylinders, length_m),
                Shape::Plate(length_m) => (&mut out.plates, length_m),
            };
            let (zone, speed_factor) = match speed {
                AirSpeed::Zone(zone, factor) => (Some(zone), factor),
                AirSpeed::Outside(factor) => (None, factor),
            };
            surfaces.length_m.push(length_m);
            surfaces.area_m2.push(area_m2);
            surfaces.zone.push(zone);
            surfaces.speed_factor.push(speed_factor);
            out.places.push(place);
            out.ends.push((links[i].from, links[i].to));
        }
        out
    }

    /// Places of their links in the list of links.
    pub fn links(&self) -> &[usize] {
        &self.links
    }

    /// Where they stand in [`SurfacesInAir::links`]: cylinders, then plates, each in the order of the list of links.
    pub fn by_shape(&self) -> Vec<usize> {
        let mut places = self.places.clone();
        let (cylinders, plates) = places.split_at_mut(self.cylinders.length_m.len());
        for shape in [cylinders, plates] {
            shape.sort_unstable_by_key(|&place| self.links[place]);
        }
        places
    }
}

impl<N: Number> SurfacesInAir<N> {
    /// Settles the conductances of all surfaces in air under conditions `c`, which must hold all air speeds already.
    pub fn settle(
        &self,
        c: &mut Conditions<N>,
        pressure_pa: N,
        node_k: &[N],
        s: &mut SurfaceScratch<N>,
    ) {
        self.load(c, node_k, s);
        s.w_k.resize(self.ends.len(), N::default());
        let columns = [&s.surface_k[..], &s.air_k, &s.speed_m_s];
        let w_k = &mut s.w_k[..];
        widest(
            #[inline(always)]
            || self.conductances(columns, pressure_pa, w_k),
        );
        c.surface_w_k.resize(self.ends.len(), N::default());
        for (&place, &w_k) in self.places.iter().zip(&s.w_k) {
            c.surface_w_k[place] = w_k;
        }
    }

    /// Temperatures and air speed of all surfaces.
    fn load(&self, c: &Conditions<N>, node_k: &[N], s: &mut SurfaceScratch<N>) {
        s.surface_k.clear();
        s.surface_k.extend(self.ends.iter().map(|e| node_k[e.0]));
        s.air_k.clear();
        s.air_k.extend(self.ends.iter().map(|e| node_k[e.1]));
        s.speed_m_s.clear();
        for shape in [&self.cylinders, &self.plates] {
            let speeds = shape.zone.iter().zip(&shape.speed_factor);
            s.speed_m_s
                .extend(speeds.map(|(zone, &factor)| match *zone {
                    Some(zone) => c.zone_speed_m_s[zone] * factor,
                    None => {
                        let road = c.scalars.speed_m_s * factor;
                        (road * road + c.scalars.wind_m_s * c.scalars.wind_m_s).sqrt()
                    }
                }));
        }
    }

    /// Conductance of all surfaces in air; written so that a compiler takes several at once.
    #[inline(always)]
    fn conductances(&self, columns: [&[N]; 3], pressure_pa: N, w_k: &mut [N]) {
        let n = self.cylinders.length_m.len();
        let (cylinders, plates) = w_k.split_at_mut(n);
        let [first, second] = [columns.map(|c| &c[..n]), columns.map(|c| &c[n..])];
        fill::<N, false>(&self.cylinders, first, pressure_pa, cylinders);
        fill::<N, true>(&self.plates, second, pressure_pa, plates);
    }
}

impl SurfacesInAir {
    /// Shows the ranges of the correlations at all surfaces, and the values that they get under conditions `c`, to `see`
    /// with the place of the surface in [`Self::links`].
    pub fn see_ranges(
        &self,
        c: &Conditions,
        pressure_pa: f64,
        node_k: &[f64],
        s: &mut SurfaceScratch,
        mut see: impl FnMut(usize, &'static Range, f64),
    ) {
        self.load(c, node_k, s);
        s.rayleigh.resize(self.ends.len(), 0.0);
        s.reynolds.resize(self.ends.len(), 0.0);
        let lengths_m = [&self.cylinders.length_m, &self.plates.length_m];
        widest(
            #[inline(always)]
            || {
                let mut first = 0;
                for length_m in lengths_m {
                    let n = length_m.len();
                    let here = first..first + n;
                    first = here.end;
                    let (surface_k, air_k) = (&s.surface_k[here.clone()], &s.air_k[here.clone()]);
                    let speed_m_s = &s.speed_m_s[here.clone()];
                    let rayleigh = &mut s.rayleigh[here.clone()][..n];
                    let reynolds = &mut s.reynolds[here][..n];
                    let (surface_k, air_k) = (&surface_k[..n], &air_k[..n]);
                    let (length_m, speed_m_s) = (&length_m[..n], &speed_m_s[..n]);
                    for i in 0..n {
                        let at = (surface_k[i], air_k[i], speed_m_s[i]);
                        (rayleigh[i], reynolds[i]) =
                            rayleigh_and_reynolds(length_m[i], at.0, at.1, at.2, pressure_pa);
                    }
                }
            },
        );
        let cylinders = self.cylinders.length_m.len();
        for (i, (&rayleigh, &reynolds)) in s.rayleigh.iter().zip(&s.reynolds).enumerate() {
            let ranges = if i < cylinders {
                cylinder_ranges(rayleigh, reynolds)
            } else {
                plate_ranges(rayleigh, reynolds)
            };
            for (range, value) in ranges.into_iter().flatten() {
                if !range.contains(value) {
                    see(self.places[i], range, value);
                }
            }
        }
    }
}

/// Which shape is known when the program is compiled, so that no call stands in the loop.
#[inline(always)]
fn fill<N: Number, const PLATE: bool>(
    surfaces: &Surfaces<N>,
    [surface_k, air_k, speed_m_s]: [&[N]; 3],
    pressure_pa: N,
    w_k: &mut [N],
) {
    let n = w_k.len();
    let (length_m, area_m2) = (&surfaces.length_m[..n], &surfaces.area_m2[..n]);
    let (surface_k, air_k, speed_m_s) = (&surface_k[..n], &air_k[..n], &speed_m_s[..n]);
    for i in 0..n {
        turn_by_turn::<N>();
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
    use crate::number::on;

    fn w_k(registers: pulp::Arch, plates: bool) -> Vec<f64> {
        let n = 37;
        let column = |from: f64, to: f64| -> Vec<f64> {
            (0..n)
                .map(|i| from + (to - from) * ((i * i) % n) as f64 / n as f64)
                .collect()
        };
        let columns = Surfaces {
            length_m: column(0.02, 0.6),
            area_m2: column(0.001, 1.2),
            ..Surfaces::default()
        };
        let mut surfaces = SurfacesInAir::default();
        if plates {
            surfaces.plates = columns;
        } else {
            surfaces.cylinders = columns;
        }
        let mut w_k = vec![0.0; n];
        let mut air_k = column(330.0, 260.0);
        air_k.rotate_left(5);
        let (surface_k, speed_m_s) = (column(300.0, 1100.0), column(40.0, 0.0));
        on(
            registers,
            #[inline(always)]
            || surfaces.conductances([&surface_k, &air_k, &speed_m_s], 9.5e4, &mut w_k),
        );
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
