//! The air in a bay from tick to tick: the draught that follows its warmth, and the flows that come of it.

use super::conditions::Conditions;
use super::rates::Circuit;
use super::ventilation::{Airflow, Drive, Ventilation};
use crate::number::{Lanes, Number, side_by_side};
use crate::physics::air;
use crate::sheet::build::Bay;

/// Time in which a zone's draught follows its temperature [s] (estimate).
const DRAUGHT_LAG_S: f64 = 15.0;

/// The air in a bay, or in several side by side.
#[derive(Debug, Clone)]
pub struct BayAir<N = f64> {
    ventilation: Ventilation<N>,
    airflow: Airflow<N>,
    /// Cross-section of each zone [m2].
    zone_area_m2: Vec<N>,
    /// Air that the engine takes out of each zone [kg/s].
    taken_kg_s: Vec<N>,
    /// Zone temperatures that drive the draught, and when they were taken [K, s].
    draught_k: Vec<N>,
    draught_at_s: f64,
}
side_by_side!(BayAir {
    numbers: [ventilation, airflow, zone_area_m2, taken_kg_s, draught_k],
    same: [draught_at_s],
});

impl BayAir {
    /// Of a bay, at rest.
    pub fn new(bay: &Bay) -> Self {
        Self {
            ventilation: Ventilation::new(bay),
            airflow: Airflow::default(),
            zone_area_m2: bay.zones.iter().map(|z| z.flow_area_m2).collect(),
            taken_kg_s: Vec::new(),
            draught_k: Vec::new(),
            draught_at_s: f64::NEG_INFINITY,
        }
    }

    /// Takes over the air of a lane.
    pub fn take_lane(&mut self, of: &BayAir<Lanes>, lane: usize) {
        self.ventilation.take_lane(&of.ventilation, lane);
        self.draught_k.clear();
        self.draught_k
            .extend(of.draught_k.iter().map(|k| k.lane(lane)));
        self.draught_at_s = of.draught_at_s;
    }
}

impl<N: Number> BayAir<N> {
    /// Lets the temperatures that drive the draught follow the zones at the start of an interval.
    ///
    /// Warm air has to fill a zone from the top before its column pulls; without the lag the
    /// draught would hunt between ticks.
    pub fn follow(&mut self, time_s: f64, zone_k: &[N]) {
        let passed = time_s - self.draught_at_s;
        let weight = if passed >= 0.0 {
            1.0 - (-passed / DRAUGHT_LAG_S).exp()
        } else {
            1.0
        };
        self.draught_k.resize(zone_k.len(), N::default());
        for (lagged, &now) in self.draught_k.iter_mut().zip(zone_k) {
            *lagged += (now - *lagged) * weight;
        }
        self.draught_at_s = time_s;
    }

    /// Settles the flow through every opening and the air speed in every zone under drivers `c`.
    pub fn settle(
        &mut self,
        circuit: &Circuit<N>,
        bonnet_open: bool,
        zone_k: &[N],
        c: &mut Conditions<N>,
    ) {
        let sc = &c.scalars;
        circuit.taken_from_zones(sc.pickup_standing, sc.air_kg_s, &mut self.taken_kg_s);
        let drive = Drive {
            speed_m_s: sc.speed_m_s,
            wind_m_s: sc.wind_m_s,
            ambient_k: sc.ambient_k,
            pressure_pa: circuit.pressure_pa,
            fan: sc.fan,
            bonnet_open,
            zone_k: &self.draught_k,
            taken_kg_s: &self.taken_kg_s,
        };
        self.ventilation.solve(&drive, &mut self.airflow);
        c.opening_kg_s.clone_from(&self.airflow.flow_kg_s);
        c.zone_speed_m_s.resize(zone_k.len(), N::default());
        let speeds = &mut c.zone_speed_m_s;
        self.ventilation.into_zones(&c.opening_kg_s, speeds);
        for ((speed, &k), &area_m2) in speeds.iter_mut().zip(zone_k).zip(&self.zone_area_m2) {
            *speed = *speed / (air::density(k, circuit.pressure_pa) * area_m2);
        }
    }

    /// Largest mass imbalance left by the last call [kg/s].
    pub fn imbalance_kg_s(&self) -> N {
        self.airflow.imbalance_kg_s
    }
}
