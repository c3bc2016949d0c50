//! Which mail carries a reminder: one that waits, or another that is written, and when it goes out.

use domain::{
    clubs::Club,
    ids::{MailId, MemberId},
    mail::{Mail, MailKind, MailState, digest_key, next_send},
    members::Member,
    quiet_hours::QuietHours,
    time::Zone,
};
use jiff::{Timestamp, civil::Date};
use store::{StoreError, Tx, fresh_id};

use super::Carrier;
use crate::jobs::JobError;

/// A mail is put off for so many days at most.
const MOST_DAYS_PUT_OFF: u32 = 7;

/// Mail of a club that is being written.
pub(super) struct Outgoing<'a> {
    pub(super) club: &'a Club,
    pub(super) now: Timestamp,
}

impl Outgoing<'_> {
    /// The mail for a carrier, written if it is not there. None for somebody who may not be written to,
    /// and for a row that cannot be: a person has to look at it, and nobody else waits for that.
    pub(super) fn post(
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
