//! Bows and parts: who sees them, who changes them, and in which version.

use serde_json::{Value, json};

use crate::support::{Club, Kit, Person, on_both};

const AT: &str = "2027-03-01T08:00:00Z";

fn ids(by: &Person, path: &str) -> Vec<String> {
    let page = by.get(path).expect(200);
    let rows = page["data"].as_array().unwrap().iter();
    rows.map(|row| row["id"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn everybody_sees_the_bows_and_parts_within_their_reach() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let coach = club.coach("Odo Fenwright");
        let of_tobin = Kit::of(&club, owner, Some(tobin.id()));
        let of_ilse = Kit::of(&club, owner, Some(ilse.id()));
        let of_club = Kit::of(&club, owner, None);
        let in_case = Kit::part(owner, "string");
        let bows = |kits: &[&Kit]| kits.iter().map(|kit| kit.bow.clone()).collect::<Vec<_>>();
        let parts = |kits: &[&Kit]| {
            let both = |kit: &&Kit| [kit.string.clone(), kit.serving.clone()];
            kits.iter().flat_map(both).collect::<Vec<_>>()
        };
        assert_eq!(ids(owner, "/bows"), bows(&[&of_tobin, &of_ilse, &of_club]));
        assert_eq!(ids(&tobin, "/bows"), bows(&[&of_tobin]));
        // A coach without a squad: what is the club's and nobody shoots.
        assert_eq!(ids(&coach, "/bows"), bows(&[&of_club]));
        let all = parts(&[&of_tobin, &of_ilse, &of_club]);
        assert_eq!(ids(owner, "/parts"), [all, vec![in_case.clone()]].concat());
        assert_eq!(ids(&ilse, "/parts"), parts(&[&of_ilse]));
        assert_eq!(ids(&coach, "/parts"), [parts(&[&of_club]), vec![in_case.clone()]].concat());
        tobin.get(&format!("/bows/{}", of_tobin.bow)).expect(200);
        tobin.get(&format!("/parts/{}", of_tobin.serving)).expect(200);
        tobin.get(&format!("/parts/{in_case}")).problem(403);
        coach.get(&format!("/parts/{}", of_ilse.string)).problem(403);
        // Off the bow, it is still what was under that bow last.
        let removal = format!("/fittings/{}/removal", of_tobin.string_fitting);
        tobin.post(&removal, &json!({"at": AT})).expect(200);
        assert_eq!(ids(&tobin, "/parts"), parts(&[&of_tobin]));
        let end = json!({"at": AT, "end": "broke", "reason": "at the loop"});
        tobin.post(&format!("/parts/{}/retirement", of_tobin.string), &end).expect(200);
        ilse.post(&format!("/parts/{}/retirement", of_club.string), &end).problem(403);
    });
}

#[test]
fn a_page_is_filled_with_what_is_within_reach() {
    on_both(|database| {
        let club = Club::start(database);
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let mut own = Vec::new();
        for n in 0..9 {
            let archer = if n % 3 == 2 { &tobin } else { &ilse };
            let kit = Kit::of(&club, club.owner(), Some(archer.id()));
            if n % 3 == 2 {
                own.extend([kit.string, kit.serving]);
            }
        }
        for limit in [1, 2, 4, 6, 7] {
            let (mut seen, mut cursor) = (Vec::new(), String::new());
            loop {
                let page = tobin.get(&format!("/parts?limit={limit}{cursor}")).expect(200);
                let rows = page["data"].as_array().unwrap();
                seen.extend(rows.iter().map(|row| row["id"].as_str().unwrap().to_owned()));
                let Some(next) = page["next_cursor"].as_str() else { break };
                assert_eq!(rows.len(), limit, "a page that is not the last is full");
                cursor = format!("&cursor={next}");
            }
            assert_eq!(seen, own, "limit {limit}");
        }
    });
}

#[test]
fn a_bow_is_changed_in_the_version_it_was_read() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let (tobin, coach) = (club.archer("Tobin Larkmoor"), club.coach("Odo Fenwright"));
        let bow = Kit::bow(owner, Some(tobin.id()));
        let path = format!("/bows/{bow}");
        let read = owner.get(&path);
        let etag = read.header("etag").to_owned();
        assert_eq!(etag, "\"1\"");
        let before = read.json();
        let heavier = json!({"draw_weight_lbf": 40, "keeper_member_id": coach.id().0});
        tobin.patch(&path, &etag, &heavier).problem(403);
        coach.patch(&path, &etag, &heavier).problem(403);
        let unnamed = owner.send(
            "PATCH",
            &format!("/api/v1{path}"),
            Some(("application/json", heavier.to_string().as_bytes())),
        );
        unnamed.problem(428);
        owner.patch(&path, "\"2\"", &heavier).problem(412);
        for (patch, pointer, code) in [
            (json!({"name": null}), "/name", "wrong_type"),
            (json!({"name": " "}), "/name", "empty"),
            (json!({"division": "crossbow"}), "/division", "unknown_word"),
            (json!({"bow_length_in": 5}), "/bow_length_in", "out_of_range"),
            (json!({"draw_weight_lbf": 500}), "/draw_weight_lbf", "out_of_range"),
            (json!({"keeper_member_id": bow}), "/keeper_member_id", "unknown_member"),
            (json!({"colour": "blue"}), "/colour", "unknown_field"),
        ] {
            owner.patch(&path, &etag, &patch).refuses(422, pointer, code);
        }
        assert_eq!(owner.get(&path).json(), before);

        let changed = owner.patch(&path, &etag, &heavier);
        assert_eq!(changed.header("etag"), "\"2\"");
        let changed = changed.expect(200);
        assert_eq!(
            (&changed["name"], &changed["draw_weight_lbf"]),
            (&before["name"], &json!(40.0))
        );
        assert_eq!(owner.get(&path).json(), changed);
        owner.patch(&path, &etag, &heavier).problem(412);
        // The keeper is within the coach's own reach now. Null takes a person off.
        let cleared = json!({"keeper_member_id": null, "archer_member_id": null});
        let cleared = coach.patch(&path, "\"2\"", &cleared).expect(200);
        assert_eq!(
            (&cleared["keeper_member_id"], &cleared["archer_member_id"]),
            (&Value::Null, &Value::Null)
        );
        tobin.get(&path).problem(403);
    });
}

#[test]
fn a_coach_adds_and_fits_what_is_within_their_reach() {
    on_both(|database| {
        let club = Club::start(database);
        let (tobin, coach) = (club.archer("Tobin Larkmoor"), club.coach("Odo Fenwright"));
        let bow = |archer: Option<&Person>| {
            json!({"name": "Grey bow", "division": "recurve", "bow_length_in": 68,
                "draw_weight_lbf": 30, "archer_member_id": archer.map(|one| one.id().0)})
        };
        coach.post("/bows", &bow(Some(&tobin))).problem(403);
        let own = coach.post_once("/bows", "first", &bow(None)).expect(201);
        assert_eq!(coach.post_once("/bows", "first", &bow(None)).expect(201), own);
        assert_eq!(ids(&coach, "/bows").len(), 1);
        let kit = Kit::of(&club, club.owner(), Some(tobin.id()));
        let string = Kit::part(&coach, "string");
        let fit = |part: &str, bow: &Value| json!({"part_id": part, "bow_id": bow, "at": AT});
        coach.post("/fittings", &fit(&string, &json!(kit.bow))).problem(403);
        // A string of somebody else's bow, in its case.
        let removal = format!("/fittings/{}/removal", kit.string_fitting);
        club.owner().post(&removal, &json!({"at": "2027-03-01T07:00:00Z"})).expect(200);
        coach.post("/fittings", &fit(&kit.string, &own["id"])).problem(403);
        coach.post("/fittings", &fit(&string, &own["id"])).expect(201);
        // An archer takes a new string out of the club's stock for their own bow.
        let spare = Kit::part(&coach, "string");
        tobin.post("/fittings", &fit(&spare, &own["id"])).problem(403);
        tobin.post("/fittings", &fit(&spare, &json!(kit.bow))).expect(201);
    });
}

#[test]
fn fittings_are_listed_by_part_or_by_bow() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        for query in ["", &format!("?part_id={}&bow_id={}", kit.string, kit.bow)] {
            owner.get(&format!("/fittings{query}")).refuses(422, "/part_id", "one_of_two");
        }
        let of_bow = owner.get(&format!("/fittings?bow_id={}", kit.bow)).expect(200);
        assert_eq!(of_bow["data"][0]["part_id"], json!(kit.string));
        assert_eq!(of_bow["data"].as_array().unwrap().len(), 1);
        let of_part = owner.get(&format!("/fittings?part_id={}", kit.serving)).expect(200);
        assert_eq!(of_part["data"][0]["host_part_id"], json!(kit.string));
        assert_eq!(ids(owner, &format!("/fittings?part_id={}", kit.string)), [kit.string_fitting]);
    });
}
