//! Drive cycles: published figures, intervals, logs, and phases from a sheet.

mod intervals;
mod logs;
mod phases;
mod published;
