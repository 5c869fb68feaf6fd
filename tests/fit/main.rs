//! Logs from any logger, and inputs fitted to them.

mod certified;
mod import;
mod synthetic;
