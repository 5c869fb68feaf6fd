//! Logs from any logger, and inputs fitted to them.

mod certified;
mod filter;
mod import;
mod reading;
mod synthetic;
#[path = "../common/synthetic_drives.rs"]
mod synthetic_drives;
