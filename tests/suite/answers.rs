//! Answering a reminder by the links in its mail, without signing in: what is shown, what is recorded, and
//! what becomes of links that were used, have run out, were forged, or are not true any more.

use std::thread;

use domain::{
    mail::{Act, ActLink},
    safety::FIRST,
};
use serde_json::{Value, json};
use store::mail_links::seal_act;

use crate::support::{
    Answer, Browser, Club, DAY, Kit, Neglected, Person, Told, act_link, act_link_after, everything,
    on_both, seals, unchanged,
};

/// The changes on record that a link made.
fn by_link(club: &Club) -> Vec<Value> {
    let changes = club.owner().get("/audit?operation=answer_by_link").expect(200);
    changes["data"].as_array().unwrap().clone()
}

#[track_caller]
fn says(page: &str, words: &[&str]) {
    let page = page.replace("&#39;", "'");
    for words in words {
        assert!(page.contains(words), "{words:?} is not in {page}");
    }
}

#[test]
fn work_that_was_done_is_recorded_by_one_press_of_a_button_and_once() {
    on_both(|database| {
        let told = Told::in_database(database);
        let (club, link) = (&told.club, act_link(&told.mail, "Done"));
        let browser = Browser::of(club);
        let shown = browser.get(&link).page(200);
        says(&shown, &["Mark as done", "Grey recurve", "string: A new string", "Wax the string."]);
        says(
            &shown,
            &["Ada Invented", "520 shots and never waxed", "Bowmen of Invented Hill", FIRST],
        );
        says(&shown, &["now (Tue 2 March, 09:00)", "yesterday (Mon 1 March)"]);
        assert!(told.of.waxed(club).is_empty(), "looking is not doing");

        let done = browser.post(&link, "when=now").page(200);
        says(&done, &["Grey recurve: marked done on Tue 2 March, 09:00. Nothing more to do."]);
        let waxed = told.of.waxed(club);
        assert_eq!(waxed.len(), 1);
        assert_eq!(waxed[0]["entered_by_member_id"], json!(told.archer.id().0));
        assert_eq!(waxed[0]["note"], "by the link in a mail");
        assert_eq!((&waxed[0]["at"], &waxed[0]["clears"]), (&json!(club.now()), &json!(false)));
        let reminder = told.reminder();
        assert_eq!(
            (&reminder["state"], &reminder["answered_at"]),
            (&json!("done"), &waxed[0]["at"])
        );
        let changes = by_link(club);
        assert_eq!(changes.len(), 1, "{changes:#?}");
        assert_eq!(changes[0]["by_member_id"], json!(told.archer.id().0));
        assert_eq!(changes[0]["bow_id"], json!(told.of.bow));

        let before = everything(database);
        for page in [browser.post(&link, ""), browser.get(&link), browser.post(&link, "when=now")] {
            says(&page.page(200), &["marked done on Tue 2 March, 09:00. Nothing more to do."]);
        }
        unchanged(database, &before, "what was refused");
        assert_eq!((told.next_day(), told.next_day()), (json!(0), json!(0)));
        // The next round of the same work is told again.
        told.of.shot(club, 500);
        club.sweep();
        assert_eq!(told.next_day(), 1);
    });
}

#[test]
fn work_may_have_been_done_on_one_of_the_last_days_of_the_club() {
    on_both(|database| {
        let told = Told::in_database(database);
        let (link, browser) = (act_link(&told.mail, "Done"), Browser::of(&told.club));
        let before = everything(database);
        for form in ["when=tomorrow", "when=", "when=now&when=now", "when=now&club_id=1", "x=1"] {
            says(&browser.post(&link, form).page(422), &["Nothing was changed"]);
        }
        let json = Some(("application/json", "{\"when\":\"now\"}"));
        browser.ask("POST", &link, json).page(415);
        browser.post(&link, &"x".repeat(5_000)).page(413);
        unchanged(database, &before, "what was refused");
        says(&browser.post(&link, "when=yesterday").page(200), &["marked done on Tue 2 March"]);
        assert_eq!(told.of.waxed(&told.club)[0]["at"], "2027-03-01T12:00:00Z");
    });
}

#[test]
fn what_is_put_off_is_not_told_at_any_stage_for_three_days_and_then_once() {
    on_both(|database| {
        let told = Told::in_database(database);
        let (club, link) = (&told.club, act_link(&told.mail, "Snooze 3 days"));
        let browser = Browser::of(club);
        says(&browser.get(&link).page(200), &["Ask again in 3 days?", "Fri 5 March, 09:00", FIRST]);
        let put_off =
            "put off on Tue 2 March, 09:00. You hear no more of it until Fri 5 March, 09:00.";
        says(&browser.post(&link, "").page(200), &[put_off]);
        says(&browser.post(&link, "").page(200), &[put_off]);
        assert_eq!(by_link(club).len(), 1);
        let reminder = told.reminder();
        assert_eq!(reminder["state"], "snoozed");
        assert_eq!(reminder["snoozed_until"], "2027-03-05T09:00:00Z");
        // It becomes overdue meanwhile.
        told.of.shot(club, 200);
        assert_eq!((told.next_day(), told.next_day()), (json!(0), json!(0)));
        assert_eq!(club.outbox().len(), 1);
        let states = |state: &str| {
            let list = told.archer.get(&format!("/reminders?state={state}")).expect(200);
            list["data"].as_array().unwrap().len()
        };
        assert_eq!(
            told.next_day(),
            0,
            "its time is over now, and it goes with the next daily mail"
        );
        assert_eq!((states("raised"), states("snoozed")), (1, 1));
        assert_eq!(
            (told.next_day(), told.next_day(), told.next_day()),
            (json!(1), json!(0), json!(0))
        );
        assert_eq!(states("sent"), 1);
        says(&browser.get(&act_link(&club.mails()[1], "Done")).page(200), &["Mark as done"]);
    });
}

#[test]
fn work_on_what_is_put_off_can_still_be_done() {
    on_both(|database| {
        let told = Told::in_database(database);
        let browser = Browser::of(&told.club);
        browser.post(&act_link(&told.mail, "Snooze 3 days"), "").page(200);
        browser.post(&act_link(&told.mail, "Done"), "").page(200);
        assert_eq!(told.of.waxed(&told.club).len(), 1);
        let told_so = browser.get(&act_link(&told.mail, "Snooze 3 days")).page(200);
        says(&told_so, &["marked done on"]);
        for _ in 0..5 {
            assert_eq!(told.next_day(), 0);
        }
    });
}

#[test]
fn who_does_not_look_after_a_bow_hears_of_its_safety_alone_and_the_owners_of_its_work() {
    on_both(|database| {
        let told = Told::in_database(database);
        let (club, owner) = (&told.club, told.club.owner());
        let (link, browser) = (act_link(&told.mail, "Not my bow"), Browser::of(club));
        let disowned_by = |by: &Person| {
            let bow = by.get(&format!("/bows/{}", told.of.bow)).expect(200);
            bow["disowned_by"].clone()
        };
        let flagged = || owner.get("/board").expect(200)["data"][0]["disowned"].clone();
        assert_eq!((disowned_by(owner), flagged()), (json!([]), json!(false)));
        let shown = browser.get(&link).page(200);
        says(&shown, &["Its coach and the owners of the club see that you said so", FIRST]);
        says(
            &browser.post(&link, "").page(200),
            &["On Tue 2 March, 09:00 you said that Grey recurve"],
        );
        assert_eq!((disowned_by(owner), flagged()), (json!([told.archer.id().0]), json!(true)));
        assert_eq!(disowned_by(&told.archer), Value::Null);
        assert_eq!(told.reminder()["state"], "disowned");
        assert_eq!(by_link(club).len(), 1);

        club.sweep();
        assert_eq!(told.next_day(), 1);
        let last = club.outbox().pop().unwrap();
        assert_eq!(last.mail.recipient, owner.id());
        let incident = json!({"bow_id": told.of.bow, "kind": "dry_fire", "at": club.now()});
        owner.post("/incidents", &incident).expect(201);
        assert_eq!(club.sweep()["deliver_mail"], 2, "the archer and the owner");

        let anew = json!({"archer_member_id": told.archer.id().0});
        owner.patch(&format!("/bows/{}", told.of.bow), "*", &anew).expect(200);
        assert_eq!((disowned_by(owner), flagged()), (json!([]), json!(false)));
        assert_eq!(club.sweep()["check_maintenance"], 1, "it is the archer's to wax again");
    });
}

#[test]
fn the_only_owner_hears_of_the_work_on_their_own_bow_also_when_they_disowned_it() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let of = Neglected::of(&club, Some(owner.id()));
        club.sweep();
        club.clock.advance(DAY);
        assert_eq!(club.sweep()["deliver_mail"], 1);
        let mail = club.mails().pop().unwrap();
        Browser::of(&club).post(&act_link(&mail, "Not my bow"), "").page(200);
        let bow = owner.get(&format!("/bows/{}", of.bow)).expect(200);
        assert_eq!(bow["disowned_by"], json!([owner.id().0]));
        // The string is overdue now, and there is nobody else to tell.
        of.shot(&club, 200);
        club.sweep();
        club.clock.advance(DAY);
        assert_eq!(club.sweep()["deliver_mail"], 1);
        assert_eq!(club.outbox().pop().unwrap().mail.recipient, owner.id());
    });
}

/// What makes the reminder of an archer untrue after its mail went out.
type Fault = fn(&Club, &Person, &Neglected);

#[test]
fn a_link_to_what_is_not_true_any_more_says_so_and_changes_nothing() {
    let faults: [(&str, Fault); 5] = [
        ("The work was done meanwhile", |club, _, of| {
            let work = json!({"part_id": of.string, "task": "waxed", "at": club.now()});
            club.owner().post("/upkeep", &work).expect(201);
        }),
        ("The part is out of use by now", |club, _, of| {
            let end = json!({"at": club.now(), "end": "worn", "reason": "fuzzy"});
            club.owner().post(&format!("/parts/{}/retirement", of.string), &end).expect(200);
        }),
        ("The part is not under that bow any more", |club, _, of| {
            let stays = club.owner().get(&format!("/fittings?bow_id={}", of.bow)).expect(200);
            let path = format!("/fittings/{}/removal", stays["data"][0]["id"].as_str().unwrap());
            club.owner().post(&path, &json!({"at": club.now()})).expect(200);
        }),
        ("The bow is somebody else", |club, _, of| {
            let other = club.archer("Ben Invented").id().0;
            let given = json!({"archer_member_id": other});
            club.owner().patch(&format!("/bows/{}", of.bow), "*", &given).expect(200);
        }),
        ("You are not in the club any more", |club, archer, of| {
            let taken = json!({"archer_member_id": null});
            club.owner().patch(&format!("/bows/{}", of.bow), "*", &taken).expect(200);
            let left = club.owner().delete(&format!("/members/{}", archer.id()), "*");
            assert_eq!(left.status, 204, "{left}");
        }),
    ];
    on_both(|database| {
        let club = Club::start(database);
        let names = ["Ada", "Bo", "Cleo", "Dag", "Edda"].map(|name| format!("{name} Invented"));
        let told = names.map(|name| {
            let archer = club.archer(&name);
            let of = Neglected::of(&club, Some(archer.id()));
            (archer, of)
        });
        club.sweep();
        club.clock.advance(DAY);
        assert_eq!(club.sweep()["deliver_mail"], 5);
        let (mails, browser) = (club.mails(), Browser::of(&club));
        for ((archer, of), (words, fault)) in told.iter().zip(faults) {
            let name = club.owner().get(&format!("/members/{}", archer.id())).expect(200);
            let name = name["name"].as_str().unwrap().to_owned();
            let to_them = |mail: &&Value| mail["to"][0].as_str().unwrap().starts_with(&name);
            let mail = mails.iter().find(to_them).unwrap();
            fault(&club, archer, of);
            let before = everything(database);
            for label in ["Done", "Snooze 3 days", "Not my bow"] {
                let link = act_link(mail, label);
                says(&browser.get(&link).page(200), &[words, "Nothing was changed."]);
                says(&browser.post(&link, "").page(409), &[words, "Nothing was changed."]);
            }
            unchanged(database, &before, words);
        }
    });
}

#[test]
fn a_link_that_has_run_out_or_was_forged_says_so_and_changes_nothing() {
    on_both(|database| {
        let told = Told::in_database(database);
        let (club, browser) = (&told.club, Browser::of(&told.club));
        let link = act_link(&told.mail, "Done");
        let token = link.strip_prefix("/act/").unwrap();
        let other = store::seals::Seals::new([1; 32], None);
        let reminder = told.reminder()["id"].as_str().unwrap().parse().unwrap();
        let act = ActLink::new(
            domain::ids::ReminderId(reminder),
            Act::Done,
            "2027-03-02T07:30:00Z".parse().unwrap(),
        );
        let before = everything(database);
        let forged = seal_act(&other, club.id, &act);
        let nobodys = ActLink { reminder: domain::ids::ReminderId(club.id.0), ..act };
        let nobodys = seal_act(&seals(), club.id, &nobodys);
        let (cut, longer) = (&token[..token.len() - 1], format!("{token}A"));
        for wrong in [cut, &longer, &forged, &nobodys, "x", "%00", &"a".repeat(2_000)] {
            for answer in
                [browser.get(&format!("/act/{wrong}")), browser.post(&format!("/act/{wrong}"), "")]
            {
                says(&answer.page(404), &["This link does not work", "Nothing was changed."]);
            }
        }
        assert_eq!(seal_act(&seals(), club.id, &act), token, "the test seals as the worker does");
        club.clock.advance(DAY * 29);
        browser.get(&link).page(200);
        club.clock.advance(DAY);
        for answer in [browser.get(&link), browser.post(&link, "when=now")] {
            says(&answer.page(410), &["This link has run out", "work for 30 days"]);
        }
        unchanged(database, &before, "what was refused");
    });
}

#[test]
fn of_several_at_once_one_records_it() {
    on_both(|database| {
        let told = Told::in_database(database);
        let link = act_link(&told.mail, "Done");
        let answers: Vec<Answer> = thread::scope(|scope| {
            let ask = || scope.spawn(|| Browser::of(&told.club).post(&link, "when=now"));
            let asked: Vec<_> = (0..6).map(|_| ask()).collect();
            asked.into_iter().map(|one| one.join().unwrap()).collect()
        });
        for answer in answers {
            says(&answer.page(200), &["marked done on Tue 2 March, 09:00"]);
        }
        assert_eq!((told.of.waxed(&told.club).len(), by_link(&told.club).len()), (1, 1));
    });
}

#[test]
fn a_word_by_a_link_lifts_no_stop() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        // The club's own bow: its owner is told.
        let kit = Kit::of(&club, owner, None);
        Kit::measured(owner, &kit.string, &club.now());
        for (kind, task) in [("center_serving", "re_serve"), ("string", "inspect")] {
            let rule = json!({"part_kind": kind, "task": task, "shots": {"plan": 100},
                "scope": {"of": "bow", "bow_id": kit.bow}});
            owner.post("/rules", &rule).expect(201);
        }
        let log = json!({"bow_id": kit.bow, "at": club.now(), "shots": 101});
        owner.post("/shot-logs", &log).expect(201);
        club.sweep();
        club.clock.advance(DAY);
        club.sweep();
        let mails = club.mails();
        let asks = |mail: &&Value| mail["text"].as_str().unwrap().contains("Done:");
        let mail = mails.iter().find(asks).unwrap();
        let re_serve = act_link_after(mail, "e-serve the", "Done");
        let inspect = act_link_after(mail, "nspect the string", "Done");
        let incident = json!({"bow_id": kit.bow, "kind": "dry_fire", "at": club.now()});
        owner.post("/incidents", &incident).expect(201);
        club.clock.advance(jiff::SignedDuration::from_mins(5));
        let browser = Browser::of(&club);
        let before = everything(database);
        says(&browser.get(&re_serve).page(200), &["This bow must not be shot.", "dry fire"]);
        says(
            &browser.post(&re_serve, "").page(409),
            &["It must not be shot", "Nothing was changed"],
        );
        unchanged(database, &before, "what was refused");
        says(&browser.post(&inspect, "").page(200), &["marked done"]);
        let inspected = owner.get(&format!("/upkeep?part_id={}", kit.string)).expect(200);
        let last = inspected["data"].as_array().unwrap().last().unwrap();
        assert_eq!((&last["task"], &last["clears"]), (&json!("inspected"), &json!(false)));
        let string = owner.get(&format!("/parts/{}", kit.string)).expect(200);
        assert_eq!(string["condition"], "do_not_shoot");
    });
}

#[test]
fn a_stranger_who_tries_link_after_link_has_to_wait() {
    let database = store::testing::sqlite();
    let club = Club::start(&database);
    let archer = club.archer("Ada Invented");
    let kit = Kit::of(&club, club.owner(), Some(archer.id()));
    let log = json!({"bow_id": kit.bow, "at": club.now(), "shots": 510});
    archer.post("/shot-logs", &log).expect(201);
    club.sweep();
    club.clock.advance(DAY);
    club.sweep();
    let mails = club.mails();
    let told = mails.iter().find(|mail| mail["to"][0].as_str().unwrap().contains("ada."));
    let snooze = act_link(told.unwrap(), "Snooze 3 days");
    let browser = Browser::of(&club);
    for n in 0..30 {
        browser.get(&format!("/act/{n}")).page(404);
        browser.post(&format!("/quiet/{n}"), "action=stop").page(404);
    }
    let refused = browser.get("/act/x");
    assert_eq!(refused.header("retry-after"), "1");
    says(&refused.page(429), &["Too often", "Wait a second"]);
    // A link of ours is answered all the same, however often a program that looks mails over opens it.
    for _ in 0..70 {
        browser.get(&snooze).page(200);
    }
    says(&browser.post(&snooze, "").page(200), &["Put off"]);
}
