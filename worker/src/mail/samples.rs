//! An invented mail of each kind, to be looked at before a club sends any. People, club and bows are
//! invented, and the sender's name says so.

use domain::{
    bows::{Bow, BowLengthIn, Division, DrawWeightLbf},
    calendar::Work,
    ids::{BowId, EventId, LinkId, MemberId, PartId, ReminderId, RuleId},
    links::{Link, Purpose},
    mail::{
        Act, BenchJob, BenchList, Change, ChangeWindow, Digest, DigestLine, EventNotice, EventWork,
        GoingBow, LinkNotice, MailKind, MovedNotice, QuietedNotice, SilenceNotice, Since,
        StopNotice, StoppedPart, ToldWork,
    },
    parts::PartKind,
    planning::bench::weeks,
    rules::{Condition, RuleTask},
    text::{Name, TextError},
    time::Zone,
};
use jiff::{Timestamp, civil::date};
use uuid::Uuid;

use super::{
    Letter, Links, RenderError, bench,
    calendar::{self, Part, Sender},
    digest, event, invitation, moved, nudge, quieted, reset, stop,
};

/// Why there is no sample.
#[derive(Debug, thiserror::Error)]
pub enum SampleError {
    /// A name in it is none.
    #[error(transparent)]
    Name(#[from] TextError),
    /// A bow in it cannot be.
    #[error(transparent)]
    Bow(#[from] domain::bows::BowError),
    /// It could not be written.
    #[error(transparent)]
    Render(#[from] RenderError),
}

/// What stands for a link's own words in a sample: it opens nothing.
const NO_TOKEN: &str = "SAMPLE-LINK-THAT-OPENS-NOTHING";

/// What somebody of the invented club would get of a kind of mail.
///
/// # Errors
/// [`SampleError`].
pub fn letter(kind: MailKind, base_url: &str) -> Result<Letter, SampleError> {
    let act = |_reminder: ReminderId, act: Act| format!("{NO_TOKEN}-{act}");
    let token = kind.stoppable().then(|| NO_TOKEN.to_owned());
    let links = Links::below(base_url)?.with_answers(&act).with_quiet(token);
    Ok(match kind {
        MailKind::Digest => digest::render(&a_digest()?, &links)?,
        MailKind::Stop => stop::render(&a_stop()?, &links)?,
        MailKind::Event => event::render(&before_event(false)?, &links)?,
        MailKind::Squad => event::render(&before_event(true)?, &links)?,
        MailKind::Moved => moved::render(&moved_event()?, &links)?,
        MailKind::Bench => bench::render(&bench_list()?, &links)?,
        MailKind::Nudge => nudge::render(&silence()?, &links)?,
        MailKind::Invitation => invitation::render(&link(Purpose::Invitation)?, NO_TOKEN, &links)?,
        MailKind::Reset => reset::render(&link(Purpose::Reset)?, NO_TOKEN, &links)?,
        MailKind::Quieted => quieted::render(&a_quieted()?, &links)?,
    })
}

/// The calendar that would go with it, if one does.
///
/// # Errors
/// [`SampleError`].
pub fn calendar(kind: MailKind, sender: &Sender<'_>) -> Result<Option<Part>, SampleError> {
    Ok(match kind {
        MailKind::Digest => calendar::of_digest(&a_digest()?, sender),
        MailKind::Event => calendar::of_event(&before_event(false)?, sender),
        MailKind::Squad => calendar::of_event(&before_event(true)?, sender),
        MailKind::Moved => calendar::of_moved(&moved_event()?, sender),
        _ => None,
    })
}

/// Where a kind of mail would be stopped, if it may be.
#[must_use]
pub fn quiet_url(kind: MailKind, base_url: &str) -> Option<String> {
    kind.stoppable().then(|| format!("{base_url}/quiet/{NO_TOKEN}"))
}

fn name(text: &str) -> Result<Name, TextError> {
    Name::parse(text)
}

fn club() -> Result<Name, TextError> {
    name("Reedmere Archers (invented)")
}

fn bow(number: u128, called: &str) -> Result<Bow, SampleError> {
    Ok(Bow {
        id: BowId(Uuid::from_u128(number)),
        name: name(called)?,
        division: Division::Recurve,
        length: BowLengthIn::new(68.0)?,
        draw_weight: DrawWeightLbf::new(38.0)?,
        owner: None,
        archer: Some(MemberId(Uuid::from_u128(1))),
        keeper: None,
        version: 1,
        created_at: Timestamp::UNIX_EPOCH,
    })
}

fn line(
    bow: Bow,
    (part_kind, part): (PartKind, &str),
    (task, condition): (RuleTask, Condition),
    reason: &str,
) -> Result<DigestLine, SampleError> {
    Ok(DigestLine {
        reminder: ReminderId(Uuid::nil()),
        acts: vec![Act::Done, Act::Snooze, Act::NotMine],
        bow,
        archer: Some(name("Tove Marsh")?),
        stopped: None,
        part_kind,
        part: name(part)?,
        task,
        condition,
        reason: reason.to_owned(),
        work: Work {
            part: PartId(Uuid::from_u128(3)),
            rule: RuleId(Uuid::from_u128(4)),
            cycle: "first".to_owned(),
        },
        window: None,
    })
}

fn a_digest() -> Result<Digest, SampleError> {
    let settling = line(
        bow(1, "Heron (club recurve 4)")?,
        (PartKind::Bowstring, "String of May"),
        (RuleTask::CheckSettling, Condition::Due),
        "104 shots on it; check at 0, 50, 100, 200; last checked at 52",
    )?;
    let wax = line(
        bow(2, "Tove's recurve")?,
        (PartKind::Bowstring, "String 2 of 2027"),
        (RuleTask::Wax, Condition::Due),
        "512 shots since last waxed; plan 500",
    )?;
    let serving = line(
        bow(2, "Tove's recurve")?,
        (PartKind::CenterServing, "Serving of March"),
        (RuleTask::ReServe, Condition::Nearing),
        "2,750 shots in all; plan 3,000",
    )?;
    let (club, recipient) = (club()?, name("Tove Marsh")?);
    Ok(Digest { club, recipient, on: date(2027, 6, 1), lines: vec![settling, wax, serving] })
}

fn a_stop() -> Result<StopNotice, SampleError> {
    let reason = "do not shoot: cut strand on 2027-05-31; a coach or owner inspects it and says why it \
                  may be shot again";
    Ok(StopNotice {
        club: club()?,
        recipient: name("Tove Marsh")?,
        bow: bow(2, "Tove's recurve")?,
        archer: Some(name("Tove Marsh")?),
        stopped: None,
        unreached: Vec::new(),
        parts: vec![StoppedPart {
            kind: PartKind::Bowstring,
            name: name("String 2 of 2027")?,
            reason: reason.to_owned(),
        }],
    })
}

fn told(task: RuleTask, by: Option<jiff::civil::Date>) -> ToldWork {
    let part = PartId(Uuid::from_u128(3));
    ToldWork { part, part_kind: PartKind::Bowstring, task, by }
}

fn going() -> Result<GoingBow, SampleError> {
    let eve = Some(date(2027, 6, 11));
    Ok(GoingBow {
        bow_id: BowId(Uuid::from_u128(2)),
        bow: name("Tove's recurve")?,
        archer: name("Tove Marsh")?,
        stopped: None,
        works: vec![EventWork {
            by: eve,
            part_id: PartId(Uuid::from_u128(3)),
            part_kind: PartKind::Bowstring,
            part: name("String 2 of 2027")?,
            task: RuleTask::Wax,
            condition: Condition::Due,
            reason: "512 shots since last waxed; plan 500".to_owned(),
        }],
        change: ChangeWindow::Until(date(2027, 6, 3)),
        since: Some(Since {
            on: date(2027, 5, 29),
            changes: vec![
                Change::New(told(RuleTask::Wax, eve)),
                Change::Gone(told(RuleTask::Inspect, eve)),
            ],
        }),
    })
}

fn before_event(for_coach: bool) -> Result<EventNotice, SampleError> {
    let mut bows = vec![going()?];
    if for_coach {
        bows.push(GoingBow {
            bow_id: BowId(Uuid::from_u128(5)),
            bow: name("Ansel's barebow")?,
            archer: name("Ansel Reed")?,
            stopped: None,
            works: Vec::new(),
            change: ChangeWindow::Unknown,
            since: None,
        });
    }
    Ok(EventNotice {
        club: club()?,
        recipient: name(if for_coach { "Coach Ibis" } else { "Tove Marsh" })?,
        for_coach,
        event_id: EventId(Uuid::from_u128(6)),
        event: name("Millpond Round (invented)")?,
        starts_on: date(2027, 6, 12),
        ends_on: date(2027, 6, 13),
        version: 1,
        changed_at: Timestamp::UNIX_EPOCH,
        on: date(2027, 6, 1),
        days_left: 11,
        bows,
    })
}

fn moved_event() -> Result<MovedNotice, SampleError> {
    Ok(MovedNotice {
        club: club()?,
        recipient: name("Tove Marsh")?,
        event_id: EventId(Uuid::from_u128(6)),
        event: name("Millpond Round (invented)")?,
        told_on: date(2027, 5, 29),
        told: (date(2027, 6, 12), date(2027, 6, 13)),
        told_works: Vec::new(),
        days: (date(2027, 6, 19), date(2027, 6, 20)),
        called_off: false,
        version: 2,
        changed_at: Timestamp::UNIX_EPOCH,
    })
}

fn bench_list() -> Result<BenchList, SampleError> {
    let on = date(2027, 6, 7);
    let job = |bow: &str, archer: &str, task, condition, by, reason: &str| {
        Ok::<_, SampleError>(BenchJob {
            bow: name(bow)?,
            archer: Some(name(archer)?),
            size: "68 in, 38 lbf".to_owned(),
            part_kind: match task {
                RuleTask::ReServe => PartKind::CenterServing,
                _ => PartKind::Bowstring,
            },
            part: name(match task {
                RuleTask::ReServe => "Serving of March",
                _ => "String 2 of 2026",
            })?,
            made_of: Some("HMPE, 18 strands".to_owned()),
            task,
            condition,
            by,
            reason: reason.to_owned(),
        })
    };
    let jobs = vec![
        job(
            "Tove's recurve",
            "Tove Marsh",
            RuleTask::ReServe,
            Condition::Due,
            on,
            "3,010 shots in all; plan 3,000",
        )?,
        job(
            "Ansel's barebow",
            "Ansel Reed",
            RuleTask::Change,
            Condition::Sound,
            date(2027, 6, 24),
            "13,900 shots in all; plan 15,000",
        )?,
    ];
    let wanted: Vec<_> = jobs.iter().map(|job| job.by).collect();
    let weeks = weeks(&wanted, on, 4);
    let (club, recipient) = (club()?, name("Coach Ibis")?);
    Ok(BenchList { club, recipient, on, jobs, weeks, jobs_per_week: 4, others: 0 })
}

fn silence() -> Result<SilenceNotice, SampleError> {
    Ok(SilenceNotice {
        club: club()?,
        recipient: name("Tove Marsh")?,
        bow: name("Tove's recurve")?,
        bow_id: BowId(Uuid::from_u128(2)),
        last_on: date(2027, 5, 22),
        days: 10,
    })
}

fn link(purpose: Purpose) -> Result<LinkNotice, SampleError> {
    let created_at = Timestamp::UNIX_EPOCH;
    Ok(LinkNotice {
        club: club()?,
        recipient: name("Tove Marsh")?,
        link: Link::new(
            LinkId(Uuid::from_u128(7)),
            MemberId(Uuid::from_u128(1)),
            purpose,
            created_at,
        ),
        until: date(2027, 6, 15).at(18, 0, 0, 0),
        zone: Zone::utc(),
    })
}

fn a_quieted() -> Result<QuietedNotice, SampleError> {
    Ok(QuietedNotice {
        club: club()?,
        guardian: name("Edda Reed")?,
        minor: name("Ansel Reed")?,
        kinds: vec![MailKind::Digest],
    })
}
