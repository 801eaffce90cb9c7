//! Parses the command line, opens the ledger, runs one command.

use clap::Parser;
use std::process::ExitCode;

fn main() -> ExitCode {
    ExitCode::from(hangtime::commands::main(hangtime::commands::Cli::parse()))
}
