//! `tautline mail preview`: an invented mail of a kind written to files, to be looked at before a club sends
//! any.

use std::{
    fs,
    io::{self, Write},
    path::{Path, PathBuf},
};

use anyhow::Context;
use domain::{ids::MailId, mail::MailKind, members::EmailAddress};
use jiff::Timestamp;
use worker::mail::{Partly, Transport, calendar::Sender, message, samples};

use crate::settings::Settings;

/// What can be asked for: a kind, or all of them.
#[derive(clap::Args)]
pub(crate) struct PreviewArgs {
    /// The kind of mail, or `all`.
    #[arg(value_parser = parse_kinds)]
    kind: Kinds,
    /// The folder for the files; it is made if it is not there.
    #[arg(long, value_name = "FOLDER", default_value = "tautline-mail-preview")]
    to: PathBuf,
}

#[derive(Clone)]
struct Kinds(Vec<MailKind>);

fn parse_kinds(text: &str) -> Result<Kinds, String> {
    if text == "all" {
        return Ok(Kinds(MailKind::ALL.to_vec()));
    }
    let known: Vec<&str> = MailKind::ALL.iter().map(|kind| kind.as_str()).collect();
    let kind = MailKind::parse(text).map(|kind| Kinds(vec![kind]));
    kind.ok_or_else(|| format!("must be all, or one of {}", known.join(", ")))
}

/// Writes each kind as text, as HTML, and as the message that a relay would get.
pub(crate) fn run(settings: &Settings, args: &PreviewArgs) -> anyhow::Result<()> {
    fs::create_dir_all(&args.to).with_context(|| args.to.display().to_string())?;
    let folder = Transport::files(&args.to);
    let mut out = io::stdout().lock();
    for &kind in &args.kind.0 {
        let letter = samples::letter(kind, &settings.base_url)?;
        let path = |ending: &str| args.to.join(format!("{kind}.{ending}"));
        write(&path("txt"), &letter.text)?;
        write(&path("html"), &letter.html)?;
        let quiet = samples::quiet_url(kind, &settings.base_url);
        let to = EmailAddress::parse("tove@reedmere.example")?;
        let head = message::Head {
            id: store::fresh_id::<MailId>(Timestamp::UNIX_EPOCH),
            from_name: "Reedmere Archers (invented)",
            from: &settings.mail_from,
            to_name: "Tove Marsh",
            to: &to,
            copy: None,
            date: Timestamp::UNIX_EPOCH,
            quiet: quiet.as_deref(),
            first: None,
        };
        let sender = Sender { from: &settings.mail_from, base_url: &settings.base_url };
        let calendar = samples::calendar(kind, &sender)?;
        let message = message::build(&letter, calendar.as_ref(), &head)?;
        crate::open::runtime()?.block_on(folder.send(&message, kind.as_str(), Partly::Wait))?;
        writeln!(out, "{kind}: {}", letter.subject)?;
        for ending in ["txt", "html", "eml"] {
            writeln!(out, "  {}", path(ending).display())?;
        }
    }
    Ok(())
}

fn write(path: &Path, content: &str) -> anyhow::Result<()> {
    fs::write(path, content).with_context(|| path.display().to_string())
}
