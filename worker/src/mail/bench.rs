//! The weekly list for the bench. It writes what it is given and decides nothing.

use askama::Template;
use domain::{
    mail::{BenchJob, BenchList},
    planning::bench::Week,
    safety::{CAUTIONS, FIRST},
    text::capitalised,
};

use super::{
    Letter, Links, RenderError,
    days::{day, in_words},
    digest::{condition_by_then, edge},
    letter::as_much_as_fits,
    wrap::wrap,
};

/// Writes a list.
///
/// The text part always has every job. The HTML part leaves out the last ones, and says how many,
/// where it would grow beyond 30 kB.
///
/// # Errors
/// [`RenderError`] for a list without jobs.
pub fn render(list: &BenchList, links: &Links<'_>) -> Result<Letter, RenderError> {
    if list.jobs.is_empty() {
        return Err(RenderError::Empty);
    }
    let content = Content::of(list, links, list.jobs.len());
    Ok(Letter {
        subject: Subject { content: &content }.render()?,
        text: wrap(&Text { content: &content }.render()?),
        html: html(list, links)?,
    })
}

fn html(list: &BenchList, links: &Links<'_>) -> Result<String, RenderError> {
    as_much_as_fits(list.jobs.len(), |count| {
        Ok(Html { content: &Content::of(list, links, count) }.render()?)
    })
}

#[derive(Template)]
#[template(path = "bench/subject.txt")]
struct Subject<'a> {
    content: &'a Content<'a>,
}

#[derive(Template)]
#[template(path = "bench/body.txt")]
struct Text<'a> {
    content: &'a Content<'a>,
}

#[derive(Template)]
#[template(path = "bench/body.html")]
struct Html<'a> {
    content: &'a Content<'a>,
}

/// What both parts say.
struct Content<'a> {
    club: &'a str,
    recipient: &'a str,
    day: String,
    /// What there is to make, in a few words for the subject.
    gist: String,
    jobs: Vec<JobContent<'a>>,
    left_out: usize,
    capacity: String,
    weeks: Vec<String>,
    first: &'static str,
    cautions: &'static [&'static str],
    quiet: Option<&'a str>,
}

/// A job.
struct JobContent<'a> {
    by: String,
    bow: &'a str,
    archer: Option<String>,
    task: String,
    part: &'a str,
    size: &'a str,
    made_of: Option<&'a str>,
    condition: &'static str,
    reason: String,
    edge: &'static str,
}

impl<'a> Content<'a> {
    fn of(list: &'a BenchList, links: &'a Links<'_>, count: usize) -> Self {
        Self {
            club: list.club.as_str(),
            recipient: list.recipient.as_str(),
            day: day(list.on),
            gist: gist(list),
            jobs: list.jobs.iter().take(count).map(|job| JobContent::of(list, job)).collect(),
            left_out: list.jobs.len().saturating_sub(count),
            capacity: capacity(list),
            weeks: list.weeks.iter().map(week).collect(),
            first: FIRST,
            cautions: &CAUTIONS,
            quiet: links.quiet(),
        }
    }
}

impl<'a> JobContent<'a> {
    fn of(list: &BenchList, job: &'a BenchJob) -> Self {
        let archer = job.archer.as_ref().filter(|archer| **archer != list.recipient);
        Self {
            by: if job.by <= list.on { "Now".to_owned() } else { format!("By {}", day(job.by)) },
            bow: job.bow.as_str(),
            archer: archer.map(|archer| format!("shot by {archer}")),
            task: capitalised(&job.task.instruction(job.part_kind)),
            part: job.part.as_str(),
            size: &job.size,
            made_of: job.made_of.as_deref(),
            condition: condition_by_then(job.condition),
            reason: in_words(&job.reason),
            edge: edge(job.condition),
        }
    }
}

/// The first job and how many more.
fn gist(list: &BenchList) -> String {
    let first = list.jobs.first();
    let first = first.map_or_else(String::new, |job| {
        format!("{} of {}", job.task.instruction(job.part_kind), job.bow)
    });
    match list.jobs.len() {
        0 | 1 => first,
        more => format!("{first}, and {} more", more - 1),
    }
}

fn capacity(list: &BenchList) -> String {
    let makes = match list.jobs_per_week {
        1 => "one job".to_owned(),
        jobs => format!("{jobs} jobs"),
    };
    let others = match list.others {
        0 => String::new(),
        1 => ", with one for a bow that is not on this list".to_owned(),
        others => format!(", with {others} for bows that are not on this list"),
    };
    format!("The club's bench makes {makes} a week. All of its jobs{others}, by week:")
}

fn week(week: &Week) -> String {
    let jobs = match week.jobs {
        0 => "no job".to_owned(),
        1 => "one job".to_owned(),
        jobs => format!("{jobs} jobs"),
    };
    let short = match week.short {
        0 => String::new(),
        1 => "; one more is wanted by its end than the bench can have made".to_owned(),
        short => format!("; {short} more are wanted by its end than the bench can have made"),
    };
    format!("Week of {}: {jobs}{short}.", day(week.from))
}
