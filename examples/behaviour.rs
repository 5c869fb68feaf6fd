//! Everyday states of the built-in builds against what logged cars show: the table in README.
//!
//! `--check` fails when README holds another table.

#[path = "../tests/common/behaviour.rs"]
mod behaviour;

fn main() {
    let table = behaviour::table();
    print!("{table}");
    if std::env::args().any(|a| a == "--check") {
        let readme = include_str!("../README.md");
        assert!(
            readme.contains(&table),
            "README holds another table; paste the one above"
        );
    }
}
