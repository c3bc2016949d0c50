//! `tautline export rules` and `tautline import rules`.

use std::{
    fs,
    io::{self, Write},
    path::Path,
};

use anyhow::Context;
use domain::{text::Name, time::Clock};

use super::apply::{self, ImportError, Outcome};
use crate::{
    clock::SystemClock,
    open,
    settings::Settings,
    the_club::{ClubError, first_owner, the_club},
};

/// Why a command on a rule file did not do its work.
#[derive(Debug, thiserror::Error)]
enum CommandError {
    #[error(transparent)]
    Club(#[from] ClubError),
    #[error(transparent)]
    Import(#[from] ImportError),
    #[error(transparent)]
    Store(#[from] store::StoreError),
    /// It was only to be seen what would come of it; the transaction is given up.
    #[error("nothing was to be written")]
    Dry(Vec<Outcome>, Name),
}

/// Writes a club's rule book to a file, or to standard output.
pub(crate) fn export(
    settings: &Settings,
    club: Option<String>,
    out: Option<&Path>,
) -> anyhow::Result<()> {
    let store = open::store(settings)?;
    let text = open::runtime()?.block_on(store.read::<_, CommandError, _>(move |read| {
        let club = the_club(read, club.as_deref())?;
        Ok(apply::export(read, &club, SystemClock.now())?)
    }))?;
    match out {
        Some(path) => fs::write(path, text).with_context(|| path.display().to_string()),
        None => Ok(io::stdout().write_all(text.as_bytes())?),
    }
}

/// Takes a file into a club's rule book; without `write` it says what that would change.
pub(crate) fn import(
    settings: &Settings,
    club: Option<String>,
    file: &Path,
    write: bool,
) -> anyhow::Result<()> {
    let text = fs::read_to_string(file).with_context(|| file.display().to_string())?;
    let store = open::store(settings)?;
    let outcome = open::runtime()?.block_on(store.write(move |tx| {
        let club = the_club(tx, club.as_deref())?;
        let signer = first_owner(tx, club.id)?;
        let done = apply::import(tx, &club, &text, (signer.id, SystemClock.now()))?;
        if write { Ok((done, signer.name)) } else { Err(CommandError::Dry(done, signer.name)) }
    }));
    match outcome {
        Ok((done, by)) => Ok(report(&done, &by, true)?),
        Err(CommandError::Dry(done, by)) => Ok(report(&done, &by, false)?),
        Err(refused) => {
            Err(refused).with_context(|| format!("{}: nothing was changed", file.display()))
        }
    }
}

/// Says what became of each rule.
fn report(done: &[Outcome], by: &Name, written: bool) -> io::Result<()> {
    let mut out = io::stdout().lock();
    let mut changes = 0;
    for one in done {
        let (what, rule) = match one {
            Outcome::Added(rule) => ("new    ", rule),
            Outcome::Changed(rule) => ("changed", rule),
            Outcome::Same(rule) => ("same   ", rule),
        };
        changes += usize::from(!matches!(one, Outcome::Same(_)));
        writeln!(out, "{what}  {rule}")?;
    }
    let of = done.len();
    if written {
        writeln!(out, "{changes} of {of} rules were set, signed by {by}; others stay as they are")
    } else {
        writeln!(out, "{changes} of {of} rules would be set, signed by {by}; --write sets them")
    }
}
