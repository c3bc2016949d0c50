//! What a digest says, word for word: compared with files that a person has read.
//! `UPDATE_GOLDEN=1` writes them anew.

use domain::{
    bows::Bow,
    mail::DigestLine,
    parts::PartKind,
    rules::{Condition, RuleTask},
    safety::{CAUTIONS, FIRST},
};
use worker::mail::{RenderError, digest::render};

use crate::{
    golden::check_letter,
    letters::{bow, digest, line, links, name},
};

const BASE_URL: &str = "https://tautline.example.org";

/// Work of every urgency on four bows, one of which comes up twice with another between.
fn several() -> Vec<DigestLine> {
    let unsafe_serving = DigestLine {
        part_kind: PartKind::CenterServing,
        part: name("Serving of May"),
        task: RuleTask::Inspect,
        condition: Condition::DoNotShoot,
        reason: "graded unsafe at the inspection of 30 May".to_owned(),
        archer: Some(name("Ben Example")),
        ..line(bow(2, "Red bow"))
    };
    let old_string = DigestLine {
        task: RuleTask::Change,
        condition: Condition::Overdue,
        reason: "30,120 shots in all; retire at 30,000".to_owned(),
        archer: None,
        ..line(Bow { owner: None, archer: None, ..bow(3, "Club bow 7") })
    };
    let serving = DigestLine {
        part_kind: PartKind::CenterServing,
        part: name("Serving of March"),
        task: RuleTask::ReServe,
        condition: Condition::Nearing,
        reason: "2,750 shots in all; plan 3,000".to_owned(),
        ..line(bow(1, "Blue bow"))
    };
    let nocking = DigestLine {
        part_kind: PartKind::NockingPoint,
        part: name("Tied point"),
        task: RuleTask::CheckNockingPoint,
        condition: Condition::Nearing,
        reason: "900 shots and never set; plan 1,000".to_owned(),
        archer: None,
        ..line(Bow { archer: None, ..bow(4, "Spare bow") })
    };
    vec![unsafe_serving, old_string, line(bow(1, "Blue bow")), serving, nocking]
}

#[test]
fn one_piece_of_work_makes_a_short_mail() {
    let letter = render(&digest(vec![line(bow(1, "Blue bow"))]), &links(BASE_URL)).unwrap();
    assert_eq!(letter.subject, "Blue bow: wax the string - due, Tue 1 June");
    check_letter("digest_single", &letter);
}

#[test]
fn several_pieces_are_told_bow_by_bow() {
    let letter = render(&digest(several()), &links(BASE_URL)).unwrap();
    let subject = "Red bow: inspect the center serving - do not shoot, and 4 more, Tue 1 June";
    assert_eq!(letter.subject, subject);
    assert_eq!(letter.text.matches("\nBlue bow\n").count(), 1);
    check_letter("digest_several", &letter);
}

#[test]
fn each_part_is_complete_by_itself() {
    let letter = render(&digest(several()), &links(BASE_URL)).unwrap();
    let one_line = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let text = one_line(&letter.text);
    let html = one_line(&letter.html).replace("&#39;", "'").replace("&#34;", "\"");
    for part in [text, html] {
        for said in [FIRST].iter().chain(&CAUTIONS).chain(&[
            "Ada Example",
            "Tue 1 June 2027",
            "Invented Archers of Nowhere",
            "shot by Ben Example",
            "common practice, no source.",
            "A link under a piece of work opens a page whose button records your answer",
            BASE_URL,
        ]) {
            assert!(part.contains(said), "{said} is missing from {part}");
        }
        for line in several() {
            assert!(part.contains(&line.reason), "{} is missing", line.reason);
            assert!(part.contains(line.part.as_str()), "{} is missing", line.part);
        }
        assert!(part.contains("DO NOT SHOOT"));
        assert!(!part.contains("shot by Ada"), "the recipient knows whose their own bow is");
    }
}

#[test]
fn the_text_fits_72_columns_and_the_html_fetches_nothing() {
    let letter = render(&digest(several()), &links(BASE_URL)).unwrap();
    for line in letter.text.lines() {
        assert!(line.chars().count() <= 72, "too wide: {line}");
    }
    assert!(letter.html.len() <= 30_000, "{} bytes", letter.html.len());
    for fetching in ["src=", "<img", "<link", "<script", "url(", "@import", "srcset", "background"]
    {
        assert!(!letter.html.contains(fetching), "{fetching} found");
    }
}

#[test]
fn a_name_that_looks_like_markup_is_shown_as_typed() {
    let odd = "<b>x</b> & \"y\"";
    let mut digest = digest(vec![DigestLine { part: name(odd), ..line(bow(1, odd)) }]);
    digest.club = name("<script>alert(1)</script>");
    let letter = render(&digest, &links(BASE_URL)).unwrap();
    assert_eq!(letter.subject, format!("{odd}: wax the string - due, Tue 1 June"));
    assert!(letter.text.contains(odd));
    assert!(!letter.html.contains("<b>x") && !letter.html.contains("<script"));
    let escaped = "&#60;b&#62;x&#60;/b&#62; &#38; &#34;y&#34;";
    assert_eq!(letter.html.matches(escaped).count(), 2, "{}", letter.html);
}

#[test]
fn a_long_name_is_cut_in_the_subject_and_nowhere_else() {
    let long = "弓x".repeat(100);
    let mut lines = several();
    lines[0].bow.name = name(&long);
    let letter = render(&digest(lines), &links(BASE_URL)).unwrap();
    assert_eq!(letter.subject.chars().count(), 100);
    let end = "…: inspect the center serving - do not shoot, and 4 more, Tue 1 June";
    assert!(letter.subject.ends_with(end), "{}", letter.subject);
    assert!(letter.text.contains(&long) && letter.html.contains(&long));
}

#[test]
fn the_longest_subject_stays_near_100_characters() {
    for &task in RuleTask::ALL {
        for &part_kind in PartKind::ALL {
            let mut one = line(bow(1, &"x".repeat(200)));
            (one.task, one.part_kind, one.condition) = (task, part_kind, Condition::DoNotShoot);
            let mut digest = digest(vec![one; 1_000]);
            digest.on = jiff::civil::date(2027, 9, 29);
            let subject = render(&digest, &links(BASE_URL)).unwrap().subject;
            assert!(subject.chars().count() <= 100, "{subject}");
            assert!(subject.ends_with(", and 999 more, Wed 29 September"), "{subject}");
        }
    }
}

#[test]
fn a_huge_digest_keeps_all_of_its_text_and_says_what_its_html_leaves_out() {
    let lines: Vec<_> =
        (0..300).map(|i| line(bow(i, &format!("{i}{}", "<".repeat(190))))).collect();
    let letter = render(&digest(lines), &links(BASE_URL)).unwrap();
    assert!(letter.html.len() <= 30_000, "{} bytes", letter.html.len());
    let shown = letter.html.matches("<h2").count() - 1;
    assert!(shown >= 10, "only {shown} bows shown");
    let more = format!("And {} more, less urgent", 300 - shown);
    assert!(letter.html.contains(&more), "{more} is missing");
    assert_eq!(letter.text.matches("Wax the string").count(), 300);
}

#[test]
fn a_digest_of_nothing_is_refused() {
    assert!(matches!(render(&digest(vec![]), &links(BASE_URL)), Err(RenderError::Empty)));
}

#[test]
fn a_bow_that_must_not_be_shot_is_told_as_such_before_its_work() {
    let stopped =
        Some("do not shoot: dry fire on 2027-05-31; a coach or owner inspects it".to_owned());
    let letter =
        render(&digest(vec![DigestLine { stopped, ..line(bow(1, "Blue bow")) }]), &links(BASE_URL));
    check_letter("digest_stopped", &letter.unwrap());
}
