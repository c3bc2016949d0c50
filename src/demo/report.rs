//! What the demo found, on one screen.

use std::{collections::BTreeMap, fmt::Write, sync::Arc};

use anyhow::Context;
use domain::{
    bows::Bow, clubs::Club, ids::BowId, mail::MailKind, parts::PartKind, rules::Condition, safety,
};
use jiff::Timestamp;
use store::{Read, Store, StoreError, due::Judged, outbox::Posted};

/// How many bows are shown one by one.
const BOWS_SHOWN: usize = 14;

/// A bow, and what is under it, the most urgent first.
struct BowFound {
    bow: Arc<Bow>,
    /// Why it must not be shot, whatever hangs on it, if so.
    stop: Option<String>,
    parts: Vec<Judged>,
}

impl BowFound {
    fn condition(&self) -> Condition {
        if self.stop.is_some() {
            return Condition::DoNotShoot;
        }
        self.parts.first().map_or(Condition::Sound, |part| part.assessment.condition)
    }

    /// How many pieces of work there are besides the first.
    fn more(&self) -> usize {
        let verdicts = self.parts.iter().flat_map(|part| &part.assessment.verdicts);
        let works = verdicts.filter(|verdict| verdict.condition.wants_work()).count();
        let stopped = self.condition() == Condition::DoNotShoot;
        works.saturating_sub(usize::from(!stopped))
    }
}

/// An event, and how many bows go to it.
struct EventFound {
    line: String,
}

/// Everything that is reported.
struct Findings {
    people: usize,
    bows: Vec<BowFound>,
    parts: usize,
    shots: i64,
    events: Vec<EventFound>,
    mails: Vec<Posted>,
}

/// The report, as the club stands at `now`.
pub(super) async fn write(store: &Store, club: &Club, now: Timestamp) -> anyhow::Result<String> {
    let asked = club.clone();
    let findings = store.read(move |read| find(read, &asked, now)).await?;
    let mut text = String::new();
    compose(&mut text, club, &findings, now).context("the report could not be written")?;
    Ok(text)
}

fn find(read: &mut Read<'_>, club: &Club, now: Timestamp) -> Result<Findings, StoreError> {
    let judged = store::due::of_club(read, club, now)?;
    let mut stops = store::bow_stops::of_club(read, club.id)?;
    let strings = judged.iter().filter(|one| one.record.part.kind == PartKind::Bowstring);
    let shots = strings.map(|one| one.record.life_shots()).sum();
    let parts = judged.len();
    let mut by_bow: BTreeMap<BowId, BowFound> = BTreeMap::new();
    for one in judged {
        let Some(bow) = one.bow.clone() else { continue };
        let stop = stops.remove(&bow.id).map(|stop| stop.reason(&club.zone));
        let found = by_bow.entry(bow.id).or_insert(BowFound { bow, stop, parts: Vec::new() });
        found.parts.push(one);
    }
    let mut bows: Vec<BowFound> = by_bow.into_values().collect();
    for (bow, stop) in stops {
        let bow = Arc::new(store::bows::get(read, club.id, bow)?);
        bows.push(BowFound { bow, stop: Some(stop.reason(&club.zone)), parts: Vec::new() });
    }
    bows.sort_by(|a, b| (a.condition(), &a.bow.name).cmp(&(b.condition(), &b.bow.name)));
    Ok(Findings {
        people: store::members::all(read, club.id)?.len(),
        bows,
        parts,
        shots,
        events: events(read, club, now)?,
        mails: store::outbox::all(read, club.id)?,
    })
}

fn events(read: &mut Read<'_>, club: &Club, now: Timestamp) -> Result<Vec<EventFound>, StoreError> {
    let today = club.zone.date_of(now);
    let ahead = store::events::ahead(read, club.id, today)?;
    let line = |(event, entries): (domain::events::Event, Vec<domain::events::Entry>)| EventFound {
        line: format!(
            "{}, {}, in {} days ({}): {} bows go",
            event.name,
            event.dates.starts_on().strftime("%a %-d %B"),
            event.dates.days_left(today),
            event.priority,
            entries.len()
        ),
    };
    Ok(ahead.into_iter().map(line).collect())
}

fn compose(text: &mut String, club: &Club, found: &Findings, now: Timestamp) -> std::fmt::Result {
    let today = club.zone.date_of(now).strftime("%A %-d %B %Y");
    writeln!(text, "{}, {today}", club.name)?;
    writeln!(
        text,
        "{} people, {} bows, {} parts in use, {} shots on the strings. Everything here is invented.",
        found.people,
        found.bows.len(),
        found.parts,
        found.shots
    )?;
    writeln!(text, "\nWhat the bows need, the most urgent first")?;
    for one in found.bows.iter().take(BOWS_SHOWN) {
        write_bow(text, one)?;
    }
    let rest: Vec<String> = Condition::ALL
        .iter()
        .filter_map(|&condition| {
            let left = found.bows.iter().skip(BOWS_SHOWN);
            let count = left.filter(|one| one.condition() == condition).count();
            (count > 0).then(|| format!("{count} {}", condition.label()))
        })
        .collect();
    writeln!(text, "  and {}", rest.join(", "))?;
    writeln!(text, "\nAhead")?;
    for event in &found.events {
        writeln!(text, "  {}", event.line)?;
    }
    writeln!(text, "\nMail that went out this morning")?;
    for &kind in MailKind::ALL {
        let of_kind = found.mails.iter().filter(|posted| posted.mail.kind == kind);
        let count = of_kind.count();
        if count > 0 {
            writeln!(text, "  {count:>3}  {}", what(kind))?;
        }
    }
    writeln!(text, "\nThe limits are common practice, no source.")?;
    writeln!(text, "{}", safety::FIRST)
}

fn write_bow(text: &mut String, one: &BowFound) -> std::fmt::Result {
    let of_part = || one.parts.first().map(|worst| worst.assessment.reason.as_str());
    let Some(reason) = one.stop.as_deref().or_else(of_part) else { return Ok(()) };
    let condition = match one.condition() {
        Condition::DoNotShoot => "DO NOT SHOOT".to_owned(),
        condition => condition.label().to_owned(),
    };
    let reason = reason.trim_start_matches("do not shoot: ");
    let reason = reason.split(';').next().unwrap_or(reason);
    let more = match one.more() {
        0 => String::new(),
        more => format!(", and {more} more"),
    };
    writeln!(text, "  {condition:<13}{:<25}{reason}{more}", one.bow.name.as_str())
}

/// What a kind of mail is about, after a count.
const fn what(kind: MailKind) -> &'static str {
    match kind {
        MailKind::Digest => "digests of what somebody's bows need",
        MailKind::Stop => "notices that a bow must not be shot",
        MailKind::Event => "to those who go to an event, what their bow needs by when",
        MailKind::Squad => "to coaches, what the bows of their squad need before an event",
        MailKind::Moved => "notices that an event is on other days or called off",
        MailKind::Bench => "weekly lists for the bench",
        MailKind::Nudge => "questions about a bow without logs",
        MailKind::Quieted => "notices to guardians that some mail was stopped",
        MailKind::Invitation => "invitations",
        MailKind::Reset => "links to choose another password",
    }
}
