//! Workers that die, and workers that are many: a mail goes out all the same, and once.

use std::collections::BTreeSet;

use domain::mail::MailState;
use jiff::{SignedDuration, Timestamp};
use serde_json::{Value, json};
use store::{DatabaseUrl, testing::Fresh};

use super::program::SECRET;
use crate::support::{Club, Kit, Program, Scratch, SmtpServer, on_both, until};

#[expect(clippy::disallowed_methods, reason = "the program under test has the machine's clock")]
fn machine_now() -> Timestamp {
    Timestamp::now()
}

/// A club two days ago with as many archers, each owed a mail that should have gone yesterday.
fn club_with_mail_due(database: &Fresh, archers: usize) -> Club {
    let now = machine_now() - SignedDuration::from_hours(48);
    let club = Club::start_at(database, now, None);
    for number in 0..archers {
        let archer = club.archer(&format!("Invented Archer {number}"));
        let bow = Kit::bow(club.owner(), Some(archer.id()));
        let string = Kit::part(club.owner(), "string");
        let fitting = json!({"part_id": string, "bow_id": bow, "at": now.to_string()});
        club.owner().post("/fittings", &fitting).expect(201);
        Kit::measured(club.owner(), &string, &now.to_string());
        let log = json!({"bow_id": bow, "at": now.to_string(), "shots": 520});
        club.owner().post("/shot-logs", &log).expect(201);
    }
    assert_eq!(club.sweep(), json!({"check_maintenance": archers, "deliver_mail": 0}));
    assert_eq!(club.mail_states(), vec![MailState::Due; archers]);
    club
}

/// `tautline work` against a database and a relay, with a lease of so many seconds.
fn start_work(
    folder: &Scratch,
    database: &Fresh,
    relay: &SmtpServer,
    lease_s: &'static str,
) -> Program {
    start(folder, database, relay, lease_s, &["work"])
}

fn start(
    folder: &Scratch,
    database: &Fresh,
    relay: &SmtpServer,
    lease_s: &'static str,
    arguments: &[&str],
) -> Program {
    let url = match &database.url {
        DatabaseUrl::Sqlite(path) => format!("sqlite://{path}"),
        DatabaseUrl::Postgres(url) => url.clone(),
    };
    let settings = [
        ("TAUTLINE_DATABASE_URL", &*url),
        ("TAUTLINE_SMTP_URL", &relay.url),
        ("TAUTLINE_MAIL_FROM", "bench@tautline.example"),
        ("TAUTLINE_MAIL_LEASE_S", lease_s),
        ("TAUTLINE_SECRET", SECRET),
    ];
    Program::start(folder.path(), &settings, arguments)
}

fn message_ids(mails: &[Value]) -> BTreeSet<String> {
    mails.iter().map(|mail| mail["message_id"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn a_mail_whose_worker_was_killed_goes_out_once_by_the_next_worker() {
    on_both(|database| {
        let folder = Scratch::new();
        let club = club_with_mail_due(database, 1);
        let mut relay = SmtpServer::start("hang-at-connect");
        let worker = start_work(&folder, database, &relay, "2");
        relay.lines().wait_for("held connection");
        worker.kill();
        let killed_at = machine_now();
        let posted = club.outbox();
        assert_eq!((posted[0].mail.state, posted[0].mail.attempt), (MailState::Sending, 1));

        relay.turn_to("accept");
        // Until its lease is over nobody may touch the mail: the worker might have lived.
        let lease = SignedDuration::from_secs(2);
        until("the end of the lease", || (machine_now() > killed_at + lease).then_some(()));
        let worker = start_work(&folder, database, &relay, "2");
        relay.lines().wait_for("accepted ");
        let finished = until("the mail to be marked as sent", || {
            let posted = club.outbox();
            (posted[0].mail.state == MailState::Sent).then_some(posted)
        });
        let ended = worker.terminate();
        assert_eq!(ended.code, Some(0), "{ended:?}");
        assert_eq!((finished.len(), finished[0].mail.attempt), (1, 2));

        let mails = relay.mails();
        assert_eq!(mails.len(), 1, "{mails:#?}");
        let id = format!("<{}@tautline.example>", posted[0].mail.id);
        assert_eq!(mails[0]["message_id"], json!(id));
        assert_eq!(mails[0]["to"], json!(["Invented Archer 0 <invented.archer.0@club.example>"]));
        let reminders = club.owner().get("/reminders").expect(200);
        assert_eq!(reminders["data"][0]["state"], "sent");
    });
}

#[test]
fn a_mail_that_a_living_worker_holds_is_left_to_it() {
    on_both(|database| {
        let folder = Scratch::new();
        let club = club_with_mail_due(database, 1);
        let mut relay = SmtpServer::start("hang-at-connect");
        let slow = start_work(&folder, database, &relay, "120");
        relay.lines().wait_for("held connection");
        relay.turn_to("accept");
        let other = start(&folder, database, &relay, "120", &["work", "--once"]).end();
        assert_eq!(
            other.stdout,
            "check_maintenance: 0\ncheck_events: 0\nlist_bench_work: 0\nask_for_logs: 0\n\
             deliver_mail: 0\ntidy_up: 0\n",
            "{other:?}"
        );
        slow.kill();
        assert!(relay.mails().is_empty());
        let posted = club.outbox();
        assert_eq!((posted[0].mail.state, posted[0].mail.attempt), (MailState::Sending, 1));
    });
}

#[test]
fn two_workers_at_once_send_each_of_forty_mails_once() {
    const MAILS: usize = 40;
    let database = store::testing::postgres();
    let folder = Scratch::new();
    let club = club_with_mail_due(&database, MAILS);
    let relay = SmtpServer::start("accept");
    let workers = [(); 2].map(|()| start_work(&folder, &database, &relay, "120"));
    until("every mail to be marked as sent", || {
        club.mail_states().iter().all(|state| *state == MailState::Sent).then_some(())
    });
    for ended in workers.map(Program::terminate) {
        assert_eq!(ended.code, Some(0), "{ended:?}");
    }
    let mails = relay.mails();
    assert_eq!(mails.len(), MAILS);
    let expected: BTreeSet<String> = club
        .outbox()
        .iter()
        .map(|posted| format!("<{}@tautline.example>", posted.mail.id))
        .collect();
    assert_eq!(message_ids(&mails), expected);
    assert!(club.outbox().iter().all(|posted| posted.mail.attempt == 1));
}

#[test]
fn a_mail_that_a_relay_refuses_for_now_is_kept_for_later() {
    on_both(|database| {
        let folder = Scratch::new();
        let club = club_with_mail_due(database, 1);
        let relay = SmtpServer::start("reject-451");
        let worker = start_work(&folder, database, &relay, "120");
        relay.lines().wait_for("refused 451");
        let posted = until("the refusal to be noted", || {
            let posted = club.outbox();
            (posted[0].mail.state == MailState::Retry).then_some(posted)
        });
        let ended = worker.terminate();
        assert_eq!(ended.code, Some(0), "{ended:?}");
        assert!(posted[0].mail.due_at > machine_now(), "{posted:?}");
        assert!(posted[0].outcome.as_deref().unwrap().contains("451"), "{posted:?}");
        assert!(relay.mails().is_empty());
    });
}
