//! The message that a mail becomes: worded, with its links sealed and its head. It sends nothing.

use domain::{
    mail::{ActLink, QuietLink},
    text::Name,
};
use store::{
    mail_links::{seal_act, seal_quiet},
    outbox::Posted,
};

use crate::{
    Worker,
    content::{Content, Envelope},
    mail::{self, Letter, Links, RenderError, SealAct, message},
};

/// Where the links of a mail lead.
fn links<'w>(
    worker: &'w Worker,
    posted: &Posted,
    act: SealAct<'w>,
) -> Result<Links<'w>, RenderError> {
    let (member, kind) = (posted.mail.recipient, posted.mail.kind);
    let link = kind.stoppable().then_some(QuietLink { member, kind });
    let quiet = link.map(|link| seal_quiet(&worker.sending.seals, posted.club, &link));
    Ok(Links::below(&worker.sending.base_url)?.with_answers(act).with_quiet(quiet))
}

/// Words a mail.
fn write(
    worker: &Worker,
    posted: &Posted,
    content: &Content,
    links: &Links<'_>,
) -> Result<Letter, RenderError> {
    let sealed = |link| store::links::seal(&worker.sending.seals, posted.club, &link);
    match content {
        Content::Digest(digest) => mail::digest::render(digest, links),
        Content::Stop(notice) => mail::stop::render(notice, links),
        Content::Event(notice) => mail::event::render(notice, links),
        Content::Moved(notice) => mail::moved::render(notice, links),
        Content::Bench(list) => mail::bench::render(list, links),
        Content::Nudge(notice) => mail::nudge::render(notice, links),
        Content::Quieted(notice) => mail::quieted::render(notice, links),
        Content::Invitation(notice) => {
            mail::invitation::render(notice, &sealed(notice.link), links)
        }
        Content::Reset(notice) => mail::reset::render(notice, &sealed(notice.link), links),
    }
}

/// The days that a mail speaks of, if it speaks of any.
fn calendar(worker: &Worker, content: &Content) -> Option<mail::calendar::Part> {
    let (from, base_url) = (&worker.sending.from, worker.sending.base_url.as_str());
    let sender = mail::calendar::Sender { from, base_url };
    match content {
        Content::Digest(digest) => mail::calendar::of_digest(digest, &sender),
        Content::Event(notice) => mail::calendar::of_event(notice, &sender),
        Content::Moved(notice) => mail::calendar::of_moved(notice, &sender),
        Content::Stop(_)
        | Content::Bench(_)
        | Content::Nudge(_)
        | Content::Quieted(_)
        | Content::Invitation(_)
        | Content::Reset(_) => None,
    }
}

/// What stands before a mail that a guardian gets in place of a minor.
fn to_guardian_alone(minor: &Name, club: &Name) -> String {
    format!(
        "To the guardian of {minor}: what follows is for {minor}, and comes to you alone because it is \
         not on record that you agree to {minor} being written to. If you do, tell an owner of {club}."
    )
}

/// The message that a mail becomes; else why it cannot become one.
pub(super) fn message(
    worker: &Worker,
    posted: &Posted,
    content: &Content,
    envelope: &Envelope,
) -> Result<lettre::Message, String> {
    let act = |reminder, act| {
        let link = ActLink::new(reminder, act, posted.mail.wanted_at);
        seal_act(&worker.sending.seals, posted.club, &link)
    };
    let links = links(worker, posted, &act).map_err(|error| error.to_string())?;
    let letter = write(worker, posted, content, &links).map_err(|error| error.to_string())?;
    let letter = match &envelope.in_place_of {
        Some(minor) => letter.prefaced(&to_guardian_alone(minor, &envelope.from_name)),
        None => letter,
    };
    let head = message::Head {
        id: posted.mail.id,
        from_name: envelope.from_name.as_str(),
        from: &worker.sending.from,
        to_name: envelope.to.0.as_str(),
        to: &envelope.to.1,
        copy: envelope.copy.as_ref().map(|(name, address)| (name.as_str(), address)),
        date: posted.mail.wanted_at,
        quiet: links.quiet(),
        first: envelope.first,
    };
    let calendar = calendar(worker, content);
    message::build(&letter, calendar.as_ref(), &head).map_err(|error| error.to_string())
}
