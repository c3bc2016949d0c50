//! Stopping a kind of mail: in one click by a mail program (RFC 8058), by the page at the foot of a mail,
//! and signed in; and who is told of it.

use domain::{
    ids::MemberId,
    mail::{MailKind, MailState, QuietLink},
};
use jiff::SignedDuration;
use serde_json::{Value, json};
use store::mail_links::seal_quiet;

use crate::support::{
    Browser, Club, Neglected, Person, Told, everything, on_both, seals, unchanged,
};

/// Where a mail program asks to stop a mail, as the mail's own headers say it.
#[track_caller]
fn quiet_link(mail: &Value) -> String {
    assert_eq!(mail["headers"]["List-Unsubscribe-Post"], "List-Unsubscribe=One-Click");
    let header = mail["headers"]["List-Unsubscribe"].as_str().unwrap();
    let link = header.trim_matches(|c| matches!(c, '<' | '>'));
    let path = link.strip_prefix("https://tautline.example").unwrap().to_owned();
    for part in ["text", "html"] {
        assert!(mail[part].as_str().unwrap().contains(link), "{part}: {mail}");
    }
    path
}

fn stopped(by: &Person) -> Value {
    by.get("/me").expect(200)["stopped_mail"].clone()
}

/// How many mails of a kind there are in each state.
fn states(club: &Club, kind: MailKind) -> Vec<MailState> {
    let all = club.outbox();
    all.iter().filter(|one| one.mail.kind == kind).map(|one| one.mail.state).collect()
}

const ONE_CLICK: [(&str, &str); 2] = [
    ("application/x-www-form-urlencoded", "List-Unsubscribe=One-Click"),
    (
        "multipart/form-data; boundary=---FormBoundaryjWmhtjORrn",
        "-----FormBoundaryjWmhtjORrn\r\nContent-Disposition: form-data; \
         name=\"List-Unsubscribe\"\r\n\r\nOne-Click\r\n-----FormBoundaryjWmhtjORrn--\r\n",
    ),
];

#[test]
fn one_click_stops_a_kind_of_mail_at_once_and_a_notice_about_safety_still_goes() {
    for body in ONE_CLICK {
        on_both(|database| {
            let told = Told::in_database(database);
            let (club, link) = (&told.club, quiet_link(&told.mail));
            let browser = Browser::of(club);
            assert_eq!(stopped(&told.archer), json!([]));
            browser.ask("POST", &link, Some(body)).page(200);
            assert_eq!(stopped(&told.archer), json!(["digest"]));
            let before = everything(database);
            browser.ask("POST", &link, Some(body)).page(200);
            unchanged(database, &before, "a second click");

            // Another bow wants work, and the first one is overdue: nobody is told.
            Neglected::of(club, Some(told.archer.id()));
            told.of.shot(club, 200);
            assert_eq!((told.next_day(), told.next_day()), (json!(0), json!(0)));
            assert_eq!(states(club, MailKind::Digest), [MailState::Sent]);
            let incident = json!({"bow_id": told.of.bow, "kind": "limb_damage", "at": club.now()});
            told.archer.post("/incidents", &incident).expect(201);
            assert_eq!(club.sweep()["deliver_mail"], 2, "the archer and the owner");
            let changes = club.owner().get("/audit?operation=stop_mail").expect(200);
            let changes = changes["data"].as_array().unwrap();
            assert_eq!(changes.len(), 1, "{changes:?}");
            assert_eq!(changes[0]["by_member_id"], json!(told.archer.id().0));
        });
    }
}

#[test]
fn the_page_says_what_is_stopped_and_what_still_comes_and_lets_it_come_again() {
    on_both(|database| {
        let told = Told::in_database(database);
        let (club, link) = (&told.club, quiet_link(&told.mail));
        let browser = Browser::of(club);
        let asks = "No more of the daily mail of what bows need?";
        let still = "Notices that a bow must not be shot still come, and mail about your account.";
        let page = browser.get(&link).page(200);
        for words in [asks, still, "Stop these mails", "Ada Invented"] {
            assert!(page.contains(words), "{words}: {page}");
        }
        let before = everything(database);
        for form in
            ["", "action=", "action=delete", "List-Unsubscribe=1", "action=stop&action=stop"]
        {
            browser.post(&link, form).page(422);
        }
        browser.ask("POST", &link, Some(("application/json", "{}"))).page(415);
        browser.ask("POST", &link, Some(("multipart/form-data; boundary=x", "x"))).page(400);
        unchanged(database, &before, "what was refused");

        let page = browser.post(&link, "action=stop").page(200);
        assert!(page.contains("Stopped") && page.contains("Send them again"), "{page}");
        // What is due meanwhile was not told; it is told when mail comes again.
        Neglected::of(club, Some(told.archer.id()));
        assert_eq!(told.next_day(), 0);
        let page = browser.post(&link, "action=resume").page(200);
        assert!(page.contains(asks), "{page}");
        assert_eq!(stopped(&told.archer), json!([]));
        club.sweep();
        assert_eq!(told.next_day(), 1);
    });
}

#[test]
fn a_mail_that_was_waiting_when_its_kind_was_stopped_does_not_go_out() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        Neglected::of(&club, Some(archer.id()));
        club.sweep();
        archer.patch("/me", "*", &json!({"stopped_mail": ["event", "digest"]})).expect(200);
        club.clock.advance(SignedDuration::from_hours(24));
        assert_eq!(club.sweep()["deliver_mail"], 0);
        let mail = club.outbox().pop().unwrap();
        assert_eq!(mail.mail.state, MailState::Cancelled);
        assert_eq!(mail.outcome.as_deref(), Some("its recipient stopped this kind of mail"));
        // Its reminder was not told, and is when mail comes again.
        archer.patch("/me", "*", &json!({"stopped_mail": []})).expect(200);
        club.sweep();
        club.clock.advance(SignedDuration::from_hours(24));
        assert_eq!(club.sweep()["deliver_mail"], 1);
    });
}

/// Makes somebody a minor with a guardian.
fn minor(club: &Club, archer: &Person) {
    let body = json!({"minor_until": "2029-01-01", "guardian": {"name": "Gus Invented",
        "email": "gus@home.example", "consented_on": "2027-01-01"}});
    club.owner().patch(&format!("/members/{}", archer.id()), "*", &body).expect(200);
}

#[test]
fn what_a_minor_stops_is_told_to_their_guardian_by_whichever_way() {
    on_both(|database| {
        let told = Told::in_database(database);
        let (club, archer) = (&told.club, &told.archer);
        minor(club, archer);
        let of = |kind: &str| (archer.id(), format!("quieted|{}|{kind}|2027-03-02", archer.id()));
        let link = quiet_link(&told.mail);
        for _ in 0..2 {
            Browser::of(club).post(&link, "List-Unsubscribe=One-Click").page(200);
        }
        assert_eq!(quieted(club), [of("digest")]);
        let more = json!({"stopped_mail": ["digest", "event"]});
        archer.patch("/me", "*", &more).expect(200);
        archer.patch("/me", "*", &more).expect(200);
        assert_eq!(quieted(club), [of("digest"), of("event")]);
        let of_age = club.archer("Ben Invented");
        of_age.patch("/me", "*", &more).expect(200);
        assert_eq!(quieted(club).len(), 2);
    });
}

/// The notices to guardians in the outbox: about whom, and what makes each one of a kind.
fn quieted(club: &Club) -> Vec<(MemberId, String)> {
    let all = club.outbox().into_iter().filter(|one| one.mail.kind == MailKind::Quieted);
    all.map(|one| (one.mail.recipient, one.mail.dedupe_key)).collect()
}

#[test]
fn a_guardian_is_told_once_a_day_of_a_kind_that_is_stopped_again_and_again() {
    on_both(|database| {
        let told = Told::in_database(database);
        let (club, archer) = (&told.club, &told.archer);
        minor(club, archer);
        let (link, browser) = (quiet_link(&told.mail), Browser::of(club));
        let press = |action: &str| {
            browser.post(&link, &format!("action={action}")).page(200);
            club.clock.advance(SignedDuration::from_mins(1));
        };
        // It came again before the notice went out: there is nothing to tell.
        press("stop");
        press("resume");
        club.sweep();
        assert_eq!(states(club, MailKind::Quieted), [MailState::Cancelled]);
        // Nobody was told yet, so this is, and no more that day.
        for _ in 0..5 {
            press("stop");
            club.sweep();
            press("resume");
            archer.patch("/me", "*", &json!({"stopped_mail": ["digest"]})).expect(200);
            press("resume");
        }
        assert_eq!(states(club, MailKind::Quieted), [MailState::Cancelled, MailState::Sent]);
        club.clock.advance(SignedDuration::from_hours(24));
        press("stop");
        club.sweep();
        assert_eq!(states(club, MailKind::Quieted).last(), Some(&MailState::Sent));
        assert_eq!(quieted(club).len(), 3, "on another day once more");
    });
}

#[test]
fn signed_in_one_stops_only_what_can_be_stopped() {
    on_both(|database| {
        let told = Told::in_database(database);
        let archer = &told.archer;
        // Who signs in leaves a row.
        archer.get("/me").expect(200);
        let before = everything(database);
        for (kinds, pointer, code) in [
            (json!(["stop"]), "/stopped_mail/0", "unknown_word"),
            (json!(["digest", "reset"]), "/stopped_mail/1", "unknown_word"),
            (json!(["digest", "bench", "digest"]), "/stopped_mail/2", "duplicate"),
            (json!(["Digest"]), "/stopped_mail/0", "unknown_word"),
            (json!("digest"), "/stopped_mail", "wrong_type"),
            (json!(null), "/stopped_mail", "wrong_type"),
        ] {
            archer.patch("/me", "*", &json!({"stopped_mail": kinds})).refuses(422, pointer, code);
        }
        unchanged(database, &before, "what was refused");
        let read = archer.get("/me").header("etag").to_owned();
        Browser::of(&told.club).post(&quiet_link(&told.mail), "action=stop").page(200);
        let stale = archer.patch("/me", &read, &json!({"stopped_mail": []}));
        assert_eq!(stale.problem(412)["type"], "/problems/stale");
        let body = archer.patch("/me", "*", &json!({"stopped_mail": ["nudge", "squad"]}));
        assert_eq!(body.expect(200)["stopped_mail"], json!(["squad", "nudge"]));
        let body = archer.patch("/me", "*", &json!({"time_zone": "Europe/Lisbon"}));
        assert_eq!(body.expect(200)["stopped_mail"], json!(["squad", "nudge"]));
    });
}

#[test]
fn a_link_for_what_cannot_be_stopped_or_that_was_forged_is_none() {
    on_both(|database| {
        let told = Told::in_database(database);
        let (club, member) = (&told.club, told.archer.id());
        let link = quiet_link(&told.mail);
        let of = |kind| seal_quiet(&seals(), club.id, &QuietLink { member, kind });
        assert_eq!(format!("/quiet/{}", of(MailKind::Digest)), link);
        let before = everything(database);
        let cut = link.trim_start_matches("/quiet/")[1..].to_owned();
        for token in
            [of(MailKind::Stop), of(MailKind::Reset), of(MailKind::Moved), cut, "x".to_owned()]
        {
            let path = format!("/quiet/{token}");
            Browser::of(club).get(&path).page(404);
            Browser::of(club).post(&path, "List-Unsubscribe=One-Click").page(404);
        }
        unchanged(database, &before, "what was refused");
    });
}

#[test]
fn who_left_gets_no_mail_and_is_told_so() {
    on_both(|database| {
        let told = Told::in_database(database);
        let taken = json!({"archer_member_id": null});
        told.club.owner().patch(&format!("/bows/{}", told.of.bow), "*", &taken).expect(200);
        let left = told.club.owner().delete(&format!("/members/{}", told.archer.id()), "*");
        assert_eq!(left.status, 204, "{left}");
        let (link, before) = (quiet_link(&told.mail), everything(database));
        let browser = Browser::of(&told.club);
        for answer in [browser.get(&link), browser.post(&link, "List-Unsubscribe=One-Click")] {
            assert!(answer.page(200).contains("You are not in the club any more"));
        }
        unchanged(database, &before, "what was refused");
    });
}
