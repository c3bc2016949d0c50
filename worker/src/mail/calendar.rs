//! The calendar that goes with a mail: the days that it speaks of, for a calendar program to show. It
//! takes what the mail says and reads nothing itself.

use std::collections::BTreeSet;

use domain::{
    calendar::{
        BeforeEvent, Calendar, DueWork, Entry, Host, Method, Occasion, Organiser, Reckoned,
        StoppedBow,
    },
    ids::BowId,
    mail::{Digest, DigestLine, EventNotice, MovedNotice},
    members::EmailAddress,
    text::Name,
};

/// A calendar in a mail has no more entries than this, the most urgent ones; the mail's text has all that
/// there is to do. They are twice in it, as a part and as a file.
pub const MOST_ENTRIES: usize = 60;

/// A calendar as a part of a mail.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// What is to be done with it; the part's head says it too (RFC 6047, section 2.4).
    pub method: Method,
    /// Its text, with the line breaks of RFC 5545.
    pub text: String,
}

/// Who sends the mail.
#[derive(Debug, Clone, Copy)]
pub struct Sender<'a> {
    /// The address that it comes from.
    pub from: &'a EmailAddress,
    /// What the links in it lie below; the ids of entries end in its host.
    pub base_url: &'a str,
}

impl Sender<'_> {
    fn part(&self, club: &Name, method: Method, mut entries: Vec<Entry>) -> Option<Part> {
        if entries.is_empty() {
            return None;
        }
        // A bow that two people go with has its work twice, and an id stands once in a calendar.
        let mut known = BTreeSet::new();
        entries.retain(|entry| known.insert(entry.uid.clone()));
        entries.truncate(MOST_ENTRIES);
        let organiser = Organiser { name: club.clone(), address: self.from.clone() };
        let (method_of, name) = (Some((method, organiser)), club.to_string());
        Some(Part { method, text: Calendar { method: method_of, name, entries }.to_text() })
    }
}

/// The calendar of a mail about an event that is ahead: its days, and each day by which work has to be
/// done.
#[must_use]
pub fn of_event(notice: &EventNotice, sender: &Sender<'_>) -> Option<Part> {
    let host = Host::of(sender.base_url);
    let reckoned = Reckoned { on: notice.on, host: &host };
    let occasion = Occasion {
        id: notice.event_id,
        name: &notice.event,
        days: (notice.starts_on, notice.ends_on),
        version: notice.version,
        changed_at: notice.changed_at,
        called_off: false,
    };
    let bows: Vec<String> = notice.bows.iter().map(|going| going.bow.to_string()).collect();
    let works = notice.bows.iter().flat_map(|going| {
        going.works.iter().filter_map(|work| {
            let due = BeforeEvent {
                bow: &going.bow,
                part: work.part_id,
                kind: work.part_kind,
                part_name: &work.part,
                task: work.task,
                reason: &work.reason,
            };
            Some(occasion.work_before(work.by?, &due, reckoned))
        })
    });
    let entries = std::iter::once(occasion.entry(&bows, &host)).chain(works).collect();
    sender.part(&notice.club, Method::Publish, entries)
}

/// The calendar of a notice that an event is on other days, or called off: its days now, or that it is
/// taken out; and that the days by which work was wanted for it are over.
#[must_use]
pub fn of_moved(notice: &MovedNotice, sender: &Sender<'_>) -> Option<Part> {
    let host = Host::of(sender.base_url);
    let occasion = Occasion {
        id: notice.event_id,
        name: &notice.event,
        days: notice.days,
        version: notice.version,
        changed_at: notice.changed_at,
        called_off: notice.called_off,
    };
    let told = notice.told_works.iter();
    let over = told.filter_map(|work| occasion.no_more(work, notice.told_on, &host));
    let entries = std::iter::once(occasion.entry(&[], &host)).chain(over).collect();
    let method = if notice.called_off { Method::Cancel } else { Method::Publish };
    sender.part(&notice.club, method, entries)
}

/// The calendar of a digest: a bow that must not be shot and work that is due on its day, work that is
/// expected on the days in which it is. None if no line has a day.
#[must_use]
pub fn of_digest(digest: &Digest, sender: &Sender<'_>) -> Option<Part> {
    let host = Host::of(sender.base_url);
    let reckoned = Reckoned { on: digest.on, host: &host };
    let mut stopped: Vec<BowId> = Vec::new();
    let mut entries = Vec::new();
    for line in &digest.lines {
        if let Some(reason) = line.stopped.as_deref().filter(|_| !stopped.contains(&line.bow.id)) {
            stopped.push(line.bow.id);
            let bow = StoppedBow { id: line.bow.id, name: &line.bow.name, reason };
            entries.push(bow.entry(reckoned));
        }
        entries.extend(work(line).entry(reckoned));
    }
    sender.part(&digest.club, Method::Publish, entries)
}

fn work(line: &DigestLine) -> DueWork<'_> {
    DueWork {
        work: &line.work,
        bow: &line.bow.name,
        archer: None,
        kind: line.part_kind,
        part: &line.part,
        task: line.task,
        condition: line.condition,
        reason: &line.reason,
        // Nobody shoots a bow that must not be shot until other work comes due on it.
        window: line.window.filter(|_| line.stopped.is_none()),
    }
}
