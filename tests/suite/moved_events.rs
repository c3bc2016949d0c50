//! An event that is moved, shortened or called off after its mails went out: put right by a mail of its own,
//! and only where somebody would act on a day that is wrong. And what each mail says that has changed.

use domain::mail::{MailKind, MailState};
use jiff::SignedDuration;
use serde_json::{Value, json};

use crate::support::{Club, Kit, Person, on_both};

const DAY: SignedDuration = SignedDuration::from_hours(24);

fn states(club: &Club, kind: MailKind) -> Vec<MailState> {
    let outbox = club.outbox();
    let of_kind = outbox.iter().filter(|posted| posted.mail.kind == kind);
    of_kind.map(|posted| posted.mail.state).collect()
}

fn one_line(mail: &Value) -> String {
    mail["text"].as_str().unwrap().split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A club of which one archer has been told of an event from 20 to 21 March.
struct Told {
    club: Club,
    archer: Person,
    kit: Kit,
    event: String,
}

impl Told {
    fn of(database: &store::testing::Fresh) -> Self {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        let event = club.event("Invented Round", "2027-03-20", &[(&archer, &kit.bow)]);
        club.sweep();
        club.clock.advance(DAY);
        club.sweep();
        assert_eq!(states(&club, MailKind::Event), [MailState::Sent]);
        Self { club, archer, kit, event: event.0.to_string() }
    }

    fn change(&self, change: &Value) {
        let path = format!("/events/{}", self.event);
        let read = self.club.owner().get(&path);
        self.club.owner().patch(&path, read.header("etag"), change).expect(200);
    }

    fn call_off(&self) {
        let path = format!("/events/{}", self.event);
        let read = self.club.owner().get(&path);
        assert_eq!(self.club.owner().delete(&path, read.header("etag")).status, 204);
    }

    /// The notices of other days that the archer got.
    fn notices(&self) -> Vec<Value> {
        let mut mails = self.club.mails();
        let theirs = |mail: &Value| {
            let to = mail["to"][0].as_str().unwrap();
            to.contains("ada.invented@") && one_line(mail).contains("who were told of other days")
        };
        mails.retain(theirs);
        mails
    }
}

#[test]
fn who_was_told_of_a_day_is_told_that_it_is_another() {
    on_both(|database| {
        let told = Told::of(database);
        told.change(&json!({"starts_on": "2027-03-27", "ends_on": "2027-03-28"}));
        told.club.sweep();
        told.club.sweep();
        // The owner was told as well: nobody coaches the archer.
        assert_eq!(states(&told.club, MailKind::Moved), [MailState::Sent; 2]);
        let notices = told.notices();
        let [notice] = notices.as_slice() else { panic!("{notices:#?}") };
        let subject =
            "Invented Round is from Sat 27 to Sun 28 March, not from Sat 20 to Sun 21 March";
        assert_eq!(notice["subject"], subject);
        assert!(
            notice["headers"]["References"].is_string(),
            "it follows the mail that it corrects"
        );
        assert_eq!(notice["defects"], json!([]));
        // Once is enough.
        for _ in 0..3 {
            told.club.clock.advance(DAY);
            told.club.sweep();
        }
        assert_eq!(states(&told.club, MailKind::Moved).len(), 2);
    });
}

#[test]
fn a_shortened_event_and_one_called_off_are_told_too() {
    on_both(|database| {
        let told = Told::of(database);
        told.change(&json!({"ends_on": "2027-03-20"}));
        told.club.sweep();
        told.call_off();
        told.club.sweep();
        let mut subjects: Vec<Value> =
            told.notices().iter().map(|notice| notice["subject"].clone()).collect();
        subjects.sort_by_key(ToString::to_string);
        assert_eq!(
            subjects,
            [
                "Invented Round is called off, it was to be on Sat 20 March",
                "Invented Round is on Sat 20 March, not from Sat 20 to Sun 21 March"
            ]
        );
        for _ in 0..20 {
            told.club.clock.advance(DAY);
            told.club.sweep();
        }
        assert_eq!(states(&told.club, MailKind::Moved).len(), 4);
        assert_eq!(states(&told.club, MailKind::Event), [MailState::Sent], "none after it");
    });
}

#[test]
fn nobody_is_told_of_a_change_that_leads_nobody_astray() {
    on_both(|database| {
        let told = Told::of(database);
        told.change(&json!({"name": "Invented Spring Round", "arrows_expected": 60}));
        told.club.sweep();
        assert_eq!(states(&told.club, MailKind::Moved), [], "other than days is told in time");
        // Moved and moved back in one night, in quiet hours: nobody has anything to put right.
        told.club.clock.advance(SignedDuration::from_hours(13));
        told.change(&json!({"starts_on": "2027-03-27", "ends_on": "2027-03-28"}));
        told.club.sweep();
        assert_eq!(states(&told.club, MailKind::Moved), [MailState::Due; 2]);
        told.change(&json!({"starts_on": "2027-03-20", "ends_on": "2027-03-21"}));
        told.club.clock.advance(DAY);
        told.club.sweep();
        assert_eq!(states(&told.club, MailKind::Moved), [MailState::Cancelled; 2]);
        assert_eq!(told.notices(), [] as [Value; 0]);
    });
}

#[test]
fn an_event_that_comes_back_to_days_that_were_told_before_is_told_once_more() {
    on_both(|database| {
        let told = Told::of(database);
        for (first, last) in [
            ("2027-03-27", "2027-03-28"),
            ("2027-04-03", "2027-04-04"),
            ("2027-03-27", "2027-03-28"),
            ("2027-03-20", "2027-03-21"),
        ] {
            told.change(&json!({"starts_on": first, "ends_on": last}));
            told.club.sweep();
            told.club.sweep();
        }
        assert_eq!(told.notices().len(), 4);
        assert_eq!(states(&told.club, MailKind::Moved), [MailState::Sent; 8]);
    });
}

#[test]
fn an_event_of_which_nobody_was_told_moves_in_silence() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        let event = club.event("Invented Round", "2027-06-20", &[(&archer, &kit.bow)]);
        club.sweep();
        let path = format!("/events/{}", event.0);
        let read = club.owner().get(&path);
        let moved = json!({"starts_on": "2027-06-27", "ends_on": "2027-06-28"});
        club.owner().patch(&path, read.header("etag"), &moved).expect(200);
        club.sweep();
        assert_eq!(states(&club, MailKind::Moved), []);
    });
}

#[test]
fn each_mail_of_a_count_down_says_what_has_changed_since_the_last() {
    on_both(|database| {
        let told = Told::of(database);
        let Told { club, archer, kit, .. } = &told;
        for task in ["waxed", "nocking_point_set", "brace_height_set"] {
            let work = json!({"part_id": kit.string, "task": task, "at": club.now()});
            archer.post("/upkeep", &work).expect(201);
        }
        // Sat 6 March: 14 days are left.
        for _ in 0..6 {
            club.clock.advance(DAY);
            club.sweep();
        }
        assert_eq!(states(club, MailKind::Event), [MailState::Sent; 2]);
        let mut mails = club.mails();
        mails.retain(|mail| {
            mail["subject"].as_str().unwrap().starts_with("Invented Round, Sat 20 March")
                && mail["to"][0].as_str().unwrap().contains("ada.invented@")
        });
        mails.sort_by_key(|mail| mail["date"].to_string());
        let text = |n: usize| one_line(&mails[n]);
        assert!(!text(0).contains("Since the mail of"), "{}", text(0));
        assert!(text(1).contains("Since the mail of Tue 2 March:"), "{}", text(1));
        let done = "done, or not asked for any more: check the nocking point";
        assert!(text(1).contains(done), "{}", text(1));
        let again = "check brace height and nocking point: by Fri 19 March now, not by Tue 2 March";
        assert!(text(1).contains(again), "{}", text(1));
        assert_eq!(mails[1]["headers"]["References"], mails[0]["message_id"]);
    });
}
