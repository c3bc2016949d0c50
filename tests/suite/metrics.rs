//! The figures of operation: what they count, in which form, and for whom.

use jiff::SignedDuration;

use crate::{
    program::SECRET,
    support::{Club, Kit, Person, Program, Scratch, on_both},
};

fn figures(by: &Person) -> String {
    let answer = by.raw("GET /metrics HTTP/1.1");
    let (head, body) = answer.split_once("\r\n\r\n").unwrap();
    assert!(head.starts_with("HTTP/1.1 200 "), "{answer}");
    let head = head.to_lowercase();
    assert!(head.contains("content-type: text/plain; version=0.0.4; charset=utf-8"), "{head}");
    body.to_owned()
}

#[track_caller]
fn figure(text: &str, name: &str) -> i64 {
    let line = text.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(' '));
    line.unwrap_or_else(|| panic!("no {name} in {text}")).parse().unwrap()
}

#[test]
fn the_figures_count_the_mail_of_all_clubs_and_name_nobody() {
    on_both(|database| {
        let club = Club::start(database);
        let fresh = figures(club.owner());
        assert_eq!(figure(&fresh, "tautline_mail_waiting"), 0);
        assert_eq!(figure(&fresh, "tautline_mail_oldest_due_age_seconds"), 0);
        for state in ["due", "sending", "sent", "retry", "uncertain", "cancelled", "dead"] {
            assert_eq!(figure(&fresh, &format!("tautline_mails{{state=\"{state}\"}}")), 0);
        }
        let archer = club.archer("Ada Invented");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        let work = serde_json::json!({"bow_id": kit.bow, "kind": "dry_fire", "at": club.now()});
        archer.post("/incidents", &work).expect(201);
        let neighbour = club.neighbour();
        let invited = serde_json::json!({"name": "Bo Elsewhere", "email": "bo@elsewhere.example",
            "role": "archer"});
        neighbour.post("/members", &invited).expect(201);
        club.clock.advance(SignedDuration::from_mins(5));
        let waiting = figures(&club.anonymous());
        assert_eq!(figure(&waiting, "tautline_mails{state=\"due\"}"), 1);
        assert_eq!(figure(&waiting, "tautline_mail_waiting"), 1);
        assert_eq!(figure(&waiting, "tautline_mail_oldest_due_age_seconds"), 300);
        club.run_round();
        let sent = figures(club.owner());
        let mails = figure(&sent, "tautline_mails{state=\"sent\"}");
        assert!(mails >= 2, "{sent}");
        assert_eq!(figure(&sent, "tautline_mail_waiting"), 0);
        assert!(figure(&sent, "tautline_reminders{state=\"sent\"}") >= 1, "{sent}");
        for hidden in ["Ada", "Elsewhere", "@", "Invented Hill", &archer.id().to_string()] {
            assert!(!sent.contains(hidden), "{hidden} is in {sent}");
        }
    });
}

/// The format: each figure has its help and its type before its samples, and each line ends.
#[test]
fn the_figures_are_in_the_text_format() {
    let database = store::testing::sqlite();
    let text = figures(Club::start(&database).owner());
    assert!(text.ends_with('\n'));
    let mut described = Vec::new();
    for line in text.lines() {
        if let Some(rest) = line.strip_prefix("# TYPE ") {
            let (name, kind) = rest.split_once(' ').unwrap();
            assert_eq!(kind, "gauge");
            described.push(name.to_owned());
        } else if !line.starts_with("# HELP ") {
            let name = line.split(['{', ' ']).next().unwrap();
            assert_eq!(described.last().map(String::as_str), Some(name), "{line}");
        }
    }
    assert_eq!(described.len(), 4);
}

#[test]
fn where_a_token_is_set_the_figures_are_for_whoever_shows_it_and_for_nobody_else() {
    let folder = Scratch::new();
    let port = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let listen = format!("127.0.0.1:{port}");
    let settings = [
        ("TAUTLINE_LISTEN", &*listen),
        ("TAUTLINE_SECRET", SECRET),
        ("TAUTLINE_METRICS_TOKEN", "an-invented-token"),
    ];
    let server = Program::start(folder.path(), &settings, &["serve", "--no-worker"]);
    server.stdout().wait_for("Tautline serves");
    let base = format!("http://{listen}");
    for shown in [None, Some("an-invented-token-too"), Some("an-invented-toke")] {
        let by = shown.map_or_else(|| Person::nobody(&base), |token| Person::bearing(&base, token));
        let refused = by.send("GET", "/metrics", None);
        refused.problem(404);
        assert!(!refused.to_string().contains("tautline_mail"), "{refused}");
    }
    let body = Person::bearing(&base, "an-invented-token").send("GET", "/metrics", None);
    assert_eq!(body.status, 200);
    assert_eq!(server.terminate().code, Some(0));
}
