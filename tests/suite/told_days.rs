//! What stands in the calendar of somebody who takes in every mail of an event: the days by which work is
//! wanted as long as the event is on its days, and none of them afterwards.

use std::collections::BTreeMap;

use jiff::SignedDuration;
use serde_json::{Value, json};

use crate::support::{Club, Kit, on_both, read_calendars};

const DAY: SignedDuration = SignedDuration::from_hours(24);

/// A club in which one person keeps two bows that two archers go to an event with, on 20 and 21 March.
struct Kept {
    club: Club,
    event: String,
}

impl Kept {
    fn of(database: &store::testing::Fresh) -> Self {
        let club = Club::start(database);
        let keeper = club.archer("Kaya Invented");
        let archers = ["Ada Invented", "Ben Invented"].map(|name| club.archer(name));
        let bows = archers.each_ref().map(|archer| {
            let kit = Kit::of(&club, club.owner(), Some(archer.id()));
            let kept = json!({"keeper_member_id": keeper.id().0});
            club.owner().patch(&format!("/bows/{}", kit.bow), "*", &kept).expect(200);
            kit.bow
        });
        let going = [(&archers[0], &bows[0]), (&archers[1], &bows[1])];
        let event = club.event("Invented Round", "2027-03-20", &going);
        club.sweep();
        Self { club, event: format!("/events/{}", event.0) }
    }

    fn moves(&self) {
        let moved = json!({"starts_on": "2027-03-27", "ends_on": "2027-03-28"});
        self.club.owner().patch(&self.event, "*", &moved).expect(200);
    }

    fn is_called_off(&self) {
        assert_eq!(self.club.owner().delete(&self.event, "*").status, 204);
    }

    /// Time goes by, then the worker does all there is to do.
    fn after(&self, time: SignedDuration) {
        self.club.clock.advance(time);
        self.club.sweep();
        self.club.sweep();
    }

    /// The state of each piece of work before the event in the keeper's calendar, by its id. The entry of
    /// the highest number counts, and of two with the same the later one (RFC 5546, section 2.1.5).
    fn calendar(&self) -> BTreeMap<String, String> {
        let mails = self.club.mails();
        let theirs = |mail: &&Value| mail["to"][0].as_str().unwrap().contains("kaya.invented@");
        let texts = mails
            .iter()
            .filter(theirs)
            .filter_map(|mail| mail["calendars"][0]["text"].as_str().map(str::to_owned));
        let mut last: BTreeMap<String, (i64, String, String)> = BTreeMap::new();
        for calendar in read_calendars(&texts.collect::<Vec<_>>()) {
            for entry in calendar["entries"].as_array().unwrap() {
                let text = |name: &str| entry[name].as_str().unwrap().to_owned();
                let now = (entry["sequence"].as_i64().unwrap(), text("stamp"), text("status"));
                if text("uid").starts_with("before-") {
                    let known = last.entry(text("uid")).or_insert_with(|| now.clone());
                    let (one, other) = ((known.0, &known.1), (now.0, &now.1));
                    // Two that nothing tells apart say the same.
                    assert!(one != other || known.2 == now.2, "{known:?} {now:?}");
                    if other > one {
                        *known = now;
                    }
                }
            }
        }
        last.into_iter().map(|(uid, (_, _, status))| (uid, status)).collect()
    }

    /// How many pieces of work stand in the calendar in which state, if all are in the same.
    #[track_caller]
    fn all_are(&self, state: &str) -> usize {
        let calendar = self.calendar();
        assert!(calendar.values().all(|one| one == state), "{state}: {calendar:#?}");
        calendar.len()
    }
}

#[test]
fn the_work_on_each_of_two_bows_is_taken_out_with_the_day_of_the_event() {
    on_both(|database| {
        let kept = Kept::of(database);
        kept.after(DAY);
        let told = kept.all_are("TENTATIVE");
        assert!(
            told >= 2 && told.is_multiple_of(2),
            "both bows need the same: {:#?}",
            kept.calendar()
        );
        kept.is_called_off();
        kept.after(SignedDuration::from_mins(5));
        assert_eq!(kept.all_are("CANCELLED"), told);
    });
}

#[test]
fn work_for_an_event_that_moved_is_taken_out_and_stands_again_when_it_is_told_again() {
    on_both(|database| {
        let kept = Kept::of(database);
        kept.after(DAY);
        let told = kept.all_are("TENTATIVE");
        // At half past five in the morning of the day on which the next mail of the event goes out.
        kept.club.clock.advance(SignedDuration::from_mins(20 * 60 + 30));
        kept.moves();
        kept.club.sweep();
        for _ in 0..2 {
            kept.after(SignedDuration::from_hours(2));
        }
        let again = kept.all_are("TENTATIVE");
        assert!(again >= told, "{:#?}", kept.calendar());
        kept.is_called_off();
        kept.after(SignedDuration::from_hours(2));
        assert_eq!(kept.all_are("CANCELLED"), again);
    });
}

#[test]
fn work_that_was_told_days_after_it_was_planned_is_taken_out_too() {
    on_both(|database| {
        let kept = Kept::of(database);
        // Nothing was sent on the day for which the mail was planned.
        kept.after(DAY * 3);
        let told = kept.all_are("TENTATIVE");
        assert!(told >= 2, "{:#?}", kept.calendar());
        kept.is_called_off();
        kept.after(SignedDuration::from_mins(5));
        assert_eq!(kept.all_are("CANCELLED"), told);
    });
}
