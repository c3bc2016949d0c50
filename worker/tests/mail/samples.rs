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

#[test]
fn a_sentence_before_a_letter_stands_in_both_parts_as_text() {
    let letter = samples::letter(MailKind::Digest, "https://tautline.example.org").unwrap();
    let prefaced = letter.clone().prefaced("To <b>Gus</b> & all");
    assert!(
        prefaced.text.starts_with("To <b>Gus</b> & all\n\nHello Tove Marsh,"),
        "{}",
        prefaced.text
    );
    assert!(prefaced.html.contains("<p>To &lt;b>Gus&lt;/b> &amp; all</p>"), "{}", prefaced.html);
    let (before, after) = prefaced.html.split_once("<p>To &lt;b>Gus&lt;/b> &amp; all</p>").unwrap();
    assert_eq!(format!("{}{after}", before.trim_end()), letter.html);
}
