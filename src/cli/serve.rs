//! `baysoak serve`.

use std::net::{IpAddr, Ipv4Addr};
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use baysoak::sheet::DEFAULT_BUILTIN;
use baysoak::web::{Opened, server};

use super::inputs;
use super::output::{Failure, say, tell};

/// Arguments of `serve`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  baysoak serve\n  baysoak serve my-car.toml --port 9000\n\n\
                  The page works without any network. It reads the sheet once and writes no file: save in the page what you want to keep.\n\
                  Stop it with Ctrl-C."
)]
pub struct Serve {
    /// Build sheet to start with; without one, the built-in demonstration build
    #[arg(value_name = "SHEET")]
    sheet: Option<PathBuf>,
    /// Port; the next free one is taken when it is in use, 0 takes any
    #[arg(long, value_name = "PORT", default_value_t = 8737)]
    port: u16,
    /// Address to listen on; only 127.0.0.1 keeps the page to this computer
    #[arg(long, value_name = "IP", default_value_t = IpAddr::V4(Ipv4Addr::LOCALHOST))]
    address: IpAddr,
}

impl Serve {
    fn opened(&self) -> Result<Opened, Failure> {
        match &self.sheet {
            // a sheet with faults opens too: the page shows them and is where to mend them
            Some(path) => Ok(Opened {
                name: path.file_name().map_or_else(
                    || path.display().to_string(),
                    |n| n.to_string_lossy().into_owned(),
                ),
                text: inputs::text(path)?,
            }),
            None => Ok(Opened {
                name: format!("{DEFAULT_BUILTIN}.toml"),
                text: inputs::starter(DEFAULT_BUILTIN)?.to_owned(),
            }),
        }
    }

    /// Serves until Ctrl-C.
    pub fn carry_out(self) -> Result<ExitCode, Failure> {
        let opened = self.opened()?;
        let bound = server::bind(opened, self.address, self.port).map_err(|e| {
            Failure::input(format!(
                "{}:{}: can't listen there: {e}\n  hint: --port 0 takes any free port",
                self.address, self.port
            ))
        })?;
        let address = bound.address();
        if !self.address.is_loopback() {
            tell(
                "warning: anyone who reaches this computer can open the page and use its processor; it has no password",
            );
        }
        if self.port != 0 && address.port() != self.port {
            tell(&format!(
                "port {} is in use; this is {}",
                self.port,
                address.port()
            ));
        }
        say(&format!("http://{address}/\n"))?;
        tell("Ctrl-C stops it.");
        let ran = bound.run_until_interrupted();
        ran.map_err(|e| Failure::Told {
            text: format!("{address}: {e}"),
            code: 3,
        })?;
        Ok(ExitCode::SUCCESS)
    }
}
