//! `tautline demo`: an invented club, swept once, its mail delivered, then served.
//!
//! Everything that is shown comes from the same store, rules, worker and API that a real club uses.

mod club;
mod people;
mod report;
mod season;
mod story;

use std::{
    fs,
    io::{self, Write},
    path::Path,
    sync::Arc,
};

use anyhow::{Context, ensure};
use domain::{clubs::Club, members::Role, time::Clock};
use jiff::{Timestamp, civil::Date, civil::time};
use store::{DatabaseUrl, Store};
use worker::Worker;

use crate::{
    clock::{SetClock, SystemClock},
    open, secret, serve,
    settings::Settings,
};

/// Where everything lies unless the settings say otherwise.
const FOLDER: &str = "tautline-demo";
/// What marks a folder as the demo's own, which it may empty.
const MARK: &str = "made-by-tautline-demo";

/// Fills an empty database with the invented club, sweeps, delivers, reports, and serves unless it
/// is to be shown `once`.
pub(crate) fn run(settings: &Settings, once: bool, today: Option<Date>) -> anyhow::Result<()> {
    let settings = in_own_folder(settings)?;
    let keys = secret::keys(&settings)?;
    let store = open::store(&settings)?;
    let today = today.unwrap_or_else(|| club::zone().date_of(SystemClock.now()));
    let morning = club::zone().instant(today, time(6, 0, 0, 0))?;
    let clock = Arc::new(SetClock::at(morning));
    let worker = open::worker(&settings, store.clone(), keys.seals.clone(), clock.clone())?;
    open::runtime()?.block_on(async {
        let club = fill(&store, morning).await?;
        let delivered = sweep_and_deliver(&worker, &clock, &club, today).await?;
        let report = report::write(&store, &club, delivered).await?;
        io::stdout().write_all(report.as_bytes())?;
        if once {
            return Ok(());
        }
        let listener = serve::listen(&settings)?;
        let mut out = io::stdout();
        writeln!(out, "\nServing the API on {}", settings.base_url)?;
        writeln!(
            out,
            "The clock stands at {delivered}. Everybody's password is \"{}\":",
            people::PASSWORD
        )?;
        writeln!(out, "  {:<8}{}", Role::Owner.as_str(), people::OWNER.email)?;
        for coach in &people::COACHES {
            writeln!(out, "  {:<8}{}", Role::Coach.as_str(), coach.email)?;
        }
        for archer in &people::ARCHERS {
            writeln!(out, "  {:<8}{}", Role::Archer.as_str(), archer.person.email)?;
        }
        out.flush()?;
        // The clock of the records stands; how often somebody may try goes by the real one.
        let api = api::Api::new(store, clock, &keys, None)
            .throttled_by(Arc::new(SystemClock))
            .reached_at(&settings.base_url);
        serve::until_stopped(api, listener, Some(worker)).await
    })
}

/// The settings, with what they leave open moved into a fresh folder of the demo's own.
fn in_own_folder(settings: &Settings) -> anyhow::Result<Settings> {
    let mut settings = settings.clone();
    let folder = Path::new(FOLDER);
    let needs_folder = settings.database_url.is_none()
        || (settings.mail_dir.is_none() && settings.smtp_url.is_none());
    if needs_folder {
        fresh(folder).with_context(|| format!("cannot make the folder {FOLDER}"))?;
    }
    let database = folder.join("club.db").display().to_string();
    settings.database_url.get_or_insert(DatabaseUrl::Sqlite(database));
    settings.mail_dir.get_or_insert(folder.join("mail"));
    Ok(settings)
}

/// Makes a folder anew, if it is the demo's own or not there.
fn fresh(folder: &Path) -> anyhow::Result<()> {
    if folder.exists() {
        ensure!(folder.join(MARK).exists(), "it is there and was not made by the demo");
        fs::remove_dir_all(folder)?;
    }
    fs::create_dir(folder)?;
    Ok(fs::write(folder.join(MARK), "")?)
}

/// Puts the invented club into an empty database.
async fn fill(store: &Store, now: Timestamp) -> anyhow::Result<Club> {
    let fill = move |tx: &mut store::Tx<'_>| {
        if !store::clubs::none_yet(tx)? {
            return Ok::<_, anyhow::Error>(None);
        }
        club::fill(tx, now).map(Some)
    };
    store.write(fill).await?.context("the demo needs an empty database; this one holds a club")
}

/// Sweeps in the morning and delivers when the day's reminders go out; says when that was.
async fn sweep_and_deliver(
    worker: &Worker,
    clock: &SetClock,
    club: &Club,
    today: Date,
) -> anyhow::Result<Timestamp> {
    let delivering = club.zone.instant(today, club.digest_at)?;
    for (at, step) in [(None, "sweep"), (Some(delivering), "delivery")] {
        if let Some(at) = at {
            clock.set(at);
        }
        for done in worker.run_once().await {
            done.outcome.with_context(|| format!("{step}: {} failed", done.job))?;
        }
    }
    Ok(delivering)
}
