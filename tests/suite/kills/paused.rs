//! Workers that stand still while they hold a mail, and mails whose worker is gone.

use std::time::{Duration, Instant};

use domain::mail::MailState;
use store::testing::Fresh;

use super::scene::{club_with_mail_due, start, start_work};
use crate::support::{Scratch, SmtpServer, on_both, until};

const LEASE_S: &str = "2";

/// Everything that a delivery may write, to the last column.
fn written(database: &Fresh) -> Vec<String> {
    let mails = "SELECT state || ' ' || CAST(attempt AS text) || ' ' || \
         coalesce(CAST(leased_until AS text), '-') || ' ' || coalesce(outcome, '-') || ' ' || \
         CAST(due_at AS text) || ' ' || coalesce(CAST(tried_at AS text), '-') || ' ' || \
         coalesce(CAST(finished_at AS text), '-') AS text FROM outbox ORDER BY id";
    let reminders = "SELECT state AS text FROM reminders ORDER BY id";
    [database.texts(mails), database.texts(reminders)].concat()
}

/// Runs rounds of another worker until it has sent the one mail; says how long that took.
fn taken_over(folder: &Scratch, database: &Fresh, relay: &SmtpServer) -> Duration {
    let began = Instant::now();
    let sent = || database.texts("SELECT state AS text FROM outbox") == ["sent"];
    until("another worker to send it", || {
        let round = start(folder, database, relay, LEASE_S, &["work", "--once"]).end();
        assert_eq!(round.code, Some(0), "{round:?}");
        sent().then(|| began.elapsed())
    })
}

/// A worker in the middle of a talk is stopped, another sends its mail, and it goes on: its talk breaks off
/// in that moment, and it has something to record.
fn stopped_in_a_talk(database: &Fresh, mode: &str, held: &str) {
    let folder = Scratch::new();
    let club = club_with_mail_due(database, 1);
    let (hanging, working) = (SmtpServer::start(mode), SmtpServer::start("accept"));
    let paused = start_work(&folder, database, &hanging, LEASE_S);
    hanging.lines().wait_for(held);
    paused.pause();
    let posted = club.outbox();
    assert_eq!((posted[0].mail.state, posted[0].mail.attempt), (MailState::Sending, 1));

    taken_over(&folder, database, &working);
    let before = written(database);
    assert_eq!(working.messages().len(), 1);

    paused.go_on();
    drop(hanging);
    paused.stderr().wait_for_part("the lease was lost; another worker has it");
    assert_eq!(written(database), before, "changed by a worker that had lost its lease");
    let ended = paused.terminate();
    assert_eq!(ended.code, Some(0), "{ended:?}");
    assert_eq!(written(database), before, "changed by a worker that had lost its lease");
    let posted = club.outbox();
    assert_eq!((posted[0].mail.state, posted[0].mail.attempt), (MailState::Sent, 2));
}

#[test]
fn a_worker_that_stood_still_before_the_message_changes_nothing_afterwards() {
    on_both(|database| stopped_in_a_talk(database, "hang-at-connect", "held connection"));
}

#[test]
fn a_worker_that_stood_still_after_the_message_changes_nothing_afterwards() {
    on_both(|database| stopped_in_a_talk(database, "hang-after-data", "held after data"));
}

/// Rounds are run here as fast as they go. A worker in service runs one a minute, so that there a mail comes
/// back within the lease and a minute: less than two leases of 120 s.
#[test]
fn the_mail_of_a_dead_worker_comes_back_within_two_leases() {
    on_both(|database| {
        let folder = Scratch::new();
        let club = club_with_mail_due(database, 1);
        let (hanging, working) =
            (SmtpServer::start("hang-at-connect"), SmtpServer::start("accept"));
        // Long enough that a round on a busy machine takes no large part of it.
        let worker = start_work(&folder, database, &hanging, "5");
        hanging.lines().wait_for("held connection");
        worker.kill();
        let after = taken_over(&folder, database, &working);
        assert!(after < 2 * Duration::from_secs(5), "{after:?}");
        let posted = club.outbox();
        assert_eq!((posted[0].mail.state, posted[0].mail.attempt), (MailState::Sent, 2));
    });
}
