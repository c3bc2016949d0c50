//! A bow that must not be shot, whatever hangs on it: where that is shown, who is told, what lifts it.

use domain::mail::{MailKind, MailState};
use jiff::SignedDuration;
use serde_json::{Value, json};

use crate::support::{Club, Kit, Person, on_both};

const AT: &str = "2027-03-01T08:00:00Z";
const REASON: &str = "do not shoot: limb damage on 2027-03-01; a coach or owner inspects the bow and \
                      says why it may be shot again";

fn damage(by: &Person, bow: &str) -> Value {
    let body = json!({"bow_id": bow, "kind": "limb_damage", "at": AT});
    by.post("/incidents", &body).expect(201)
}

fn stop(by: &Person, bow: &str) -> Value {
    by.get(&format!("/bows/{bow}")).expect(200)["stop"].clone()
}

fn clear(by: &Person, bow: &str, at: &str, parts: &[&String]) -> Value {
    let body = json!({"at": at, "reason": "new limbs on", "part_ids": parts});
    by.post(&format!("/bows/{bow}/clearance"), &body).expect(201)
}

/// The only row that a list has of a bow.
fn row(by: &Person, list: &str, bow: &str) -> Value {
    let rows = by.get(list).expect(200)["data"].clone();
    let of_bow = rows.as_array().unwrap().iter().filter(|row| row["bow"]["id"] == json!(bow));
    let found: Vec<&Value> = of_bow.collect();
    let [row] = found.as_slice() else { panic!("{list}: {found:#?}") };
    (*row).clone()
}

fn stop_mails(club: &Club) -> Vec<MailState> {
    let outbox = club.outbox();
    let of_kind = outbox.iter().filter(|posted| posted.mail.kind == MailKind::Stop);
    of_kind.map(|posted| posted.mail.state).collect()
}

#[test]
fn a_bow_with_nothing_on_it_is_shown_as_stopped_everywhere() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Tobin Larkmoor");
        let bow = Kit::bow(club.owner(), Some(archer.id()));
        assert_eq!(stop(&archer, &bow), Value::Null);
        let happened = damage(&archer, &bow);
        let expected = json!({"cause": "limb_damage", "at": AT, "reason": REASON,
            "incident_id": happened["incident"]["id"]});
        assert_eq!((&happened["stop"], &stop(&archer, &bow)), (&expected, &expected));
        let due = row(&archer, "/due", &bow);
        assert_eq!((&due["condition"], &due["part"]), (&json!("do_not_shoot"), &Value::Null));
        assert_eq!((&due["reason"], &due["stopped"]), (&json!(REASON), &json!(REASON)));
        let board = row(&archer, "/board", &bow);
        assert_eq!(board["condition"], "do_not_shoot");
        assert_eq!((&board["reason"], &board["stopped"]), (&json!(REASON), &json!(REASON)));
        let log = json!({"bow_id": bow, "at": "2027-03-01T08:30:00Z", "shots": 3});
        let flags = json!(["must_not_be_shot", "no_string_fitted"]);
        assert_eq!(archer.post("/shot-logs", &log).expect(201)["flags"], flags);
        let other = json!({"bow_id": bow, "at": "2027-03-01T08:30:00Z", "shots": 4});
        let batch = json!({"mode": "each", "entries": [other]});
        let batch = archer.post("/shot-logs/batch", &batch).expect(200);
        assert_eq!(batch["results"][0]["flags"], flags);

        let cleared = clear(club.owner(), &bow, AT, &[]);
        assert_eq!(cleared["bow"]["stop"], Value::Null);
        assert_eq!(cleared["clearance"]["reason"], "new limbs on");
        assert_eq!(stop(&archer, &bow), Value::Null);
        assert_eq!(row(&archer, "/board", &bow)["condition"], Value::Null);
        assert_eq!(archer.get("/due").expect(200)["data"], json!([]));
    });
}

#[test]
fn a_stopped_bow_is_before_an_event_something_to_be_done() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Tobin Larkmoor");
        let bow = Kit::bow(club.owner(), Some(archer.id()));
        let event = club.event("Invented Cup", "2027-03-20", &[(&archer, &bow)]);
        let before =
            || row(&archer, &format!("/board?event_id={event}"), &bow)["before_event"].clone();
        assert_eq!(before()["wants_work"], false);
        damage(&archer, &bow);
        assert_eq!(before(), json!({"wants_work": true, "tasks": []}));
    });
}

#[test]
fn a_clearance_lifts_the_bow_and_the_parts_that_it_names() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        damage(owner, &kit.bow);
        let condition =
            |part: &str| owner.get(&format!("/parts/{part}")).expect(200)["condition"].clone();
        let cleared = clear(owner, &kit.bow, "2027-03-01T08:30:00Z", &[&kit.string]);
        assert_eq!(cleared["bow"]["stop"], Value::Null);
        assert_ne!(condition(&kit.string), "do_not_shoot");
        assert_eq!(condition(&kit.serving), "do_not_shoot");
        let works = owner.get(&format!("/upkeep?part_id={}", kit.string)).expect(200);
        let work = &works["data"][0];
        assert_eq!((&work["task"], &work["clears"]), (&json!("inspected"), &json!(true)));
        assert_eq!(work["note"], "new limbs on");
        // What comes under the bow now finds it cleared.
        let body = json!({"at": "2027-03-01T08:40:00Z", "new_part": {"name": "second"}});
        let path = format!("/bows/{}/string-change", kit.bow);
        let changed = owner.post(&path, &body).expect(201);
        assert_ne!(changed["new_part"]["condition"], "do_not_shoot");
    });
}

#[test]
fn who_clears_a_bow_looks_after_it_and_says_why() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Tobin Larkmoor");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        let other = Kit::of(&club, club.owner(), Some(archer.id()));
        damage(&archer, &kit.bow);
        let path = format!("/bows/{}/clearance", kit.bow);
        let body = json!({"at": AT, "reason": "looks fine to me"});
        archer.post(&path, &body).problem(403);
        club.coach("Odo Fenwright").post(&path, &body).problem(403);
        let twice = json!({"at": AT, "reason": "fit", "part_ids": [kit.string, kit.string]});
        club.owner().post(&path, &twice).refuses(422, "/part_ids/1", "duplicate");
        let others = json!({"at": AT, "reason": "fit", "part_ids": [kit.string, other.string]});
        club.owner().post(&path, &others).refuses(422, "/part_ids/1", "not_under_bow");
        assert_ne!(stop(&archer, &kit.bow), Value::Null);
        let once = club.owner().post_once(&path, "a-key", &body).expect(201);
        assert_eq!(club.owner().post_once(&path, "a-key", &body).expect(201), once);
        assert_eq!(stop(&archer, &kit.bow), Value::Null);
    });
}

#[test]
fn no_archer_fits_a_part_so_that_the_bow_would_be_cleared() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let archer = club.archer("Tobin Larkmoor");
        let bow = Kit::bow(owner, Some(archer.id()));
        damage(&archer, &bow);
        // A coach looked at it in its case and found it fit; that said nothing of the bow.
        let string = Kit::part(owner, "string");
        let look = json!({"part_id": string, "task": "inspected", "note": "new and sound",
            "at": "2027-03-01T08:30:00Z"});
        owner.post("/upkeep", &look).expect(201);
        let fit = |at: &str| json!({"part_id": string, "bow_id": bow, "at": at});
        let earlier = fit("2027-03-01T08:20:00Z");
        archer.post("/fittings", &earlier).refuses(409, "", "would_lift_stop");
        assert_ne!(stop(&archer, &bow), Value::Null);
        archer.post("/fittings", &fit("2027-03-01T08:40:00Z")).expect(201);
        assert_ne!(stop(&archer, &bow), Value::Null);
    });
}

#[test]
fn a_bow_without_parts_is_told_of_at_once_and_once() {
    on_both(|database| {
        let club = Club::start(database);
        let (archer, coach) = (club.archer("Ada Invented"), club.coach("Cleo Invented"));
        club.squad("Thursdays", &[&coach], &[&archer]);
        let bow = Kit::bow(club.owner(), Some(archer.id()));
        damage(&archer, &bow);
        assert_eq!(club.sweep()["deliver_mail"], 2);
        club.clock.advance(SignedDuration::from_hours(30));
        club.sweep();
        assert_eq!(stop_mails(&club), [MailState::Sent; 2]);
        let mails = club.mails();
        let subjects: Vec<&Value> = mails.iter().map(|mail| &mail["subject"]).collect();
        assert_eq!(subjects, ["DO NOT SHOOT Grey recurve: limb damage on Mon 1 March 2027"; 2]);
        let told = archer.get("/reminders").expect(200);
        let [one] = told["data"].as_array().unwrap().as_slice() else { panic!("{told}") };
        assert_eq!((&one["kind"], &one["part_id"]), (&json!("stop"), &Value::Null));
        assert_eq!((&one["bow_id"], &one["state"]), (&json!(bow), &json!("sent")));
    });
}

#[test]
fn a_bow_and_its_parts_are_told_of_in_one_mail_and_taking_parts_off_brings_no_other() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        damage(&archer, &kit.bow);
        club.sweep();
        // The archer, and the owner since nobody coaches them.
        assert_eq!(stop_mails(&club).len(), 2);
        let removal = format!("/fittings/{}/removal", kit.string_fitting);
        archer.post(&removal, &json!({"at": "2027-03-01T08:50:00Z"})).expect(200);
        club.clock.advance(SignedDuration::from_mins(10));
        club.sweep();
        assert_eq!(stop_mails(&club), [MailState::Sent; 2]);
        assert_ne!(stop(&archer, &kit.bow), Value::Null);
    });
}

#[test]
fn a_bow_that_was_cleared_before_the_mail_went_out_is_not_told_of() {
    on_both(|database| {
        let club = Club::start(database);
        let bow = Kit::bow(club.owner(), None);
        damage(club.owner(), &bow);
        clear(club.owner(), &bow, AT, &[]);
        club.sweep();
        assert_eq!(stop_mails(&club), []);
    });
}
