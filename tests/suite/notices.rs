//! Mail that is no digest: a bow that must not be shot, and the days before an event.

use std::collections::BTreeSet;

use domain::mail::{MailKind, MailState};
use jiff::SignedDuration;
use serde_json::{Value, json};

use crate::support::{Club, Kit, Neglected, Person, on_both};

const DAY: SignedDuration = SignedDuration::from_hours(24);

/// The mails that went out to somebody, by subject.
fn to<'a>(mails: &'a [Value], address: &str) -> Vec<&'a Value> {
    let theirs = |mail: &&Value| mail["to"][0].as_str().is_some_and(|to| to.contains(address));
    let mut found: Vec<&Value> = mails.iter().filter(theirs).collect();
    found.sort_by_key(|mail| mail["subject"].to_string());
    found
}

fn squad(club: &Club, coach: &Person, archer: &Person) {
    let body = json!({"name": "Invented squad", "coach_member_ids": [coach.id().0],
        "archer_member_ids": [archer.id().0]});
    club.owner().post("/squads", &body).expect(201);
}

fn states(club: &Club, kind: MailKind) -> Vec<MailState> {
    let outbox = club.outbox();
    let of_kind = outbox.iter().filter(|posted| posted.mail.kind == kind);
    of_kind.map(|posted| posted.mail.state).collect()
}

#[test]
fn a_dry_fire_is_told_at_once_and_once_to_archer_guardian_and_coach() {
    on_both(|database| {
        let club = Club::start(database);
        let (archer, coach) = (club.archer("Ada Invented"), club.coach("Cleo Invented"));
        squad(&club, &coach, &archer);
        let path = format!("/members/{}", archer.id().0);
        let member = club.owner().get(&path);
        let minor = json!({"minor_until": "2029-01-01", "guardian": {"name": "Gus Invented",
            "email": "gus@home.example", "consented_on": "2027-01-01"}});
        club.owner().patch(&path, member.header("etag"), &minor).expect(200);
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        let incident = json!({"bow_id": kit.bow, "kind": "dry_fire", "at": club.now()});
        archer.post("/incidents", &incident).expect(201);
        // Nobody waits for the morning.
        let swept = club.sweep();
        assert_eq!(swept["deliver_mail"], 2, "{swept}");
        assert_eq!(states(&club, MailKind::Stop), [MailState::Sent; 2]);
        club.sweep();
        assert_eq!(states(&club, MailKind::Stop).len(), 2);
        let mails = club.mails();
        let told = to(&mails, "ada.invented@");
        let [mail] = told.as_slice() else { panic!("{told:#?}") };
        assert_eq!(mail["subject"], "DO NOT SHOOT Grey recurve: dry fire on Mon 1 March 2027");
        assert_eq!(mail["cc"], json!(["Gus Invented <gus@home.example>"]));
        assert_eq!(mail["defects"], json!([]));
        assert_eq!(mail["html_problems"], json!([]));
        assert_eq!(to(&mails, "cleo.invented@").len(), 1);
        let reminders = archer.get("/reminders").expect(200);
        let stops = reminders["data"].as_array().unwrap().iter();
        assert_eq!(stops.filter(|one| one["kind"] == "stop" && one["state"] == "sent").count(), 3);
    });
}

#[test]
fn a_stop_that_was_lifted_before_anybody_looked_is_not_told() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        let condition = || {
            let serving = archer.get(&format!("/parts/{}", kit.serving)).expect(200);
            serving["condition"].clone()
        };
        let found = json!({"part_id": kit.serving, "task": "inspected", "at": club.now(),
            "findings": [{"finding": "serving_separation", "grade": 3}]});
        archer.post("/upkeep", &found).expect(201);
        assert_eq!(condition(), "do_not_shoot");
        club.clock.advance(SignedDuration::from_mins(1));
        let cleared = json!({"part_id": kit.serving, "task": "inspected", "at": club.now(),
            "note": "Looked at it again: it was a loose thread"});
        club.owner().post("/upkeep", &cleared).expect(201);
        assert_eq!(condition(), "sound");
        club.sweep();
        assert_eq!(states(&club, MailKind::Stop), []);
    });
}

/// An event on 2027-03-20 to which the archer goes with the bow; its id.
fn event(club: &Club, archer: &Person, kit: &Kit) -> String {
    let event = json!({"name": "Invented Round", "starts_on": "2027-03-20",
        "ends_on": "2027-03-21", "priority": "regular", "arrows_expected": 72});
    let event = club.owner().post("/events", &event).expect(201);
    let event = event["id"].as_str().unwrap().to_owned();
    enter(club, &event, &[json!({"member_id": archer.id().0, "bow_id": kit.bow})]);
    event
}

fn enter(club: &Club, event: &str, entries: &[Value]) {
    let read = club.owner().get(&format!("/events/{event}"));
    let path = format!("/events/{event}/entries");
    club.owner().put(&path, read.header("etag"), &json!({"entries": entries})).expect(200);
}

fn subject(mail: &Value) -> &str {
    mail["subject"].as_str().unwrap()
}

#[test]
fn before_an_event_each_stage_is_told_once_to_who_goes_and_to_the_coach() {
    on_both(|database| {
        let club = Club::start(database);
        let (archer, coach) = (club.archer("Ada Invented"), club.coach("Cleo Invented"));
        squad(&club, &coach, &archer);
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        event(&club, &archer, &kit);
        // 2027-03-01: 19 days are left, so the stage of 28 days has been reached.
        club.sweep();
        assert_eq!(states(&club, MailKind::Event), [MailState::Due]);
        assert_eq!(states(&club, MailKind::Squad), [MailState::Due]);
        for _ in 0..18 {
            club.clock.advance(DAY);
            club.sweep();
            club.sweep();
        }
        // 28, 14, 7 and 2 days before: there is work by then each time.
        assert_eq!(states(&club, MailKind::Event), [MailState::Sent; 4]);
        assert_eq!(states(&club, MailKind::Squad), [MailState::Sent; 4]);
        let mails = club.mails();
        let mut rounds = to(&mails, "ada.invented@");
        rounds.retain(|mail| subject(mail).starts_with("Invented Round, Sat 20 March"));
        assert_eq!(rounds.len(), 4);
        for mail in rounds {
            assert!(mail["text"].as_str().unwrap().contains("wax the string"), "{mail:#}");
            assert_eq!((&mail["defects"], &mail["html_problems"]), (&json!([]), &json!([])));
        }
    });
}

#[test]
fn until_when_a_string_may_be_changed_goes_by_the_rule_that_speaks_for_it() {
    on_both(|database| {
        let club = Club::start(database);
        let (ada, ben) = (club.archer("Ada Invented"), club.archer("Ben Invented"));
        let [of_ada, of_ben] =
            [&ada, &ben].map(|archer| Kit::of(&club, club.owner(), Some(archer.id())));
        // 20 shots on each of the 28 days before 2 March: 140 a week.
        for (kit, day) in
            [&of_ada, &of_ben].into_iter().flat_map(|kit| (1..=28).map(move |n| (kit, n)))
        {
            let on = jiff::civil::date(2027, 2, 1) + jiff::Span::new().days(day);
            let log = json!({"bow_id": kit.bow, "at": on.to_string(), "shots": 20});
            club.owner().post("/shot-logs", &log).expect(201);
        }
        let sooner = json!({"part_kind": "string", "task": "settle_in", "shots": {"plan": 100},
            "scope": {"of": "bow", "bow_id": of_ben.bow}});
        club.owner().post("/rules", &sooner).expect(201);
        let event = event(&club, &ada, &of_ada);
        let entry = |of: &Person, kit: &Kit| json!({"member_id": of.id().0, "bow_id": kit.bow});
        enter(&club, &event, &[entry(&ada, &of_ada), entry(&ben, &of_ben)]);
        club.sweep();
        club.clock.advance(DAY);
        club.sweep();
        let mails = club.mails();
        // (200 + 72) / 140 weeks are 13.6 days, so 14 before 20 March; (100 + 72) / 140 are 8.6, so 9.
        for (address, day) in [("ada.invented@", "Sat 6 March"), ("ben.invented@", "Thu 11 March")]
        {
            let told = to(&mails, address);
            let mut texts =
                told.iter().map(|mail| mail["text"].as_str().unwrap().replace('\n', " "));
            let words = format!("then by {day} at the");
            assert!(texts.any(|text| text.contains(&words)), "{words}: {told:#?}");
        }
    });
}

#[test]
fn an_event_that_is_called_off_and_a_bow_that_stays_home_are_not_told_of() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        let (off, home) = (event(&club, &archer, &kit), event(&club, &archer, &kit));
        club.sweep();
        assert_eq!(states(&club, MailKind::Event), [MailState::Due; 2]);
        let read = club.owner().get(&format!("/events/{off}"));
        let called_off = club.owner().delete(&format!("/events/{off}"), read.header("etag"));
        assert!((200..300).contains(&called_off.status), "{called_off}");
        enter(&club, &home, &[]);
        club.clock.advance(DAY);
        club.sweep();
        assert_eq!(states(&club, MailKind::Event), [MailState::Cancelled; 2]);
        assert_eq!(states(&club, MailKind::Squad), [MailState::Cancelled; 2]);
    });
}

#[test]
fn an_event_that_was_moved_is_told_anew() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        let event = event(&club, &archer, &kit);
        club.sweep();
        club.clock.advance(DAY);
        club.sweep();
        assert_eq!(states(&club, MailKind::Event), [MailState::Sent]);
        let path = format!("/events/{event}");
        let read = club.owner().get(&path);
        let moved = json!({"starts_on": "2027-03-27", "ends_on": "2027-03-28"});
        club.owner().patch(&path, read.header("etag"), &moved).expect(200);
        club.sweep();
        club.clock.advance(DAY);
        club.sweep();
        assert_eq!(states(&club, MailKind::Event), [MailState::Sent; 2]);
        assert!(club.mails().iter().any(|mail| subject(mail).contains("Sat 27 March")));
    });
}

#[test]
fn a_second_bow_that_is_entered_after_the_mail_is_told_in_another() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        let kits = [(); 2].map(|()| Kit::of(&club, club.owner(), Some(archer.id())));
        let event = event(&club, &archer, &kits[0]);
        club.sweep();
        club.clock.advance(DAY);
        club.sweep();
        assert_eq!(states(&club, MailKind::Event), [MailState::Sent]);
        let both =
            kits.each_ref().map(|kit| json!({"member_id": archer.id().0, "bow_id": kit.bow}));
        enter(&club, &event, &both);
        club.sweep();
        assert_eq!(states(&club, MailKind::Event), [MailState::Sent, MailState::Due]);
        // Taken out before the mail went, and in again: it is told all the same.
        enter(&club, &event, &both[..1]);
        club.clock.advance(DAY);
        club.sweep();
        assert_eq!(states(&club, MailKind::Event), [MailState::Sent, MailState::Cancelled]);
        enter(&club, &event, &both);
        club.sweep();
        club.clock.advance(DAY);
        club.sweep();
        let states = states(&club, MailKind::Event);
        assert_eq!(states, [MailState::Sent, MailState::Cancelled, MailState::Sent]);
    });
}

#[test]
fn one_row_that_cannot_be_keeps_nobody_else_from_being_told() {
    on_both(|database| {
        let club = Club::start(database);
        let archers = ["Ada Invented", "Ben Invented"].map(|name| club.archer(name));
        for archer in &archers {
            let kit = Kit::of(&club, club.owner(), Some(archer.id()));
            let incident = json!({"bow_id": kit.bow, "kind": "limb_damage", "at": club.now()});
            archer.post("/incidents", &incident).expect(201);
        }
        database.execute("UPDATE members SET email = 'broken' WHERE name = 'Ada Invented'");
        club.sweep();
        let mails = club.mails();
        assert_eq!(to(&mails, "ben.invented@").len(), 1, "{mails:#?}");
    });
}

#[test]
fn who_disowned_a_bow_hears_before_an_event_only_of_one_they_go_with() {
    on_both(|database| {
        let club = Club::start(database);
        let (archer, keeper) = (club.archer("Ada Invented"), club.archer("Kit Invented"));
        let goes = club.archer("Gil Invented");
        let of = Neglected::of(&club, Some(archer.id()));
        let kept = json!({"keeper_member_id": keeper.id().0});
        club.owner().patch(&format!("/bows/{}", of.bow), "*", &kept).expect(200);
        club.sweep();
        for who in [&archer, &keeper] {
            let theirs = who.get("/reminders").expect(200);
            let id = theirs["data"][0]["id"].as_str().unwrap();
            let path = format!("/reminders/{id}/not-my-bow");
            who.post(&path, &json!({})).expect(200);
        }
        let other = json!({"name": "Invented Round", "starts_on": "2027-03-20",
            "ends_on": "2027-03-21", "priority": "regular", "arrows_expected": 72});
        for (who, name) in [(&goes, "Invented Round"), (&archer, "Invented Cup")] {
            let mut event = other.clone();
            event["name"] = json!(name);
            let event = club.owner().post("/events", &event).expect(201);
            let entry = json!({"member_id": who.id().0, "bow_id": of.bow});
            enter(&club, event["id"].as_str().unwrap(), &[entry]);
        }
        club.sweep();
        club.clock.advance(DAY);
        club.sweep();
        let all = club.outbox().into_iter();
        let told = all.filter(|one| one.mail.kind == MailKind::Event);
        let told: BTreeSet<_> = told.map(|one| one.mail.recipient).collect();
        assert_eq!(told, BTreeSet::from([goes.id(), archer.id()]));
        let mails = club.mails();
        assert!(to(&mails, "kit.invented@").is_empty(), "{mails:#?}");
        let rounds =
            |address: &str| to(&mails, address).into_iter().map(subject).collect::<Vec<_>>();
        let (theirs, others) = (rounds("ada.invented@"), rounds("gil.invented@"));
        assert!(theirs.iter().all(|one| one.starts_with("Invented Cup")), "{theirs:?}");
        assert!(others.iter().all(|one| one.starts_with("Invented Round")), "{others:?}");
        assert_eq!((theirs.len(), others.len()), (1, 1));
    });
}
