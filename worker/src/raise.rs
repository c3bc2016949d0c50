//! Raising reminders: each is written with the mail that carries it, in one transaction.

mod outgoing;

use std::collections::{BTreeMap, BTreeSet};

use domain::{
    clubs::Club,
    ids::{ClubId, MailId, MemberId, ReminderId},
    mail::{Mail, MailKind},
    reminders::{About, Reminder, ReminderState},
};
use jiff::{Timestamp, civil::Date};
use store::{Read, StoreError, Tx, fresh_id};

use self::outgoing::Outgoing;
use crate::{Worker, jobs::JobError};

/// A reminder that would be right to have now, and what is to carry it.
pub(crate) struct Wanted {
    pub(crate) reminder: Reminder,
    pub(crate) carrier: Carrier,
}

/// The mail that carries a reminder. Several reminders to one person may share one.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Carrier {
    /// The recipient's next digest.
    Digest,
    /// A notice of its own that goes out now, at night as well: it is about safety.
    AtOnce { key: String },
    /// A mail of its own that goes out when the recipient's next digest would, and on a later day where
    /// they get enough mail on that one; but for that not after the day before `before`.
    Apart { kind: MailKind, key: String, before: Option<Date> },
    /// A mail of its own that goes out now, or when the recipient's quiet hours are over.
    Soon { kind: MailKind, key: String },
}

impl Carrier {
    /// What its mail is about.
    const fn kind(&self) -> MailKind {
        match self {
            Self::Digest => MailKind::Digest,
            Self::AtOnce { .. } => MailKind::Stop,
            Self::Apart { kind, .. } | Self::Soon { kind, .. } => *kind,
        }
    }
}

/// What several people are to be told.
pub(crate) struct Subject {
    pub(crate) about: About,
    pub(crate) cycle: String,
    pub(crate) stage: String,
    pub(crate) reason: String,
}

impl Subject {
    /// A reminder to each of them.
    pub(crate) fn to_each(
        &self,
        people: &BTreeSet<MemberId>,
        now: Timestamp,
        carrier: impl Fn(MemberId) -> Carrier,
    ) -> Vec<Wanted> {
        let one = |&recipient: &MemberId| Wanted {
            reminder: Reminder {
                id: fresh_id::<ReminderId>(now),
                about: self.about,
                recipient,
                stage: self.stage.clone(),
                cycle: self.cycle.clone(),
                reason: self.reason.clone(),
                dedupe_key: self.about.dedupe_key(&self.cycle, recipient, &self.stage),
                state: ReminderState::Raised,
                raised_at: now,
                // Settled when it is known which mail carries it.
                mail_id: MailId(uuid::Uuid::nil()),
            },
            carrier: carrier(recipient),
        };
        people.iter().map(one).collect()
    }
}

/// Finds what people of a club should be told by now, whether they were or not.
pub(crate) type Find = fn(&mut Read<'_>, &Club, Timestamp) -> Result<Vec<Wanted>, StoreError>;

/// Raises in every club what it finds and has not raised; says how much that was. A club for which it
/// fails is reported, and does not keep the others from their mail.
pub(crate) async fn raise_for_every_club(worker: &Worker, find: Find) -> Result<usize, JobError> {
    let (mut total, mut failed) = (0, None);
    for club in worker.store.read(store::clubs::ids).await? {
        match raise_for(worker, club, find).await {
            Ok(raised) => total += raised,
            Err(error) => failed = Some(error),
        }
    }
    failed.map_or(Ok(total), Err)
}

async fn raise_for(worker: &Worker, club: ClubId, find: Find) -> Result<usize, JobError> {
    let now = worker.now();
    let found = move |read: &mut Read<'_>| {
        let club = store::clubs::get(read, club)?;
        let wanted = find(read, &club, now)?;
        let fresh = not_raised_yet(read, club.id, wanted, now)?;
        Ok::<_, StoreError>((club, fresh))
    };
    let (club, fresh) = worker.store.read(found).await?;
    raise(worker, club, fresh, now).await
}

/// Those that have not been raised in their cycle and stage, and that nobody wants to be spared.
fn not_raised_yet(
    read: &mut Read<'_>,
    club: ClubId,
    mut wanted: Vec<Wanted>,
    now: Timestamp,
) -> Result<Vec<Wanted>, StoreError> {
    let keys: Vec<String> = wanted.iter().map(|one| one.reminder.dedupe_key.clone()).collect();
    let raised_before = store::reminders::raised(read, club, &keys)?;
    wanted.retain(|one| !raised_before.contains(&one.reminder.dedupe_key));
    spared(read, club, wanted, now)
}

/// Those of which their recipient has not put off the same thing, by a kind of mail that they have not
/// stopped. Notices about safety can be neither.
fn spared(
    read: &mut Read<'_>,
    club: ClubId,
    mut wanted: Vec<Wanted>,
    now: Timestamp,
) -> Result<Vec<Wanted>, StoreError> {
    let put_off = store::answers::snoozed(read, club, now)?;
    let stopped = store::stopped_mail::of_club(read, club)?;
    wanted.retain(|Wanted { reminder, carrier }| match carrier.kind() {
        kind if kind.stoppable() => {
            !put_off.contains(reminder.whatever_its_stage())
                && !stopped.contains(&(reminder.recipient, kind))
        }
        _ => true,
    });
    Ok(wanted)
}

/// Raises reminders; says how many were new.
async fn raise(
    worker: &Worker,
    club: Club,
    wanted: Vec<Wanted>,
    now: Timestamp,
) -> Result<usize, JobError> {
    if wanted.is_empty() {
        return Ok(0);
    }
    let raise = move |tx: &mut Tx<'_>| {
        let mut mails: BTreeMap<(MemberId, Carrier), Option<Mail>> = BTreeMap::new();
        let mut raised = 0;
        // Somebody may have answered since they were found.
        let wanted = spared(tx, club.id, wanted, now)?;
        for Wanted { mut reminder, carrier } in wanted {
            let place = (reminder.recipient, carrier);
            if !mails.contains_key(&place) {
                let mail = Outgoing { club: &club, now }.post(tx, place.0, &place.1)?;
                mails.insert(place.clone(), mail);
            }
            let Some(mail) = mails.get(&place).and_then(Option::as_ref) else { continue };
            reminder.mail_id = mail.id;
            raised += usize::from(store::reminders::raise(tx, club.id, &reminder)?);
        }
        Ok::<_, JobError>(raised)
    };
    worker.store.write(raise).await
}
