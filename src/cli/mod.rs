//! Command line: flags in, library calls, results to standard output, the rest to standard error.

mod check;
mod claim;
mod compare;
mod fit;
mod hot_day;
mod inputs;
mod judge;
mod list;
mod new;
mod output;
mod plan;
mod progress;
mod rank;
mod run;
mod serve;
mod shared;

use std::process::ExitCode;

use clap::{Parser, Subcommand, ValueEnum};

use self::output::Failure;
use baysoak::quantity;

/// How the exit code reads.
const EXITS: &str = "Exit codes: 0 fine; 1 ran, and a limit is exceeded or a claim fails; 2 bad input; 3 the solver failed.\n\
     Standard output has results, standard error progress and warnings.";

/// Under-bonnet heat: exhaust, bay and intake air over a drive cycle, and what it costs in power.
#[derive(Debug, Parser)]
#[command(name = "baysoak", version, help_expected = true, after_help = EXITS)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Write a starter sheet to fill in.
    New(new::New),
    /// Look a sheet over: parts, network, what is assumed, and every problem at once.
    Check(check::Check),
    /// Drive a build over a cycle on a day: temperatures, intake rise, power, limits.
    Run(run::Run),
    /// Fit uncertain inputs to logged drives, and see how well that predicts others.
    Fit(fit::Fit),
    /// Hold a supplier's numbers against physics, reading by reading.
    Claim(Box<claim::ClaimArgs>),
    /// Plan the cheapest test on the car that tells options apart.
    Plan(plan::PlanArgs),
    /// Judge a test on the car: logs before and after a change.
    Judge(judge::JudgeArgs),
    /// Put options side by side over the same drive and day, with bands from common draws.
    Compare(compare::Compare),
    /// Find the best sets of treatments and measures for the money.
    Rank(rank::Rank),
    /// Intake and power in hot air, humidity, altitude and traffic, after a soak and a restart.
    HotDay(hot_day::HotDayCommand),
    /// Open the local page: try a treatment and watch the bay change.
    Serve(serve::Serve),
    /// List what is built in.
    List(list::List),
}

/// Units of what is shown on the screen and in pictures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
enum Units {
    /// degC, W, mm, km/h
    #[default]
    Metric,
    /// degF, Btu/h, in, mph
    Imperial,
}

impl From<Units> for quantity::Units {
    fn from(units: Units) -> Self {
        match units {
            Units::Metric => Self::Metric,
            Units::Imperial => Self::Imperial,
        }
    }
}

/// Runs the command that the arguments ask for.
pub fn main() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => {
            // a reader that left needs no message about it
            let _ = error.print();
            return ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(2));
        }
    };
    let outcome = match cli.command {
        Command::New(new) => new.carry_out(),
        Command::Check(check) => check.carry_out(),
        Command::Run(run) => run.carry_out(),
        Command::Fit(fit) => fit.carry_out(),
        Command::Claim(claim) => claim.carry_out(),
        Command::Judge(judge) => judge.carry_out(),
        Command::Plan(plan) => plan.carry_out(),
        Command::Compare(compare) => compare.carry_out(),
        Command::Rank(rank) => rank.carry_out(),
        Command::HotDay(hot_day) => hot_day.carry_out(),
        Command::Serve(serve) => serve.carry_out(),
        Command::List(list) => list.carry_out(),
    };
    match outcome {
        Ok(code) => code,
        Err(Failure::ReaderLeft) => ExitCode::SUCCESS,
        Err(Failure::Told { text, code }) => {
            output::tell(&format!("error: {text}"));
            ExitCode::from(code)
        }
    }
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    #[test]
    fn every_flag_has_help_and_none_clash() {
        Cli::command().debug_assert();
    }

    #[test]
    fn flags_are_understood() {
        let line = "baysoak run my.toml --units imperial --json - --plots out --quiet";
        let cli = Cli::try_parse_from(line.split(' ')).unwrap();
        assert!(matches!(cli.command, Command::Run(_)));
        let error = Cli::try_parse_from(["baysoak", "run", "--unitz", "x"]).unwrap_err();
        assert!(error.to_string().contains("--units"), "{error}");
        assert_eq!(error.exit_code(), 2);
    }
}
