//! Workers killed while they look for what came due: a reminder and the mail that carries it are there
//! together or not at all.
//!
//! Mail goes out the next morning in this club, so that what is written stays as it was written.

use std::{
    thread,
    time::{Duration, Instant},
};

use store::testing::Fresh;

use super::{
    chance::Chance,
    scene::{club_with_work_due, setting, start, start_work},
};
use crate::support::{Scratch, SmtpServer, name_of};

const PARTS: usize = 120;

fn count(database: &Fresh, of: &str) -> usize {
    database.texts(&format!("SELECT CAST(count(*) AS text) AS text FROM {of}"))[0].parse().unwrap()
}

/// Reminders whose mail is not there, or goes to somebody else.
const REMINDERS_ALONE: &str = "reminders AS r WHERE NOT EXISTS (SELECT 1 FROM outbox AS o \
     WHERE o.club_id = r.club_id AND o.id = r.mail_id \
     AND o.recipient_member_id = r.recipient_member_id)";
/// Mails that have nothing to say.
const MAILS_ALONE: &str = "outbox AS o WHERE NOT EXISTS (SELECT 1 FROM reminders AS r \
     WHERE r.club_id = o.club_id AND r.mail_id = o.id)";

fn forget_all(database: &Fresh) {
    database.execute("DELETE FROM reminders; DELETE FROM outbox;");
}

/// How long a worker takes from its start until everything is written, and how long it takes in all.
fn time_of_a_round(folder: &Scratch, database: &Fresh, relay: &SmtpServer) -> Duration {
    let began = Instant::now();
    let round = start(folder, database, relay, "120", &["work", "--once"]).end();
    assert_eq!(round.code, Some(0), "{round:?}");
    began.elapsed()
}

fn kill_in_the_sweep(database: &Fresh) {
    let kills = usize::try_from(setting("SWEEP_KILLS", 20)).unwrap();
    let mut chance = Chance::of_this_run();
    let began = Instant::now();
    let (folder, relay) = (Scratch::new(), SmtpServer::start("accept"));
    let _club = club_with_work_due(database, PARTS);
    let whole = time_of_a_round(&folder, database, &relay);
    assert_eq!((count(database, "reminders"), count(database, "outbox")), (PARTS, PARTS));

    let (mut none, mut all, mut some) = (0, 0, 0);
    // About when everything is written. It is followed as the machine gets slower and faster, so that the
    // kills lie around it.
    let mut centre = whole;
    for kill in 0..kills {
        forget_all(database);
        let worker = start_work(&folder, database, &relay, "120");
        thread::sleep(chance.between(centre * 7 / 10, centre * 11 / 10));
        worker.kill();
        let alone = (count(database, REMINDERS_ALONE), count(database, MAILS_ALONE));
        assert_eq!(
            alone,
            (0, 0),
            "reminders without mail, mails without reminders after kill {kill}"
        );
        match count(database, "reminders") {
            0 => {
                none += 1;
                centre = centre * 11 / 10;
            }
            PARTS => {
                all += 1;
                centre = centre * 9 / 10;
            }
            _ => some += 1,
        }
    }
    eprintln!(
        "{}: seed {}, {kills} kills around the end of writing ({whole:?} at first, {centre:?} at last) of a \
         round over {PARTS} parts: {none} before \
         anything was written, {some} in between, {all} after everything was; {:?} in all",
        name_of(database),
        chance.seed(),
        began.elapsed(),
    );
    assert!(none > 0 && all > 0, "the kills did not lie around the moment of writing");
    // Whatever was left undone is done by the next round, and what was done is not done again.
    time_of_a_round(&folder, database, &relay);
    assert_eq!((count(database, "reminders"), count(database, "outbox")), (PARTS, PARTS));
}

#[test]
fn a_worker_killed_in_its_sweep_on_sqlite_leaves_no_half_of_a_reminder() {
    kill_in_the_sweep(&store::testing::sqlite());
}

#[test]
fn a_worker_killed_in_its_sweep_on_postgresql_leaves_no_half_of_a_reminder() {
    kill_in_the_sweep(&store::testing::postgres());
}
