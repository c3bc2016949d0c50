//! The words of the pages where a password is chosen. It reads nothing and decides nothing.

use askama::Template;
use domain::links::Purpose;

use super::page::{Note, moment};
use crate::auth::{Found, PASSWORD_LENGTH};

/// The page with the field.
#[derive(Template)]
#[template(path = "choose.html")]
pub(super) struct Question {
    club: String,
    heading: String,
    lines: Vec<String>,
    rows: Vec<(&'static str, String)>,
    /// What a program that keeps passwords keeps this one for.
    email: String,
    label: &'static str,
    least: usize,
    /// Why the password that was sent cannot be taken.
    wrong: Option<String>,
    button: &'static str,
    /// What to do in place of that.
    otherwise: &'static str,
}

/// What the link of somebody is for, and `wrong`, why the password that they sent was refused.
pub(super) fn question(found: &Found, wrong: Option<&str>) -> Question {
    let Found { club, member, link, .. } = found;
    let zone = member.zone.as_ref().unwrap_or(&club.zone);
    let (heading, line, label, button, otherwise) = match link.purpose {
        Purpose::Invitation => (
            format!("Join {}", club.name),
            "Choose a password, and you are in.".to_owned(),
            "Password",
            "Join the club",
            "If you do not know this club, close this page: nothing happens then.",
        ),
        Purpose::Reset => (
            "Choose another password".to_owned(),
            format!("For {}, in place of the old one. Every device is signed out.", club.name),
            "New password",
            "Change the password",
            "If you did not ask for this, close this page: your password stays as it is.",
        ),
    };
    Question {
        club: club.name.to_string(),
        heading,
        lines: vec![line],
        rows: vec![
            ("For", member.name.to_string()),
            ("Signs in with", member.email.to_string()),
            ("The link works once, until", moment(link.expires_at, zone)),
        ],
        email: member.email.to_string(),
        least: *PASSWORD_LENGTH.start(),
        label,
        wrong: wrong.map(|why| format!("The password {why}.")),
        button,
        otherwise,
    }
}

/// What was done, and what comes next.
pub(super) fn done(found: &Found) -> Note {
    let sign_in = format!(
        "From now on, sign in with {} and the password that you have just chosen.",
        found.member.email
    );
    match found.link.purpose {
        Purpose::Invitation => {
            let heading = format!("You have joined {}", found.club.name);
            note(found, &heading, &[&sign_in, "Nothing more to do here."])
        }
        Purpose::Reset => {
            let lines = [
                sign_in.as_str(),
                "Every device is signed out. Tokens that you made for scripts work on: revoke them, if \
                 somebody else may know one.",
            ];
            note(found, "The password is changed", &lines)
        }
    }
}

/// Why a link of ours does not work any more.
pub(super) fn over(found: &Found) -> Note {
    let Found { member, link, joined, .. } = found;
    let gone = "This link does not work any more";
    let purpose = link.purpose;
    if member.left_at.is_some() {
        return note(found, gone, &["You are not in the club any more. Nothing was changed."]);
    }
    if *joined && purpose == Purpose::Invitation {
        let sign_in = format!("Sign in with {} and the password that you chose.", member.email);
        let lines = [
            sign_in.as_str(),
            "If you do not know it any more, have a link to choose another one mailed to you: whoever \
             looks after this server can see to that.",
            "Nothing was changed.",
        ];
        return note(found, "You have joined already", &lines);
    }
    let next = match purpose {
        Purpose::Invitation => "Ask whoever invited you to send another one.",
        Purpose::Reset => "If you do not know your password, ask for another link.",
    };
    if link.used_at.is_some() {
        let used = "It works once, and was used, or put out of use by a newer one or by a change of your \
                    address. Nothing was changed now.";
        return note(found, gone, &[used, next]);
    }
    let hours = purpose.lifetime().as_hours();
    let lasts =
        if hours % 24 == 0 { format!("{} days", hours / 24) } else { format!("{hours} hours") };
    let line = format!("It worked for {lasts}, and is older. Nothing was changed.");
    note(found, "This link has run out", &[&line, next])
}

fn note(found: &Found, heading: &str, lines: &[&str]) -> Note {
    let lines = lines.iter().map(|&line| line.to_owned()).collect();
    let club = found.club.name.to_string();
    Note { club, heading: heading.to_owned(), lines, first: None }
}
