//! What the mails say that carry a link, word for word.

use domain::{
    links::{Link, Purpose},
    mail::LinkNotice,
    time::Zone,
};
use jiff::civil::date;
use uuid::Uuid;
use worker::mail::{Letter, Links, RenderError, invitation, reset};

use crate::{
    golden::check_letter,
    letters::{links, name},
};

const BASE_URL: &str = "https://tautline.example.org";
/// As long as those that are sealed.
const TOKEN: &str = "an-invented-token-of-sixty-four-characters-as-long-as-real-ones_";

fn notice(purpose: Purpose) -> LinkNotice {
    let at = "2027-06-01T05:30:00Z".parse().unwrap();
    LinkNotice {
        club: name("Invented Archers of Nowhere"),
        recipient: name("Ada Example"),
        link: Link::new(Uuid::from_u128(7).into(), Uuid::from_u128(8).into(), purpose, at),
        until: date(2027, 6, 1).at(9, 30, 0, 0),
        zone: Zone::parse("Europe/Lisbon").unwrap(),
    }
}

fn check(letter: &Letter, page: &str, call: &str) {
    for part in [&letter.text, &letter.html] {
        let one_line = part.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(one_line.contains(&format!("{BASE_URL}/{page}/{TOKEN}")), "{part}");
        assert!(one_line.contains(&format!("{BASE_URL}/api/v1/{call}/{TOKEN}")), "{part}");
        assert!(one_line.contains("Tue 1 June 2027, 09:30 (Europe/Lisbon)"), "{part}");
    }
    for fetching in ["src=", "<img", "<link", "<script", "<form", "url(", "@import", "srcset"] {
        assert!(!letter.html.contains(fetching), "{fetching} found");
    }
    // Only an address may be wider.
    let wide = |line: &&str| line.chars().count() > 72 && !line.contains(BASE_URL);
    assert_eq!(letter.text.lines().find(wide), None);
}

#[test]
fn an_invitation_says_who_asks_and_how_to_join() {
    let letter = invitation::render(&notice(Purpose::Invitation), TOKEN, &links(BASE_URL)).unwrap();
    check_letter("invitation", &letter);
    check(&letter, "invitations", "invitations");
}

#[test]
fn a_reset_says_what_it_does_and_what_to_do_if_it_was_somebody_else() {
    let letter = reset::render(&notice(Purpose::Reset), TOKEN, &links(BASE_URL)).unwrap();
    check_letter("reset", &letter);
    check(&letter, "reset", "auth/reset");
}

#[test]
fn a_name_that_looks_like_markup_is_shown_as_typed() {
    let odd = "<b>x</b> & \"y\"";
    let notice = LinkNotice { club: name(odd), ..notice(Purpose::Invitation) };
    for letter in [
        invitation::render(&notice, TOKEN, &links(BASE_URL)).unwrap(),
        reset::render(&notice, TOKEN, &links(BASE_URL)).unwrap(),
    ] {
        assert!(letter.subject.contains(odd) && letter.text.contains(odd));
        assert!(!letter.html.contains("<b>"), "{}", letter.html);
    }
}

#[test]
fn links_lie_below_an_address_of_the_web() {
    for bad in ["", "tautline.example.org", "javascript:alert(1)", "https://a b", "https://a\n"] {
        assert!(matches!(Links::below(bad), Err(RenderError::BaseUrl)), "{bad:?}");
    }
}
