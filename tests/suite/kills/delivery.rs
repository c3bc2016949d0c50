//! Workers killed while they send: every mail arrives, and comes twice only where it may.
//!
//! A life is one or more workers from their start to their kill. The kill comes at a random moment of the
//! time in which six mails are sent, counted from when the first of that life was claimed. What stands in
//! `sending` once all workers of a life are dead was cut off: nobody knows whether the relay has it.

use std::{
    collections::{BTreeMap, BTreeSet},
    thread,
    time::{Duration, Instant},
};

use domain::mail::MailState;
use store::testing::Fresh;

use super::{
    chance::Chance,
    scene::{club_with_mail_due, setting, start, start_work},
};
use crate::support::{Club, Program, Scratch, SmtpServer, name_of, until};

const LEASE: Duration = Duration::from_secs(2);
const LEASE_S: &str = "2";

/// What one run of kills is made of.
struct Run<'a> {
    database: &'a Fresh,
    club: Club,
    relay: SmtpServer,
    folder: Scratch,
    workers: usize,
    /// The attempts that stood in `sending` when their workers were dead, by Message-ID.
    cut_off: BTreeMap<String, BTreeSet<i32>>,
    lives: usize,
    /// Lives that left a mail in `sending`.
    hits: usize,
}

impl Run<'_> {
    /// Starts the workers and waits until one has claimed a mail.
    fn live(&self) -> Vec<Program> {
        if !self.club.mail_states().contains(&MailState::Due) {
            // What is left was cut off before, and is taken up again when its lease is over.
            thread::sleep(LEASE);
        }
        let before = self.last_claim();
        let workers = (0..self.workers)
            .map(|_| start_work(&self.folder, self.database, &self.relay, LEASE_S))
            .collect();
        until("a mail to be claimed", || (self.last_claim() != before).then_some(()));
        workers
    }

    fn last_claim(&self) -> Vec<String> {
        let last = "SELECT coalesce(CAST(max(tried_at) AS text), 'never') AS text FROM outbox";
        self.database.texts(last)
    }

    fn sent(&self) -> usize {
        let sent = "SELECT CAST(count(*) AS text) AS text FROM outbox WHERE state = 'sent'";
        self.database.texts(sent)[0].parse().unwrap()
    }

    /// How long the workers take over six mails, and the end of those workers.
    fn time_of_burst(&mut self) -> Duration {
        let workers = self.live();
        let began = Instant::now();
        until("six mails to be sent", || (self.sent() >= 6).then_some(()));
        let burst = began.elapsed();
        workers.into_iter().for_each(Program::kill);
        self.note();
        burst
    }

    /// One life: each of its workers is killed at a moment of its own.
    fn live_and_die(&mut self, chance: &mut Chance, burst: Duration) {
        let mut workers: Vec<(Duration, Program)> = self
            .live()
            .into_iter()
            .map(|worker| (chance.between(Duration::ZERO, burst), worker))
            .collect();
        workers.sort_by_key(|(moment, _)| *moment);
        let began = Instant::now();
        for (moment, worker) in workers {
            thread::sleep(moment.saturating_sub(began.elapsed()));
            worker.kill();
        }
        self.lives += 1;
        self.hits += usize::from(self.note() > 0);
    }

    /// Notes what was cut off; says how much that was.
    fn note(&mut self) -> usize {
        let posted = self.club.outbox();
        let sending: Vec<_> =
            posted.iter().filter(|one| one.mail.state == MailState::Sending).collect();
        for one in &sending {
            let id = format!("<{}@tautline.example>", one.mail.id);
            self.cut_off.entry(id).or_default().insert(one.mail.attempt);
        }
        sending.len()
    }

    /// Lets workers finish what is left.
    fn finish(&self) {
        for _round in 0..10 {
            if self.club.mail_states().iter().all(|state| *state == MailState::Sent) {
                break;
            }
            thread::sleep(LEASE);
            let once =
                |_| start(&self.folder, self.database, &self.relay, LEASE_S, &["work", "--once"]);
            let workers: Vec<Program> = (0..self.workers).map(once).collect();
            for ended in workers.into_iter().map(Program::end) {
                assert_eq!(ended.code, Some(0), "{ended:?}");
            }
        }
    }

    /// Holds what the relay has against what was cut off; says how many copies were too many.
    fn judge(&self) -> usize {
        let posted = self.club.outbox();
        for one in &posted {
            assert_eq!(one.mail.state, MailState::Sent, "{one:?}");
        }
        let reminders = self.database.texts("SELECT state AS text FROM reminders ORDER BY id");
        assert_eq!(reminders, vec!["sent"; posted.len()]);
        let received = by_message_id(self.relay.messages());
        let expected: BTreeSet<String> =
            posted.iter().map(|one| format!("<{}@tautline.example>", one.mail.id)).collect();
        assert_eq!(received.keys().cloned().collect::<BTreeSet<_>>(), expected);
        let mut duplicates = 0;
        for (id, copies) in &received {
            let cut_off = self.cut_off.get(id).map_or(0, BTreeSet::len);
            assert!(
                copies.len() <= 1 + cut_off,
                "{id} came {} times, {cut_off} of its attempts were cut off",
                copies.len()
            );
            assert!(copies.iter().all(|copy| *copy == copies[0]), "copies of {id} differ");
            duplicates += copies.len() - 1;
        }
        duplicates
    }
}

/// The copies of each mail, byte by byte.
fn by_message_id(messages: Vec<Vec<u8>>) -> BTreeMap<String, Vec<Vec<u8>>> {
    let mut found = BTreeMap::<String, Vec<Vec<u8>>>::new();
    for message in messages {
        let text = String::from_utf8_lossy(&message).into_owned();
        let id = text.lines().find_map(|line| line.strip_prefix("Message-ID: ")).unwrap();
        found.entry(id.to_owned()).or_default().push(message);
    }
    found
}

fn kill_again_and_again(database: &Fresh, workers: usize) {
    let (kills, mails) = (setting("KILLS", 40), setting("MAILS", 200));
    let (kills, mails) = (usize::try_from(kills).unwrap(), usize::try_from(mails).unwrap());
    let mut chance = Chance::of_this_run();
    let began = Instant::now();
    let mut run = Run {
        database,
        club: club_with_mail_due(database, mails),
        relay: SmtpServer::start("accept"),
        folder: Scratch::new(),
        workers,
        cut_off: BTreeMap::new(),
        lives: 0,
        hits: 0,
    };
    let set_up = began.elapsed();
    let burst = run.time_of_burst();
    while run.lives * workers < kills {
        run.live_and_die(&mut chance, burst);
    }
    let left = mails - run.sent();
    run.finish();
    let duplicates = run.judge();
    let attempts: usize = run.cut_off.values().map(BTreeSet::len).sum();
    eprintln!(
        "{}: seed {}, {workers} worker(s), {} kills in {} lives over a burst of {burst:?}, {} of them \
         left mail in sending ({attempts} attempts cut off); {mails} mails, {left} left after the last \
         kill, all sent; {duplicates} duplicates ({:.2} %); {:?} in all, {set_up:?} of it to set up",
        name_of(database),
        chance.seed(),
        run.lives * workers,
        run.lives,
        run.hits,
        100.0 * f64::from(u32::try_from(duplicates).unwrap())
            / f64::from(u32::try_from(mails).unwrap()),
        began.elapsed(),
    );
    assert!(left > 0, "the mails ran out before the kills did: the last ones tested nothing");
    assert!(run.hits * 3 > run.lives, "too few kills met a mail on its way");
}

#[test]
fn a_worker_killed_again_and_again_on_sqlite_loses_no_mail() {
    kill_again_and_again(&store::testing::sqlite(), 1);
}

#[test]
fn two_workers_killed_again_and_again_on_postgresql_lose_no_mail() {
    kill_again_and_again(&store::testing::postgres(), 2);
}
