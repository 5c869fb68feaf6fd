//! `baysoak check`.

use std::path::PathBuf;
use std::process::ExitCode;

use anstyle::Style;
use clap::Args;

use baysoak::report::{Align, clean, grid, json};
use baysoak::study::describe::{Description, describe};
use baysoak::study::network_export::network_file;
use baysoak::study::run::{RunError, RunOptions};

use super::inputs;
use super::output::{Failure, Target, json_and_screen, keep_apart, say, tell};

/// Width of what is printed.
const WIDTH: usize = 96;

/// Arguments of `check`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  baysoak check my-car.toml\n  \
                  baysoak check my-car.toml --network network.json --cycle motorway")]
pub struct Check {
    /// Build sheet
    #[arg(value_name = "SHEET")]
    sheet: PathBuf,
    /// Write the network and what drives it along the cycle as JSON, - for standard output
    #[arg(long, value_name = "FILE|-")]
    network: Option<PathBuf>,
    /// Drive cycle for --network: a built-in name, as in `list cycles`, or a CSV file
    #[arg(long, value_name = "NAME|FILE.csv", requires = "network")]
    cycle: Option<String>,
}

impl Check {
    /// Validates and prints.
    pub fn carry_out(self) -> Result<ExitCode, Failure> {
        let sheet = inputs::sheet(Some(&self.sheet))?;
        let (cycle, warnings) = inputs::cycle(self.cycle.as_deref(), &sheet)?;
        for warning in &warnings {
            tell(&format!("warning: {warning}"));
        }
        let description = describe(&sheet).map_err(|e| told(&e))?;
        let Some(path) = self.network else {
            say(&text(&description))?;
            return Ok(ExitCode::SUCCESS);
        };
        let cycle_file = self.cycle.as_ref().map(PathBuf::from);
        keep_apart(
            [Some(&self.sheet), cycle_file.as_ref()]
                .into_iter()
                .flatten(),
            [&path],
        )?;
        let target = Target::open(&path)?;
        let file = network_file(&sheet, &cycle, &RunOptions::default()).map_err(|e| told(&e))?;
        let json = json::to_compact_json(&file).map_err(|e| Failure::report(&e))?;
        json_and_screen(Some(target), &json, || text(&description))?;
        Ok(ExitCode::SUCCESS)
    }
}

fn told(error: &RunError) -> Failure {
    Failure::coded(error, error.exit_code())
}

fn section(text: &mut String, title: &str, lines: &[String]) {
    let strong = Style::new().bold();
    text.push_str(&format!("{strong}{title}{strong:#}\n"));
    for line in lines {
        text.push_str(&format!("  {line}\n"));
    }
    text.push('\n');
}

/// Four significant digits: 0.4 x 1.6 isn't shown as 0.6400000000000001.
fn short(value: f64) -> String {
    let rounded = format!("{value:.3e}").parse().unwrap_or(value);
    f64::to_string(&rounded)
}

fn row(cells: &[&str]) -> Vec<String> {
    cells.iter().map(|c| (*c).to_owned()).collect()
}

fn text(description: &Description) -> String {
    let mut text = String::new();
    let mut rows = vec![row(&["name", "kind", "material", "size"])];
    rows.extend(description.parts.iter().map(|p| p.to_vec()));
    let columns = [Align::Name, Align::Name, Align::Left, Align::Left];
    let title = format!("parts: {}", description.parts.len());
    section(&mut text, &title, &grid(&rows, &columns, WIDTH));

    let mut rows = vec![row(&["holds heat", "kJ/K"])];
    for (name, capacity_j_k) in &description.nodes {
        rows.push(vec![name.clone(), format!("{:.2}", capacity_j_k / 1000.0)]);
    }
    let title = format!("network: {} nodes", description.nodes.len());
    section(
        &mut text,
        &title,
        &grid(&rows, &[Align::Name, Align::Right], WIDTH),
    );

    let title = format!("and {} links", description.links.len());
    section(&mut text, &title, &by_start(&description.links));

    if description.assumed.is_empty() {
        section(&mut text, "assumed: nothing", &[]);
    } else {
        let mut rows = vec![row(&["key", "taken", "low", "high", "why"])];
        for a in &description.assumed {
            let mut cells = vec![a.key.clone()];
            cells.extend([short(a.value), short(a.low), short(a.high), a.basis.clone()]);
            rows.push(cells);
        }
        let columns = [
            Align::Left,
            Align::Right,
            Align::Right,
            Align::Right,
            Align::Left,
        ];
        let title = format!(
            "assumed: {} (put the ones you know into the sheet)",
            description.assumed.len()
        );
        section(&mut text, &title, &grid(&rows, &columns, WIDTH));
    }
    for warning in &description.warnings {
        text.push_str(&format!("beware: {}\n", clean(warning)));
    }
    text.push_str("the sheet is fine\n");
    text
}

/// Links gathered by where they start, so that the network reads like a walk along the exhaust.
fn by_start(links: &[(String, String, String)]) -> Vec<String> {
    let mut starts: Vec<&str> = Vec::new();
    for (from, _, _) in links {
        if !starts.contains(&from.as_str()) {
            starts.push(from);
        }
    }
    let mut rows = vec![row(&["from", "to (how)"])];
    for start in starts {
        let ends: Vec<String> = links
            .iter()
            .filter(|l| l.0 == start)
            .map(|(_, to, kind)| format!("{} ({})", clean(to), clean(kind)))
            .collect();
        rows.push(vec![start.to_owned(), ends.join(", ")]);
    }
    grid(&rows, &[Align::Name, Align::Left], WIDTH)
}

#[cfg(test)]
mod tests {
    use super::*;
    use baysoak::study::findings::Assumed;

    #[test]
    fn shows_parts_network_and_what_is_assumed() {
        let link = |a: &str, b: &str, k: &str| (a.to_owned(), b.to_owned(), k.to_owned());
        let description = Description {
            parts: vec![["runners", "runner", "304", "38 x 1.6 x 350 mm"].map(String::from)],
            nodes: vec![("runners metal".into(), 1234.0)],
            links: vec![
                link("gas", "runners metal", "convection"),
                link("runners metal", "hot", "convection"),
                link("runners metal", "bonnet", "radiation"),
            ],
            assumed: vec![Assumed {
                key: "bay.mixing_share".into(),
                value: 0.2,
                low: 0.1,
                high: 0.4 * 1.6,
                basis: "estimate".into(),
            }],
            warnings: vec!["a pipe is very thin".into()],
        };
        let text = anstream::adapter::strip_str(&text(&description)).to_string();
        assert!(text.contains("beware: a pipe"), "{text}");
        assert!(text.contains("parts: 1\n"), "{text}");
        assert!(text.contains("1.23\n"), "{text}");
        assert!(
            text.contains("hot (convection), bonnet (radiation)"),
            "{text}"
        );
        assert!(
            text.contains("bay.mixing_share") && text.contains(" 0.64 "),
            "{text}"
        );
    }
}
