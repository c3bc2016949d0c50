//! The kinds of mail that somebody does not want, whether they say so signed in or by the link at the foot of
//! a mail.

use std::collections::BTreeSet;

use domain::{audit::Subject, clubs::Club, mail::MailKind, members::Member};
use jiff::Timestamp;
use serde::Serialize;
use store::Tx;

use super::read::stopped_mail;
use crate::{audit::Changed, auth::SignedIn, error::ApiError, fields::Fields};

/// Kinds that can be stopped, each given once.
pub(super) fn stoppable(
    fields: &mut Fields,
    pointer: &str,
    words: &[String],
) -> BTreeSet<MailKind> {
    let mut kinds = BTreeSet::new();
    for (n, word) in words.iter().enumerate() {
        let parse = |word: &str| MailKind::parse(word).filter(|kind| kind.stoppable());
        let pointer = format!("{pointer}/{n}");
        let Some(kind) = fields.word(&pointer, word, parse, &MailKind::STOPPABLE) else { continue };
        if !kinds.insert(kind) {
            fields.refuse(&pointer, "duplicate", "is named twice");
        }
    }
    kinds
}

/// What somebody does not want, for the record.
#[derive(Serialize)]
struct Recorded {
    stopped_mail: Vec<&'static str>,
}

/// Stops a kind of mail to somebody, or lets it come again. Doing it twice changes nothing more.
pub(crate) fn stop_mail(
    tx: &mut Tx<'_>,
    who: SignedIn,
    (club, member): (&Club, &Member),
    (kind, stop): (MailKind, bool),
    now: Timestamp,
) -> Result<(), ApiError> {
    let before = Recorded { stopped_mail: stopped_mail(tx, who)? };
    let mut kinds = store::stopped_mail::of_member(tx, who.club, who.member)?;
    if stop {
        kinds.insert(kind)
    } else {
        kinds.remove(&kind)
    };
    if !store::stopped_mail::set(tx, club, member, &kinds, now)? {
        return Ok(());
    }
    store::stopped_mail::newer_version(tx, who.club, who.member)?;
    let after = Recorded { stopped_mail: stopped_mail(tx, who)? };
    let changed = Changed::of("stop_mail", Subject::Member, who.member.0);
    who.record(tx, now, changed.before(&before)?.after(&after)?)
}
