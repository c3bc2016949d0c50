//! What the weekly list for the bench says: every job for a bow whose bench work its recipient is told of.

use domain::{
    mail::{BenchJob, BenchList},
    planning::bench::weeks,
    reminders::Reminder,
};
use jiff::civil::Date;
use store::StoreError;

use super::{Checked, Content, Scene};
use crate::{
    bench::{Job, jobs},
    recipients::Recipients,
};

pub(super) fn content(
    scene: &mut Scene<'_, '_, '_>,
    reminders: Vec<Reminder>,
) -> Result<Checked, StoreError> {
    let club = scene.club;
    let recipients = Recipients::of(scene.read, club.id)?;
    let all = jobs(scene.read, club, scene.now)?;
    let wanted: Vec<Date> = all.iter().map(|job| job.row.by).collect();
    let is_theirs = |job: &Job| recipients.of_bench(&job.bow).contains(&scene.recipient.id);
    let (theirs, others): (Vec<Job>, Vec<Job>) = all.into_iter().partition(is_theirs);
    if theirs.is_empty() {
        return Ok(Checked::untrue(reminders));
    }
    let mut rows = Vec::with_capacity(theirs.len());
    for Job { bow, row } in theirs {
        rows.push(BenchJob { archer: scene.name(bow.archer)?, ..row });
    }
    let list = BenchList {
        club: club.name.clone(),
        recipient: scene.recipient.name.clone(),
        on: scene.today(),
        jobs: rows,
        weeks: weeks(&wanted, club.zone.date_of(scene.now), club.bench_jobs_per_week),
        jobs_per_week: club.bench_jobs_per_week,
        others: others.len(),
    };
    let content = Some(Content::Bench(list));
    Ok(Checked { content, told: reminders, ..Checked::default() })
}
