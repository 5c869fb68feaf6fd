//! Where results go: files that appear whole or not at all, and a standard output that may close.

use std::ffi::OsString;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use baysoak::report::ReportError;

/// Exit code for bad input.
pub const BAD_INPUT: u8 = 2;
/// Exit code for a failed run.
pub const FAILED_RUN: u8 = 3;

/// Why a command stops early.
#[derive(Debug)]
pub enum Failure {
    /// Standard output was closed by its reader: nothing is wrong.
    ReaderLeft,
    /// Something to say.
    Told {
        /// What.
        text: String,
        /// Exit code.
        code: u8,
    },
}

impl Failure {
    /// Bad input.
    pub fn input(text: impl Into<String>) -> Self {
        Self::Told {
            text: text.into(),
            code: BAD_INPUT,
        }
    }

    /// An error that knows its exit code.
    pub fn coded(error: &impl std::fmt::Display, code: u8) -> Self {
        Self::Told {
            text: error.to_string(),
            code,
        }
    }

    /// A file that couldn't be written.
    fn file(path: &Path, error: &io::Error) -> Self {
        Self::input(format!("{}: can't write: {error}", path.display()))
    }

    /// A report that couldn't be made: wrong numbers are the run's fault.
    pub fn report(error: &ReportError) -> Self {
        let code = match error {
            ReportError::Io(_) | ReportError::Csv(_) | ReportError::Drawing(_) => BAD_INPUT,
            _ => FAILED_RUN,
        };
        Self::coded(error, code)
    }
}

/// Writes JSON where it was asked for, and shows the screen unless the JSON takes its place.
pub fn json_and_screen(
    json: Option<Target>,
    text: &str,
    screen: impl FnOnce() -> String,
) -> Result<(), Failure> {
    let screen_taken = matches!(json, Some(Target::Screen));
    if let Some(target) = json {
        target.write(text.as_bytes())?;
    }
    if screen_taken {
        return Ok(());
    }
    say(&screen())
}

/// Writes to standard output; styles go only where they are wanted.
pub fn say(text: &str) -> Result<(), Failure> {
    let mut out = anstream::stdout().lock();
    heard(out.write_all(text.as_bytes()).and_then(|()| out.flush()))
}

/// Writes a file format to standard output, untouched.
fn pour(bytes: &[u8]) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    heard(out.write_all(bytes).and_then(|()| out.flush()))
}

fn heard(outcome: io::Result<()>) -> Result<(), Failure> {
    outcome.map_err(|error| match error.kind() {
        io::ErrorKind::BrokenPipe => Failure::ReaderLeft,
        _ => Failure::input(format!("can't write to standard output: {error}")),
    })
}

/// Writes a line to standard error. A closed one is no reason to stop.
pub fn tell(text: &str) {
    let _ = writeln!(anstream::stderr(), "{text}");
}

/// Refuses to write over what is read.
pub fn keep_apart<'a>(
    inputs: impl IntoIterator<Item = &'a PathBuf>,
    outputs: impl IntoIterator<Item = &'a PathBuf>,
) -> Result<(), Failure> {
    let real = |path: &PathBuf| path.canonicalize().ok();
    let read: Vec<PathBuf> = inputs.into_iter().filter_map(real).collect();
    for output in outputs {
        if real(output).is_some_and(|path| read.contains(&path)) {
            let text = format!(
                "{}: is read by this command and would be written over\n  hint: give the result another name",
                output.display()
            );
            return Err(Failure::input(text));
        }
    }
    Ok(())
}

/// A target given on the command line.
#[derive(Debug)]
pub enum Target {
    /// `-`.
    Screen,
    /// A file.
    File(Draft),
}

impl Target {
    /// Opens what `path` names, `-` being standard output.
    pub fn open(path: &Path) -> Result<Self, Failure> {
        if path.as_os_str() == "-" {
            return Ok(Self::Screen);
        }
        Draft::open(path).map(Self::File)
    }

    /// Writes `bytes` and finishes.
    pub fn write(self, bytes: &[u8]) -> Result<(), Failure> {
        match self {
            Self::Screen => pour(bytes),
            Self::File(mut draft) => {
                draft.fill(bytes)?;
                draft.place()
            }
        }
    }
}

/// A file under way beside its target, gone again unless it is put in its place.
#[derive(Debug)]
pub struct Draft {
    target: PathBuf,
    /// `None` for what isn't a plain file, a device say: that is written to directly.
    beside: Option<PathBuf>,
    file: File,
}

impl Draft {
    /// Opens a draft for `target`, so that a bad path fails before any work.
    pub fn open(target: &Path) -> Result<Self, Failure> {
        if target.is_dir() {
            let text = format!("{}: is a folder, a file is needed", target.display());
            return Err(Failure::input(text));
        }
        let Some(name) = target.file_name() else {
            let text = format!("{}: names no file", target.display());
            return Err(Failure::input(text));
        };
        let special = target.metadata().is_ok_and(|m| !m.is_file());
        let beside = (!special).then(|| {
            // the ending stays last: the picture writer goes by it
            let mut beside = OsString::from(format!(".{}.", std::process::id()));
            beside.push(name);
            target.with_file_name(beside)
        });
        let mut options = OpenOptions::new();
        options.write(true).create_new(!special);
        let file = options
            .open(beside.as_deref().unwrap_or(target))
            .map_err(|error| Failure::file(target, &error))?;
        Ok(Self {
            target: target.to_owned(),
            beside,
            file,
        })
    }

    /// Writes `bytes` to the draft.
    pub fn fill(&mut self, bytes: &[u8]) -> Result<(), Failure> {
        self.file
            .write_all(bytes)
            .and_then(|()| self.file.flush())
            .map_err(|error| Failure::file(&self.target, &error))
    }

    /// Lets `write` fill the draft by its path.
    pub fn fill_by_path(
        &mut self,
        write: impl FnOnce(&Path) -> Result<(), ReportError>,
    ) -> Result<(), Failure> {
        let path = self.beside.as_deref().unwrap_or(&self.target);
        write(path).map_err(|error| Failure::report(&error))
    }

    /// Puts the file in its place.
    pub fn place(self) -> Result<(), Failure> {
        match &self.beside {
            Some(beside) => fs::rename(beside, &self.target)
                .map_err(|error| Failure::file(&self.target, &error)),
            None => Ok(()),
        }
    }
}

impl Drop for Draft {
    fn drop(&mut self) {
        if let Some(beside) = &self.beside {
            // once in its place there is nothing left here
            let _ = fs::remove_file(beside);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).unwrap();
        entries
            .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
            .collect()
    }

    #[test]
    fn a_draft_appears_only_when_finished() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("out.json");
        fs::write(&path, "old").unwrap();
        let mut draft = Draft::open(&path).unwrap();
        draft.fill(b"new").unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "old");
        draft.place().unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "new");
        assert_eq!(names(folder.path()), ["out.json"]);
    }

    #[test]
    fn an_abandoned_draft_leaves_nothing() {
        let folder = tempfile::tempdir().unwrap();
        drop(Draft::open(&folder.path().join("out.json")).unwrap());
        assert!(names(folder.path()).is_empty());
    }

    #[test]
    fn bad_paths_fail_on_opening() {
        let folder = tempfile::tempdir().unwrap();
        for bad in [folder.path().join("none/out.csv"), folder.path().to_owned()] {
            let Err(Failure::Told { text, code }) = Draft::open(&bad) else {
                panic!("{} opened", bad.display());
            };
            assert_eq!(code, BAD_INPUT);
            assert!(text.contains(&bad.display().to_string()), "{text}");
        }
    }
}
