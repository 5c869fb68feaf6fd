//! What a run finds, in the shape that JSON, terminal, plots and page share.

use serde::Serialize;

/// Version of the JSON shape.
pub const SCHEMA: u32 = 1;

/// The result of one build over one cycle on one day.
#[derive(Debug, Clone, Serialize)]
pub struct Findings {
    /// Version of this shape.
    pub schema: u32,
    /// Program.
    pub program: Program,
    /// Build sheet.
    pub sheet: SheetId,
    /// Drive cycle.
    pub cycle: CycleId,
    /// Weather.
    pub day: DayId,
    /// Energy balance.
    pub audit: Audit,
    /// What the solver did.
    pub work: WorkDone,
    /// Figures, each with id, place, unit and value.
    pub figures: Vec<Figure>,
    /// Margins to limits.
    pub margins: Vec<Margin>,
    /// Where the heat of the exhaust gas goes, mean watts over engine-on time.
    pub exhaust_heat: Vec<Share>,
    /// Where the fuel's heat goes, mean watts over engine-on time.
    pub fuel_heat: Vec<Share>,
    /// What heats the bay air, mean watts over the cycle.
    pub bay_heat: Vec<Share>,
    /// Results by phase of the cycle.
    pub phases: Vec<PhaseResult>,
    /// Warnings, in words.
    pub warnings: Vec<String>,
    /// What to beware of with the treatments that are on and the measures taken, each once.
    pub cautions: Vec<String>,
    /// What the sheet left out and what was taken instead.
    pub assumed: Vec<Assumed>,
    /// The draws behind the bands, null without draws.
    pub draws: Option<DrawsDone>,
    /// What to measure first to narrow the bands; empty without draws.
    pub measure_first: Vec<MeasureFirst>,
}

/// The draws behind the bands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DrawsDone {
    /// Draws asked for.
    pub wanted: usize,
    /// Draws that have no result and are left out of the bands.
    pub failed: usize,
    /// Seed.
    pub seed: u64,
    /// Why draws failed, each reason once.
    pub reasons: Vec<String>,
}

/// An uncertain input that is worth measuring.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MeasureFirst {
    /// Figure that it moves: its id.
    pub id: String,
    /// Place of the figure.
    #[serde(rename = "where")]
    pub place: String,
    /// Figure and place for people.
    pub label: String,
    /// Unit of the figure.
    pub unit: String,
    /// Key path in the sheet.
    pub key: String,
    /// Share of the figure's variance that goes with this key alone, %.
    pub share_percent: f64,
    /// 10 % point of the figure now.
    pub low: f64,
    /// 90 % point of the figure now.
    pub high: f64,
    /// 10 % point when the key is known and turns out as likely.
    pub low_when_measured: f64,
    /// 90 % point when the key is known and turns out as likely.
    pub high_when_measured: f64,
}

/// Program name and version.
#[derive(Debug, Clone, Serialize)]
pub struct Program {
    /// `baysoak`.
    pub name: String,
    /// Version.
    pub version: String,
}

impl Program {
    /// This program.
    pub fn this() -> Self {
        Self {
            name: env!("CARGO_PKG_NAME").into(),
            version: env!("CARGO_PKG_VERSION").into(),
        }
    }
}

/// Which sheet.
#[derive(Debug, Clone, Serialize)]
pub struct SheetId {
    /// Title.
    pub title: String,
    /// SHA-256 of the sheet's text, first 16 hex digits.
    pub hash: String,
}

/// Which cycle.
#[derive(Debug, Clone, Serialize)]
pub struct CycleId {
    /// Name.
    pub name: String,
    /// Duration, s.
    pub duration_s: f64,
}

/// Which weather.
#[derive(Debug, Clone, Serialize)]
pub struct DayId {
    /// Name.
    pub name: String,
    /// Ambient, degC.
    pub ambient_c: f64,
    /// Relative humidity, %.
    pub humidity_percent: f64,
    /// Pressure, kPa.
    pub pressure_kpa: f64,
    /// Sun on a horizontal surface, W/m2.
    pub sun_w_m2: f64,
    /// Wind, m/s.
    pub wind_m_s: f64,
}

/// Energy balance of a run, means over its duration.
#[derive(Debug, Clone, Serialize)]
pub struct Audit {
    /// |in - out - stored| over heat in, %.
    pub residual_percent: f64,
    /// in - out - stored, W.
    pub residual_w: f64,
    /// Energy in, W.
    pub in_w: f64,
    /// Energy out, W.
    pub out_w: f64,
    /// Energy stored, W.
    pub stored_w: f64,
}

/// What the solver did.
#[derive(Debug, Clone, Serialize)]
pub struct WorkDone {
    /// Accepted steps.
    pub steps: u64,
    /// Rejected steps.
    pub rejected: u64,
    /// Right-hand side calls.
    pub rhs_calls: u64,
    /// Nodes of the network.
    pub nodes: usize,
    /// Links of the network.
    pub links: usize,
}

/// One figure.
#[derive(Debug, Clone, Serialize)]
pub struct Figure {
    /// Stable id with unit, e.g. `intake_rise_mean_k`.
    pub id: String,
    /// Label for people.
    pub label: String,
    /// Where: a part, zone or place.
    #[serde(rename = "where")]
    pub place: String,
    /// Unit of `value`.
    pub unit: String,
    /// Value.
    pub value: f64,
    /// 10 % point of the draws, null without draws.
    pub low: Option<f64>,
    /// 90 % point of the draws, null without draws.
    pub high: Option<f64>,
    /// 50 % point of the draws, null without draws.
    pub median: Option<f64>,
}

/// Distance to a limit.
#[derive(Debug, Clone, Serialize)]
pub struct Margin {
    /// Part.
    pub part: String,
    /// What is limited, e.g. `metal oxidation`.
    pub what: String,
    /// Peak, degC.
    pub peak_c: f64,
    /// Limit, degC.
    pub limit_c: f64,
    /// Limit minus peak, K; negative is over.
    pub margin_k: f64,
    /// Time over the limit, s.
    pub over_s: f64,
    /// 10 % point of the margin, K, null without draws.
    pub low_k: Option<f64>,
    /// 90 % point of the margin, K, null without draws.
    pub high_k: Option<f64>,
    /// Share of the draws that are over, %, null without draws.
    pub over_chance_percent: Option<f64>,
    /// Where the limit comes from.
    pub source: String,
}

/// A named share of a heat flow.
#[derive(Debug, Clone, Serialize)]
pub struct Share {
    /// Name.
    pub name: String,
    /// Mean, W.
    pub mean_w: f64,
    /// Of it by convection, W (0 where not split).
    pub convection_w: f64,
    /// Of it by radiation, W (0 where not split).
    pub radiation_w: f64,
}

/// Result of a phase.
#[derive(Debug, Clone, Serialize)]
pub struct PhaseResult {
    /// Name.
    pub name: String,
    /// Kind: `drive`, `stand`, `key-off`, `restart`.
    pub kind: String,
    /// Start, s.
    pub start_s: f64,
    /// End, s.
    pub end_s: f64,
    /// Sensor over ambient, mean, K.
    pub sensor_rise_mean_k: f64,
    /// Sensor over ambient, peak, K.
    pub sensor_rise_peak_k: f64,
    /// Charge at the valve over ambient, mean with the engine on, K (null when off).
    pub valve_rise_mean_k: Option<f64>,
    /// Hottest skin, degC.
    pub skin_peak_c: f64,
    /// Hottest bay zone air, degC.
    pub bay_air_peak_c: f64,
}

/// An assumed input.
#[derive(Debug, Clone, Serialize)]
pub struct Assumed {
    /// Key path in the sheet.
    pub key: String,
    /// Value taken, in the key's own unit.
    pub value: f64,
    /// Low end of the range.
    pub low: f64,
    /// High end of the range.
    pub high: f64,
    /// Why this value.
    pub basis: String,
}

/// Sampled results over time: the columns of `--csv` and the material of plots.
#[derive(Debug, Clone, Default)]
pub struct Series {
    /// Column names with units, `time_s` not among them.
    pub names: Vec<String>,
    /// Times, s.
    pub time_s: Vec<f64>,
    /// One row per time, in the order of `names`. Temperatures in degC.
    pub rows: Vec<Vec<f64>>,
    /// Phases: name, kind, start, end.
    pub phases: Vec<(String, String, f64, f64)>,
}

impl Series {
    /// Values of one column, or `None` when there is no such column.
    pub fn column(&self, name: &str) -> Option<Vec<f64>> {
        let i = self.names.iter().position(|n| n == name)?;
        Some(self.rows.iter().map(|r| r[i]).collect())
    }
}

/// A finished run.
#[derive(Debug, Clone)]
pub struct RunResult {
    /// What was found.
    pub findings: Findings,
    /// The series over time.
    pub series: Series,
}
