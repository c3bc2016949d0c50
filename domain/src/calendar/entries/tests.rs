//! Which days entries stand on, and what they say.

use jiff::civil::date;
use uuid::Uuid;

use super::*;
use crate::ids::RuleId;

const TODAY: Date = date(2027, 3, 14);

fn name(text: &str) -> Name {
    Name::parse(text).unwrap()
}

fn work(cycle: &str) -> Work {
    let (part, rule) = (PartId(Uuid::from_u128(1)), RuleId(Uuid::from_u128(2)));
    Work { part, rule, cycle: cycle.to_owned() }
}

/// The entry of waxing a string in that condition, expected in that window.
fn waxing(condition: Condition, window: Option<(Date, Date)>) -> Option<Entry> {
    waxing_round("first", condition, window)
}

fn waxing_round(cycle: &str, condition: Condition, window: Option<(Date, Date)>) -> Option<Entry> {
    let (bow, part, host) = (name("Blue bow"), name("String 2"), Host::of("https://club.example"));
    let due = DueWork {
        work: &work(cycle),
        bow: &bow,
        archer: Some("T. L."),
        kind: PartKind::Bowstring,
        part: &part,
        task: RuleTask::Wax,
        condition,
        reason: "400 shots since last waxed; plan 500",
        window,
    };
    due.entry(Reckoned { on: TODAY, host: &host })
}

#[test]
fn work_that_is_due_stands_on_the_day_of_reckoning_whatever_was_expected() {
    let window = Some((date(2027, 4, 1), date(2027, 4, 9)));
    for (condition, summary) in [
        (Condition::Due, "Due now: wax the string: Blue bow"),
        (Condition::Overdue, "Overdue now: wax the string: Blue bow"),
    ] {
        let entry = waxing(condition, window).unwrap();
        assert_eq!((entry.summary.as_str(), entry.days), (summary, TODAY..=TODAY));
    }
}

#[test]
fn work_that_is_expected_stands_on_its_days_and_says_so() {
    let (first, last) = (date(2027, 4, 1), date(2027, 4, 9));
    let entry = waxing(Condition::Nearing, Some((first, last))).unwrap();
    assert_eq!(entry.summary, "Wax the string: Blue bow");
    assert_eq!(
        entry.description,
        format!(
            "String 2: 400 shots since last waxed; plan 500\nShot by T. L.\nExpected in these days, \
             if it is shot as of late.\n\n{FIRST}"
        )
    );
    assert_eq!(entry.days, first..=last);
    assert_eq!((entry.state, entry.transparent), (State::Tentative, true));
    // 2027-03-14 is the day 2629 after 2020-01-01: seven years, two of them leap years, and 72 days.
    assert_eq!(entry.sequence, 2 * (7 * 365 + 2 + 31 + 28 + 13));
    assert_eq!(entry.stamp, "2027-03-14T00:00:00Z".parse().unwrap());
}

#[test]
fn work_is_shown_for_sixty_days_and_no_longer() {
    let at = |first, last| waxing(Condition::Sound, Some((first, last))).map(|entry| entry.days);
    let furthest = date(2027, 5, 13); // 17 days of March, 30 of April, 13 of May
    assert_eq!(at(furthest, date(2027, 5, 20)), Some(furthest..=furthest));
    assert_eq!(at(date(2027, 5, 14), date(2027, 5, 20)), None);
    // What was expected before today is expected from today on.
    assert_eq!(at(date(2027, 3, 1), date(2027, 3, 20)), Some(TODAY..=date(2027, 3, 20)));
    assert_eq!(at(date(2027, 3, 1), date(2027, 3, 2)), Some(TODAY..=TODAY));
}

#[test]
fn what_nobody_can_tell_and_what_its_bow_says_has_no_entry() {
    assert_eq!(waxing(Condition::Nearing, None), None);
    let window = Some((TODAY, TODAY));
    assert_eq!(waxing(Condition::DoNotShoot, window), None);
    assert_eq!(waxing(Condition::Retired, window), None);
}

#[test]
fn the_next_round_of_the_work_is_another_entry() {
    let uid = |cycle| waxing_round(cycle, Condition::Due, None).unwrap().uid;
    assert_eq!(uid("first"), uid("first"));
    assert_ne!(uid("first"), uid("2027-03-01T10:00:00Z"));
}

fn occasion(event: &Name, called_off: bool) -> Occasion<'_> {
    Occasion {
        id: EventId(Uuid::from_u128(4)),
        name: event,
        days: (date(2027, 6, 12), date(2027, 6, 13)),
        version: 3,
        changed_at: "2027-05-30T09:00:00Z".parse().unwrap(),
        called_off,
    }
}

#[test]
fn an_event_stands_on_its_days_until_it_is_called_off() {
    let (event, host) = (name("Invented Round"), Host::of("https://club.example"));
    let on = occasion(&event, false).entry(&["Blue bow".to_owned()], &host);
    assert_eq!((on.state, on.sequence, on.transparent), (State::Confirmed, 2, false));
    assert_eq!(on.days, date(2027, 6, 12)..=date(2027, 6, 13));
    assert_eq!(on.description, format!("Blue bow\n\n{FIRST}"));
    let off = occasion(&event, true).entry(&["Blue bow".to_owned()], &host);
    assert_eq!((off.uid, off.state), (on.uid, State::Cancelled));
    assert!(off.description.starts_with("Called off.\n"), "{}", off.description);
}

/// The last day for waxing before the event.
const BY: Date = date(2027, 6, 11);

/// The entry of waxing before the event, as it is told on a day.
fn waxing_before(occasion: &Occasion<'_>, on: Date) -> Entry {
    let (bow, part, host) = (name("Blue bow"), name("String 2"), Host::of("https://club.example"));
    let due = BeforeEvent {
        bow: &bow,
        part: PartId(Uuid::from_u128(1)),
        kind: PartKind::Bowstring,
        part_name: &part,
        task: RuleTask::Wax,
        reason: "512 shots; plan 500",
    };
    occasion.work_before(BY, &due, Reckoned { on, host: &host })
}

/// The entry that takes out what was told on a day, if the event was called off at a moment.
fn waxing_no_more(event: &Name, told_on: Date, called_off_at: &str) -> Entry {
    let told = ToldWork {
        part: PartId(Uuid::from_u128(1)),
        part_kind: PartKind::Bowstring,
        task: RuleTask::Wax,
        by: Some(BY),
    };
    let off = Occasion { changed_at: called_off_at.parse().unwrap(), ..occasion(event, true) };
    off.no_more(&told, told_on, &Host::of("https://club.example")).unwrap()
}

#[test]
fn work_before_an_event_stands_on_its_last_day_and_goes_with_the_event() {
    let event = name("Invented Round");
    let on = waxing_before(&occasion(&event, false), TODAY);
    assert_eq!(on.summary, "Wax the string before Invented Round: Blue bow");
    assert_eq!((on.days.clone(), on.state), (BY..=BY, State::Tentative));
    let off = waxing_no_more(&event, TODAY, "2027-03-14T12:00:00Z");
    assert_eq!((off.uid, off.state), (on.uid, State::Cancelled));
}

#[test]
fn what_takes_work_out_counts_for_more_than_it_and_for_less_than_what_is_told_on_another_day() {
    let event = name("Invented Round");
    let (first, next) = (TODAY, TODAY.tomorrow().unwrap());
    let told = waxing_before(&occasion(&event, false), first);
    let again = waxing_before(&occasion(&event, false), next);
    // On that day, and on the one on which the work is told again.
    for called_off_at in ["2027-03-14T12:00:00Z", "2027-03-15T12:00:00Z"] {
        let off = waxing_no_more(&event, first, called_off_at);
        assert!(told.sequence < off.sequence, "{told:?} {off:?}");
        assert!(off.sequence < again.sequence, "{off:?} {again:?}");
        assert_eq!((&off.uid, &again.uid), (&told.uid, &told.uid));
    }
}

#[test]
fn a_bow_that_must_not_be_shot_stands_on_today() {
    let host = Host::of("https://club.example");
    let bow = name("Blue bow");
    let stopped = StoppedBow {
        id: BowId(Uuid::from_u128(9)),
        name: &bow,
        reason: "do not shoot: dry fire on 2027-03-12",
    };
    let entry = stopped.entry(Reckoned { on: TODAY, host: &host });
    assert_eq!(entry.summary, "DO NOT SHOOT Blue bow: inspect it first");
    assert_eq!((entry.days.clone(), entry.state), (TODAY..=TODAY, State::Confirmed));
    assert!(entry.description.contains("dry fire") && entry.description.contains(FIRST));
}
