//! Raising reminders: each is written with the mail that carries it, in one transaction.

use std::collections::BTreeMap;

use domain::{
    clubs::Club,
    ids::{MailId, MemberId},
    mail::{Mail, MailKind, MailState, digest_key},
    reminders::{Reminder, ReminderState},
    time::Zone,
};
use jiff::Timestamp;
use store::{Tx, fresh_id};

use crate::{Worker, jobs::JobError, recipients::Recipients};

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
}

/// Raises reminders; says how many were new.
pub(crate) async fn raise(
    worker: &Worker,
    club: Club,
    recipients: Recipients,
    wanted: Vec<Wanted>,
    now: Timestamp,
) -> Result<usize, JobError> {
    if wanted.is_empty() {
        return Ok(0);
    }
    let raise = move |tx: &mut Tx<'_>| {
        let mut mails: BTreeMap<(MemberId, Carrier), Mail> = BTreeMap::new();
        let mut raised = 0;
        for Wanted { mut reminder, carrier } in wanted {
            let place = (reminder.recipient, carrier);
            let mail = if let Some(mail) = mails.get(&place) {
                mail.clone()
            } else {
                let mail = Outgoing { club: &club, recipients: &recipients, now }
                    .post(tx, place.0, &place.1)?;
                mails.insert(place, mail.clone());
                mail
            };
            reminder.mail_id = mail.id;
            if mail.state != MailState::Due {
                // The notice of the same thing has gone out already: its reader knows.
                reminder.state = ReminderState::Sent;
            }
            raised += usize::from(store::reminders::raise(tx, club.id, &reminder)?);
        }
        Ok::<_, JobError>(raised)
    };
    worker.store.write(raise).await
}

/// Mail of a club that is being written.
struct Outgoing<'a> {
    club: &'a Club,
    recipients: &'a Recipients,
    now: Timestamp,
}

impl Outgoing<'_> {
    /// The mail for a carrier, written if it is not there.
    fn post(
        &self,
        tx: &mut Tx<'_>,
        recipient: MemberId,
        carrier: &Carrier,
    ) -> Result<Mail, JobError> {
        match carrier {
            Carrier::Digest => self.next_digest(tx, recipient),
            Carrier::AtOnce { key } => {
                let (at, on) = (self.now, self.zone(recipient).date_of(self.now));
                let id = fresh_id::<MailId>(self.now);
                let mail = Mail::new(id, MailKind::Stop, recipient, (at, on), key.clone());
                Ok(store::outbox::post(tx, self.club.id, &mail, self.now)?)
            }
        }
    }

    /// The zone that somebody lives in.
    fn zone(&self, member: MemberId) -> &Zone {
        let own = self.recipients.member(member).and_then(|member| member.zone.as_ref());
        own.unwrap_or(&self.club.zone)
    }

    /// When the next mail that can wait goes to somebody after a moment, and on which of their
    /// dates: at the club's time of day, or when their quiet hours are over.
    fn next_time(
        &self,
        member: MemberId,
        after: Timestamp,
    ) -> Result<(Timestamp, jiff::civil::Date), JobError> {
        let zone = self.zone(member);
        let own = self.recipients.member(member).and_then(|member| member.quiet);
        let quiet = own.unwrap_or(self.club.quiet);
        let (at, on) = zone.next(self.club.digest_at, after)?;
        Ok((quiet.after(at, zone)?, on))
    }

    /// The recipient's next digest that has not gone out yet, written if it is not there. Where a
    /// clock was set back the next one may have gone already; then it is the one after.
    fn next_digest(&self, tx: &mut Tx<'_>, recipient: MemberId) -> Result<Mail, JobError> {
        let mut after = self.now;
        loop {
            let (due_at, for_date) = self.next_time(recipient, after)?;
            let (id, key) = (fresh_id::<MailId>(self.now), digest_key(recipient, for_date));
            let mail = Mail::new(id, MailKind::Digest, recipient, (due_at, for_date), key);
            let there = store::outbox::post(tx, self.club.id, &mail, self.now)?;
            if there.state == MailState::Due {
                return Ok(there);
            }
            after = due_at;
        }
    }
}
