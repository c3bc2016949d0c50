//! `tautline export` and `tautline import`: the record of a club as files, straight from the database and
//! into it. What stands in the files is the API's business.

use std::{
    fs,
    io::{self, Write},
    path::{Path, PathBuf},
};

use anyhow::{Context, bail, ensure};
use api::tables::{self, Actor, Dates, Import, Imported, Mode, Refusal, Report, Table};
use clap::Args;
use domain::time::{Clock, to_microseconds};
use store::{Store, StoreError};

use crate::{
    clock::SystemClock,
    open, rule_file,
    settings::{self, Settings},
    the_club::{ClubError, first_owner, the_club},
};

#[derive(Args)]
pub(crate) struct ExportArgs {
    #[command(flatten)]
    pub(crate) flags: settings::Flags,
    /// Members, bows, parts, fittings, upkeep, incidents or `shot_logs`; or rules, which are TOML.
    #[arg(value_parser = what)]
    what: What,
    /// Write to a file instead of standard output.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Begin with a byte order mark, by which spreadsheets see that it is UTF-8.
    #[arg(long)]
    bom: bool,
    /// Whose record, where the database holds several clubs.
    #[arg(long, value_name = "NAME")]
    club: Option<String>,
}

#[derive(Args)]
pub(crate) struct ImportArgs {
    #[command(flatten)]
    pub(crate) flags: settings::Flags,
    /// Members, bows, parts, fittings, upkeep, incidents or `shot_logs`; or rules, which are TOML.
    #[arg(value_parser = what)]
    what: What,
    /// The file: CSV, or TOML for rules.
    file: PathBuf,
    /// Write what was read; without it, only say what would be done.
    #[arg(long)]
    write: bool,
    /// How days such as 3/4/2027 are to be read: `day_first` or `month_first`.
    #[arg(long, value_name = "ORDER", value_parser = dates)]
    dates: Option<Dates>,
    /// Take every row that can be taken, instead of all or none.
    #[arg(long)]
    each: bool,
    /// Whose record, where the database holds several clubs.
    #[arg(long, value_name = "NAME")]
    club: Option<String>,
}

/// What a file holds.
#[derive(Debug, Clone, Copy)]
enum What {
    /// The rule book.
    Rules,
    /// A table of the record.
    Table(Table),
}

fn what(name: &str) -> Result<What, String> {
    if name == "rules" {
        return Ok(What::Rules);
    }
    let known = || Table::ALL.map(Table::as_str).join(", ");
    Table::parse(name).map(What::Table).ok_or_else(|| format!("must be one of {}, rules", known()))
}

fn dates(word: &str) -> Result<Dates, String> {
    Dates::parse(word).ok_or_else(|| "must be day_first or month_first".to_owned())
}

/// Writes a table, or the rule book, to a file or to standard output.
pub(crate) fn export(settings: &Settings, args: ExportArgs) -> anyhow::Result<()> {
    let What::Table(table) = args.what else {
        return rule_file::export(settings, args.club, args.out.as_deref());
    };
    let store = open::store(settings)?;
    let now = to_microseconds(SystemClock.now());
    let bom = args.bom;
    let file = open::runtime()?.block_on(async {
        let actor = actor(&store, args.club).await?;
        let read = store.read(move |read| tables::export(read, actor, table, bom, now));
        anyhow::Ok(read.await?)
    })?;
    match args.out {
        Some(path) => {
            fs::write(&path, file).with_context(|| format!("cannot write {}", path.display()))
        }
        None => Ok(io::stdout().write_all(&file)?),
    }
}

/// Why a transaction was given up: it was only to show what would be, or it failed.
enum GivenUp {
    Shown(Box<Imported>),
    Failed(Refusal),
}

impl From<StoreError> for GivenUp {
    fn from(error: StoreError) -> Self {
        Self::Failed(error.into())
    }
}

/// Reads a file into its table, and prints how it was read.
pub(crate) fn import(settings: &Settings, args: ImportArgs) -> anyhow::Result<()> {
    let What::Table(table) = args.what else {
        ensure!(args.dates.is_none() && !args.each, "--dates and --each are for tables");
        return rule_file::import(settings, args.club, &args.file, args.write);
    };
    let sheet = tables::read(&bytes_of(&args.file)?)?;
    let store = open::store(settings)?;
    let now = to_microseconds(SystemClock.now());
    let mode = if args.each { Mode::Each } else { Mode::All };
    let (dates, dry_run) = (args.dates, !args.write);
    let report = open::runtime()?.block_on(async {
        let actor = actor(&store, args.club).await?;
        let written = store.write(move |tx| {
            let asked = Import { table, sheet: &sheet, dates, mode, dry_run };
            match tables::import(tx, actor, &asked, now) {
                Ok(imported) if imported.report.written => Ok(imported.report),
                Ok(imported) => Err(GivenUp::Shown(Box::new(imported))),
                Err(refusal) => Err(GivenUp::Failed(refusal)),
            }
        });
        match written.await {
            Ok(report) => anyhow::Ok(report),
            Err(GivenUp::Shown(imported)) => Ok(imported.report),
            Err(GivenUp::Failed(refusal)) => Err(refusal.into()),
        }
    })?;
    io::stdout().write_all(told(&report).as_bytes())?;
    if args.write && !report.written {
        bail!("nothing was written; --each takes the rows that can be taken");
    }
    ensure!(report.rows.refused == 0, "{} rows were refused", report.rows.refused);
    Ok(())
}

/// A file's bytes, unless there are more than a file may have.
fn bytes_of(path: &Path) -> anyhow::Result<Vec<u8>> {
    let named = || format!("cannot read {}", path.display());
    let length = fs::metadata(path).with_context(named)?.len();
    if usize::try_from(length).map_or(true, |length| length > tables::MOST_BYTES) {
        bail!("{} has more than {} bytes", path.display(), tables::MOST_BYTES);
    }
    fs::read(path).with_context(named)
}

/// The first owner of a club, for whom the work is done; it is not put on record as theirs.
async fn actor(store: &Store, club: Option<String>) -> anyhow::Result<Actor> {
    let found = store.read::<_, ClubError, _>(move |read| {
        let club = the_club(read, club.as_deref())?.id;
        let owner = first_owner(read, club)?;
        Ok(Actor { club, member: owner.id, role: owner.role, signs: None })
    });
    Ok(found.await?)
}

/// What is told of a file.
fn told(report: &Report) -> String {
    let Report { table, encoding, delimiter, decimal_mark, dates, rows, .. } = report;
    let columns = report.columns.iter().map(|one| match one.column {
        Some(column) if column == one.header => column.to_owned(),
        Some(column) => format!("{:?} is {column}", one.header),
        None => format!("{:?} is left out", one.header),
    });
    let columns: Vec<String> = columns.collect();
    let mut lines = vec![
        format!("{table}: {encoding}, {delimiter}, decimal {decimal_mark}, days {dates}"),
        format!("columns: {}", columns.join(", ")),
        format!(
            "{} rows: {} new, {} already there, {} refused",
            rows.read, rows.new, rows.already_there, rows.refused
        ),
    ];
    lines.extend(report.problems.iter().map(ToString::to_string));
    let more = report.problems_total - report.problems.len();
    if more > 0 {
        lines.push(format!("and {more} more problems"));
    }
    let written = match (report.written, rows.new) {
        (true, 0) => "there was nothing new to write",
        (true, _) => "written",
        (false, _) => "nothing was written",
    };
    lines.push(written.to_owned());
    lines.join("\n") + "\n"
}
