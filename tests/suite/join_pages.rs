//! The pages that the links of invitations and resets open: a password is chosen there as by the API's calls,
//! on a phone and without a script.

use std::thread;

use domain::{
    ids::LinkId,
    links::{Link, Purpose},
    time::Clock as _,
};
use jiff::SignedDuration;
use serde_json::{Value, json};

use crate::support::{
    Answer, Browser, Club, everything, html_problems, links_in, on_both, seals, unchanged, until,
};

const EMAIL: &str = "odo@club.example";
const ARCHER: &str = "tobin.larkmoor@club.example";
/// What those have who joined as these tests let them.
const OLD: &str = "nine invented feathers";
const NEW: &str = "eleven & more = invented+feathers";
/// The same as a browser writes it (WHATWG URL, "application/x-www-form-urlencoded serializing").
const FORM: &str = "password=eleven+%26+more+%3D+invented%2Bfeathers";
const FIELD: &str = "type=\"password\"";

#[track_caller]
fn says(page: &str, words: &[&str]) {
    for word in words {
        assert!(page.contains(word), "{word:?} is not in {page}");
    }
}

fn invite(club: &Club, name: &str, email: &str) -> String {
    let body = json!({"name": name, "email": email, "role": "archer"});
    let member = club.owner().post("/members", &body).expect(201);
    format!("/members/{}", member["id"].as_str().unwrap())
}

fn sign_in(club: &Club, email: &str, password: &str) -> Answer {
    club.anonymous().post("/auth/sign-in", &json!({"email": email, "password": password}))
}

/// The link of a page in the mail that a round of the worker sends; both parts have it.
#[track_caller]
fn mailed(club: &Club, start: &str) -> String {
    assert_eq!(club.sweep()["deliver_mail"], 1);
    let mail: Value = club.mails().pop().unwrap();
    let mut links: Vec<String> =
        links_in(&mail).into_iter().filter(|link| link.starts_with(start)).collect();
    assert_eq!(links.len(), 1, "{mail}");
    let link = links.pop().unwrap();
    let text = mail["text"].as_str().unwrap();
    assert!(text.lines().any(|line| line == format!("https://tautline.example{link}")), "{text}");
    let html = mail["html"].as_str().unwrap();
    assert!(html.contains(&format!("<a href=\"https://tautline.example{link}\">")), "{html}");
    link
}

/// The link in the mail that somebody asked for.
fn asked_for(club: &Club) -> String {
    let before = club.outbox().len();
    club.anonymous().post("/auth/reset", &json!({"email": ARCHER})).expect(202);
    until("the link to be written", || (club.outbox().len() > before).then_some(()));
    mailed(club, "/reset/")
}

#[test]
fn whoever_is_invited_opens_the_link_chooses_a_password_and_signs_in() {
    on_both(|database| {
        let club = Club::start(database);
        invite(&club, "Odo Fenwright", EMAIL);
        let (link, browser) = (mailed(&club, "/invitations/"), Browser::of(&club));
        let audit = club.owner().get("/audit").expect(200);
        let before = everything(database);
        for opened in [link.clone(), format!("{link}?from=mail"), link.clone()] {
            let page = browser.get(&opened).page(200);
            says(&page, &["<h1>Join Bowmen of Invented Hill</h1>", "Odo Fenwright", EMAIL]);
            // 09:00 UTC on the day of these tests, two weeks later.
            says(&page, &["Mon 15 March, 09:00", "At least 8 characters"]);
            says(&page, &[FIELD, "autocomplete=\"new-password\"", "minlength=\"8\"", "required"]);
            says(&page, &["<label for=\"password\">", "id=\"password\"", "<form method=\"post\">"]);
            assert!(!page.contains("aria-invalid") && !page.contains("class=\"wrong\""), "{page}");
        }
        unchanged(database, &before, "opening the page");
        sign_in(&club, EMAIL, NEW).problem(401);
        let before = everything(database);
        let page = browser.post(&link, "password=seven77").page(422);
        says(
            &page,
            &["The password must have 8 to 256 characters.", FIELD, "aria-invalid=\"true\""],
        );
        says(&page, &["aria-describedby=\"wrong hint\"", "id=\"wrong\"", "id=\"hint\""]);
        assert!(!page.contains("seven77"), "a password is not handed back: {page}");
        unchanged(database, &before, "a password that is too short");

        let page = browser.post(&link, FORM).page(200);
        says(&page, &["<h1>You have joined Bowmen of Invented Hill</h1>", "sign in with", EMAIL]);
        assert!(!page.contains("<form") && !page.contains("feathers"), "{page}");
        assert_eq!(club.owner().get("/audit").expect(200), audit, "as `accept_invitation`");
        let signed_in = sign_in(&club, EMAIL, NEW).expect(200);
        let me = club.bearing(signed_in["access_token"].as_str().unwrap()).get("/me").expect(200);
        assert_eq!((&me["name"], &me["role"]), (&json!("Odo Fenwright"), &json!("archer")));

        let before = everything(database);
        for answer in [browser.post(&link, "password=another+feather"), browser.get(&link)] {
            let page = answer.page(410);
            says(&page, &["<h1>You have joined already</h1>", EMAIL, "Nothing was changed."]);
        }
        unchanged(database, &before, "a second time");
        sign_in(&club, EMAIL, NEW).expect(200);
    });
}

#[test]
fn a_reset_changes_the_password_once_and_signs_every_device_out() {
    on_both(|database| {
        let club = Club::start(database);
        club.archer("Tobin Larkmoor");
        let device = sign_in(&club, ARCHER, OLD).expect(200);
        let bearer = club.bearing(device["access_token"].as_str().unwrap());
        let made = bearer.post("/tokens", &json!({"name": "Bench", "scope": "read"})).expect(201);
        let (link, browser) = (asked_for(&club), Browser::of(&club));
        let before = everything(database);
        let page = browser.get(&link).page(200);
        says(&page, &["<h1>Choose another password</h1>", "Tobin Larkmoor", ARCHER, FIELD]);
        says(&page, &["Bowmen of Invented Hill", "Every device is signed out", "New password"]);
        says(&browser.post(&link, "password=").page(422), &["must have 8 to 256", FIELD]);
        unchanged(database, &before, "looking, and no password");
        bearer.get("/me").expect(200);

        let page = browser.post(&link, FORM).page(200);
        says(&page, &["<h1>The password is changed</h1>", "Every device is signed out", ARCHER]);
        bearer.get("/me").problem(401);
        let refresh = json!({"refresh_token": device["refresh_token"]});
        club.anonymous().post("/auth/refresh", &refresh).problem(401);
        club.bearing(made["token"].as_str().unwrap()).get("/me").expect(200);
        sign_in(&club, ARCHER, OLD).problem(401);
        sign_in(&club, ARCHER, NEW).expect(200);
        for answer in [browser.post(&link, "password=another+feather"), browser.get(&link)] {
            says(&answer.page(410), &["This link does not work any more", "was used"]);
        }
        sign_in(&club, ARCHER, NEW).expect(200);
        club.owner().get("/me").expect(200);
    });
}

#[test]
fn what_is_no_password_or_no_form_is_refused_and_the_link_works_on() {
    on_both(|database| {
        let club = Club::start(database);
        invite(&club, "Odo Fenwright", EMAIL);
        let (link, browser) = (mailed(&club, "/invitations/"), Browser::of(&club));
        // Four bytes of UTF-8 each: the longest password that there is takes the longest form.
        let bows = |count: usize| format!("password={}", "%F0%9F%8F%B9".repeat(count));
        let before = everything(database);
        for form in [String::new(), "password=".to_owned(), bows(7), bows(257)] {
            says(&browser.post(&link, &form).page(422), &["must have 8 to 256 characters", FIELD]);
        }
        let twice = "password=long+enough&password=long+enough";
        for form in [twice, "password=long+enough&role=owner", "colour=blue"] {
            says(
                &browser.post(&link, form).page(422),
                &["Nothing was changed", "not what the page"],
            );
        }
        let json = ("application/json", r#"{"password":"long enough"}"#);
        says(&browser.ask("POST", &link, Some(json)).page(415), &["Nothing was changed"]);
        browser.post(&link, &bows(400)).page(413);
        // Latin-1, which would be a password that nobody can type again.
        says(
            &browser.post(&link, "password=%FCber+den+H%FCgel").page(400),
            &["Nothing was changed"],
        );
        unchanged(database, &before, "what was refused");
        browser.post(&link, &bows(256)).page(200);
        sign_in(&club, EMAIL, &"\u{1f3f9}".repeat(256)).expect(200);
    });
}

#[test]
fn a_link_that_ran_out_was_voided_or_was_never_ours_says_so_and_changes_nothing() {
    on_both(|database| {
        let club = Club::start(database);
        club.archer("Tobin Larkmoor");
        let (reset, browser) = (asked_for(&club), Browser::of(&club));
        let odo = invite(&club, "Odo Fenwright", EMAIL);
        let moved = mailed(&club, "/invitations/");
        club.owner().patch(&odo, "*", &json!({"email": "odo@home.example"})).expect(200);
        club.sweep();
        let ina = invite(&club, "Ina Fenwright", "ina@club.example");
        let left = mailed(&club, "/invitations/");
        assert_eq!(club.owner().delete(&ina, "*").status, 204);
        invite(&club, "Runa Fenwright", "runa@club.example");
        let late = mailed(&club, "/invitations/");
        browser.get(&late).page(200);
        club.clock.advance(SignedDuration::from_hours(2) - SignedDuration::from_secs(1));
        browser.get(&reset).page(200);
        club.clock.advance(SignedDuration::from_secs(1));
        let over = |link: &str, words: &[&str]| {
            let before = everything(database);
            for answer in [browser.get(link), browser.post(link, FORM)] {
                let page = answer.page(410);
                says(&page, words);
                says(&page, &["Bowmen of Invented Hill", "Nothing was changed"]);
                assert!(!page.contains("<form"), "{page}");
            }
            unchanged(database, &before, link);
        };
        over(&reset, &["This link has run out", "2 hours", "ask for another link"]);
        over(&moved, &["does not work any more", "a change of your address"]);
        over(&left, &["does not work any more", "not in the club any more"]);
        club.clock.advance(SignedDuration::from_hours(14 * 24));
        over(&late, &["This link has run out", "14 days", "Ask whoever invited you"]);
    });
}

#[test]
fn a_forged_link_opens_nothing() {
    on_both(|database| {
        let club = Club::start(database);
        club.archer("Tobin Larkmoor");
        let (reset, browser) = (asked_for(&club), Browser::of(&club));
        let token = reset.strip_prefix("/reset/").unwrap();
        let link =
            Link::new(LinkId(club.id.0), club.owner().id(), Purpose::Reset, club.clock.now());
        let nobodys = store::links::seal(&seals(), club.id, &link);
        let others = store::links::seal(&store::seals::Seals::new([1; 32], None), club.id, &link);
        let (cut, longer) = (&token[..token.len() - 1], format!("{token}A"));
        let before = everything(database);
        let mut wrong: Vec<String> = [cut, &longer, &nobodys, &others, "x", "%00"]
            .map(|token| format!("/reset/{token}"))
            .into();
        // A link for one purpose is none for another.
        wrong.push(format!("/invitations/{token}"));
        wrong.push(format!("/invitations/{}", "a".repeat(2_000)));
        for wrong in wrong {
            for answer in [browser.get(&wrong), browser.post(&wrong, FORM)] {
                says(&answer.page(404), &["This link does not work", "Nothing was changed."]);
            }
        }
        unchanged(database, &before, "forged links");
        sign_in(&club, ARCHER, OLD).expect(200);
    });
}

#[test]
fn an_address_that_signs_in_elsewhere_is_refused_and_the_link_works_on() {
    on_both(|database| {
        let club = Club::start(database);
        club.neighbour();
        invite(&club, "Pell Wrenfield", "pell.wrenfield@club.example");
        let (link, browser) = (mailed(&club, "/invitations/"), Browser::of(&club));
        let before = everything(database);
        let page = browser.post(&link, FORM).page(409);
        says(&page, &["Nothing was changed", "Somebody signs in by this address already"]);
        unchanged(database, &before, "an address that is taken");
        browser.get(&link).page(200);
    });
}

#[test]
fn names_are_shown_as_they_are_written_and_never_as_tags() {
    on_both(|database| {
        let club = Club::start(database);
        let name = json!({"name": "<img src=x> & \"Sons\""});
        club.owner().patch("/club", "*", &name).expect(200);
        invite(&club, "<b>Odo</b> O'Fenwright", EMAIL);
        let (link, browser) = (mailed(&club, "/invitations/"), Browser::of(&club));
        let mut pages = Vec::new();
        for answer in [
            browser.get(&link),
            browser.post(&link, "password=x"),
            browser.post(&link, FORM),
            browser.get(&link),
        ] {
            let page = answer.page(answer.status);
            assert!(!page.contains("<img") && !page.contains("<b>"), "{page}");
            says(&page, &["&#60;img src=x&#62; &#38; &#34;Sons&#34;"]);
            // Either is HTML; the checker has a liking.
            pages.push(page.replacen("<!doctype", "<!DOCTYPE", 1));
        }
        says(&pages[0], &["&#60;b&#62;Odo&#60;/b&#62; O&#39;Fenwright"]);
        let titles: Vec<&str> = pages.iter().filter_map(|page| page.split("<h1>").nth(1)).collect();
        let starts = ["Join ", "Join ", "You have joined ", "You have joined already"];
        assert!(
            titles.iter().zip(starts).all(|(title, start)| title.starts_with(start)),
            "{titles:?}"
        );
        for (page, problems) in pages.iter().zip(html_problems(&pages)) {
            assert_eq!(problems, json!([]), "{page}");
        }
    });
}

#[test]
fn a_head_is_answered_as_a_get_is_but_for_the_page() {
    on_both(|database| {
        let club = Club::start(database);
        invite(&club, "Odo Fenwright", EMAIL);
        let (link, browser) = (mailed(&club, "/invitations/"), Browser::of(&club));
        let before = everything(database);
        for (path, status) in [(link.as_str(), 200), ("/reset/x", 404)] {
            let (head, get) = (browser.ask("HEAD", path, None), browser.get(path));
            assert_eq!((head.status, head.body.len()), (status, 0), "{head}");
            for name in ["content-type", "cache-control", "content-security-policy"] {
                assert_eq!(head.header(name), get.header(name), "{name}: {head}");
            }
            get.page(status);
        }
        for method in ["PUT", "DELETE", "PATCH"] {
            assert_eq!(browser.ask(method, &link, None).status, 405);
        }
        unchanged(database, &before, "a HEAD");
    });
}

#[test]
fn of_several_at_once_one_joins_and_the_others_are_told_that_they_have() {
    on_both(|database| {
        let club = Club::start(database);
        invite(&club, "Odo Fenwright", EMAIL);
        let link = mailed(&club, "/invitations/");
        let statuses: Vec<u16> = thread::scope(|scope| {
            let ask = || scope.spawn(|| Browser::of(&club).post(&link, FORM));
            let asked: Vec<_> = (0..5).map(|_| ask()).collect();
            let answers = asked.into_iter().map(|one| one.join().unwrap());
            let status = |answer: Answer| {
                let joined = answer.page(answer.status).contains("You have joined");
                assert!(joined, "{answer}");
                answer.status
            };
            answers.map(status).collect()
        });
        let joined = statuses.iter().filter(|status| **status == 200).count();
        let told = statuses.iter().filter(|status| **status == 410).count();
        assert_eq!((joined, told), (1, 4), "{statuses:?}");
        sign_in(&club, EMAIL, NEW).expect(200);
    });
}

#[test]
fn a_stranger_who_tries_link_after_link_has_to_wait() {
    let database = store::testing::sqlite();
    let club = Club::start(&database);
    let browser = Browser::of(&club);
    for n in 0..15 {
        for path in [format!("/invitations/{n}"), format!("/reset/{n}")] {
            browser.get(&path).page(404);
            browser.post(&path, FORM).page(404);
        }
    }
    for refused in [browser.get("/reset/x"), browser.post("/invitations/x", FORM)] {
        assert_eq!(refused.header("retry-after"), "1");
        says(&refused.page(429), &["Too often", "Wait a second"]);
    }
    // The API's own calls count with them.
    club.anonymous().get("/invitations/x").problem(429);
}
