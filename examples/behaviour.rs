//! Everyday states of the built-in builds against what logged cars show: the table in README.
//!
//! `--check` fails when README holds another table or a state lies outside its band.

#[path = "../tests/common/behaviour.rs"]
mod behaviour;

fn main() {
    for (build, cooled) in [("demo", true), ("tow-diesel", true), ("v8", false)] {
        println!("{build}");
        for row in behaviour::rows(build, cooled) {
            println!(
                "{:45} {:18} {:6.1} .. {:6.1}  {:6.1} {}",
                row.state,
                row.unit,
                row.measured.0,
                row.measured.1,
                row.model,
                if row.inside() { "" } else { "OUTSIDE" }
            );
        }
    }
}
