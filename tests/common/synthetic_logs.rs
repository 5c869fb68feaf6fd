//! Logs with a known effect: a drive, a temperature that follows it, and residuals that remember.

use baysoak::cycle::{Cycle, EngineState, Load, Phase, PhaseKind, Point, Start};
use baysoak::study::judge::MeasuredLog;
use rand_pcg::Pcg64;
use rand_pcg::rand_core::{Rng, SeedableRng};

/// Step of the logs [s].
const STEP_S: f64 = 5.0;

/// Random numbers.
pub struct Random(Pcg64);

impl Random {
    pub fn new(seed: u64) -> Self {
        Self(Pcg64::seed_from_u64(seed))
    }

    /// Even in 0 to 1.
    pub fn even(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Standard normal (Box and Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.even()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.even()).cos()
    }
}

/// What a side of the test is like.
#[derive(Clone, Copy)]
pub struct Truth {
    /// Minutes of a drive.
    pub minutes: f64,
    /// Effect of the change [K].
    pub effect_k: f64,
    /// Scatter of residuals [K] and their memory [s].
    pub residual_k: f64,
    pub memory_s: f64,
    /// Scatter from day to day [K].
    pub day_k: f64,
    /// Outside air [K].
    pub ambient_k: f64,
    /// Factor on power and speed: another pace.
    pub pace: f64,
}

pub const USUAL: Truth = Truth {
    minutes: 45.0,
    effect_k: 0.0,
    residual_k: 2.0,
    memory_s: 90.0,
    day_k: 0.0,
    ambient_k: 293.15,
    pace: 1.0,
};

/// One drive through town, queue and faster road in random order, with its temperature `bay_c`.
pub fn log(truth: Truth, random: &mut Random) -> MeasuredLog {
    let steps = (truth.minutes * 60.0 / STEP_S) as usize;
    let mut points = Vec::with_capacity(steps + 1);
    let (mut goal, mut left, mut speed) = (12.0, 0, 12.0_f64);
    for i in 0..=steps {
        if left == 0 {
            left = 12 + (60.0 * random.even()) as usize;
            goal = truth.pace * [0.0, 11.0, 13.0, 25.0, 33.0][(5.0 * random.even()) as usize];
        }
        left -= 1;
        speed += (goal - speed) * 0.3;
        let power =
            1500.0 + truth.pace * (250.0 * speed + 0.45 * speed.powi(3) + 2000.0 * random.even());
        let mut point = Point::road(i as f64 * STEP_S, speed);
        (point.load, point.ambient_k) = (Load::Power(power), Some(truth.ambient_k));
        points.push(point);
    }
    let day = truth.day_k * random.normal();
    let keep = (-STEP_S / truth.memory_s).exp();
    let mut residual = truth.residual_k * random.normal();
    let (mut fast, mut slow, mut still) = (0.0, 0.0, 0.3);
    let mut time_s = Vec::with_capacity(points.len());
    let mut readings = Vec::with_capacity(points.len());
    for point in &points {
        let Load::Power(power) = point.load else {
            continue;
        };
        fast += (power / 1e3 - fast) * (1.0 - (-STEP_S / 50.0_f64).exp());
        slow += (power / 1e3 - slow) * (1.0 - (-STEP_S / 700.0_f64).exp());
        still +=
            (1.0 / (1.0 + point.speed_m_s / 5.0) - still) * (1.0 - (-STEP_S / 400.0_f64).exp());
        residual =
            keep * residual + truth.residual_k * (1.0 - keep * keep).sqrt() * random.normal();
        let rise = 15.0 + 0.15 * fast + 0.6 * slow + 25.0 * still;
        let sensor = 0.3 * random.normal();
        time_s.push(point.time_s);
        readings.push(Some(
            truth.ambient_k + rise + truth.effect_k + day + residual + sensor,
        ));
    }
    let phase = Phase::new(
        "drive",
        PhaseKind::Drive,
        EngineState::Running,
        false,
        points,
    )
    .unwrap();
    MeasuredLog {
        name: "synthetic".to_owned(),
        cycle: Cycle::new("synthetic", "synthetic", "here", Start::Warm, vec![phase]).unwrap(),
        time_s,
        channels: vec![("bay_c".to_owned(), readings)],
    }
}

/// Share of `repeats` tests whose 90 % interval holds the effect; `drives` on each side.
pub fn coverage(truth: Truth, drives: usize, repeats: u64, seed: u64) -> f64 {
    let held = (0..repeats).filter(|&i| {
        let mut random = Random::new(seed + i);
        let mut side = |truth: Truth| -> Vec<MeasuredLog> {
            (0..drives).map(|_| log(truth, &mut random)).collect()
        };
        let before = side(Truth {
            effect_k: 0.0,
            ..truth
        });
        let after = side(Truth {
            ambient_k: truth.ambient_k + 7.0,
            ..truth
        });
        let input = baysoak::study::judge::JudgeInput {
            before: &before,
            after: &after,
            channel: "bay_c",
            sheet: None,
            treated: None,
            claim_k: None,
        };
        let found = baysoak::study::judge::judge(&input, &|_| true)
            .unwrap()
            .effect;
        (found.low..=found.high).contains(&truth.effect_k)
    });
    held.count() as f64 / repeats as f64
}
