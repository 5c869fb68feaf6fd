//! One build in one situation on one day: intake, charge, power.

use super::situation::Course;
use crate::engine::power::Standard;
use crate::engine::power_full::FullLoad;
use crate::network::rates::Scratch;
use crate::quantity::celsius;
use crate::sheet::build::Build;
use crate::sheet::{Settled, Sheet};
use crate::study::findings::{Figure, Margin, RunResult};
use crate::study::full_throttle::FullThrottle;
use crate::study::run::{Moment, RunError, RunOptions};
use crate::study::together::{Ready, run_all};
use crate::study::watch::Trend;

/// Times that full throttle is asked for in the stretch.
const PROBES: f64 = 4.0;

/// Id, label, where, unit of what is measured.
pub(super) const MEASURED: [(&str, &str, &str, &str); 18] = [
    ("intake_c", "intake air, mean", "pickup", "degC"),
    ("intake_c", "intake air, mean", "sensor", "degC"),
    ("intake_c", "intake air, mean", "valve", "degC"),
    (
        "intake_rise_k",
        "intake rise over ambient, mean",
        "pickup",
        "K",
    ),
    (
        "intake_rise_k",
        "intake rise over ambient, mean",
        "sensor",
        "K",
    ),
    (
        "intake_rise_k",
        "intake rise over ambient, mean",
        "valve",
        "K",
    ),
    (
        "full_throttle_charge_c",
        "charge if full throttle is asked for",
        "valve",
        "degC",
    ),
    (
        "charge_density_kg_m3",
        "dry air in the charge at full throttle",
        "valve",
        "kg/m3",
    ),
    ("power_kw", "power at full throttle", "density", "kW"),
    ("power_kw", "power at full throttle", "standard", "kW"),
    (
        "power_percent",
        "power at full throttle, of the rating",
        "density",
        "%",
    ),
    (
        "power_percent",
        "power at full throttle, of the rating",
        "standard",
        "%",
    ),
    (
        "corrected_percent",
        "measured power corrected with the outside air, of the rating",
        "ISO 1585, room",
        "%",
    ),
    (
        "corrected_percent",
        "measured power corrected with the sensor's temperature, of the rating",
        "ISO 1585, sensor",
        "%",
    ),
    (
        "corrected_percent",
        "measured power corrected with the outside air, of the rating",
        "SAE J1349, room",
        "%",
    ),
    (
        "corrected_percent",
        "measured power corrected with the sensor's temperature, of the rating",
        "SAE J1349, sensor",
        "%",
    ),
    (
        "corrected_percent",
        "measured power corrected with the outside air, of the rating",
        "DIN 70020, room",
        "%",
    ),
    (
        "corrected_percent",
        "measured power corrected with the sensor's temperature, of the rating",
        "DIN 70020, sensor",
        "%",
    ),
];

/// What a situation gave.
#[derive(Debug, Clone)]
pub(super) struct Measured {
    /// Values in the order of [`MEASURED`].
    pub values: [f64; MEASURED.len()],
    /// The compressor gave out at full throttle.
    pub compressor_limited: bool,
    /// Corrections that are outside their standard's limits.
    pub outside: Vec<String>,
    /// The margin that is least.
    pub tightest: Option<Margin>,
    /// Warnings of the run.
    pub warnings: Vec<String>,
}

/// Means over the stretch that is looked at.
#[derive(Clone)]
struct Stretch {
    window_s: (f64, f64),
    air: [Trend; 3],
    rise: [Trend; 3],
    before: Option<[f64; 4]>,
    charge_k: Trend,
    density: Trend,
    power_w: [Trend; 2],
    probed_s: f64,
    compressor_limited: bool,
}

impl Stretch {
    fn new(window_s: (f64, f64)) -> Self {
        Self {
            window_s,
            air: Default::default(),
            rise: Default::default(),
            before: None,
            charge_k: Trend::default(),
            density: Trend::default(),
            power_w: Default::default(),
            probed_s: f64::NEG_INFINITY,
            compressor_limited: false,
        }
    }

    /// Adds an interval's end.
    fn add(&mut self, settled: &Settled, moment: &Moment) {
        let (from, to) = self.window_s;
        let (start, end) = (moment.interval.start_s, moment.interval.end_s);
        let now = air_k(settled, moment.scratch, moment);
        let before = self.before.replace(now).unwrap_or(now);
        if start < from - 1e-9 || end > to + 1e-9 {
            return;
        }
        for i in 0..3 {
            self.air[i].add(before[i], now[i], end - start);
            let over = |k: &[f64; 4]| k[i] - k[3];
            self.rise[i].add(over(&before), over(&now), end - start);
        }
        if end - self.probed_s >= (to - from) / PROBES {
            self.probed_s = end;
            let found = FullThrottle::at(&settled.build, moment);
            let one = |trend: &mut Trend, v: f64| trend.add(v, v, 1.0);
            let load: FullLoad = found.load;
            one(&mut self.charge_k, found.charge_k);
            one(&mut self.density, load.dry_density_kg_m3);
            one(&mut self.power_w[0], load.density_w);
            one(&mut self.power_w[1], load.standard_w);
            self.compressor_limited |= load.manifold.compressor_limited;
        }
    }

    /// Values, and corrections outside their limits.
    fn values(&self, build: &Build) -> ([f64; MEASURED.len()], Vec<String>) {
        let rated_w = build.engine.power_w;
        let mean = |t: &Trend| t.mean().unwrap_or(f64::NAN);
        let air = |i: usize| celsius(mean(&self.air[i]));
        let kw = |i: usize| mean(&self.power_w[i]) / 1e3;
        let percent = |i: usize| 100.0 * mean(&self.power_w[i]) / rated_w;
        let mut outside = Vec::new();
        let mut values = vec![
            air(0),
            air(1),
            air(2),
            mean(&self.rise[0]),
            mean(&self.rise[1]),
            mean(&self.rise[2]),
            celsius(mean(&self.charge_k)),
            mean(&self.density),
            kw(0),
            kw(1),
            percent(0),
            percent(1),
        ];
        let day = &build.day;
        for standard in Standard::ALL {
            for (place, k) in [("room", day.ambient_k), ("sensor", mean(&self.air[1]))] {
                let correction = standard.correction(&build.engine, day, k);
                values.push(percent(0) * correction.factor);
                if !correction.inside_limits {
                    outside.push(format!(
                        "{} with the {place}'s {:.0} degC, factor {:.3}: outside its limits, {}",
                        standard.name(),
                        celsius(k),
                        correction.factor,
                        standard.limits(build.engine.diesel)
                    ));
                }
            }
        }
        // one for each row: a missing one would fail the check for finite numbers
        let mut all = [f64::NAN; MEASURED.len()];
        for (slot, value) in all.iter_mut().zip(values) {
            *slot = value;
        }
        (all, outside)
    }
}

/// Pickup, sensor, valve and ambient [K].
fn air_k(settled: &Settled, scratch: &Scratch, moment: &Moment) -> [f64; 4] {
    let ambient_k = moment.interval.to.ambient_k;
    [
        scratch.pickup_k,
        moment.y[moment.network.circuit.roles.sensor],
        scratch.air.valve_k,
        ambient_k.unwrap_or(settled.build.day.ambient_k),
    ]
}

/// A car to be measured.
pub(super) type Car<'c> = (&'c Sheet, &'c Settled);

/// Drives cars through the courses, each from its warm start, and looks at their stretches. At most eight cars that
/// differ in numbers alone are driven side by side.
///
/// # Errors
/// Of a car, with the number of the course, when its run fails or a value is not a finite number.
pub(super) fn measure(
    cars: &[Car],
    courses: &[Course],
    watch_ranges: bool,
) -> Vec<Result<Vec<Measured>, (usize, RunError)>> {
    let options = RunOptions {
        sample_s: f64::INFINITY,
        watch_ranges,
        ..RunOptions::default()
    };
    let Some(first) = courses.first() else {
        return cars.iter().map(|_| Ok(Vec::new())).collect();
    };
    let ready: Vec<Result<Ready, RunError>> = cars
        .iter()
        .map(|&car| Ready::new(car, (&first.cycle, &options), None))
        .collect();
    let mut found: Vec<Result<Vec<Measured>, (usize, RunError)>> =
        cars.iter().map(|_| Ok(Vec::new())).collect();
    for (i, course) in courses.iter().enumerate() {
        let good: Vec<&Ready> = ready.iter().flatten().collect();
        let watch = Stretch::new(course.window_s);
        let see = |seen: &mut Stretch, car: &Ready, moment: &Moment| seen.add(car.settled, moment);
        let mut runs = run_all(&good, (&course.cycle, &options), &watch, Some(&see)).into_iter();
        for (car, all) in ready.iter().zip(&mut found) {
            let Ok(car) = car else { continue };
            let Some(run) = runs.next() else { break };
            let one = run.and_then(|(run, seen)| measured(car.settled, run, &seen));
            match (one, &mut *all) {
                (Ok(one), Ok(all)) => all.push(one),
                (Err(e), Ok(_)) => *all = Err((i, e)),
                _ => {}
            }
        }
    }
    // what kept a car from its start comes before all courses
    let starts = ready.into_iter().zip(found);
    starts
        .map(|(ready, found)| match ready {
            Ok(_) => found,
            Err(e) => Err((0, e)),
        })
        .collect()
}

fn measured(settled: &Settled, run: RunResult, stretch: &Stretch) -> Result<Measured, RunError> {
    let (values, outside) = stretch.values(&settled.build);
    if let Some(v) = values.iter().position(|v| !v.is_finite()) {
        let (id, _, place, _) = MEASURED[v];
        let what = format!("{id} of {place}");
        return Err(RunError::NotFinite { what });
    }
    Ok(Measured {
        values,
        compressor_limited: stretch.compressor_limited,
        outside,
        // they come tightest first
        tightest: run.findings.margins.into_iter().next(),
        warnings: run.findings.warnings,
    })
}

/// Values as figures, without bands.
pub(super) fn figures(values: &[f64; MEASURED.len()]) -> Vec<Figure> {
    let all = MEASURED.iter().zip(values);
    all.map(|(&(id, label, place, unit), &value)| Figure {
        id: id.into(),
        label: label.into(),
        place: place.into(),
        unit: unit.into(),
        value,
        low: None,
        high: None,
        median: None,
    })
    .collect()
}
