//! The kinds of mail that somebody does not want, whether they say so signed in or by the link at the foot of
//! a mail.

use std::collections::BTreeSet;

use domain::{
    audit::Subject,
    clubs::Club,
    ids::MailId,
    mail::{Mail, MailKind, MailState, quieted_key},
    members::Member,
};
use jiff::Timestamp;
use serde::Serialize;
use store::{StoreError, Tx, fresh_id, stopped_mail::Change};

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
    let changed = if stop {
        store::stopped_mail::add(tx, who.club, who.member, kind, now)?
    } else {
        store::stopped_mail::remove(tx, who.club, who.member, kind, now)?
    };
    if !changed.is_any() {
        return Ok(());
    }
    tell_guardian(tx, (club, member), &changed, now)?;
    store::stopped_mail::newer_version(tx, who.club, who.member)?;
    let recorded = |kinds: &BTreeSet<MailKind>| Recorded {
        stopped_mail: kinds.iter().map(|kind| kind.as_str()).collect(),
    };
    let (before, after) = (recorded(&changed.before), recorded(&changed.after));
    let changed = Changed::of("stop_mail", Subject::Member, who.member.0);
    who.record(tx, now, changed.before(&before)?.after(&after)?)
}

/// Has the guardian of a minor told of each kind that was stopped now: once a kind and day, however often
/// it is stopped.
pub(super) fn tell_guardian(
    tx: &mut Tx<'_>,
    (club, minor): (&Club, &Member),
    changed: &Change,
    now: Timestamp,
) -> Result<(), StoreError> {
    let today = club.zone.date_of(now);
    if minor.guardian_written_to(today).is_none() {
        return Ok(());
    }
    for stopped in changed.stopped() {
        // A notice that was cancelled told nobody, as one does that was to go out while the mail came again.
        for nth in 0.. {
            let key = quieted_key(minor.id, stopped, today, nth);
            let id = fresh_id::<MailId>(now);
            let mail = Mail::new(id, MailKind::Quieted, minor.id, (now, today), key);
            if store::outbox::post(tx, club.id, &mail, now)?.state != MailState::Cancelled {
                break;
            }
        }
    }
    Ok(())
}
