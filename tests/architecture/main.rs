//! What the parts of the program may know of each other, and rules that hold for every file.

use std::fs;
use std::path::{Path, PathBuf};

/// Which top-level modules of the library each one may name; all else is forbidden.
///
/// Physics knows no car, the solver knows no physics, the network no study, the study no report.
const MAY_NAME: [(&str, &[&str]); 13] = [
    ("constants", &[]),
    ("quantity", &[]),
    ("number", &[]),
    ("cycle", &["constants"]),
    ("solve", &["number"]),
    ("physics", &["constants", "number"]),
    ("materials", &["constants", "physics"]),
    ("sheet", &["cycle", "materials", "physics", "constants"]),
    ("engine", &["constants", "cycle", "physics", "sheet"]),
    (
        "network",
        &[
            "constants",
            "cycle",
            "engine",
            "materials",
            "number",
            "physics",
            "sheet",
            "solve",
        ],
    ),
    (
        "study",
        &[
            "constants",
            "cycle",
            "engine",
            "materials",
            "network",
            "number",
            "physics",
            "quantity",
            "sheet",
            "solve",
        ],
    ),
    ("report", &["quantity", "study"]),
    (
        "web",
        &["cycle", "materials", "quantity", "report", "sheet", "study"],
    ),
];

/// What a module may name of another, where it may not name all of it.
const ONLY: [(&str, &str, &[&str]); 2] = [
    ("network", "solve", &["SparseLu", "System"]),
    ("engine", "sheet", &["build"]),
];

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Rust files in a folder and below; what a build of the bench left behind doesn't count.
fn rust_files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.ends_with("bench/target") {
            continue;
        }
        if path.is_dir() {
            found.extend(rust_files(&path));
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
    found.sort();
    found
}

/// Files under `src` as (path with slashes below `src`, text).
fn sources() -> Vec<(String, String)> {
    let src = root().join("src");
    let files = rust_files(&src);
    assert!(files.len() > 50, "only {} files", files.len());
    files
        .iter()
        .map(|path| {
            let parts = path.strip_prefix(&src).unwrap().components();
            let parts: Vec<_> = parts.map(|c| c.as_os_str().to_str().unwrap()).collect();
            (parts.join("/"), fs::read_to_string(path).unwrap())
        })
        .collect()
}

/// Top-level module of a file.
fn module(path: &str) -> &str {
    let first = path.split('/').next().unwrap();
    first.strip_suffix(".rs").unwrap_or(first)
}

/// True for the program's own files, which use the library from outside.
fn of_program(path: &str) -> bool {
    path == "main.rs" || path.starts_with("cli/")
}

/// Code without what follows `//` on each line.
fn code(text: &str) -> String {
    text.lines()
        .map(|line| line.split("//").next().unwrap())
        .collect::<Vec<_>>()
        .join("\n")
}

/// Everything that code names below `crate::`, as (top-level module, next part or nothing).
fn named(code: &str) -> Vec<(String, String)> {
    let word = |s: &str| -> String {
        s.chars()
            .take_while(|c| c.is_alphanumeric() || *c == '_')
            .collect()
    };
    code.match_indices("crate::")
        .flat_map(|(at, found)| {
            let after = &code[at + found.len()..];
            if after.starts_with('{') {
                // a list right below the root hides names from this check
                return vec![("{".to_owned(), String::new())];
            }
            let first = word(after);
            let rest = after[first.len()..].strip_prefix("::").unwrap_or("");
            match rest.strip_prefix('{') {
                Some(list) => {
                    let list = list.split('}').next().unwrap();
                    let names = list.split(',').map(|n| word(n.trim()));
                    names
                        .filter(|n| !n.is_empty())
                        .map(|n| (first.clone(), n))
                        .collect()
                }
                None => vec![(first.clone(), word(rest))],
            }
        })
        .collect()
}

#[test]
fn imports_run_one_way() {
    let mut wrong = Vec::new();
    let mut seen = 0;
    for (path, text) in sources() {
        if of_program(&path) || path == "lib.rs" {
            continue;
        }
        let own = module(&path);
        let (_, may) = MAY_NAME
            .iter()
            .find(|(name, _)| *name == own)
            .unwrap_or_else(|| panic!("{path}: give {own} a place in MAY_NAME"));
        for (other, part) in named(&code(&text)) {
            seen += 1;
            let allowed = other == own || may.contains(&other.as_str());
            let narrow = ONLY
                .iter()
                .find(|(from, to, _)| *from == own && *to == other)
                .is_none_or(|(.., parts)| parts.contains(&part.as_str()));
            if !(allowed && narrow) {
                wrong.push(format!("{path} names {other}::{part}"));
            }
        }
    }
    assert!(seen > 60, "the check sees only {seen} imports");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// `super` must not climb out of a top-level module, where the rule above would not see it.
#[test]
fn no_relative_path_leaves_its_module() {
    for (path, text) in sources() {
        if of_program(&path) || path == "lib.rs" {
            continue;
        }
        // how deep the file's module lies below the crate root
        let depth = path.trim_end_matches("/mod.rs").split('/').count();
        // a test module inside the file lies one deeper
        let production = text.split("#[cfg(test)]").next().unwrap();
        for (levels, part) in [(depth, production), (depth + 1, text.as_str())] {
            let climb = "super::".repeat(levels);
            assert!(!code(part).contains(&climb), "{path} climbs to the root");
        }
    }
}

#[test]
fn the_check_of_imports_reads_lists_and_single_names() {
    let found = named("use crate::solve::{System, Method as M};\nlet x = crate::physics::air::h;");
    let pairs: Vec<_> = found.iter().map(|(a, b)| (&a[..], &b[..])).collect();
    assert_eq!(
        pairs,
        [("solve", "System"), ("solve", "Method"), ("physics", "air")]
    );
}

#[test]
fn the_order_of_modules_has_no_circle() {
    for (i, (name, may)) in MAY_NAME.iter().enumerate() {
        for other in *may {
            let place = MAY_NAME.iter().position(|(n, _)| n == other).unwrap();
            assert!(place < i, "{name} names {other}, which comes after it");
        }
    }
}

#[test]
fn every_module_of_the_library_has_a_place() {
    let lib = fs::read_to_string(root().join("src/lib.rs")).unwrap();
    let declared = lib
        .lines()
        .filter_map(|l| l.strip_prefix("pub mod ")?.strip_suffix(';'));
    let mut declared: Vec<_> = declared.collect();
    let mut placed: Vec<_> = MAY_NAME.iter().map(|(name, _)| *name).collect();
    declared.sort_unstable();
    placed.sort_unstable();
    assert_eq!(declared, placed);
}

#[test]
fn only_the_solver_names_the_crate_of_integrators() {
    let name = "ode_solvers";
    let mut seen = false;
    for (path, text) in sources() {
        let names = text.contains(name);
        seen |= names;
        assert!(!names || path.starts_with("solve/"), "{path} names {name}");
    }
    assert!(seen, "the rule has lost its object");
}

#[test]
fn the_library_never_prints() {
    let words = ["println!", "print!", "eprintln!", "eprint!", "dbg!"];
    let streams = ["io::stdout", "io::stderr", "anstream::std"];
    for (path, text) in sources() {
        if of_program(&path) {
            continue;
        }
        let code = code(&text);
        for word in words.iter().chain(&streams) {
            assert!(!code.contains(word), "{path}: {word}");
        }
    }
}

#[test]
fn every_file_is_under_600_lines() {
    let files = [root().join("src"), root().join("tests")]
        .into_iter()
        .flat_map(|folder| rust_files(&folder))
        .map(|path| (fs::read_to_string(&path).unwrap().lines().count(), path));
    let long: Vec<_> = files
        .filter(|(lines, _)| *lines >= 600)
        .map(|(lines, path)| format!("{}: {lines} lines", path.display()))
        .collect();
    assert!(long.is_empty(), "{}", long.join("\n"));
}

#[test]
fn physical_constants_stand_in_one_file() {
    for digits in [["5", "670"], ["8", "314"]] {
        let plain = digits.join(".");
        for (path, text) in sources() {
            let here = text.contains(&plain);
            assert_eq!(here, path == "constants.rs", "{path}: {plain}");
        }
    }
}

/// Nothing to check before the guide is there.
#[test]
fn the_guide_for_developers_names_every_folder() {
    let Ok(guide) = fs::read_to_string(root().join("DEVELOPERS.md")) else {
        return;
    };
    for entry in fs::read_dir(root().join("src")).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            let name = path.file_name().unwrap().to_str().unwrap();
            assert!(
                guide.contains(&format!("src/{name}")),
                "no src/{name} in DEVELOPERS.md"
            );
        }
    }
}
