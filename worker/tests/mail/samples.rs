//! A sample of every kind of mail, word for word.

use domain::{
    mail::MailKind,
    safety::{CAUTIONS, FIRST},
};
use worker::mail::samples;

use crate::golden::check_letter;

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn there_is_a_sample_of_every_kind_of_mail() {
    for &kind in MailKind::ALL {
        let letter = samples::letter(kind, "https://tautline.example.org").unwrap();
        check_letter(&format!("sample_{kind}"), &letter);
        assert!((10..=110).contains(&letter.subject.chars().count()), "{}", letter.subject);
        let stops = one_line(&letter.text).contains("No more of these mails: https://");
        assert_eq!(stops, kind.stoppable(), "{kind}");
        assert!(letter.html.len() <= 30_000 && !letter.html.contains("src="), "{kind}");
    }
}

#[test]
fn a_mail_that_advises_shows_the_cautions() {
    let advises =
        [MailKind::Digest, MailKind::Stop, MailKind::Event, MailKind::Squad, MailKind::Bench];
    for kind in advises {
        let letter = samples::letter(kind, "https://tautline.example.org").unwrap();
        for caution in CAUTIONS.iter().chain([&FIRST]) {
            assert!(one_line(&letter.text).contains(caution), "{kind}: {caution}");
            let escaped = caution.replace('\'', "&#39;");
            assert!(one_line(&letter.html).contains(&escaped), "{kind}: {caution}");
        }
    }
}
