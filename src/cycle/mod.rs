//! Drive cycles: what the car is asked to do over time.
//!
//! A [`Cycle`] is a row of [`Phase`]s, each a row of points between which everything changes linearly. It comes from a
//! standard or built-in trace ([`builtin`]), from a sheet ([`CycleSpec`]) or from a log ([`from_csv`]).

mod builtin;
mod columns;
mod error;
mod log;
mod log_clean;
mod log_columns;
mod log_drive;
mod log_filter;
mod log_roles;
mod log_table;
mod pattern;
mod samples;
mod spec;
mod ticks;
mod types;
mod weather;

pub use builtin::{Builtin, Listed, builtin, builtins};
pub use error::{CycleError, CycleWarning, Problem, Problems};
pub use log::{LogReport, from_csv, read_csv};
pub use log_drive::{ColumnRead, ImportReport, LogOptions, LoggedChannel, LoggedDrive, import};
pub use log_roles::Role;
pub use pattern::Pattern;
pub use samples::LoadSource;
pub use spec::{CycleSpec, PhaseSpec};
pub use types::{Cycle, Demand, EngineState, Interval, Load, Phase, PhaseKind, Point, Start};
pub use weather::{Hour, WeatherError, read_weather};
