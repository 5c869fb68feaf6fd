//! How far a long command is.

use std::io::IsTerminal;
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// Shorter runs show no progress.
const PATIENCE: Duration = Duration::from_secs(1);

/// A bar on standard error, only for people and only when a run takes its time.
pub struct Progress {
    start: Instant,
    doing: &'static str,
    bar: Option<ProgressBar>,
    wanted: bool,
}

impl Progress {
    /// Not on a screen, or `quiet`, shows nothing.
    pub fn new(doing: &'static str, quiet: bool) -> Self {
        Self {
            start: Instant::now(),
            doing,
            bar: None,
            wanted: !quiet && std::io::stderr().is_terminal(),
        }
    }

    /// Share done, 0 to 1.
    pub fn update(&mut self, done: f64) {
        if !self.wanted || self.start.elapsed() < PATIENCE {
            return;
        }
        let bar = self.bar.get_or_insert_with(|| {
            let target = ProgressDrawTarget::stderr();
            let bar = ProgressBar::with_draw_target(Some(1000), target);
            match ProgressStyle::with_template("{prefix} {wide_bar} {percent} %") {
                Ok(style) => bar.with_style(style).with_prefix(self.doing),
                Err(_) => bar,
            }
        });
        // a share of 0 to 1 in steps of the bar
        bar.set_position((done.clamp(0.0, 1.0) * 1000.0) as u64);
    }

    /// Takes the bar away.
    pub fn finish(&mut self) {
        if let Some(bar) = self.bar.take() {
            bar.finish_and_clear();
        }
    }
}
