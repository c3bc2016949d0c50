//! Logs come late, twice and in any order; wear and what is due come out the same, and equal to a
//! sum that this test does by itself.

use serde_json::{Value, json};
use store::testing::Fresh;

use crate::support::{Club, Kit, Transcript, on_both};

/// How many logs there are.
const LOGS: u32 = 1_000;
/// The days over which they spread, from the first of March on.
const DAYS: u32 = 28;
/// On that day the first bow gets its second string, at noon.
const RESTRUNG: u32 = 14;
/// On that day the second string is waxed, at noon.
const WAXED: u32 = 20;

/// Chance that repeats: Knuth's 64-bit linear congruential generator (MMIX), its upper half.
struct Chance(u64);

impl Chance {
    fn below(&mut self, bound: u32) -> u32 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        u32::try_from(self.0 >> 33).unwrap() % bound
    }

    /// Fisher and Yates' shuffle.
    fn shuffle<T>(&mut self, list: &mut [T]) {
        for at in (1..list.len()).rev() {
            let other = self.below(u32::try_from(at).unwrap() + 1);
            list.swap(at, usize::try_from(other).unwrap());
        }
    }
}

/// A log that is to be sent, before it is known what its bow's id is.
#[derive(Clone)]
struct Shot {
    number: u32,
    bow: usize,
    minute: u32,
    shots: u32,
}

impl Shot {
    fn body(&self, bows: &[String]) -> Value {
        json!({"id": format!("01950000-0000-7000-8000-{:012x}", self.number),
            "bow_id": bows[self.bow], "at": time_at(self.minute), "shots": self.shots})
    }
}

/// A minute of March, in UTC.
fn time_at(minute: u32) -> String {
    let (day, hour, minute) = (minute / 1_440 + 1, minute / 60 % 24, minute % 60);
    format!("2027-03-{day:02}T{hour:02}:{minute:02}:00Z")
}

/// Noon of a day, counted in minutes of March.
const fn noon(day: u32) -> u32 {
    (day - 1) * 1_440 + 720
}

/// The logs, by time.
fn season() -> Vec<Shot> {
    let mut chance = Chance(2_027);
    let mut season: Vec<Shot> = (0..LOGS)
        .map(|number| Shot {
            number,
            bow: usize::try_from(chance.below(2)).unwrap(),
            minute: chance.below(DAYS * 1_440),
            shots: 1 + chance.below(12),
        })
        .collect();
    season.sort_by_key(|shot| shot.minute);
    season
}

/// How the logs are sent: each item is one request.
type Requests = Vec<Vec<Shot>>;

fn in_order() -> Requests {
    season().chunks(100).map(<[Shot]>::to_vec).collect()
}

/// Every log twice, in no order; some alone, some in batches of up to thirty.
fn shuffled() -> Requests {
    let mut chance = Chance(99);
    let mut twice = [season(), season()].concat();
    chance.shuffle(&mut twice);
    let mut requests = Vec::new();
    let mut rest = twice.as_slice();
    while !rest.is_empty() {
        let length = if chance.below(3) > 0 { 1 } else { 2 + chance.below(29) };
        let length = usize::try_from(length).unwrap().min(rest.len());
        let (now, later) = rest.split_at(length);
        requests.push(now.to_vec());
        rest = later;
    }
    requests
}

/// What there is in the end: what every part shows, and what is due.
fn outcome(database: &Fresh, requests: &Requests) -> Transcript {
    let club = Club::start_at(database, "2027-03-29T09:00:00Z".parse().unwrap(), None);
    let owner = club.owner();
    let bows = [Kit::bow(owner, None), Kit::bow(owner, None)];
    let strings = ["string"; 3].map(|kind| Kit::part(owner, kind));
    let serving = Kit::part(owner, "center_serving");
    let fit = |part: &str, host: &str, host_id: &str, minute: u32| {
        let fitting = json!({"part_id": part, host: host_id, "at": time_at(minute)});
        owner.post("/fittings", &fitting).expect(201)["id"].as_str().unwrap().to_owned()
    };
    let first = fit(&strings[0], "bow_id", &bows[0], 0);
    let removal = json!({"at": time_at(noon(RESTRUNG))});
    owner.post(&format!("/fittings/{first}/removal"), &removal).expect(200);
    fit(&strings[1], "bow_id", &bows[0], noon(RESTRUNG));
    fit(&strings[2], "bow_id", &bows[1], 0);
    fit(&serving, "host_part_id", &strings[2], 0);

    for (number, request) in requests.iter().enumerate() {
        // Half of the way, so that logs of both sides come in before and after.
        if number == requests.len() / 2 {
            let waxed = json!({"part_id": strings[1], "task": "waxed",
                "at": time_at(noon(WAXED))});
            owner.post("/upkeep", &waxed).expect(201);
        }
        if let [alone] = request.as_slice() {
            let status = owner.post("/shot-logs", &alone.body(&bows)).status;
            assert!([200, 201].contains(&status), "{status}");
        } else {
            let entries: Vec<Value> = request.iter().map(|shot| shot.body(&bows)).collect();
            let batch = json!({"mode": "atomic", "entries": entries});
            owner.post("/shot-logs/batch", &batch).expect(200);
        }
    }
    check_sums(owner, &strings, &serving);
    let mut seen = Transcript::default();
    seen.note("what every part shows", &owner.get("/parts"));
    let due = seen.note("what is due", &owner.get("/due"));
    assert!(!due["data"].as_array().unwrap().is_empty(), "nothing is due: this compares nothing");
    seen
}

/// Compares with sums over the season itself.
fn check_sums(owner: &crate::support::Person, strings: &[String; 3], serving: &str) {
    let season = season();
    let sum = |counts: &dyn Fn(&&Shot) -> bool| -> u32 {
        season.iter().filter(counts).map(|shot| shot.shots).sum()
    };
    let first = sum(&|shot| shot.bow == 0 && shot.minute < noon(RESTRUNG));
    let second = sum(&|shot| shot.bow == 0 && shot.minute >= noon(RESTRUNG));
    let waxed = sum(&|shot| shot.bow == 0 && shot.minute >= noon(WAXED));
    let third = sum(&|shot| shot.bow == 1);
    assert!([first, second, waxed, third].iter().all(|sum| *sum > 100));
    for (part, expected) in
        [(&*strings[0], first), (&*strings[1], second), (&*strings[2], third), (serving, third)]
    {
        assert_eq!(Kit::shots(owner, part), json!(expected));
    }
    let string = owner.get(&format!("/parts/{}", strings[1])).expect(200);
    let rules = string["rules"].as_array().unwrap();
    let wax = rules.iter().find(|rule| rule["task"] == "wax").unwrap();
    let expected = format!("{waxed} shots since last waxed; plan 500");
    assert_eq!(wax["reason"], json!(expected));
}

#[test]
fn a_thousand_logs_shuffled_and_sent_twice_come_to_the_same_on_both_databases() {
    let [straight, straight_too] = on_both(|database| outcome(database, &in_order()));
    let [mixed, mixed_too] = on_both(|database| outcome(database, &shuffled()));
    for other in [&straight_too, &mixed, &mixed_too] {
        let difference = straight.first_difference(other);
        assert!(difference.is_none(), "{}", difference.unwrap());
    }
}

#[test]
fn the_shuffled_season_is_the_same_season_twice_and_really_shuffled() {
    let requests = shuffled();
    let mut numbers: Vec<u32> = requests.concat().iter().map(|shot| shot.number).collect();
    assert!(!numbers.is_sorted());
    numbers.sort_unstable();
    let twice: Vec<u32> = (0..LOGS).flat_map(|number| [number, number]).collect();
    assert_eq!(numbers, twice);
    assert!(requests.iter().any(|request| request.len() == 1));
    assert!(requests.iter().any(|request| request.len() > 20));
}
