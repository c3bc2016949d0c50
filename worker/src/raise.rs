//! Raising reminders: each is written with the mail that carries it, in one transaction.

use std::collections::{BTreeMap, BTreeSet};

use domain::{
    clubs::Club,
    ids::{ClubId, MailId, MemberId, ReminderId},
    mail::{Mail, MailKind, MailState, digest_key, next_send},
    members::Member,
    quiet_hours::QuietHours,
    reminders::{About, Reminder, ReminderState},
    time::Zone,
};
use jiff::{Timestamp, civil::Date};
use store::{Read, StoreError, Tx, fresh_id};

use crate::{Worker, jobs::JobError};

/// A reminder that would be right to have now, and what is to carry it.
pub(crate) struct Wanted {
    pub(crate) reminder: Reminder,
    pub(crate) carrier: Carrier,
}

/// A mail is put off for so many days at most.
const MOST_DAYS_PUT_OFF: u32 = 7;

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

/// Mail of a club that is being written.
struct Outgoing<'a> {
    club: &'a Club,
    now: Timestamp,
}

impl Outgoing<'_> {
    /// The mail for a carrier, written if it is not there. None for somebody who may not be written to,
    /// and for a row that cannot be: a person has to look at it, and nobody else waits for that.
    fn post(
        &self,
        tx: &mut Tx<'_>,
        recipient: MemberId,
        carrier: &Carrier,
    ) -> Result<Option<Mail>, JobError> {
        let to = match store::members::get(tx, self.club.id, recipient) {
            Err(error @ StoreError::Inconsistent { .. }) => {
                tracing::error!(%error, "somebody cannot be told; look at their row");
                return Ok(None);
            }
            found => found?,
        };
        // Once there is somebody to tell, what is still true then is raised.
        if !to.is_reached(self.club.zone.date_of(self.now)) {
            return Ok(None);
        }
        let mail = match carrier {
            Carrier::Digest => self.next_digest(tx, &to),
            Carrier::AtOnce { key } => {
                let now = (self.now, self.zone(&to).date_of(self.now));
                self.own(tx, (MailKind::Stop, key), recipient, now)
            }
            Carrier::Soon { kind, key } => {
                let zone = self.zone(&to);
                let at = self.quiet(&to).after(self.now, zone)?;
                self.own(tx, (*kind, key), recipient, (at, zone.date_of(at)))
            }
            Carrier::Apart { kind, key, before } => {
                let when = self.roomy_time(tx, &to, *before)?;
                self.own(tx, (*kind, key), recipient, when)
            }
        };
        mail.map(Some)
    }

    /// A mail of that key that has not gone out yet. Where it has, or came to nothing, there is more to
    /// say since, and that is said in another.
    fn own(
        &self,
        tx: &mut Tx<'_>,
        (kind, key): (MailKind, &str),
        recipient: MemberId,
        when: (Timestamp, Date),
    ) -> Result<Mail, JobError> {
        let mut nth = 1;
        loop {
            let key = if nth == 1 { key.to_owned() } else { format!("{key}|{nth}") };
            let there = self.write(tx, kind, recipient, when, key)?;
            if carries_more(there.state) {
                return Ok(there);
            }
            nth += 1;
        }
    }

    fn write(
        &self,
        tx: &mut Tx<'_>,
        kind: MailKind,
        recipient: MemberId,
        when: (Timestamp, Date),
        key: String,
    ) -> Result<Mail, JobError> {
        let mail = Mail::new(fresh_id::<MailId>(self.now), kind, recipient, when, key);
        Ok(store::outbox::post(tx, self.club.id, &mail, self.now)?)
    }

    /// The zone that somebody lives in.
    fn zone<'m>(&'m self, member: &'m Member) -> &'m Zone {
        member.zone.as_ref().unwrap_or(&self.club.zone)
    }

    /// When the next mail that can wait goes to somebody after a moment, and on which of their
    /// dates: at the club's time of day, or when their quiet hours are over.
    fn next_time(&self, to: &Member, after: Timestamp) -> Result<(Timestamp, Date), JobError> {
        let zone = self.zone(to);
        Ok(next_send(zone, self.club.digest_at, self.quiet(to), after)?)
    }

    /// The hours in which somebody wants no mail that can wait.
    fn quiet(&self, to: &Member) -> QuietHours {
        to.quiet.unwrap_or(self.club.quiet)
    }

    /// The next time for a mail of its own on a day on which its recipient does not get enough mail
    /// already. One of these is kept for the digest.
    fn roomy_time(
        &self,
        tx: &mut Tx<'_>,
        to: &Member,
        before: Option<Date>,
    ) -> Result<(Timestamp, Date), JobError> {
        let first = self.next_time(to, self.now)?;
        let room = i64::from(self.club.mails_per_day) - 1;
        let mut when = first;
        for _day in 0..MOST_DAYS_PUT_OFF {
            if store::outbox::apart_on(tx, self.club.id, to.id, when.1)? < room.max(1) {
                return Ok(when);
            }
            let next = self.next_time(to, when.0)?;
            if before.is_some_and(|before| next.1 >= before) {
                break;
            }
            when = next;
        }
        // Too late to put off: rather one more mail than none.
        Ok(first)
    }

    /// The recipient's next digest that has not gone out yet, written if it is not there. One that no
    /// relay has taken yet carries what is new as well: two would come on one day. Where a clock was
    /// set back the next one may have gone already; then it is the one after.
    fn next_digest(&self, tx: &mut Tx<'_>, to: &Member) -> Result<Mail, JobError> {
        if let Some(waiting) = store::outbox::waiting_digest(tx, self.club.id, to.id)? {
            return Ok(waiting);
        }
        let mut after = self.now;
        loop {
            let (due_at, for_date) = self.next_time(to, after)?;
            let day = self.zone(to).day(for_date)?;
            if store::outbox::digest_went_out(tx, self.club.id, to.id, day)? {
                // One that was late went out on that day already.
                after = due_at;
                continue;
            }
            let key = digest_key(to.id, for_date);
            let there = self.write(tx, MailKind::Digest, to.id, (due_at, for_date), key)?;
            if there.state == MailState::Due {
                return Ok(there);
            }
            after = due_at;
        }
    }
}

/// Whether what is added to a mail in that state will still be read: it is worded when it is sent. A relay
/// may have one that is uncertain; the second copy, of the same Message-ID, would be thrown away unread.
const fn carries_more(state: MailState) -> bool {
    matches!(state, MailState::Due | MailState::Retry)
}
