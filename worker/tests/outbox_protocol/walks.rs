//! The model and the real outbox take the same steps, drawn at random, and are compared after each.
//!
//! What is compared is `store/src/outbox.rs`: which mail is claimed in which state and attempt, who still
//! holds it, who may finish it, and the row. The relay and the worker's judgement of it are the model's
//! own. `claim` is one step here: its halves cannot be told apart from outside on SQLite.

use domain::{
    clubs::Club,
    ids::{ClubId, MailId, MemberId},
    mail::{Mail, MailKind, MailState},
    members::{EmailAddress, Member, Role},
    text::Name,
    time::Zone,
};
use jiff::{SignedDuration, Timestamp, civil::date};
use store::{
    Store, StoreError, fresh_id,
    outbox::{self, Outcome, Posted},
};

use crate::model::{Action, Flaw, MAILS, Outbox, Task, WORKERS, World, ended};

const MODEL: Outbox = Outbox { mails: 1, tries: 3, crashes: 2, pauses: 2, flaw: Flaw::None };
const WALKS: u32 = 60;
const LEASE: SignedDuration = SignedDuration::from_mins(2);

/// What the walks have met.
#[derive(Debug, Default)]
struct Met {
    steps: u32,
    stale_refused: u32,
    taken_over: u32,
    not_claimed: u32,
}

/// The real outbox with one mail on its way, and what each worker was handed.
struct Real {
    store: Store,
    club: ClubId,
    recipient: MemberId,
    now: Timestamp,
    mail: MailId,
    hands: [Option<Posted>; WORKERS],
}

impl Real {
    async fn open(store: Store) -> Self {
        let now: Timestamp = "2027-03-01T09:00:00Z".parse().unwrap();
        let name = |name| Name::parse(name).unwrap();
        let club = Club::new(fresh_id(now), name("Invented Archers"), Zone::utc(), now);
        let address = EmailAddress::parse("ada@club.example").unwrap();
        let member = Member::new(fresh_id(now), name("Ada Invented"), address, Role::Owner, now);
        let (id, recipient) = (club.id, member.id);
        let add = move |tx: &mut store::Tx<'_>| {
            store::clubs::add(tx, &club)?;
            store::members::add(tx, club.id, &member)
        };
        store.write::<_, StoreError, _>(add).await.unwrap();
        Self {
            store,
            club: id,
            recipient,
            now,
            mail: fresh_id(now),
            hands: [const { None }; WORKERS],
        }
    }

    /// Begins with another mail.
    async fn post(&mut self) {
        (self.mail, self.hands) = (fresh_id(self.now), [const { None }; WORKERS]);
        let (club, now, when) = (self.club, self.now, (self.now, date(2027, 3, 1)));
        let key = self.mail.to_string();
        let mail = Mail::new(self.mail, MailKind::Digest, self.recipient, when, key);
        let post = move |tx: &mut store::Tx<'_>| outbox::post(tx, club, &mail, now);
        self.store.write::<_, StoreError, _>(post).await.unwrap();
    }

    async fn claim(&self) -> Option<Posted> {
        let now = self.now;
        let pace = outbox::Pace { at_once: 4, per_minute: 10_000 };
        let claim = move |tx: &mut store::Tx<'_>| outbox::claim(tx, now, LEASE, pace);
        let mut claimed = self.store.write::<_, StoreError, _>(claim).await.unwrap().mails;
        assert!(claimed.len() <= 1, "{claimed:?}");
        claimed.pop()
    }

    async fn still_claimed(&self, worker: usize) -> bool {
        let posted = self.hands[worker].clone().unwrap();
        let ask = move |read: &mut store::Read<'_>| outbox::still_claimed(read, &posted);
        self.store.read::<_, StoreError, _>(ask).await.unwrap()
    }

    async fn finish(&mut self, worker: usize, to: MailState) -> bool {
        let (posted, now, why) = (self.hands[worker].take().unwrap(), self.now, "why".to_owned());
        let outcome = match to {
            MailState::Sent => Outcome::Sent(why),
            MailState::Retry => Outcome::Retry(now, why),
            MailState::Uncertain => Outcome::Uncertain(now, why),
            MailState::Cancelled => Outcome::Cancelled(why),
            MailState::Dead => Outcome::Dead(why),
            MailState::Due | MailState::Sending => panic!("nothing is finished as {to}"),
        };
        let finish = move |tx: &mut store::Tx<'_>| outbox::finish(tx, &posted, &outcome, now);
        self.store.write::<_, StoreError, _>(finish).await.unwrap()
    }

    async fn row(&self) -> (MailState, i32) {
        let club = self.club;
        let all = move |read: &mut store::Read<'_>| outbox::all(read, club);
        let all = self.store.read::<_, StoreError, _>(all).await.unwrap();
        let mail = all.into_iter().find(|posted| posted.mail.id == self.mail).unwrap().mail;
        (mail.state, mail.attempt)
    }

    /// Takes the step that the model takes, and compares what comes of it.
    async fn follow(&mut self, before: &World, action: Action, after: &World, met: &mut Met) {
        match action {
            Action::Take { worker } => {
                let claimed = self.claim().await;
                let told = claimed.as_ref().map(|one| (one.mail.state, one.mail.attempt));
                let claim = after.tasks[worker][0].and_then(Task::claim);
                let modelled = claim.map(|claim| (claim.found, i32::from(claim.attempt)));
                assert_eq!(told, modelled, "{before:?}");
                met.taken_over += u32::from(told.is_some_and(|told| told.0 == MailState::Sending));
                self.hands[worker] = claimed;
            }
            Action::Check { worker, .. } => {
                let given_up =
                    matches!(after.tasks[worker][0], Some(Task::Decided(_, MailState::Dead)));
                if !given_up {
                    let modelled = after.tasks[worker][0].is_some();
                    assert_eq!(self.still_claimed(worker).await, modelled, "{before:?}");
                }
            }
            Action::Finish { worker, .. } => {
                let Some(Task::Decided(claim, to)) = before.tasks[worker][0] else { panic!() };
                let row = before.rows[0];
                let mine = (row.state, row.attempt) == (MailState::Sending, claim.attempt);
                assert_eq!(self.finish(worker, to).await, mine, "{before:?}");
                met.stale_refused += u32::from(!mine);
            }
            Action::Crash { worker } => self.hands[worker] = None,
            Action::Expire { .. } => self.now += LEASE,
            Action::Read { .. } | Action::Talk { .. } => {}
        }
        let row = after.rows[0];
        assert_eq!(self.row().await, (row.state, i32::from(row.attempt)), "{before:?} {action:?}");
        if !MODEL.is_ready(row) {
            // What the model does not offer, the outbox does not hand out.
            assert_eq!(self.claim().await, None, "{after:?}");
            met.not_claimed += 1;
        }
        met.steps += 1;
    }
}

/// The next number of a sequence that looks like chance; constants of Knuth's MMIX, from memory.
fn draw(state: &mut u64, below: usize) -> usize {
    *state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    usize::try_from(*state >> 33).unwrap() % below
}

#[tokio::test]
async fn the_real_outbox_goes_the_way_of_the_model() {
    let database = store::testing::sqlite();
    let mut real = Real::open(database.open()).await;
    let (mut met, mut chance) = (Met::default(), 1);
    for _ in 0..WALKS {
        real.post().await;
        let mut world = MODEL.beginning();
        loop {
            // Who has begun to claim goes on with it.
            let possible = MODEL.possible(&world);
            let taking = possible.iter().find(|action| matches!(action, Action::Take { .. }));
            let action = match (taking, possible.len()) {
                (Some(take), _) => *take,
                (None, 0) => break,
                (None, some) => possible[draw(&mut chance, some)],
            };
            let after = MODEL.after(world, action).unwrap();
            real.follow(&world, action, &after, &mut met).await;
            world = after;
        }
        assert!(world.rows.iter().take(MAILS).all(|row| ended(row.state)), "{world:?}");
    }
    eprintln!("{WALKS} walks: {met:?}");
    assert!(met.stale_refused > 0 && met.taken_over > 0 && met.not_claimed > 0, "{met:?}");
}
