//! What can be asked of the program on its command line.

use std::{
    io::{self, Write},
    process::ExitCode,
};

use clap::{Args, Parser, Subcommand};
use jiff::civil::Date;

use crate::{
    demo, doctor, open, preview, reckon, records, serve, settings, settings::Settings, work,
};

/// Looks after the bows and strings of an archery club.
#[derive(Parser)]
#[command(version, about, max_term_width = 100)]
pub(crate) struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Show an invented club: what is due, why, and who is told by mail; then serve it.
    Demo(DemoArgs),
    /// Run the API and the worker in one process.
    Serve {
        #[command(flatten)]
        flags: settings::Flags,
        /// Run the API alone; some other process runs `tautline work`.
        #[arg(long)]
        no_worker: bool,
    },
    /// Run the worker alone; any number may run against one PostgreSQL.
    Work {
        #[command(flatten)]
        flags: settings::Flags,
        /// Run one round, then stop.
        #[arg(long)]
        once: bool,
    },
    /// Bring the database to this program's schema.
    Migrate {
        #[command(flatten)]
        flags: settings::Flags,
    },
    /// Write a table of a club's record as a CSV file, or its rule book as TOML.
    Export(records::ExportArgs),
    /// Read such a file into a club's record: shows what it would do, and does it with --write.
    Import(records::ImportArgs),
    /// Prove that what is kept is right, or that what is set works.
    Doctor {
        #[command(subcommand)]
        what: DoctorWhat,
    },
    /// Look at mail before any is sent.
    Mail {
        #[command(subcommand)]
        what: MailWhat,
    },
    /// Recompute numbers: a JSON array of records on standard input, one of answers on output.
    Reckon,
    /// Print the document of the API (OpenAPI 3.1).
    Openapi,
}

#[derive(Subcommand)]
enum MailWhat {
    /// Write an invented mail of a kind to files: as text, as HTML, and as a relay would get it.
    Preview {
        #[command(flatten)]
        flags: settings::Flags,
        #[command(flatten)]
        args: preview::PreviewArgs,
    },
}

#[derive(Subcommand)]
enum DoctorWhat {
    /// Count every counter of the ledger anew and name those that differ.
    Ledger {
        #[command(flatten)]
        flags: settings::Flags,
        /// Keep what was counted anew.
        #[arg(long)]
        mend: bool,
    },
    /// Walk the way to the mail relay one step at a time, and say what to do where it breaks off.
    Mail {
        #[command(flatten)]
        flags: settings::Flags,
        /// Send a test mail there.
        #[arg(long, value_name = "ADDRESS")]
        to: Option<String>,
    },
}

#[derive(Args)]
struct DemoArgs {
    #[command(flatten)]
    flags: settings::Flags,
    /// Stop after one sweep instead of serving.
    #[arg(long)]
    once: bool,
    /// The day the demo plays on, such as 2027-03-14; the real one unless given.
    #[arg(long, value_name = "DATE", value_parser = parse_date)]
    today: Option<Date>,
}

fn parse_date(text: &str) -> Result<Date, String> {
    domain::time::parse_date(text).map_err(|error| error.to_string())
}

/// Runs a command and says how it went.
pub(crate) fn run(cli: Cli) -> ExitCode {
    let outcome = match cli.command {
        Command::Reckon => return reckon_records(),
        Command::Openapi => print_openapi(),
        Command::Demo(DemoArgs { flags, once, today }) => {
            with_settings(&flags, |settings| demo::run(&settings, once, today))
        }
        Command::Serve { flags, no_worker } => {
            with_settings(&flags, |settings| serve::run(&settings, !no_worker))
        }
        Command::Work { flags, once } => {
            with_settings(&flags, |settings| work::run(&settings, once))
        }
        Command::Export(args) => {
            with_settings(&args.flags.clone(), |settings| records::export(&settings, args))
        }
        Command::Import(args) => {
            with_settings(&args.flags.clone(), |settings| records::import(&settings, args))
        }
        Command::Doctor { what: DoctorWhat::Ledger { flags, mend } } => {
            with_settings(&flags, |settings| doctor::ledger(&settings, mend))
        }
        Command::Mail { what: MailWhat::Preview { flags, args } } => {
            with_settings(&flags, |settings| preview::run(&settings, &args))
        }
        Command::Doctor { what: DoctorWhat::Mail { flags, to } } => {
            with_settings(&flags, |settings| doctor::mail(&settings, to.as_deref()))
        }
        Command::Migrate { flags } => with_settings(&flags, |settings| migrate(&settings)),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            let _ = writeln!(io::stderr(), "tautline: {error:#}");
            ExitCode::FAILURE
        }
    }
}

fn with_settings(
    flags: &settings::Flags,
    run: impl FnOnce(Settings) -> anyhow::Result<()>,
) -> anyhow::Result<()> {
    run(Settings::read(flags, &settings::environment())?)
}

fn reckon_records() -> ExitCode {
    match reckon::run(io::stdin().lock(), io::stdout().lock()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            let _ = writeln!(io::stderr(), "tautline reckon: {error}");
            ExitCode::from(error.exit_code())
        }
    }
}

fn print_openapi() -> anyhow::Result<()> {
    Ok(io::stdout().write_all(api::openapi_json()?.as_bytes())?)
}

fn migrate(settings: &Settings) -> anyhow::Result<()> {
    let store = open::store(settings)?;
    Ok(writeln!(io::stdout(), "{} has this program's schema", store.url())?)
}
