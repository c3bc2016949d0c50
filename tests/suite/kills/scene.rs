//! A club whose archers are owed mail, and workers that are to send it.

use std::thread;

use domain::mail::MailState;
use jiff::{SignedDuration, Timestamp};
use serde_json::json;
use store::{DatabaseUrl, testing::Fresh};

use crate::support::{Club, FOR_WORKERS, Kit, Program, Scratch, SmtpServer};

#[expect(clippy::disallowed_methods, reason = "the program under test has the machine's clock")]
pub(crate) fn machine_now() -> Timestamp {
    Timestamp::now()
}

/// A number that this run of the tests was told.
pub(super) fn setting(name: &str, default: u64) -> u64 {
    #[expect(clippy::disallowed_methods, reason = "a test's own setting, not the program's")]
    let told = std::env::var(format!("TAUTLINE_TEST_{name}"));
    told.map_or(default, |told| told.parse().unwrap())
}

/// A club a day and a half ago with as many archers, each with a string that nobody waxed for too long. It has
/// no quiet hours: the program's clock is the machine's, and such a test runs at any hour.
pub(super) fn club_with_work_due(database: &Fresh, archers: usize) -> Club {
    let now = machine_now() - SignedDuration::from_hours(36);
    let club = Club::start_at(database, now, None);
    database.execute("UPDATE clubs SET quiet_from = '00:00', quiet_until = '00:00'");
    let numbers: Vec<usize> = (0..archers).collect();
    // Two at a time: there are many requests.
    thread::scope(|scope| {
        for half in numbers.chunks(archers.div_ceil(2)) {
            let club = &club;
            scope.spawn(move || half.iter().for_each(|number| neglected_bow(club, *number, now)));
        }
    });
    club
}

fn neglected_bow(club: &Club, number: usize, now: Timestamp) {
    let archer = club.archer(&format!("Invented Archer {number}"));
    let bow = Kit::bow(club.owner(), Some(archer.id()));
    let string = Kit::part(club.owner(), "string");
    let fitting = json!({"part_id": string, "bow_id": bow, "at": now.to_string()});
    club.owner().post("/fittings", &fitting).expect(201);
    Kit::measured(club.owner(), &string, &now.to_string());
    let log = json!({"bow_id": bow, "at": now.to_string(), "shots": 520});
    club.owner().post("/shot-logs", &log).expect(201);
}

/// The same club, where each archer is owed a mail that should have gone yesterday.
pub(crate) fn club_with_mail_due(database: &Fresh, archers: usize) -> Club {
    let club = club_with_work_due(database, archers);
    assert_eq!(club.sweep(), json!({"check_maintenance": archers, "deliver_mail": 0}));
    assert_eq!(club.mail_states(), vec![MailState::Due; archers]);
    club
}

/// `tautline work` against a database and a relay, with a lease of so many seconds.
pub(crate) fn start_work(
    folder: &Scratch,
    database: &Fresh,
    relay: &SmtpServer,
    lease_s: &str,
) -> Program {
    start(folder, database, relay, lease_s, &["work"])
}

/// The program with other arguments.
pub(crate) fn start(
    folder: &Scratch,
    database: &Fresh,
    relay: &SmtpServer,
    lease_s: &str,
    arguments: &[&str],
) -> Program {
    let url = match &database.url {
        DatabaseUrl::Sqlite(path) => format!("sqlite://{path}"),
        DatabaseUrl::Postgres(url) => url.clone(),
    };
    let mut settings = vec![
        ("TAUTLINE_DATABASE_URL", &*url),
        ("TAUTLINE_SMTP_URL", &relay.url),
        ("TAUTLINE_MAIL_LEASE_S", lease_s),
    ];
    settings.extend(FOR_WORKERS);
    Program::start(folder.path(), &settings, arguments)
}
