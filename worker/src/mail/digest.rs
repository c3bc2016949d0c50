//! The daily mail: what a person's bows need, why, and what to heed. It writes what it is given
//! and neither judges a bow nor decides whether the mail is worth sending.

use askama::Template;
use domain::{
    ids::BowId,
    mail::{Digest, DigestLine},
    rules::Condition,
    safety::{CAUTIONS, FIRST},
    text::capitalised,
};

use super::{
    Letter, Links, RenderError, days::in_words, letter::as_much_as_fits, links::Answer, wrap::wrap,
};

/// The most characters a subject has: what a phone shows in two lines.
const SUBJECT_CHARS: usize = 100;
/// However long the rest, so much of a bow's name stays.
const BOW_CHARS_LEFT: usize = 12;

/// Writes a digest.
///
/// The text part always has every line. The HTML part leaves out the least urgent ones, and says
/// how many, where it would grow beyond 30 kB.
///
/// # Errors
/// [`RenderError`] for a digest without lines.
pub fn render(digest: &Digest, links: &Links<'_>) -> Result<Letter, RenderError> {
    let first = digest.lines.first().ok_or(RenderError::Empty)?;
    let content = Content::of(digest, links, digest.lines.len());
    Ok(Letter {
        subject: subject(digest, first)?,
        text: wrap(&Text { content: &content }.render()?),
        html: html(digest, links)?,
    })
}

#[derive(Template)]
#[template(path = "digest/subject.txt")]
struct Subject<'a> {
    bow: &'a str,
    work: &'a str,
    condition: &'a str,
    more: usize,
    day: &'a str,
}

#[derive(Template)]
#[template(path = "digest/body.txt")]
struct Text<'a> {
    content: &'a Content<'a>,
}

#[derive(Template)]
#[template(path = "digest/body.html")]
struct Html<'a> {
    content: &'a Content<'a>,
}

/// What both parts say.
struct Content<'a> {
    club: &'a str,
    recipient: &'a str,
    day: String,
    lead: String,
    bows: Vec<BowContent<'a>>,
    left_out: usize,
    first: &'static str,
    cautions: &'static [&'static str],
    base_url: &'a str,
    quiet: Option<&'a str>,
}

/// A bow and all that it needs.
struct BowContent<'a> {
    id: BowId,
    name: &'a str,
    archer: Option<String>,
    stopped: Option<String>,
    works: Vec<WorkContent<'a>>,
}

/// One piece of work.
struct WorkContent<'a> {
    task: String,
    part: &'a str,
    condition: String,
    reason: String,
    edge: &'static str,
    answers: Vec<Answer>,
}

impl<'a> Content<'a> {
    /// The digest's first `count` lines, by bow; bows and their lines keep the digest's order.
    fn of(digest: &'a Digest, links: &'a Links<'_>, count: usize) -> Self {
        let mut bows: Vec<BowContent<'a>> = Vec::new();
        for line in digest.lines.iter().take(count) {
            let work = WorkContent::of(line, links);
            match bows.iter_mut().find(|bow| bow.id == line.bow.id) {
                Some(bow) => bow.works.push(work),
                None => bows.push(BowContent {
                    id: line.bow.id,
                    name: line.bow.name.as_str(),
                    archer: archer(digest, line),
                    stopped: line.stopped.as_deref().map(stopped),
                    works: vec![work],
                }),
            }
        }
        Self {
            club: digest.club.as_str(),
            recipient: digest.recipient.as_str(),
            day: digest.on.strftime("%a %-d %B %Y").to_string(),
            lead: lead(digest),
            bows,
            left_out: digest.lines.len().saturating_sub(count),
            first: FIRST,
            cautions: &CAUTIONS,
            base_url: links.base_url(),
            quiet: links.quiet(),
        }
    }
}

/// How much there is to do.
fn lead(digest: &Digest) -> String {
    let day = digest.on.strftime("%a %-d %B %Y");
    let first = digest.lines.first().map(|line| line.bow.id);
    match digest.lines.as_slice() {
        [_] => format!("On {day} there is one thing to do:"),
        lines if lines.iter().all(|line| Some(line.bow.id) == first) => {
            format!("On {day} there is work to do on one bow, the most urgent first:")
        }
        _ => format!("On {day} there is work to do on these bows, the most urgent first:"),
    }
}

impl<'a> WorkContent<'a> {
    fn of(line: &'a DigestLine, links: &Links<'_>) -> Self {
        Self {
            task: capitalised(&line.task.instruction(line.part_kind)),
            part: line.part.as_str(),
            condition: condition(line.condition),
            reason: in_words(&line.reason),
            edge: edge(line.condition),
            answers: links.answers(line.reminder, &line.acts),
        }
    }
}

/// Why a bow must not be shot, as it is not to be overlooked.
pub(super) fn stopped(reason: &str) -> String {
    let reason = reason.strip_prefix("do not shoot: ").unwrap_or(reason);
    format!("DO NOT SHOOT: {}", in_words(reason))
}

/// Whose bow it is to shoot, unless the recipient's own.
fn archer(digest: &Digest, line: &DigestLine) -> Option<String> {
    match &line.archer {
        Some(archer) if *archer == digest.recipient => None,
        Some(archer) => Some(format!("shot by {archer}")),
        None if line.bow.owner.is_none() => Some("the club's, no archer set".to_owned()),
        None => Some("no archer set".to_owned()),
    }
}

/// The condition as it stands in a line; what forbids shooting is not to be overlooked.
fn condition(condition: Condition) -> String {
    match condition {
        Condition::DoNotShoot => condition.label().to_uppercase(),
        _ => condition.label().to_owned(),
    }
}

/// The condition of work that is told ahead of a day: some of it is sound now and is not then.
pub(super) const fn condition_by_then(condition: Condition) -> &'static str {
    match condition {
        Condition::Sound | Condition::Settling => "will come due by then",
        condition => condition.label(),
    }
}

/// The edge of a line in the HTML part. It repeats the words for the eye and adds nothing to them;
/// its tones stand out on a light and on a dark ground.
pub(super) const fn edge(condition: Condition) -> &'static str {
    match condition {
        Condition::DoNotShoot => "6px double #c4404c",
        Condition::Overdue | Condition::Retired => "6px solid #c4404c",
        Condition::Due => "6px solid #a8702a",
        Condition::Nearing => "6px dotted #a8702a",
        Condition::Settling | Condition::Sound => "6px dotted #6d7178",
    }
}

/// The subject, with the bow's name cut where the whole would be too long.
fn subject(digest: &Digest, line: &DigestLine) -> Result<String, RenderError> {
    let bow = line.bow.name.as_str();
    let subject = Subject {
        bow: "",
        work: &match line.stopped {
            Some(_) => "DO NOT SHOOT".to_owned(),
            None => line.task.instruction(line.part_kind),
        },
        condition: line.stopped.as_ref().map_or(line.condition.label(), |_| "inspect it first"),
        more: digest.lines.len() - 1,
        day: &digest.on.strftime("%a %-d %B").to_string(),
    };
    let rest = subject.render()?.chars().count();
    let bow = cut(bow, SUBJECT_CHARS.saturating_sub(rest).max(BOW_CHARS_LEFT));
    Ok(Subject { bow: &bow, ..subject }.render()?)
}

/// At most `max` characters of a name; an ellipsis is the last of them where some are missing.
fn cut(name: &str, max: usize) -> String {
    if name.chars().count() <= max {
        return name.to_owned();
    }
    let kept: String = name.chars().take(max.saturating_sub(1)).collect();
    format!("{}\u{2026}", kept.trim_end())
}

/// The HTML part with as many lines as fit, the most urgent first.
fn html(digest: &Digest, links: &Links<'_>) -> Result<String, RenderError> {
    as_much_as_fits(digest.lines.len(), |count| {
        Ok(Html { content: &Content::of(digest, links, count) }.render()?)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_cut_by_characters_and_shows_that_it_was() {
        assert_eq!(cut("弓弓弓", 3), "弓弓弓");
        assert_eq!(cut("弓弓弓弓", 3), "弓弓…");
        assert_eq!(cut("Blue bow", 6), "Blue…");
    }
}
