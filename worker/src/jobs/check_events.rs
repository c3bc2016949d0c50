//! The count-down to events: at each of the club's stages one mail to everybody who goes and to who
//! keeps their bow, and one to a coach for all of their archers.

use std::collections::{BTreeMap, BTreeSet, btree_map::Entry};

use domain::{
    clubs::Club,
    events::Event,
    ids::{EventId, MemberId},
    mail::{MailKind, event_key, misleads, moved_key},
    reminders::{About, MOVED, event_cycle, moved_cycle},
};
use jiff::{SignedDuration, Timestamp, civil::Date};
use store::{Read, StoreError};

use super::JobError;
use crate::{
    Worker,
    going::{Going, going, in_care_of},
    raise::{Carrier, Subject, Wanted, raise_for_every_club},
    recipients::Recipients,
};

/// A change is told at once; a worker that was down for this long has others to tell of it.
const LOOKS_BACK: SignedDuration = SignedDuration::from_hours(90 * 24);

/// Looks at the events of every club; says how many reminders were raised.
pub(super) async fn run(worker: &Worker) -> Result<usize, JobError> {
    raise_for_every_club(worker, find).await
}

/// What is to be told at the stages that the events ahead have reached.
fn find(read: &mut Read<'_>, club: &Club, now: Timestamp) -> Result<Vec<Wanted>, StoreError> {
    let recipients = Recipients::of(read, club.id)?;
    let today = club.zone.date_of(now);
    let mut wanted = Vec::new();
    for (event, entries) in store::events::ahead(read, club.id, today)? {
        let Some(stage) = club.stages.reached(event.dates.days_left(today)) else { continue };
        let going = going(read, club, &event, &entries, now)?;
        let told = CountDown { club, event: &event, stage, now };
        let notices = notices(&going, &recipients);
        wanted.extend(told.wanted(read, &notices)?);
    }
    wanted.extend(moved(read, club, today, now)?);
    Ok(wanted)
}

/// Who was told of days on which an event is not any more, and that still lie ahead: they might go there.
fn moved(
    read: &mut Read<'_>,
    club: &Club,
    today: Date,
    now: Timestamp,
) -> Result<Vec<Wanted>, StoreError> {
    let since = now.saturating_sub(LOOKS_BACK).unwrap_or(now);
    let here = store::members::roles(read, club.id)?;
    let mut told = store::told::of_changed_events(read, club.id, since)?;
    told.retain(|(_, recipient), told| here.contains_key(recipient) && told.is_ahead(today));
    let mut events: BTreeMap<EventId, Event> = BTreeMap::new();
    let mut wanted = Vec::new();
    for ((id, recipient), told) in told {
        let event = match events.entry(id) {
            Entry::Occupied(known) => known.into_mut(),
            Entry::Vacant(place) => place.insert(store::events::get(read, club.id, id)?),
        };
        if !misleads(&told, event, today) {
            continue;
        }
        let cycle = moved_cycle(event);
        let subject = Subject {
            about: About::Event { event: event.id, bow: None },
            cycle: cycle.clone(),
            stage: MOVED.to_owned(),
            reason: match event.cancelled_at {
                Some(_) => "it was called off".to_owned(),
                None => "it is on other days than those that were told".to_owned(),
            },
        };
        wanted.extend(subject.to_each(&[recipient].into(), now, |to| Carrier::Soon {
            kind: MailKind::Moved,
            key: moved_key(event.id, &cycle, to),
        }));
    }
    Ok(wanted)
}

/// What one person is to be told before an event.
struct Notice {
    recipient: MemberId,
    kind: MailKind,
    bow: Option<domain::ids::BowId>,
    /// How many pieces of work there are, or how many bows with some.
    works: usize,
    reason: String,
}

/// Who is to be told what: who goes and who keeps the bow of that bow, coaches of all their archers'.
fn notices(going: &[Going], recipients: &Recipients) -> Vec<Notice> {
    let mut notices = Vec::new();
    let mut coaches: BTreeMap<MemberId, (usize, usize)> = BTreeMap::new();
    for one in going {
        let works = one.row.works.len() + usize::from(one.row.stopped.is_some());
        let people: BTreeSet<MemberId> = in_care_of(one).collect();
        notices.extend(people.into_iter().map(|recipient| Notice {
            recipient,
            kind: MailKind::Event,
            bow: Some(one.bow.id),
            works,
            reason: format!("{works} pieces of work before it"),
        }));
        for coach in recipients.of_going(one.entry.member) {
            let (needing, all) = coaches.entry(coach).or_default();
            *needing += usize::from(works > 0);
            *all += 1;
        }
    }
    notices.extend(coaches.into_iter().map(|(recipient, (needing, all))| Notice {
        recipient,
        kind: MailKind::Squad,
        bow: None,
        works: needing,
        reason: format!("{needing} of {all} bows need work before it"),
    }));
    notices
}

/// An event at a stage.
struct CountDown<'a> {
    club: &'a Club,
    event: &'a Event,
    stage: u16,
    now: Timestamp,
}

impl CountDown<'_> {
    /// The reminders of this stage. That there is nothing to do is told once and not at
    /// every stage.
    fn wanted(&self, read: &mut Read<'_>, notices: &[Notice]) -> Result<Vec<Wanted>, StoreError> {
        let before = self.club.stages.days().iter().filter(|&&stage| stage > self.stage);
        let before: Vec<u16> = before.copied().collect();
        let key = |notice: &Notice, stage: u16| {
            self.about(notice).dedupe_key(&self.cycle(), notice.recipient, &stage.to_string())
        };
        let idle = notices.iter().filter(|notice| notice.works == 0);
        let keys: Vec<String> =
            idle.flat_map(|notice| before.iter().map(move |&stage| key(notice, stage))).collect();
        let told = store::reminders::raised(read, self.club.id, &keys)?;
        let worth_it = notices.iter().filter(|notice| {
            notice.works > 0 || !before.iter().any(|&stage| told.contains(&key(notice, stage)))
        });
        Ok(worth_it.flat_map(|notice| self.reminders(notice)).collect())
    }

    fn about(&self, notice: &Notice) -> About {
        About::Event { event: self.event.id, bow: notice.bow }
    }

    fn cycle(&self) -> String {
        event_cycle(self.event.dates.starts_on())
    }

    fn reminders(&self, notice: &Notice) -> Vec<Wanted> {
        let subject = Subject {
            about: self.about(notice),
            cycle: self.cycle(),
            stage: self.stage.to_string(),
            reason: notice.reason.clone(),
        };
        let (kind, starts_on) = (notice.kind, self.event.dates.starts_on());
        subject.to_each(&[notice.recipient].into(), self.now, |recipient| Carrier::Apart {
            kind,
            key: event_key(kind, self.event.id, starts_on, self.stage, recipient),
            before: Some(starts_on),
        })
    }
}
