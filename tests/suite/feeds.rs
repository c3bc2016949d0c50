//! Calendars to subscribe to: what stands in them, as two other programs read them, and who may read,
//! make and revoke one.

use domain::time::Clock;
use jiff::{
    SignedDuration, Span,
    civil::{Date, date},
};
use serde_json::{Value, json};

use crate::{
    bad_input::on_record,
    support::{Answer, Club, Kit, Neglected, Person, on_both, read_calendars},
};

const DAY: SignedDuration = SignedDuration::from_hours(24);

/// A calendar that somebody made: its id, and the path of its address.
struct Feed {
    id: String,
    path: String,
}

#[track_caller]
fn make(by: &Person, scope: &str) -> Feed {
    let answer = by.post("/feeds", &json!({"name": "Phone", "scope": scope}));
    assert_eq!(answer.header("cache-control"), "no-store");
    let made = answer.expect(201);
    let url = made["url"].as_str().unwrap();
    let path = url.strip_prefix("https://tautline.example/api/v1").unwrap().to_owned();
    assert_eq!(made["webcal_url"], url.replacen("https", "webcal", 1));
    // 24 bytes as base64 are 32 letters: 192 bits.
    let token = path.strip_prefix("/feeds/tlf_").and_then(|rest| rest.strip_suffix(".ics"));
    assert_eq!(token.map(str::len), Some(32), "{path}");
    Feed { id: made["id"].as_str().unwrap().to_owned(), path }
}

/// Its text, read as a calendar program would, without a proof.
#[track_caller]
fn text(club: &Club, feed: &Feed) -> String {
    let answer = club.anonymous().get(&feed.path);
    assert_eq!(answer.status, 200, "{answer}");
    assert_eq!(answer.header("content-type"), "text/calendar; charset=utf-8");
    assert_eq!(answer.header("cache-control"), "private, no-cache");
    String::from_utf8(answer.body).unwrap()
}

#[track_caller]
fn entries(club: &Club, feed: &Feed) -> Vec<Value> {
    let calendar = read_calendars(&[text(club, feed)]).remove(0);
    assert_eq!((&calendar["version"], &calendar["method"]), (&json!("2.0"), &Value::Null));
    assert_eq!(calendar["name"], "Bowmen of Invented Hill: Phone");
    assert_eq!(calendar["refresh"], "PT1H");
    calendar["entries"].as_array().unwrap().clone()
}

fn summaries(entries: &[Value]) -> Vec<&str> {
    entries.iter().map(|one| one["summary"].as_str().unwrap()).collect()
}

/// The one that begins with a word.
#[track_caller]
fn the<'a>(entries: &'a [Value], beginning: &str) -> &'a Value {
    let begins = |one: &&Value| one["summary"].as_str().unwrap().starts_with(beginning);
    let found: Vec<_> = entries.iter().filter(begins).collect();
    assert_eq!(found.len(), 1, "{beginning}: {entries:#?}");
    found[0]
}

/// Shoots a bow for four weeks, more in each: 500 shots, after which a string wants wax, come sooner than
/// the 14 days, but on no certain day.
fn shoot(club: &Club, kit: &Kit) {
    for n in (2..=28).step_by(2) {
        let on = date(2027, 2, 1) + Span::new().days(n - 1);
        let log = json!({"bow_id": kit.bow, "at": on.to_string(), "shots": 60 + 4 * n});
        club.owner().post("/shot-logs", &log).expect(201);
    }
}

/// A bow that was strung before it was shot, and looked after on the day before today.
fn strung_early(club: &Club, archer: &Person) -> Kit {
    let now = club.clock.now();
    club.clock.set("2027-02-02T09:00:00Z".parse().unwrap());
    let kit = Kit::of(club, club.owner(), Some(archer.id()));
    club.clock.set(now);
    shoot(club, &kit);
    for (part, task) in [(&kit.string, "waxed"), (&kit.serving, "inspected")] {
        let work = json!({"part_id": part, "task": task, "at": "2027-02-28T20:00:00Z"});
        club.owner().post("/upkeep", &work).expect(201);
    }
    kit
}

fn event(club: &Club, name: &str, entries: &Value) -> String {
    let event = json!({"name": name, "starts_on": "2027-03-20", "ends_on": "2027-03-21",
        "priority": "regular", "arrows_expected": 72});
    let made = club.owner().post("/events", &event).expect(201);
    let path = format!("/events/{}", made["id"].as_str().unwrap());
    let going = json!({"entries": entries});
    club.owner().put(&format!("{path}/entries"), "*", &going).expect(200);
    path
}

fn day(text: &Value) -> Date {
    text.as_str().unwrap().parse().unwrap()
}

/// On which days the work of a verdict stands by what the board says of it on 1 March, with the first day
/// that is over; nothing, if it has none.
fn foreseen((part, verdict): (&Value, &Value)) -> Option<(String, [Date; 2])> {
    let (today, due) = (date(2027, 3, 1), &verdict["due_on"]);
    if verdict["task"] == "settle_in" || due["p50_on"].is_null() {
        return None;
    }
    let days = |count: i64| Span::new().days(count);
    let middle = day(&due["p50_on"]);
    let late = due["p90_on"].as_str().map_or(middle + days(7), |late| late.parse().unwrap());
    let now = ["due", "overdue"].contains(&verdict["condition"].as_str().unwrap());
    let first = if now { today } else { day(&due["p10_on"]).max(middle - days(6)) };
    let last = if now { today } else { late.min(middle + days(7)).min(today + days(60)) };
    let (part, rule) = (part["id"].as_str().unwrap(), verdict["rule_id"].as_str().unwrap());
    let stands = (format!("work-{part}-{rule}-"), [first, last + days(1)]);
    (first <= today + days(60)).then_some(stands)
}

#[test]
fn work_stands_on_the_days_that_the_board_foresees() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        strung_early(&club, &archer);
        let entries = entries(&club, &make(&archer, "mine"));
        let board = archer.get("/board").expect(200);
        let parts = board["data"][0]["parts"].as_array().unwrap().iter();
        let verdicts = parts.flat_map(|part| {
            part["rules"].as_array().unwrap().iter().map(move |verdict| (part, verdict))
        });
        let expected: Vec<(String, [Date; 2])> = verdicts.filter_map(foreseen).collect();
        for (uid, [first, end]) in &expected {
            let same = |one: &&Value| one["uid"].as_str().unwrap().starts_with(uid);
            let one = entries.iter().find(same).unwrap_or_else(|| panic!("{uid}: {entries:#?}"));
            assert_eq!((day(&one["dtstart"]), day(&one["dtend"])), (*first, *end), "{one:#}");
            let kind = (&one["status"], &one["transparency"], &one["whole_days"]);
            assert_eq!(kind, (&json!("TENTATIVE"), &json!("TRANSPARENT"), &json!(true)));
            // 1 March 2027 is the day 2616 after 2020-01-01; what is reckoned has even numbers.
            let reckoned = (&one["sequence"], &one["stamp"]);
            assert_eq!(reckoned, (&json!(5232), &json!("2027-03-01T00:00:00Z")));
        }
        assert!(expected.len() > 2, "{expected:#?}");
        let wide = |(_, [first, end]): &(String, [Date; 2])| *first + Span::new().days(1) < *end;
        assert!(expected.iter().any(wide), "{expected:#?}");
        assert_eq!(entries.len(), expected.len(), "{entries:#?}");
        assert!(summaries(&entries).contains(&"Wax the string: Grey recurve"), "{entries:#?}");
    });
}

#[test]
fn an_event_stands_on_its_days_for_who_goes_and_is_taken_out_when_it_is_called_off() {
    on_both(|database| {
        let club = Club::start(database);
        let (ada, ben) = (club.archer("Ada Invented"), club.archer("Ben Invented"));
        let kit = Kit::of(&club, club.owner(), Some(ada.id()));
        let going = json!([{"member_id": ada.id().0, "bow_id": kit.bow}]);
        let path = event(&club, "Invented, Round; one", &going);
        let (of_ada, of_ben) = (make(&ada, "mine"), make(&ben, "mine"));
        let found = entries(&club, &of_ada);
        let round = the(&found, "Invented, Round; one");
        assert_eq!(
            (&round["dtstart"], &round["dtend"]),
            (&json!("2027-03-20"), &json!("2027-03-22"))
        );
        assert_eq!((&round["status"], &round["sequence"]), (&json!("CONFIRMED"), &json!(1)));
        assert_eq!(round["uid"], format!("event-{}@tautline.example", &path["/events/".len()..]));
        assert!(round["description"].as_str().unwrap().starts_with("Grey recurve\n"), "{round:#}");
        assert_eq!(entries(&club, &of_ben), Vec::<Value>::new());

        club.clock.advance(DAY);
        let moved = json!({"starts_on": "2027-03-27", "ends_on": "2027-03-28"});
        club.owner().patch(&path, "*", &moved).expect(200);
        let found = entries(&club, &of_ada);
        let round = the(&found, "Invented, Round");
        assert_eq!((&round["dtstart"], &round["sequence"]), (&json!("2027-03-27"), &json!(2)));
        assert_eq!(round["stamp"], "2027-03-02T09:00:00Z");
        let off = club.owner().delete(&path, "*");
        assert!((200..300).contains(&off.status), "{off}");
        let found = entries(&club, &of_ada);
        let round = the(&found, "Invented, Round");
        assert_eq!((&round["status"], &round["sequence"]), (&json!("CANCELLED"), &json!(3)));
        // Thirty days after its last day it is not shown any more.
        for (now, shown) in [("2027-04-27T09:00:00Z", true), ("2027-04-28T09:00:00Z", false)] {
            club.clock.set(now.parse().unwrap());
            let found = entries(&club, &of_ada);
            assert_eq!(summaries(&found).contains(&"Invented, Round; one"), shown, "{now}");
        }
    });
}

#[test]
fn a_bow_that_must_not_be_shot_stands_on_every_day_until_somebody_clears_it() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        let feed = make(&archer, "mine");
        let incident = json!({"bow_id": kit.bow, "kind": "dry_fire", "at": club.now()});
        archer.post("/incidents", &incident).expect(201);
        for on in ["2027-03-01", "2027-03-02"] {
            let found = entries(&club, &feed);
            let stop = the(&found, "DO NOT SHOOT");
            assert_eq!(stop["summary"], "DO NOT SHOOT Grey recurve: inspect it first");
            assert_eq!(stop["dtstart"], on);
            let description = stop["description"].as_str().unwrap();
            assert!(description.contains("dry fire on 2027-03-01"), "{description}");
            assert!(description.contains(domain::safety::FIRST), "{description}");
            // What is due is due; nobody shoots it until other work comes due.
            assert!(summaries(&found).iter().any(|one| one.starts_with("Due now: ")), "{found:#?}");
            let foreseen = summaries(&found).into_iter().find(|one| one.starts_with("Wax "));
            assert_eq!(foreseen, None, "{found:#?}");
            club.clock.advance(DAY);
        }
    });
}

#[test]
fn work_on_a_bow_that_somebody_disowned_stands_in_their_own_calendar_no_more() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        let of = Neglected::of(&club, Some(archer.id()));
        let (mine, all) = (make(&archer, "mine"), make(club.owner(), "squad"));
        the(&entries(&club, &mine), "Due now: ");
        club.sweep();
        let id = archer.get("/reminders").expect(200)["data"][0]["id"].clone();
        let path = format!("/reminders/{}/not-my-bow", id.as_str().unwrap());
        archer.post(&path, &json!({})).expect(200);
        event(&club, "Invented Round", &json!([{"member_id": archer.id().0, "bow_id": of.bow}]));
        assert_eq!(summaries(&entries(&club, &mine)), ["Invented Round"]);
        the(&entries(&club, &all), "Due now: ");
        let incident = json!({"bow_id": of.bow, "kind": "dry_fire", "at": club.now()});
        archer.post("/incidents", &incident).expect(201);
        let found = entries(&club, &mine);
        the(&found, "DO NOT SHOOT");
        assert_eq!(found.len(), 2, "{found:#?}");
        // Set anew, the bow is theirs to look after again.
        let anew = json!({"archer_member_id": archer.id().0});
        club.owner().patch(&format!("/bows/{}", of.bow), "*", &anew).expect(200);
        the(&entries(&club, &mine), "Due now: ");
    });
}

/// A coach with a minor of age fourteen and another archer in a squad; each has a bow and goes to an
/// event, as does somebody in no squad.
fn squad(club: &Club) -> (Person, Person) {
    let coach = club.coach("Cleo Invented");
    let archers = ["Tobin Larkmoor", "Ilse Hollowell", "Odo Fenwright"].map(|n| club.archer(n));
    let [minor, adult, other] = &archers;
    let body = json!({"name": "Thursdays", "coach_member_ids": [coach.id().0],
        "archer_member_ids": [minor.id().0, adult.id().0]});
    club.owner().post("/squads", &body).expect(201);
    let path = format!("/members/{}", minor.id().0);
    let guardian = json!({"minor_until": "2029-01-01", "guardian": {"name": "Gus Invented",
        "email": "gus@home.example", "consented_on": "2027-01-01"}});
    club.owner().patch(&path, "*", &guardian).expect(200);
    let going: Vec<Value> = [minor, adult, other]
        .into_iter()
        .map(|archer| {
            let kit = Kit::of(club, club.owner(), Some(archer.id()));
            let log = json!({"bow_id": kit.bow, "at": club.now(), "shots": 520});
            club.owner().post("/shot-logs", &log).expect(201);
            json!({"member_id": archer.id().0, "bow_id": kit.bow})
        })
        .collect();
    event(club, "Invented Round", &json!(going));
    let [minor, ..] = archers;
    (coach, minor)
}

#[test]
fn a_squads_calendar_names_minors_by_initials_and_nobodys_address() {
    on_both(|database| {
        let club = Club::start(database);
        let (coach, minor) = squad(&club);
        let feed = make(&coach, "squad");
        let (found, all) = (entries(&club, &feed), text(&club, &feed).replace("\r\n ", ""));
        let round = the(&found, "Invented Round");
        let lines: Vec<&str> = round["description"].as_str().unwrap().lines().collect();
        let mut going = lines[..2].to_vec();
        going.sort_unstable();
        // Who is in no squad of the coach's is not named.
        assert_eq!(going, ["Ilse Hollowell with Grey recurve", "T. L. with Grey recurve"]);
        assert_eq!(lines[2], "", "{lines:?}");
        let shot_by = |name: &str| all.matches(&format!("Shot by {name}\\n")).count();
        assert!(shot_by("T. L.") > 0 && shot_by("T. L.") == shot_by("Ilse Hollowell"), "{all}");
        for hidden in ["Tobin", "Larkmoor", "Odo", "Gus", "club.example", "home.example", "mailto"]
        {
            assert!(!all.contains(hidden), "{hidden} in {all}");
        }
        assert_eq!(all.matches('@').count(), all.matches("@tautline.example\r\n").count());
        // Of age they are named; so they are from that day on.
        club.clock.set("2029-01-01T09:00:00Z".parse().unwrap());
        event(&club, "Later", &json!([]));
        let by_owner = make(club.owner(), "squad");
        assert!(text(&club, &by_owner).replace("\r\n ", "").contains("Tobin Larkmoor"));
        minor.post("/feeds", &json!({"name": "Phone", "scope": "squad"})).problem(403);
    });
}

#[test]
fn nobody_reads_a_calendar_that_was_revoked_or_whose_owner_left() {
    on_both(|database| {
        let club = Club::start(database);
        let (ada, ben) = (club.archer("Ada Invented"), club.archer("Ben Invented"));
        let nobody = club.anonymous();
        let [own, by_owner, of_ben] = [make(&ada, "mine"), make(&ada, "mine"), make(&ben, "mine")];
        let listed = ada.get("/feeds").expect(200);
        let ids: Vec<&str> = listed["data"]
            .as_array()
            .unwrap()
            .iter()
            .map(|one| one["id"].as_str().unwrap())
            .collect();
        assert_eq!(ids, [&own.id, &by_owner.id]);
        assert!(!listed.to_string().contains("tlf_"), "{listed}");
        let path = |feed: &Feed| format!("/feeds/{}", feed.id);
        ben.delete(&path(&own), "").problem(403);
        club.neighbour().delete(&path(&own), "").problem(404);
        ada.delete("/feeds/01950000-0000-7000-8000-0000000000ff", "").problem(404);
        assert_eq!(nobody.get(&own.path).status, 200);
        for _ in 0..2 {
            assert_eq!(ada.delete(&path(&own), "").status, 204);
        }
        nobody.get(&own.path).problem(404);
        assert_eq!(club.owner().delete(&path(&by_owner), "").status, 204);
        nobody.get(&by_owner.path).problem(404);
        assert_eq!(ada.get("/feeds").expect(200)["data"], json!([]));

        assert_eq!(nobody.get(&of_ben.path).status, 200);
        assert_eq!(club.owner().delete(&format!("/members/{}", ben.id().0), "*").status, 204);
        nobody.get(&of_ben.path).problem(404);
        nobody.get("/feeds/tlf_nothing.ics").problem(404);
    });
}

#[test]
fn a_coach_who_is_none_any_more_reads_of_themselves_alone() {
    on_both(|database| {
        let club = Club::start(database);
        let (coach, _) = squad(&club);
        let feed = make(&coach, "squad");
        assert!(!entries(&club, &feed).is_empty());
        let path = format!("/members/{}", coach.id().0);
        club.owner().patch(&path, "*", &json!({"role": "archer"})).expect(200);
        assert_eq!(entries(&club, &feed), Vec::<Value>::new());
    });
}

#[test]
fn a_calendar_is_the_same_bytes_until_something_changed_and_reading_it_writes_nothing() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        let kit = strung_early(&club, &archer);
        let (feed, nobody) = (make(&archer, "mine"), club.anonymous());
        let before = on_record(database);
        let (first, answer) = (text(&club, &feed), nobody.get(&feed.path));
        let tag = answer.header("etag").to_owned();
        let again = |club: &Club| -> Answer {
            club.anonymous().get_with(&feed.path, &[("if-none-match", &tag)])
        };
        club.clock.advance(SignedDuration::from_hours(6));
        assert_eq!(text(&club, &feed), first);
        let same = again(&club);
        assert_eq!((same.status, same.body.len()), (304, 0));
        assert_eq!(nobody.send("HEAD", &format!("/api/v1{}", feed.path), None).status, 200);
        assert_eq!(on_record(database), before);
        let read_on = "SELECT CAST(COUNT(last_read_on) AS TEXT) AS text FROM feeds";
        assert_eq!(database.texts(read_on), ["0"]);
        let log = json!({"bow_id": kit.bow, "at": club.now(), "shots": 60});
        archer.post("/shot-logs", &log).expect(201);
        assert_eq!(again(&club).status, 200);
    });
}

#[test]
fn an_address_takes_no_other_method() {
    on_both(|database| {
        let club = Club::start(database);
        let feed = make(club.owner(), "mine");
        for method in ["POST", "PUT", "PATCH", "DELETE"] {
            let path = format!("/api/v1{}", feed.path);
            let refused = club.owner().send(method, &path, None);
            assert_eq!((refused.status, refused.header("allow")), (405, "GET, HEAD"), "{refused}");
        }
        club.anonymous().get("/feeds/.ics").problem(405);
        club.anonymous().get(&format!("{}?since=1", feed.path)).problem(422);
    });
}

#[test]
fn a_calendar_that_cannot_be_is_refused_field_by_field() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let good = json!({"name": "Phone", "scope": "mine"});
        for (name, value, code) in [
            ("name", json!(""), "empty"),
            ("name", json!("x".repeat(201)), "too_long"),
            ("name", json!("a\nb"), "control_character"),
            ("scope", json!("club"), "unknown_word"),
            ("scope", json!(1), "wrong_type"),
            ("token", json!("x"), "unknown_field"),
        ] {
            let mut body = good.clone();
            body[name] = value;
            owner.post("/feeds", &body).refuses(422, &format!("/{name}"), code);
        }
        club.anonymous().post("/feeds", &good).problem(401);
        assert_eq!(owner.get("/feeds").expect(200)["data"], json!([]));
        let once = owner.post_once("/feeds", "once", &good).expect(201);
        let again = owner.post_once("/feeds", "once", &good).expect(201);
        assert_eq!(
            (&again["id"], &again["url"], &again["webcal_url"]),
            (&once["id"], &Value::Null, &Value::Null)
        );
        for _ in 1..20 {
            owner.post("/feeds", &good).expect(201);
        }
        owner.post("/feeds", &good).refuses(409, "", "too_many_feeds");
    });
}
