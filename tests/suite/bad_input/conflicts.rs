//! What contradicts what is on record.

use serde_json::{Value, json};

use super::{on_record, refused_on_both};
use crate::support::{Answer, Club, Kit, Person, on_both};

const AT: &str = "2027-03-01T08:30:00Z";

fn fit(by: &Person, part: &str, host: &str, host_id: &str, at: &str) -> Answer {
    by.post("/fittings", &json!({"part_id": part, host: host_id, "at": at}))
}

#[test]
fn a_retired_part_is_neither_fitted_nor_worked_on_nor_retired_again() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let bare = Kit::bow(owner, None);
        let spare = Kit::part(owner, "nocking_point");
        let retirement = json!({"at": AT, "end": "worn", "reason": "fuzzy below the loop"});
        let path = format!("/parts/{}/retirement", kit.string);
        let retired = owner.post(&path, &retirement).expect(200);
        assert_eq!(retired["condition"], "retired");
        assert_eq!(retired["retirement"]["end"], "worn");

        let before = on_record(database);
        owner.post(&path, &retirement).refuses(409, "", "part_retired");
        fit(owner, &kit.string, "bow_id", &bare, AT).refuses(409, "", "part_retired");
        fit(owner, &spare, "host_part_id", &kit.string, AT).refuses(409, "", "part_retired");
        for task in ["waxed", "inspected", "other"] {
            let work = json!({"part_id": kit.string, "task": task, "at": AT});
            owner.post("/upkeep", &work).refuses(409, "", "part_retired");
        }
        let removal = format!("/fittings/{}/removal", kit.string_fitting);
        owner.post(&removal, &json!({"at": AT})).refuses(409, "", "already_taken_off");
        assert_eq!(on_record(database), before);
    });
}

#[test]
fn two_fittings_never_cover_one_moment() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let (bare, spare) = (Kit::bow(owner, None), Kit::part(owner, "string"));
        let before = on_record(database);
        // The string is on a bow; the bow has a string; the string has a serving.
        fit(owner, &kit.string, "bow_id", &bare, AT).refuses(409, "", "part_fitted_elsewhere");
        fit(owner, &kit.string, "bow_id", &kit.bow, AT).refuses(409, "", "part_fitted_elsewhere");
        fit(owner, &spare, "bow_id", &kit.bow, AT).refuses(409, "", "host_occupied");
        // Without an end, a fitting from an earlier time would run into the one that is there.
        let earlier = "2027-01-01T00:00:00Z";
        fit(owner, &spare, "bow_id", &kit.bow, earlier).refuses(409, "", "host_occupied");
        fit(owner, &kit.string, "bow_id", &bare, earlier).refuses(409, "", "part_fitted_elsewhere");
        assert_eq!(on_record(database), before);

        // Where one ends the next may begin, at the same moment.
        let removal = format!("/fittings/{}/removal", kit.string_fitting);
        owner.post(&removal, &json!({"at": AT})).expect(200);
        let before = on_record(database);
        let inside = "2027-03-01T08:29:59.999999Z";
        fit(owner, &spare, "bow_id", &kit.bow, inside).refuses(409, "", "host_occupied");
        owner.post(&removal, &json!({"at": AT})).refuses(409, "", "already_taken_off");
        assert_eq!(on_record(database), before);
        fit(owner, &spare, "bow_id", &kit.bow, AT).expect(201);
    });
}

#[test]
fn a_part_goes_only_where_such_a_part_goes() {
    refused_on_both(|club, kit| {
        let owner = club.owner();
        let refuse = |part: &str, host: &str, host_id: &str| {
            fit(owner, part, host, host_id, AT).refuses(422, "/part_id", "wrong_host");
        };
        refuse(&kit.serving, "bow_id", &kit.bow);
        refuse(&kit.string, "host_part_id", &kit.string);
        refuse(&kit.string, "host_part_id", &kit.serving);
        refuse(&kit.serving, "host_part_id", &kit.serving);
        let both = json!({"part_id": kit.string, "bow_id": kit.bow, "host_part_id": kit.serving,
            "at": AT});
        owner.post("/fittings", &both).refuses(422, "/host_part_id", "two_hosts");
        let neither = json!({"part_id": kit.string, "at": AT});
        owner.post("/fittings", &neither).refuses(422, "/bow_id", "missing");
    });
}

#[test]
fn nothing_is_fitted_before_the_day_it_was_made() {
    on_both(|database| {
        let club = Club::start(database);
        let kit = Kit::of(&club, club.owner(), None);
        let (owner, bare) = (club.owner(), Kit::bow(club.owner(), None));
        let part = json!({"kind": "string", "name": "A new one", "made_on": "2027-03-01"});
        let part = owner.post("/parts", &part).expect(201)["id"].as_str().unwrap().to_owned();
        // Midnight of that day at the club; in March its clocks show UTC.
        let day_before = "2027-02-28T23:59:59Z";
        fit(owner, &part, "bow_id", &bare, day_before).refuses(422, "/at", "before_made");
        let change = json!({"at": "2027-02-28T22:00:00Z", "new_part_id": part});
        let before = on_record(database);
        owner.post(&format!("/bows/{}/string-change", kit.bow), &change).refuses(
            422,
            "/at",
            "before_made",
        );
        assert_eq!(on_record(database), before);
        fit(owner, &part, "bow_id", &bare, "2027-03-01T00:00:00Z").expect(201);
    });
}

#[test]
fn nothing_is_taken_off_or_retired_before_it_was_fitted() {
    refused_on_both(|club, kit| {
        let owner = club.owner();
        let removal = format!("/fittings/{}/removal", kit.string_fitting);
        for at in ["2027-02-28T09:00:00Z", "2027-02-27T09:00:00Z"] {
            owner.post(&removal, &json!({"at": at})).refuses(422, "/at", "before_fitted");
            let body = json!({"at": at, "end": "lost", "reason": "gone"});
            let path = format!("/parts/{}/retirement", kit.string);
            owner.post(&path, &body).refuses(422, "/at", "before_last_fitting");
        }
    });
}

#[test]
fn nothing_is_retired_before_the_end_of_its_last_fitting() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let removal = format!("/fittings/{}/removal", kit.string_fitting);
        owner.post(&removal, &json!({"at": AT})).expect(200);
        let path = format!("/parts/{}/retirement", kit.string);
        let end = |at: &str| json!({"at": at, "end": "lost", "reason": "gone"});
        let before = on_record(database);
        for at in ["2027-03-01T08:29:59.999999Z", "2027-02-01T00:00:00Z"] {
            owner.post(&path, &end(at)).refuses(422, "/at", "before_last_fitting");
        }
        assert_eq!(on_record(database), before);
        assert_eq!(owner.post(&path, &end(AT)).expect(200)["retirement"]["at"], AT);
    });
}

#[test]
fn a_club_is_set_up_once_and_only_with_the_code() {
    refused_on_both(|club, _| {
        let nobody = club.anonymous();
        assert_eq!(
            nobody.post("/setup", &super::set_up()).problem(403)["type"],
            "/problems/forbidden"
        );
        for code in ["", "the code of this tes", "The code of this test", "the code of this test "]
        {
            let mut body = super::set_up();
            body["setup_code"] = Value::from(code);
            nobody.post("/setup", &body).problem(403);
        }
    });
}
