//! Logging shots: batches, repeats, clocks that are wrong, and what is odd but kept.

use jiff::SignedDuration;
use serde_json::{Value, json};

use crate::support::{Club, Kit, Person, on_both};

fn entry(kit: &Kit, id: u32, shots: u32) -> Value {
    json!({"id": log_id(id), "bow_id": kit.bow, "at": "2027-03-01T08:30:00Z", "shots": shots})
}

fn log_id(number: u32) -> String {
    format!("01950000-0000-7000-8000-{number:012x}")
}

fn batch(mode: &str, entries: &[Value]) -> Value {
    json!({"mode": mode, "entries": entries})
}

fn outcomes(answer: &Value) -> Vec<&str> {
    let results = answer["results"].as_array().unwrap();
    results.iter().map(|result| result["outcome"].as_str().unwrap()).collect()
}

fn logs(by: &Person) -> usize {
    by.get("/shot-logs").expect(200)["data"].as_array().unwrap().len()
}

#[test]
fn an_atomic_batch_with_a_bad_entry_keeps_nothing_and_names_every_bad_one() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let mut elsewhere = entry(&kit, 3, 10);
        elsewhere["bow_id"] = json!(log_id(77));
        let entries = [entry(&kit, 1, 30), entry(&kit, 2, 0), elsewhere, entry(&kit, 1, 31)];
        let refused = owner.post("/shot-logs/batch", &batch("atomic", &entries));
        let problem = refused.problem(422);
        let errors = problem["errors"].as_array().unwrap();
        let named: Vec<_> = errors
            .iter()
            .map(|error| (error["pointer"].as_str().unwrap(), error["code"].as_str().unwrap()))
            .collect();
        assert_eq!(
            named,
            [
                ("/entries/1/shots", "too_few"),
                ("/entries/2/bow_id", "unknown_bow"),
                ("/entries/3/id", "id_taken")
            ]
        );
        assert_eq!((logs(owner), Kit::shots(owner, &kit.string)), (0, json!(0)));
    });
}

#[test]
fn a_batch_of_each_keeps_what_can_be_kept() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let entries =
            [entry(&kit, 1, 30), entry(&kit, 2, 2_001), entry(&kit, 1, 30), entry(&kit, 3, 5)];
        let answer = owner.post("/shot-logs/batch", &batch("each", &entries)).expect(200);
        assert_eq!(outcomes(&answer), ["new", "refused", "again", "new"]);
        assert_eq!(answer["results"][1]["errors"][0]["pointer"], "/entries/1/shots");
        assert_eq!(answer["results"][1]["shot_log"], Value::Null);
        assert_eq!(answer["parts"][0]["wear"]["shots"], 35);
        assert_eq!((logs(owner), Kit::shots(owner, &kit.serving)), (2, json!(35)));
    });
}

#[test]
fn a_log_counts_once_however_often_and_by_whichever_way_it_is_sent() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let log = entry(&kit, 1, 40);
        let first = owner.post("/shot-logs", &log).expect(201);
        let mut later = log.clone();
        // The phone sends it again an hour later, with the time it is by then.
        club.clock.advance(SignedDuration::from_hours(1));
        later["sent_at"] = json!("2027-03-01T10:00:00Z");
        for _ in 0..3 {
            let again = owner.post("/shot-logs", &later).expect(200);
            assert_eq!(again["shot_log"], first["shot_log"]);
        }
        let again =
            owner.post("/shot-logs/batch", &batch("atomic", &[log.clone(), log])).expect(200);
        assert_eq!(outcomes(&again), ["again", "again"]);
        for (field, value) in [
            ("shots", json!(41)),
            ("kind", json!("competition")),
            ("note", json!("another")),
            ("at", json!("2027-03-01T08:30:01Z")),
        ] {
            let mut other = later.clone();
            other[field] = value;
            owner.post("/shot-logs", &other).refuses(422, "/id", "id_taken");
        }
        assert_eq!((logs(owner), Kit::shots(owner, &kit.string)), (1, json!(40)));
    });
}

#[test]
fn the_same_log_from_many_phones_at_once_counts_once() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let phones: Vec<Person> = (0..8).map(|_| club.bearing(&owner.token().unwrap())).collect();
        let log = entry(&kit, 1, 40);
        let statuses: Vec<u16> = std::thread::scope(|scope| {
            let log = &log;
            let send = |phone: &Person| phone.post("/shot-logs", log).status;
            let sending: Vec<_> =
                phones.iter().map(|phone| scope.spawn(move || send(phone))).collect();
            sending.into_iter().map(|one| one.join().unwrap()).collect()
        });
        assert_eq!(statuses.iter().filter(|status| **status == 201).count(), 1, "{statuses:?}");
        assert_eq!(statuses.iter().filter(|status| **status == 200).count(), 7, "{statuses:?}");
        assert_eq!((logs(owner), Kit::shots(owner, &kit.string)), (1, json!(40)));
    });
}

#[test]
fn what_is_odd_is_kept_and_flagged() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let flags = |log: Value| owner.post("/shot-logs", &log).expect(201)["flags"].clone();
        let bare = Kit::bow(owner, None);
        let at = "2027-03-01T08:30:00Z";
        assert_eq!(
            flags(json!({"bow_id": bare, "at": at, "shots": 3})),
            json!(["no_string_fitted"])
        );
        assert_eq!(flags(json!({"bow_id": kit.bow, "at": at, "shots": 500})), json!([]));
        assert_eq!(
            flags(json!({"bow_id": kit.bow, "at": at, "shots": 501})),
            json!(["unusually_many_shots"])
        );
        // Strung yesterday at nine in the morning.
        assert_eq!(
            flags(json!({"bow_id": kit.bow, "at": "2027-02-28", "shots": 9})),
            json!(["fitting_changed_that_day"])
        );
        assert_eq!(
            flags(json!({"bow_id": kit.bow, "at": "2027-02-27", "shots": 11})),
            json!(["no_string_fitted"])
        );
        assert_eq!(flags(json!({"bow_id": kit.bow, "at": "2027-03-01", "shots": 1})), json!([]));
        assert_eq!(Kit::shots(owner, &kit.string), json!(500 + 501 + 9 + 1));
        assert_eq!(logs(owner), 6);
    });
}

#[test]
fn what_is_odd_in_a_batch_is_flagged_entry_by_entry() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let bare = Kit::bow(owner, None);
        let of = |bow: &str, at: &str, shots: u32| json!({"bow_id": bow, "at": at, "shots": shots});
        let mut skewed = of(&kit.bow, "2027-03-01T10:30:00Z", 5);
        skewed["sent_at"] = json!("2027-03-01T11:00:00Z");
        let entries = [
            of(&kit.bow, "2027-03-01T08:30:00Z", 30),
            of(&bare, "2027-03-01T08:30:00Z", 501),
            of(&kit.bow, "2027-02-28", 9),
            of(&kit.bow, "2027-03-01", 0),
            skewed,
        ];
        let answer = owner.post("/shot-logs/batch", &batch("each", &entries)).expect(200);
        let flags: Vec<&Value> =
            answer["results"].as_array().unwrap().iter().map(|one| &one["flags"]).collect();
        assert_eq!(
            flags,
            [
                &json!([]),
                &json!(["no_string_fitted", "unusually_many_shots"]),
                &json!(["fitting_changed_that_day"]),
                &json!([]),
                &json!(["clock_skew"]),
            ]
        );
    });
}

#[test]
fn what_was_off_and_on_again_within_a_day_changed_on_that_day() {
    on_both(|database| {
        let club = Club::start_at(database, "2027-03-03T18:00:00Z".parse().unwrap(), None);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        // Never as many twice, which could be one entry sent twice.
        let shots = std::cell::Cell::new(3);
        let flags = |day: &str| {
            shots.set(shots.get() + 1);
            let log = json!({"bow_id": kit.bow, "at": day, "shots": shots.get()});
            owner.post("/shot-logs", &log).expect(201)["flags"].clone()
        };
        assert_eq!(flags("2027-03-03"), json!([]));
        // The string never leaves; a point rides on it for an hour, and is gone by the evening.
        let point = Kit::part(owner, "nocking_point");
        let fitting = json!({"part_id": point, "host_part_id": kit.string,
            "at": "2027-03-03T10:00:00Z"});
        let fitted = owner.post("/fittings", &fitting).expect(201);
        let removal = format!("/fittings/{}/removal", fitted["id"].as_str().unwrap());
        owner.post(&removal, &json!({"at": "2027-03-03T11:00:00Z"})).expect(200);
        assert_eq!(flags("2027-03-03"), json!(["fitting_changed_that_day"]));

        // The same with the string itself, a day later.
        club.clock.set("2027-03-04T18:00:00Z".parse().unwrap());
        assert_eq!(flags("2027-03-04"), json!([]));
        let removal = format!("/fittings/{}/removal", kit.string_fitting);
        owner.post(&removal, &json!({"at": "2027-03-04T10:00:00Z"})).expect(200);
        let again = json!({"part_id": kit.string, "bow_id": kit.bow, "at": "2027-03-04T11:00:00Z"});
        owner.post("/fittings", &again).expect(201);
        assert_eq!(flags("2027-03-04"), json!(["fitting_changed_that_day"]));
    });
}

#[test]
fn a_date_stands_for_noon_at_the_club_and_today_for_no_later_than_now() {
    on_both(|database| {
        // Lisbon is an hour ahead of UTC in June.
        let club = Club::start_at(database, "2027-06-14T20:00:00Z".parse().unwrap(), None);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let at = |day: &str| {
            let log = json!({"bow_id": kit.bow, "at": day, "shots": 9});
            let body = owner.post("/shot-logs", &log).expect(201);
            assert_eq!(body["shot_log"]["date_only"], true);
            body["shot_log"]["at"].clone()
        };
        assert_eq!(at("2027-06-13"), "2027-06-13T11:00:00Z");
        assert_eq!(at("2027-01-13"), "2027-01-13T12:00:00Z");
        club.clock.set("2027-06-15T06:00:00Z".parse().unwrap());
        assert_eq!(at("2027-06-15"), "2027-06-15T06:00:00Z");
        let tomorrow = json!({"bow_id": kit.bow, "at": "2027-06-16", "shots": 9});
        owner.post("/shot-logs", &tomorrow).refuses(422, "/at", "in_future");
    });
}

#[test]
fn a_phone_whose_clock_is_wrong_is_put_right() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let log = |at: &str, sent_at: &str, shots: u32| {
            let log = json!({"bow_id": kit.bow, "at": at, "sent_at": sent_at, "shots": shots});
            owner.post("/shot-logs", &log)
        };
        // Two hours fast: what it calls half past ten was half past eight.
        let fast = log("2027-03-01T10:30:00Z", "2027-03-01T11:00:00Z", 5).expect(201);
        assert_eq!(fast["shot_log"]["at"], "2027-03-01T08:30:00Z");
        assert_eq!(fast["shot_log"]["clock_skew_s"], 7_200);
        assert_eq!(fast["flags"], json!(["clock_skew"]));
        // A year slow.
        let slow = log("2026-03-01T08:30:00Z", "2026-03-01T09:00:00Z", 6).expect(201);
        assert_eq!(slow["shot_log"]["at"], "2027-03-01T08:30:00Z");
        // Two minutes are the time that a message takes.
        let right = log("2027-03-01T08:30:00Z", "2027-03-01T08:58:00Z", 7).expect(201);
        assert_eq!(right["shot_log"]["at"], "2027-03-01T08:30:00Z");
        assert_eq!(
            (&right["shot_log"]["clock_skew_s"], &right["flags"]),
            (&Value::Null, &json!([]))
        );
        // It lies in the future even by its own clock.
        log("2027-03-01T12:00:00Z", "2027-03-01T11:00:00Z", 8).refuses(422, "/at", "in_future");
        assert_eq!(Kit::shots(owner, &kit.string), json!(18));
    });
}

#[test]
fn ten_minutes_into_the_future_are_taken_and_no_more() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let log =
            |at: &str| owner.post("/shot-logs", &json!({"bow_id": kit.bow, "at": at, "shots": 6}));
        log("2027-03-01T09:10:00Z").expect(201);
        log("2027-03-01T09:10:00.000001Z").refuses(422, "/at", "in_future");
    });
}

#[test]
fn a_log_counts_from_the_moment_of_fitting_until_just_before_the_removal() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let removal = json!({"at": "2027-03-01T08:00:00Z"});
        let path = format!("/fittings/{}/removal", kit.string_fitting);
        owner.post(&path, &removal).expect(200);
        for (at, shots) in [
            ("2027-02-28T08:59:59.999999Z", 1),
            ("2027-02-28T09:00:00Z", 10),
            ("2027-03-01T07:59:59.999999Z", 100),
            ("2027-03-01T08:00:00Z", 1_000),
        ] {
            let log = json!({"bow_id": kit.bow, "at": at, "shots": shots});
            owner.post("/shot-logs", &log).expect(201);
        }
        // The serving rides on the string and goes where it goes.
        assert_eq!(Kit::shots(owner, &kit.string), json!(110));
        assert_eq!(Kit::shots(owner, &kit.serving), json!(110));
    });
}
