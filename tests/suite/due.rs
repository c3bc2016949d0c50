//! The list of what is due.

use serde_json::json;

use crate::support::{Club, Kit, on_both};

#[test]
fn what_is_in_the_case_is_not_due_until_it_is_fitted_again() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let log = json!({"bow_id": kit.bow, "at": "2027-03-01T08:30:00Z", "shots": 520});
        owner.post("/shot-logs", &log).expect(201);
        let due = || {
            let due = owner.get("/due").expect(200);
            let due = due["data"].as_array().unwrap().iter();
            due.map(|one| (one["part"]["id"].clone(), one["bow"]["id"].clone())).collect::<Vec<_>>()
        };
        let waxing = vec![(json!(kit.string), json!(kit.bow))];
        assert_eq!(due(), waxing);
        let removal = format!("/fittings/{}/removal", kit.string_fitting);
        owner.post(&removal, &json!({"at": "2027-03-01T08:40:00Z"})).expect(200);
        let string = owner.get(&format!("/parts/{}", kit.string)).expect(200);
        assert_eq!(string["condition"], "due");
        assert_eq!(due(), []);
        let again = json!({"part_id": kit.string, "bow_id": kit.bow, "at": "2027-03-01T08:50:00Z"});
        owner.post("/fittings", &again).expect(201);
        assert_eq!(due(), waxing);
    });
}
