//! What a claimed mail has to say by now: its reasons held against the records once more, and where it
//! goes. It reads and decides; it words nothing and sends nothing.

mod bench;
mod digest;
mod event;
mod link;
mod moved;
mod nudge;
mod quieted;
mod stop;

use domain::{
    clubs::Club,
    ids::{MailId, MemberId, ReminderId},
    mail::{
        BenchList, Digest, EventNotice, LinkNotice, MailKind, MovedNotice, QuietedNotice,
        SilenceNotice, StopNotice, Told,
    },
    members::{Addressees, EmailAddress, Member},
    reminders::{Reminder, ReminderState},
    text::Name,
};
use jiff::{Timestamp, civil::Date};
use store::{Read, StoreError, outbox::Posted};

/// What a mail says.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Content {
    /// What a person's bows need.
    Digest(Digest),
    /// A bow that must not be shot.
    Stop(StopNotice),
    /// What bows need before an event.
    Event(EventNotice),
    /// An event on other days than those that were told.
    Moved(MovedNotice),
    /// What the bench has to make.
    Bench(BenchList),
    /// A bow of which nothing was logged for a while.
    Nudge(SilenceNotice),
    /// A minor stopped some mail.
    Quieted(QuietedNotice),
    /// Somebody is asked to join.
    Invitation(LinkNotice),
    /// Somebody wants to choose another password.
    Reset(LinkNotice),
}

/// From whom, to whom, and who gets a copy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Envelope {
    pub(crate) from_name: Name,
    pub(crate) to: (Name, EmailAddress),
    pub(crate) copy: Option<(Name, EmailAddress)>,
    /// The minor in whose place their guardian gets it: no consent is on record.
    pub(crate) in_place_of: Option<Name>,
    /// The first mail about the same thing, if there was one.
    pub(crate) first: Option<MailId>,
}

/// What is left of a mail's reasons.
pub(crate) struct Truth {
    /// What there is to say and to whom; else why there is nothing.
    pub(crate) say: Result<(Content, Envelope), &'static str>,
    /// The reminders that are thereby told.
    pub(crate) told: Vec<Reminder>,
    /// The reminders that are not true any more.
    pub(crate) untrue: Vec<Reminder>,
    /// What those about an event tell of it; the next mail says what has changed since.
    pub(crate) said: Vec<(ReminderId, Told)>,
    /// Until when it waits: it is late, and its recipient has quiet hours by now.
    pub(crate) quiet_until: Option<Timestamp>,
}

/// The reminders of a mail held against the records.
#[derive(Default)]
struct Checked {
    /// What there is to say, if anything.
    content: Option<Content>,
    /// Those that are told.
    told: Vec<Reminder>,
    /// Those that are not true any more.
    untrue: Vec<Reminder>,
    /// What those about an event tell of it.
    said: Vec<(ReminderId, Told)>,
}

impl Checked {
    /// Nothing that it was to say is true any more.
    fn untrue(reminders: Vec<Reminder>) -> Self {
        Self { untrue: reminders, ..Self::default() }
    }
}

/// Why a mail says nothing.
const NOTHING_TRUE: &str = "nothing that it was to say is true any more";
const STOPPED: &str = "its recipient stopped this kind of mail";
const NOBODY_TO_TELL: &str =
    "nobody may be written to: the member left, or is a minor without a guardian on record";
const NO_MAILBOX: &str = "a relay said that there is no mailbox at the member's address; nothing goes there until somebody sets \
     an address";

/// Everything that the words of a mail are made of.
struct Scene<'s, 'r, 'c> {
    read: &'s mut Read<'c>,
    club: &'r Club,
    recipient: &'r Member,
    posted: &'r Posted,
    now: Timestamp,
}

/// What a claimed mail has to say by now; nothing is returned if it is claimed by another.
pub(crate) fn truth(
    read: &mut Read<'_>,
    posted: &Posted,
    now: Timestamp,
) -> Result<Option<Truth>, StoreError> {
    if !store::outbox::still_claimed(read, posted)? {
        return Ok(None);
    }
    let club = store::clubs::get(read, posted.club)?;
    let recipient = store::members::get(read, posted.club, posted.mail.recipient)?;
    let mut reminders = store::reminders::of_mail(read, posted.club, posted.mail.id)?;
    // What was answered meanwhile needs no telling.
    reminders.retain(|reminder| reminder.state == ReminderState::Raised);
    let stopped = store::stopped_mail::of_member(read, posted.club, recipient.id)?;
    if stopped.contains(&posted.mail.kind) {
        let (told, said, quiet_until) = (Vec::new(), Vec::new(), None);
        let say = Err(STOPPED);
        return Ok(Some(Truth { say, told, untrue: reminders, said, quiet_until }));
    }
    let mut scene = Scene { read, club: &club, recipient: &recipient, posted, now };
    let checked = match posted.mail.kind {
        MailKind::Digest => digest::content(&mut scene, reminders)?,
        MailKind::Stop => stop::content(&mut scene, reminders)?,
        MailKind::Event | MailKind::Squad => event::content(&mut scene, reminders)?,
        MailKind::Invitation | MailKind::Reset => {
            Checked { content: link::content(&mut scene)?, ..Checked::untrue(reminders) }
        }
        MailKind::Moved => moved::content(&mut scene, reminders)?,
        MailKind::Bench => bench::content(&mut scene, reminders)?,
        MailKind::Nudge => nudge::content(&mut scene, reminders)?,
        MailKind::Quieted => {
            Checked { content: quieted::content(&mut scene)?, ..Checked::untrue(reminders) }
        }
    };
    let Checked { content, told, untrue, said } = checked;
    let envelope = match posted.mail.kind {
        MailKind::Quieted => to_guardian(&club, &recipient),
        _ => envelope(&club, &recipient, now),
    };
    let say = match (content, envelope) {
        (None, _) => Err(NOTHING_TRUE),
        (_, None) => Err(why_nobody(&recipient)),
        (Some(content), Some(envelope)) => {
            let first = told.first().map(|one| store::threads::first_mail(read, club.id, one));
            Ok((content, Envelope { first: first.transpose()?.flatten(), ..envelope }))
        }
    };
    let quiet_until = quiet_until(&club, &recipient, posted.mail.kind, now);
    Ok(Some(Truth { say, told, untrue, said, quiet_until }))
}

/// The end of somebody's quiet hours, if they have some now and a mail of that kind can wait.
fn quiet_until(
    club: &Club,
    recipient: &Member,
    kind: MailKind,
    now: Timestamp,
) -> Option<Timestamp> {
    let zone = recipient.zone.as_ref().unwrap_or(&club.zone);
    // At the end of the calendar nobody waits.
    let until = recipient.quiet.unwrap_or(club.quiet).after(now, zone).unwrap_or(now);
    Some(until).filter(|until| *until > now && kind.waits_for_morning())
}

/// Why a mail goes to nobody.
const fn why_nobody(member: &Member) -> &'static str {
    if member.refused.is_some() { NO_MAILBOX } else { NOBODY_TO_TELL }
}

/// Where a mail to a member goes: a minor's guardian is always in it, and a member whose address leads
/// nowhere is not.
fn envelope(club: &Club, member: &Member, now: Timestamp) -> Option<Envelope> {
    let own = || (member.name.clone(), member.email.clone());
    let today = club.zone.date_of(now);
    let (to, copy) = match member.addressees(today) {
        Addressees::Nobody => return None,
        Addressees::Member if member.refused.is_some() => return None,
        Addressees::MemberAndGuardian(guardian) if member.refused.is_some() => {
            ((guardian.name.clone(), guardian.email.clone()), None)
        }
        Addressees::Member => (own(), None),
        Addressees::MemberAndGuardian(guardian) => {
            (own(), Some((guardian.name.clone(), guardian.email.clone())))
        }
        Addressees::Guardian(guardian) => ((guardian.name.clone(), guardian.email.clone()), None),
    };
    // One mailbox needs one copy.
    let copy = copy.filter(|(_, address)| *address != to.1);
    let alone = matches!(member.addressees(today), Addressees::Guardian(_));
    let in_place_of = alone.then(|| member.name.clone());
    Some(Envelope { from_name: club.name.clone(), to, copy, in_place_of, first: None })
}

/// Where a mail goes that is for the guardian alone.
fn to_guardian(club: &Club, member: &Member) -> Option<Envelope> {
    let guardian = member.guardian.as_ref().filter(|_| member.left_at.is_none())?;
    let to = (guardian.name.clone(), guardian.email.clone());
    let from_name = club.name.clone();
    Some(Envelope { from_name, to, copy: None, in_place_of: None, first: None })
}

impl Scene<'_, '_, '_> {
    /// The recipient's date on which the mail will be read: the one that it was meant for, or a later one
    /// where it is late.
    fn today(&self) -> Date {
        let zone = self.recipient.zone.as_ref().unwrap_or(&self.club.zone);
        self.posted.mail.for_date.max(zone.date_of(self.now))
    }

    /// The name of somebody in the club.
    fn name(&mut self, member: Option<MemberId>) -> Result<Option<Name>, StoreError> {
        let club = self.club.id;
        member.map(|id| Ok(store::members::get(self.read, club, id)?.name)).transpose()
    }
}
