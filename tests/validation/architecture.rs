//! Rules on the source text.

use std::path::Path;

fn rust_files(folder: &Path, found: &mut Vec<std::path::PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            rust_files(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

#[test]
fn physical_constants_are_written_once() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    rust_files(&src, &mut files);
    let holders: Vec<_> = files
        .iter()
        .filter(|f| {
            let text = std::fs::read_to_string(f).unwrap().replace('_', "");
            text.contains("5.670") || text.contains("8.314")
        })
        .collect();
    assert_eq!(holders, [&src.join("constants.rs")]);
}
