//! The program: reads the settings, puts the parts together, and runs what was asked for.
//!
//! Nothing is decided here about bows, and no other crate reads a setting or the clock.

mod clock;
mod command;
mod demo;
mod doctor;
mod open;
mod preview;
mod reckon;
mod records;
mod rule_file;
mod secret;
mod serve;
mod settings;
mod the_club;
mod work;

use std::{io::IsTerminal, process::ExitCode};

use clap::Parser;

fn main() -> ExitCode {
    tracing_subscriber::fmt()
        .with_writer(std::io::stderr)
        .with_ansi(std::io::stderr().is_terminal())
        .with_target(false)
        .with_env_filter(
            tracing_subscriber::EnvFilter::try_from_default_env()
                .unwrap_or_else(|_unset| tracing_subscriber::EnvFilter::new("warn")),
        )
        .init();
    command::run(command::Cli::parse())
}
