//! What falls to the bench in the weeks ahead, on which bows, and by when.

use std::sync::Arc;

use domain::{
    bows::Bow,
    clubs::Club,
    forecast::{Outlook, Pace},
    ids::BowId,
    mail::BenchJob,
    parts::Part,
    planning::bench::{is_bench_work, last_day},
    rules::{Condition, Verdict},
};
use jiff::{Timestamp, civil::Date};
use store::{Read, StoreError, due::Judged};

/// A job for the bench.
pub(crate) struct Job {
    /// For which bow.
    pub(crate) bow: Arc<Bow>,
    /// What a list says of it; whose the bow is to shoot is filled in by who writes the list.
    pub(crate) row: BenchJob,
}

/// Every job of a club that is wanted within the weeks ahead, what is wanted first first.
pub(crate) fn jobs(
    read: &mut Read<'_>,
    club: &Club,
    now: Timestamp,
) -> Result<Vec<Job>, StoreError> {
    let today = club.zone.date_of(now);
    let judged = store::due::of_club(read, club, now)?;
    let asks = |one: &Judged| one.assessment.verdicts.iter().any(|v| is_bench_work(v.task));
    let bows: Vec<BowId> = judged
        .iter()
        .filter(|one| asks(one))
        .filter_map(|one| Some(one.bow.as_ref()?.id))
        .collect();
    let histories = store::pace::recent(read, club.id, &bows, today)?;
    let mut jobs = Vec::new();
    for one in &judged {
        let Some(bow) = &one.bow else { continue };
        let history = histories.get(&bow.id).map(Vec::as_slice).unwrap_or_default();
        let pace = Pace::of(history, today).ok();
        let outlook = Outlook::of(&one.assessment, pace.as_ref(), today);
        for (verdict, band) in one.assessment.verdicts.iter().zip(&outlook.verdicts) {
            let by = wanted_by(verdict.condition, band.p50_on, today);
            let by = by.filter(|by| *by <= last_day(today) && is_bench_work(verdict.task));
            let Some(by) = by else { continue };
            let row = row(bow, &one.record.part, verdict, by.max(today));
            jobs.push(Job { bow: Arc::clone(bow), row });
        }
    }
    jobs.sort_by(|a, b| {
        (a.row.by, &a.row.bow, a.row.task).cmp(&(b.row.by, &b.row.bow, b.row.task))
    });
    Ok(jobs)
}

/// By when a job is wanted: now, if it is due; else when that is expected.
fn wanted_by(condition: Condition, expected: Option<Date>, today: Date) -> Option<Date> {
    match condition {
        Condition::DoNotShoot | Condition::Overdue | Condition::Due => Some(today),
        Condition::Nearing => Some(expected.unwrap_or(today)),
        Condition::Retired | Condition::Settling | Condition::Sound => expected,
    }
}

fn row(bow: &Bow, part: &Part, verdict: &Verdict, by: Date) -> BenchJob {
    let strands = part.strands.map(|strands| format!("{strands} strands"));
    let made_of: Vec<String> =
        part.material.iter().map(ToString::to_string).chain(strands).collect();
    BenchJob {
        bow: bow.name.clone(),
        archer: None,
        size: format!("{} in, {} lbf", bow.length.get(), bow.draw_weight.get()),
        part_kind: part.kind,
        part: part.name.clone(),
        made_of: Some(made_of.join(", ")).filter(|words| !words.is_empty()),
        task: verdict.task,
        condition: verdict.condition,
        by,
        reason: verdict.reason.clone(),
    }
}
