//! How often the 90 % interval of `judge` holds a known effect, on synthetic logs; nominal 90 %.
//!
//! `--check` fails outside 87 to 93 %.

#[path = "../tests/common/synthetic_logs.rs"]
mod synthetic_logs;

use synthetic_logs::{Truth, USUAL, coverage};

const REPEATS: u64 = 1000;

fn main() {
    let check = std::env::args().any(|a| a == "--check");
    let effect_k = -4.0;
    let usual = Truth { effect_k, ..USUAL };
    for (name, truth, drives) in [
        ("one drive of 45 min a side", usual, 1),
        (
            "the same, residuals remember 4 min",
            Truth {
                memory_s: 240.0,
                ..usual
            },
            1,
        ),
        (
            "one drive of 90 min a side",
            Truth {
                minutes: 90.0,
                ..usual
            },
            1,
        ),
        (
            "three drives a side, days scatter by 2 K",
            Truth {
                day_k: 2.0,
                ..usual
            },
            3,
        ),
    ] {
        let share = coverage(truth, drives, REPEATS, 1);
        println!("{name}: {:.1} % of {REPEATS}", 100.0 * share);
        assert!(!check || (0.87..=0.93).contains(&share), "{name}: {share}");
    }
}
