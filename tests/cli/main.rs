//! The real binary, as a person or a script calls it.

mod bad_cycles;
mod bad_sheets;
mod fit;
mod lists;
mod outputs;
mod run;
mod sheets;
mod studies;

use std::path::Path;

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

/// A folder of its own with a short trace in it, and the program called from there.
struct Bench {
    folder: TempDir,
}

/// What a call gave.
struct Said {
    code: i32,
    out: String,
    err: String,
}

impl Said {
    /// Bad input, told in words: exit code 2, nothing on standard output, no panic.
    #[track_caller]
    fn refused(&self) -> &str {
        assert_eq!(self.code, 2, "{}", self.err);
        assert!(self.out.is_empty(), "{}", self.out);
        assert!(self.err.starts_with("error: "), "{}", self.err);
        assert!(!self.err.contains("panicked"), "{}", self.err);
        &self.err
    }

    /// Ran: 0, or 1 where a limit is exceeded.
    #[track_caller]
    fn ran(&self) -> &str {
        assert!(matches!(self.code, 0 | 1), "{}: {}", self.code, self.err);
        &self.out
    }

    /// Standard output as JSON: nothing else may be there.
    #[track_caller]
    fn json(&self) -> Value {
        serde_json::from_str(self.ran()).unwrap()
    }
}

impl Bench {
    fn new() -> Self {
        let bench = Self {
            folder: tempfile::tempdir().unwrap(),
        };
        bench.put("short.csv", short_trace().as_bytes());
        bench
    }

    fn path(&self) -> &Path {
        self.folder.path()
    }

    fn put(&self, name: &str, bytes: &[u8]) {
        std::fs::write(self.path().join(name), bytes).unwrap();
    }

    fn text(&self, name: &str) -> String {
        std::fs::read_to_string(self.path().join(name)).unwrap()
    }

    /// Names of all files and folders, hidden ones too, sorted.
    fn names(&self) -> Vec<String> {
        let entries = std::fs::read_dir(self.path()).unwrap();
        let mut names: Vec<String> = entries
            .map(|e| e.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    /// The program, in this folder, without what the caller's terminal says about colour.
    fn command(&self, line: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_baysoak"));
        command.current_dir(self.path()).args(line);
        for name in ["NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE"] {
            command.env_remove(name);
        }
        command
    }

    fn say(&self, line: &[&str]) -> Said {
        said(&mut self.command(line))
    }
}

fn said(command: &mut Command) -> Said {
    let output = command.output().unwrap();
    Said {
        code: output.status.code().expect("ended by a signal"),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

/// A demonstration build's text.
fn starter(build: &str) -> String {
    let bench = Bench::new();
    let said = bench.say(&["new", "--build", build, "-"]);
    assert_eq!(said.code, 0, "{}", said.err);
    said.out
}

/// 90 s: pull away at 10 s, 2 m/s2 up to 108 km/h, hold, brake from 75 s to a stop.
fn short_trace() -> String {
    let mut text = String::from("time_s,speed_kmh\n");
    for time_s in 0..=90 {
        let t = f64::from(time_s);
        let speed_kmh = (7.2 * (t - 10.0)).clamp(0.0, 108.0).min(7.2 * (90.0 - t));
        text.push_str(&format!("{time_s},{speed_kmh:.1}\n"));
    }
    text
}
