//! Everyday states of the built-in builds against what logged cars show: the table in README.
//!
//! `--check` fails when README holds another table.

#[path = "../tests/common/behaviour.rs"]
mod behaviour;

fn main() {
    let mut table =
        String::from("| build | state | unit | logged cars | model |\n|---|---|---|---|---|\n");
    for (build, cooled) in [("demo", true), ("tow-diesel", true), ("v8", false)] {
        for row in behaviour::rows(build, cooled) {
            let (low, high) = row.measured;
            let mark = if row.inside() { "" } else { " (outside)" };
            table += &format!(
                "| {build} | {} | {} | {low:.0} to {high:.0} | {:.0}{mark} |\n",
                row.state, row.unit, row.model
            );
        }
    }
    print!("{table}");
    if std::env::args().any(|a| a == "--check") {
        let readme = include_str!("../README.md");
        assert!(
            readme.contains(&table),
            "README holds another behaviour table; paste the one above"
        );
    }
}
