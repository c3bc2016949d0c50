//! What stands in somebody's calendar now: events, work, and bows that must not be shot. No mail address
//! is ever in it.

use std::collections::{BTreeMap, BTreeSet};

use domain::{
    bows::Bow,
    calendar::{
        Calendar, DueWork, Entry, FeedScope, Host, Occasion, Reckoned, StoppedBow, Work,
        due_window, initials,
    },
    events,
    forecast::{Band, Outlook, Pace},
    ids::{BowId, MemberId},
    members::Member,
    reach::Reach,
    reminders::cycle,
    rules::{Condition, Stop, Verdict, last_reason},
};
use jiff::{Span, Timestamp, civil::Date};
use store::{
    Read,
    due::{Judged, UnderBow},
    feeds::Reading,
};

use crate::{error::ApiError, which_bows::SeenBows};

/// Events stay in a calendar for so many days after their end.
const KEPT_DAYS: i64 = 30;

/// Whom a calendar is about.
enum About {
    /// Its owner, who needs not be told of themselves by name, and the bows of which they said that those
    /// are not theirs to look after.
    Own(MemberId, BTreeSet<BowId>),
    /// Everybody within reach, by their names as others may read them.
    Others(Reach, BTreeMap<MemberId, String>),
}

impl About {
    fn bow(&self, bow: &Bow) -> bool {
        match self {
            Self::Own(owner, _) => bow.carers().contains(owner),
            Self::Others(reach, _) => reach.bow(bow),
        }
    }

    /// Whether the work on a bow of theirs is shown. That it must not be shot always is.
    fn work_on(&self, bow: &Bow) -> bool {
        match self {
            Self::Own(_, disowned) => !disowned.contains(&bow.id),
            Self::Others(..) => true,
        }
    }

    fn member(&self, member: MemberId) -> bool {
        match self {
            Self::Own(owner, _) => *owner == member,
            Self::Others(reach, _) => reach.member(member),
        }
    }

    /// How somebody is called, if they are to be named.
    fn name(&self, member: Option<MemberId>) -> Option<&str> {
        match self {
            Self::Own(..) => None,
            Self::Others(_, names) => names.get(&member?).map(String::as_str),
        }
    }
}

/// A calendar, as it is at `now`.
pub(super) fn calendar(
    read: &mut Read<'_>,
    reading: &Reading,
    host: &Host,
    now: Timestamp,
) -> Result<Calendar, ApiError> {
    let Reading { club, feed, role } = reading;
    let club = store::clubs::get(read, *club)?;
    let on = club.zone.date_of(now);
    let about = match feed.scope {
        FeedScope::Mine => {
            let said = store::disowned_bows::of_club(read, club.id)?;
            let theirs = said.into_iter().filter(|(_, member)| *member == feed.member);
            About::Own(feed.member, theirs.map(|(bow, _)| bow).collect())
        }
        FeedScope::Squad => {
            let reach = store::squads::reach(read, club.id, feed.member, *role)?;
            let members = store::members::all(read, club.id)?;
            About::Others(reach, members.iter().map(|one| (one.id, shown(one, on))).collect())
        }
    };
    let seen = SeenBows::of_club(read, club.id, now, |bow| about.bow(bow))?;
    let mut entries = occasions(read, reading, &about, (on, host))?;
    let reckoned = Reckoned { on, host };
    entries.extend(seen.rows.iter().flat_map(|row| of_bow(row, &seen, &about, reckoned)));
    Ok(Calendar { method: None, name: format!("{}: {}", club.name, feed.name), entries })
}

/// A member's name, as others read it.
fn shown(member: &Member, today: Date) -> String {
    let minor = member.minor_until.is_some_and(|until| today < until);
    if minor { initials(&member.name) } else { member.name.to_string() }
}

/// The events that somebody it is about goes to, also those that were called off.
fn occasions(
    read: &mut Read<'_>,
    reading: &Reading,
    about: &About,
    (on, host): (Date, &Host),
) -> Result<Vec<Entry>, ApiError> {
    let since = on.saturating_sub(Span::new().days(KEPT_DAYS));
    let mut found = store::events::ending_from(read, reading.club, since)?;
    for (_, going) in &mut found {
        going.retain(|one| about.member(one.member));
    }
    found.retain(|(_, going)| !going.is_empty());
    let bows: Vec<BowId> = found.iter().flat_map(|(_, going)| going).map(|one| one.bow).collect();
    let bows = store::bows::some(read, reading.club, &bows)?;
    let line = |one: &events::Entry| {
        let bow = &bows.get(&one.bow)?.name;
        let who = about.name(Some(one.member));
        Some(who.map_or_else(|| bow.to_string(), |who| format!("{who} with {bow}")))
    };
    let entry = |(event, going): &(events::Event, Vec<events::Entry>)| {
        let lines: Vec<String> = going.iter().filter_map(line).collect();
        Occasion::from(event).entry(&lines, host)
    };
    Ok(found.iter().map(entry).collect())
}

/// What a bow has to say: that it must not be shot, and when which work comes due.
fn of_bow(row: &UnderBow, seen: &SeenBows, about: &About, reckoned: Reckoned<'_>) -> Vec<Entry> {
    let stops: Vec<Stop> = row.parts.iter().filter_map(|one| one.record.stop).collect();
    let of_part = |one: &Judged| {
        let stopped = one.assessment.condition == Condition::DoNotShoot;
        stopped.then(|| one.assessment.reason.clone())
    };
    let reason = last_reason(row.stop, &stops, &seen.club.zone)
        .or_else(|| row.parts.iter().find_map(of_part));
    let stopped = reason.map(|reason| {
        StoppedBow { id: row.bow.id, name: &row.bow.name, reason: &reason }.entry(reckoned)
    });
    // Nobody shoots a bow that must not be shot until other work comes due on it.
    let pace = seen.paces.get(&row.bow.id);
    let told = Told { row, shot: stopped.is_none(), pace, about, reckoned };
    let shown = row.parts.iter().filter(|_| about.work_on(&row.bow));
    let works = shown.flat_map(|one| told.of_part(one));
    stopped.into_iter().chain(works).collect()
}

/// A bow, and what its parts are told by.
struct Told<'a> {
    row: &'a UnderBow,
    /// It may be shot.
    shot: bool,
    pace: Option<&'a Pace>,
    about: &'a About,
    reckoned: Reckoned<'a>,
}

impl Told<'_> {
    fn of_part(&self, one: &Judged) -> Vec<Entry> {
        let outlook = Outlook::of(&one.assessment, self.pace, self.reckoned.on);
        let verdicts = one.assessment.verdicts.iter().zip(&outlook.verdicts);
        verdicts.filter_map(|(verdict, band)| self.of_verdict(one, verdict, band)).collect()
    }

    fn of_verdict(&self, one: &Judged, verdict: &Verdict, band: &Band) -> Option<Entry> {
        let (part, bow) = (&one.record.part, &self.row.bow);
        let reading = one.record.reading(verdict.task.clock())?;
        let work = Work { part: part.id, rule: verdict.rule_id, cycle: cycle(reading) };
        let due = DueWork {
            work: &work,
            bow: &bow.name,
            archer: self.about.name(bow.archer),
            kind: part.kind,
            part: &part.name,
            task: verdict.task,
            condition: verdict.condition,
            reason: &verdict.reason,
            window: due_window(band).filter(|_| self.shot),
        };
        due.entry(self.reckoned)
    }
}
