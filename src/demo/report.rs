//! What the demo found, on one screen.

use std::fmt::Write;

use anyhow::Context;
use domain::{clubs::Club, ids::PartId, reminders::About, rules::Condition, safety};
use jiff::Timestamp;
use store::{Store, StoreError, due::Judged, outbox::Posted};

/// One mail, in the words of the report.
struct Sent {
    line: String,
    works: Vec<String>,
}

/// Everything that is reported.
struct Findings {
    judged: Vec<Judged>,
    sent: Vec<Sent>,
    shots: i64,
}

/// The report, as the club stands at `now`.
pub(super) async fn write(store: &Store, club: &Club, now: Timestamp) -> anyhow::Result<String> {
    let asked = club.clone();
    let findings = store.read(move |read| find(read, &asked, now)).await?;
    let mut text = String::new();
    compose(&mut text, club, &findings, now).context("the report could not be written")?;
    Ok(text)
}

fn find(read: &mut store::Read<'_>, club: &Club, now: Timestamp) -> Result<Findings, StoreError> {
    let judged = store::due::of_club(read, club, now)?;
    let shots = judged
        .iter()
        .filter(|one| one.record.part.kind == domain::parts::PartKind::Bowstring)
        .map(|one| one.record.life_shots())
        .sum();
    let mut sent = Vec::new();
    for posted in store::outbox::all(read, club.id)? {
        sent.push(told(read, club, &judged, &posted)?);
    }
    sent.sort_by(|a, b| a.line.cmp(&b.line));
    Ok(Findings { judged, sent, shots })
}

fn told(
    read: &mut store::Read<'_>,
    club: &Club,
    judged: &[Judged],
    posted: &Posted,
) -> Result<Sent, StoreError> {
    let recipient = store::members::get(read, club.id, posted.mail.recipient)?;
    let reminders = store::reminders::of_mail(read, club.id, posted.mail.id)?;
    let named = |part: PartId| judged.iter().find(|one| one.record.part.id == part);
    let mut works: Vec<String> = reminders
        .iter()
        .filter_map(|reminder| {
            let About::Work { task, part, .. } = reminder.about else { return None };
            let judged = named(part)?;
            let work = task.instruction(judged.record.part.kind);
            let bow = judged.bow.as_ref()?;
            let stage = Condition::parse(&reminder.stage).map_or("", Condition::label);
            Some(format!("{}: {work} ({stage})", bow.name))
        })
        .collect();
    works.sort();
    let (name, address, state) = (&recipient.name, &recipient.email, posted.mail.state);
    Ok(Sent { line: format!("{name} <{address}>: {state}"), works })
}

fn compose(
    text: &mut String,
    club: &Club,
    findings: &Findings,
    now: Timestamp,
) -> std::fmt::Result {
    let today = club.zone.date_of(now).strftime("%A %-d %B %Y");
    writeln!(text, "{}, {today}", club.name)?;
    let parts = findings.judged.len();
    writeln!(
        text,
        "{parts} parts in use, {} shots on the strings in all. Everything here is invented.",
        findings.shots
    )?;
    writeln!(text, "\nWhat is due, and why")?;
    for one in &findings.judged {
        let bow = one.bow.as_ref().map_or("in the case", |bow| bow.name.as_str());
        let (condition, reason) = (one.assessment.condition.label(), &one.assessment.reason);
        let part = one.record.part.kind.label();
        if one.assessment.condition.wants_work() {
            writeln!(text, "  {condition:<12}{bow:<22}{reason}")?;
        } else {
            writeln!(text, "  {condition:<12}{bow:<22}{part}: {reason}")?;
        }
    }
    writeln!(text, "\nWho was told by mail")?;
    for sent in &findings.sent {
        writeln!(text, "  {}", sent.line)?;
        for work in &sent.works {
            writeln!(text, "      {work}")?;
        }
    }
    writeln!(text, "\nThe limits are common practice, no source.")?;
    writeln!(text, "{}", safety::FIRST)
}
