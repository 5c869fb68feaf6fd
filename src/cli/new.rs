//! `baysoak new`.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use baysoak::sheet::DEFAULT_BUILTIN;

use super::inputs;
use super::output::{Draft, Failure, say, tell};

/// Arguments of `new`.
#[derive(Debug, Args)]
#[command(after_help = "Example: baysoak new --build v8 my-car.toml")]
pub struct New {
    /// Built-in build to start from, as in `list builds`
    #[arg(long, value_name = "NAME", default_value = DEFAULT_BUILTIN)]
    build: String,
    /// Replace the file if it is there
    #[arg(long)]
    force: bool,
    /// File to write, or - for standard output
    #[arg(value_name = "FILE", default_value = "build.toml")]
    file: PathBuf,
}

impl New {
    /// Writes the sheet.
    pub fn carry_out(self) -> Result<ExitCode, Failure> {
        let text = inputs::starter(&self.build)?;
        if self.file.as_os_str() == "-" {
            say(text)?;
            return Ok(ExitCode::SUCCESS);
        }
        let shown = self.file.display();
        if self.file.exists() && !self.force {
            return Err(Failure::input(format!(
                "{shown}: is there already\n  hint: give another name, or --force to replace it"
            )));
        }
        let mut draft = Draft::open(&self.file)?;
        draft.fill(text.as_bytes())?;
        draft.place()?;
        tell(&format!(
            "wrote {shown}; put in your own measures, then: baysoak check {shown}"
        ));
        Ok(ExitCode::SUCCESS)
    }
}
