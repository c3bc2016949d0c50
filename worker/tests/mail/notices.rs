//! What the notices besides the digest say, word for word.

use domain::{
    ids::{BowId, EventId, PartId},
    mail::{
        Change, ChangeWindow, EventNotice, EventWork, GoingBow, Since, StopNotice, StoppedPart,
        ToldWork,
    },
    parts::PartKind,
    rules::{Condition, RuleTask},
    safety::{CAUTIONS, FIRST},
};
use jiff::civil::date;
use uuid::Uuid;
use worker::mail::{Letter, RenderError, event, stop};

use crate::{
    golden::check_letter,
    letters::{bow, links, name},
};

const BASE_URL: &str = "https://tautline.example.org";

fn check_cautions(letter: &Letter) {
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    for caution in CAUTIONS.iter().chain([&FIRST]) {
        assert!(words(&letter.text).contains(caution), "{caution}");
        let escaped = caution.replace('\'', "&#39;");
        assert!(words(&letter.html).contains(&escaped), "{caution}");
    }
    assert!(letter.html.len() < 30_000 && letter.text.lines().all(|line| line.len() < 90));
}

fn stopped() -> StopNotice {
    let reason = "do not shoot: dry fire on 2027-05-31; a coach or owner inspects it and says why it \
                  may be shot again";
    let part = |kind, called| StoppedPart { kind, name: name(called), reason: reason.to_owned() };
    StopNotice {
        club: name("Invented Archers of Nowhere"),
        recipient: name("Ada Example"),
        bow: bow(1, "Ben's compound <38>"),
        archer: Some(name("Ben Example")),
        stopped: None,
        unreached: Vec::new(),
        parts: vec![
            part(PartKind::Bowstring, "24 strands"),
            part(PartKind::Cable, "Left cable & yoke"),
        ],
    }
}

#[test]
fn a_bow_that_must_not_be_shot_is_told_of_in_the_first_words() {
    let letter = stop::render(&stopped(), &links(BASE_URL)).unwrap();
    check_letter("stop", &letter);
    check_cautions(&letter);
    assert_eq!(letter.subject, "DO NOT SHOOT Ben's compound <38>: dry fire on Mon 31 May 2027");
}

#[test]
fn a_bow_without_parts_and_one_with_them_say_that_the_bow_is_not_to_be_shot() {
    let reason = "do not shoot: limb damage on 2027-05-31; a coach or owner inspects the bow and says \
                  why it may be shot again";
    let bare = StopNotice { stopped: Some(reason.to_owned()), parts: Vec::new(), ..stopped() };
    let letter = stop::render(&bare, &links(BASE_URL)).unwrap();
    check_letter("stop_bow", &letter);
    check_cautions(&letter);
    assert_eq!(letter.subject, "DO NOT SHOOT Ben's compound <38>: limb damage on Mon 31 May 2027");
    let hung = StopNotice { stopped: Some(reason.to_owned()), ..stopped() };
    check_letter("stop_bow_and_parts", &stop::render(&hung, &links(BASE_URL)).unwrap());
}

fn work(task: RuleTask, by: i8, condition: Condition, reason: &str) -> EventWork {
    EventWork {
        by: Some(date(2027, 6, by)),
        part_id: PartId(Uuid::from_u128(5)),
        part_kind: PartKind::Bowstring,
        part: name("String 2 of 2027"),
        task,
        condition,
        reason: reason.to_owned(),
    }
}

pub(crate) fn going() -> GoingBow {
    GoingBow {
        bow_id: BowId(Uuid::from_u128(1)),
        bow: name("Blue bow"),
        archer: name("Ada Example"),
        stopped: None,
        works: vec![
            work(RuleTask::Wax, 11, Condition::Due, "512 shots since last waxed; plan 500"),
            work(
                RuleTask::CheckNockingPoint,
                11,
                Condition::Sound,
                "700 shots since last set; plan 1,000",
            ),
            EventWork {
                by: None,
                ..work(
                    RuleTask::Change,
                    11,
                    Condition::Due,
                    "15,200 shots in all; plan 15,000; too late to settle in: leave it unless \
                     unsafe; take a spare that is shot in",
                )
            },
        ],
        change: ChangeWindow::Until(date(2027, 6, 3)),
        since: None,
    }
}

pub(crate) fn event(for_coach: bool, bows: Vec<GoingBow>) -> EventNotice {
    EventNotice {
        club: name("Invented Archers of Nowhere"),
        recipient: name(if for_coach { "Cleo Coach" } else { "Ada Example" }),
        for_coach,
        event_id: EventId(Uuid::from_u128(41)),
        event: name("Invented Spring Round"),
        starts_on: date(2027, 6, 12),
        ends_on: date(2027, 6, 13),
        version: 3,
        changed_at: "2027-05-30T09:00:00Z".parse().unwrap(),
        on: date(2027, 6, 1),
        days_left: 11,
        bows,
    }
}

#[test]
fn somebody_who_goes_is_told_what_their_bow_needs_by_when() {
    let letter = event::render(&event(false, vec![going()]), &links(BASE_URL)).unwrap();
    check_letter("event", &letter);
    check_cautions(&letter);
    let ready = GoingBow { works: Vec::new(), change: ChangeWindow::Closed, ..going() };
    check_letter(
        "event_ready",
        &event::render(&event(false, vec![ready]), &links(BASE_URL)).unwrap(),
    );
}

#[test]
fn a_coach_is_told_of_every_bow_that_goes() {
    let ready = GoingBow {
        bow_id: BowId(Uuid::from_u128(2)),
        since: None,
        bow: name("Ben's barebow"),
        archer: name("Ben Example"),
        stopped: Some(
            "do not shoot: dry fire on 2027-05-31; a coach or owner inspects it".to_owned(),
        ),
        works: Vec::new(),
        change: ChangeWindow::Unknown,
    };
    let letter = event::render(&event(true, vec![going(), ready]), &links(BASE_URL)).unwrap();
    check_letter("event_squad", &letter);
    check_cautions(&letter);
}

#[test]
fn a_summary_of_two_hundred_bows_stays_small_as_html_and_whole_as_text() {
    let bows = (0..200).map(|n| GoingBow { bow: name(&format!("Bow {n}")), ..going() }).collect();
    let letter = event::render(&event(true, bows), &links(BASE_URL)).unwrap();
    assert!(letter.html.len() < 30_000, "{}", letter.html.len());
    assert!(letter.html.contains("more bows: the plain text of this mail has all of them"));
    assert!((0..200).all(|n| letter.text.contains(&format!("Bow {n}\n"))
        || letter.text.contains(&format!("Bow {n} ("))));
}

#[test]
fn a_notice_of_nothing_is_refused() {
    let empty = event(false, Vec::new());
    assert!(matches!(event::render(&empty, &links(BASE_URL)), Err(RenderError::Empty)));
    let empty = StopNotice { parts: Vec::new(), ..stopped() };
    assert!(matches!(stop::render(&empty, &links(BASE_URL)), Err(RenderError::Empty)));
}

#[test]
fn each_mail_before_an_event_says_what_has_changed_since_the_last() {
    let told = |task, by| ToldWork {
        part: PartId(Uuid::from_u128(5)),
        part_kind: PartKind::Bowstring,
        task,
        by,
    };
    let changes = vec![
        Change::Stopped,
        Change::New(told(RuleTask::Wax, Some(date(2027, 6, 11)))),
        Change::Moved { work: told(RuleTask::Change, None), from: Some(date(2027, 6, 3)) },
        Change::Gone(told(RuleTask::Inspect, Some(date(2027, 6, 11)))),
        Change::Window { from: ChangeWindow::Until(date(2027, 6, 3)), to: ChangeWindow::Closed },
    ];
    let on = date(2027, 5, 29);
    let blue = GoingBow { since: Some(Since { on, changes }), ..going() };
    let same = Some(Since { on, changes: Vec::new() });
    let other = GoingBow { bow: name("Red bow"), since: same, ..going() };
    let letter = event::render(&event(false, vec![blue, other]), &links(BASE_URL)).unwrap();
    check_letter("event_since", &letter);
}

#[test]
fn what_a_stopped_bow_needs_waits_until_it_is_cleared() {
    let stopped = Some("do not shoot: dry fire on 2027-05-31; a coach inspects it".to_owned());
    let since = Some(Since { on: date(2027, 5, 29), changes: vec![Change::Stopped] });
    let bow = GoingBow { stopped, since, ..going() };
    let letter = event::render(&event(false, vec![bow]), &links(BASE_URL)).unwrap();
    for part in [&letter.text, &letter.html] {
        let part = part.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(part.contains("What else it needs waits until it has been inspected"), "{part}");
        assert!(!part.contains("By Fri 11 June: wax"), "{part}");
        assert!(!part.contains("To do now"), "{part}");
        assert!(!part.contains("If string or serving is to be changed"), "{part}");
    }
}
