//! Faults of the relay: whatever it does, each mail is in a state that says what is known of it, none is
//! lost, and each arrives once when the relay is itself again; twice only where nobody can know.

mod addresses;
mod certificates;
mod outage;
mod table;

use std::time::Duration;

use domain::{
    members::{EmailAddress, Guardian, Member, Role},
    text::Name,
    time::Clock,
};
use jiff::Timestamp;
use serde_json::Value;
use store::{StoreError, fresh_id, outbox::Posted, testing::Fresh};
use worker::mail::Transport;

use crate::support::{Club, SmtpServer};

fn noon() -> Timestamp {
    "2027-03-01T12:00:00Z".parse().unwrap()
}

/// A club whose mail goes to that relay, with so long for a whole talk.
fn club_at(database: &Fresh, url: &str, limit: Duration) -> Club {
    Club::start_with(database, noon(), Transport::smtp_within(url, limit).unwrap())
}

/// Puts somebody on record, a minor if they have a guardian, and mails them an invitation, due at once.
fn invite(club: &Club, name: &str, guardian: Option<&str>) -> Member {
    let now = club.clock.now();
    let address = |name: &str| {
        EmailAddress::parse(&format!("{}@club.example", name.to_lowercase().replace(' ', ".")))
            .unwrap()
    };
    let text = Name::parse(name).unwrap();
    let mut member = Member::new(fresh_id(now), text, address(name), Role::Archer, now);
    if let Some(guardian) = guardian {
        member.minor_until = Some(jiff::civil::date(2029, 1, 1));
        member.guardian = Some(Guardian {
            name: Name::parse(guardian).unwrap(),
            email: address(guardian),
            consented_on: Some(jiff::civil::date(2027, 1, 1)),
        });
    }
    let (id, added) = (club.id, member.clone());
    write(club, move |tx| {
        store::members::add(tx, id, &added)?;
        store::links::invite(tx, id, &added, now).map(drop)
    });
    member
}

/// Mails somebody who is on record another invitation.
fn invite_again(club: &Club, member: &Member) {
    let (id, now, member) = (club.id, club.clock.now(), member.clone());
    write(club, move |tx| store::links::invite(tx, id, &member, now).map(drop));
}

fn write(
    club: &Club,
    f: impl FnOnce(&mut store::Tx<'_>) -> Result<(), StoreError> + Send + 'static,
) {
    tokio::runtime::Runtime::new().unwrap().block_on(club.store.write(f)).unwrap();
}

/// The mails to somebody, in the order they were written.
fn mails_to(club: &Club, member: &Member) -> Vec<Posted> {
    let mut mails = club.outbox();
    mails.retain(|posted| posted.mail.recipient == member.id);
    mails
}

/// The last mail to somebody.
fn last_to(club: &Club, member: &Member) -> Posted {
    mails_to(club, member).pop().unwrap()
}

/// How often that mail arrived.
fn arrivals(relay: &SmtpServer, posted: &Posted) -> usize {
    let id = format!("<{}@tautline.example>", posted.mail.id);
    let is_it = |mail: &&Value| mail["message_id"] == *id;
    relay.mails().iter().filter(is_it).count()
}

fn words(posted: &Posted) -> &str {
    posted.outcome.as_deref().unwrap_or_default()
}
