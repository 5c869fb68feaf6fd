//! A bar on standard error, only for people and only when a command takes its time.

use std::io::IsTerminal;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// Shorter runs show no progress.
const PATIENCE: Duration = Duration::from_secs(1);

/// The bar; any thread may move it.
pub struct Progress {
    start: Instant,
    bar: Mutex<Option<ProgressBar>>,
    wanted: bool,
}

impl Progress {
    pub fn new(quiet: bool) -> Self {
        Self {
            start: Instant::now(),
            bar: Mutex::new(None),
            wanted: !quiet && std::io::stderr().is_terminal(),
        }
    }

    /// Moves the bar to a share of 0 to 1 of the work called `what`. Who called the program waits for the
    /// result: always true.
    pub fn update(&self, what: &'static str, done: f64) -> bool {
        if !self.wanted || self.start.elapsed() < PATIENCE {
            return true;
        }
        let mut bar = self.bar.lock().unwrap_or_else(PoisonError::into_inner);
        let bar = bar.get_or_insert_with(|| {
            let target = ProgressDrawTarget::stderr();
            let bar = ProgressBar::with_draw_target(Some(1000), target);
            match ProgressStyle::with_template("{msg} {wide_bar} {percent} %") {
                Ok(style) => bar.with_style(style),
                Err(_) => bar,
            }
        });
        bar.set_message(what);
        // in steps of the bar
        bar.set_position((done.clamp(0.0, 1.0) * 1000.0) as u64);
        true
    }

    pub fn finish(&self) {
        let mut bar = self.bar.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(bar) = bar.take() {
            bar.finish_and_clear();
        }
    }
}
