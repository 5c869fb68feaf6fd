//! What a command works on: sheets, cycles and days, by name or from a file.

use std::fmt::Display;
use std::fs::{self, File};
use std::path::Path;

use baysoak::cycle::{self, Cycle};
use baysoak::sheet::{self, DEFAULT_BUILTIN, DaySheet, Sheet};

use super::output::Failure;

/// Largest sheet read, bytes: a larger file is something else.
const LARGEST_TEXT: u64 = 4 * 1024 * 1024;

fn bad(error: impl Display) -> Failure {
    Failure::input(error.to_string())
}

/// Text of a built-in build.
pub fn starter(name: &str) -> Result<&'static str, Failure> {
    match sheet::builtins().iter().find(|b| b.name == name) {
        Some(found) => Ok(found.text),
        None => Err(sheet::builtin(name).map_or_else(bad, |s| bad(s.title()))),
    }
}

/// The sheet in a file, or the demonstration build.
pub fn sheet(path: Option<&Path>) -> Result<Sheet, Failure> {
    let sheet = read_sheet(path)?;
    try_options(&sheet)?;
    Ok(sheet)
}

/// The same; its options have yet to be tried.
pub fn read_sheet(path: Option<&Path>) -> Result<Sheet, Failure> {
    match path {
        Some(path) => Sheet::read(&text(path)?, &path.display().to_string()).map_err(bad),
        None => sheet::builtin(DEFAULT_BUILTIN).map_err(bad),
    }
}

/// Carries out each of a sheet's options to see whether it can be.
pub fn try_options(sheet: &Sheet) -> Result<(), Failure> {
    sheet.try_options().map_err(bad)
}

/// The cycle that is asked for, else the sheet's own, else the default; with warnings about a log.
pub fn cycle(asked: Option<&str>, sheet: &Sheet) -> Result<(Cycle, Vec<String>), Failure> {
    if let Some(asked) = asked {
        if names_a_file(asked, "csv") {
            let file = File::open(asked)
                .map_err(|e| Failure::input(format!("{asked}: can't read: {e}")))?;
            let (cycle, report) = cycle::read_csv(file, asked).map_err(bad)?;
            let warnings = report.warnings.iter().map(ToString::to_string).collect();
            return Ok((cycle, warnings));
        }
        return Ok((cycle::builtin(asked).map_err(bad)?, Vec::new()));
    }
    Ok((sheet.cycle().map_err(bad)?, Vec::new()))
}

/// The day that is asked for.
pub fn day(asked: &str) -> Result<DaySheet, Failure> {
    if names_a_file(asked, "toml") {
        return DaySheet::parse(&text(Path::new(asked))?, asked).map_err(bad);
    }
    DaySheet::builtin(asked).map_err(bad)
}

/// Whether `asked` is meant as a file rather than a name.
fn names_a_file(asked: &str, ending: &str) -> bool {
    let path = Path::new(asked);
    path.extension()
        .is_some_and(|e| e.eq_ignore_ascii_case(ending))
        || path.components().count() > 1
}

/// Text of a file.
pub fn text(path: &Path) -> Result<String, Failure> {
    let shown = path.display();
    let told = |e| Failure::input(format!("{shown}: can't read: {e}"));
    let size = fs::metadata(path).map_err(told)?.len();
    if size > LARGEST_TEXT {
        return Err(Failure::input(format!(
            "{shown}: has {size} bytes, above {LARGEST_TEXT}"
        )));
    }
    let bytes = fs::read(path).map_err(told)?;
    String::from_utf8(bytes).map_err(|e| {
        let place = e.utf8_error().valid_up_to();
        Failure::input(format!("{shown}: is not UTF-8 text, from byte {place} on"))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_files_are_told_apart() {
        assert!(names_a_file("log.CSV", "csv"));
        assert!(names_a_file("logs/monday", "csv"));
        assert!(!names_a_file("motorway", "csv"));
    }

    #[test]
    fn a_missing_or_binary_sheet_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("photo.toml");
        fs::write(&path, [0x66, 0xff, 0xfe]).unwrap();
        for path in [path, folder.path().join("none.toml")] {
            let Err(Failure::Told { text, code }) = sheet(Some(&path)) else {
                panic!("read {}", path.display());
            };
            assert_eq!(code, 2);
            assert!(text.contains(&path.display().to_string()), "{text}");
        }
    }

    #[test]
    fn a_slip_of_the_pen_gets_a_hint() {
        for failure in [
            starter("dmeo").unwrap_err(),
            day("hto").unwrap_err(),
            cycle(Some("motorwya"), &sheet(None).unwrap()).unwrap_err(),
        ] {
            let Failure::Told { text, .. } = failure else {
                panic!("nothing told");
            };
            let hinted = ["demo", "hot", "motorway"].iter().any(|n| text.contains(n));
            assert!(hinted, "{text}");
        }
    }
}
