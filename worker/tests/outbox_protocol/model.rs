//! The protocol of the outbox as a machine of few states. It calls nothing of the program; each action
//! names what it stands for, and `walks.rs` takes the same steps with the real outbox.

use domain::mail::MailState;

/// The most workers and mails of a model.
pub(crate) const WORKERS: usize = 2;
pub(crate) const MAILS: usize = 2;

/// What is modelled: how much there is of each, and how the protocol goes.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Outbox {
    /// How many mails are due.
    pub(crate) mails: usize,
    /// After how many tries a mail is too old to be tried again: `Mail::is_given_up_at`, which goes by time.
    pub(crate) tries: u8,
    /// How many workers may be killed. Afterwards none is: without an end of faults nothing has to end.
    pub(crate) crashes: u8,
    /// How many leases may run out under a worker that lives, and goes on afterwards.
    pub(crate) pauses: u8,
    /// What is done wrong on purpose.
    pub(crate) flaw: Flaw,
}

/// Ways to get the protocol wrong; the checks must tell each from the right one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Flaw {
    /// The protocol as it is.
    None,
    /// `finish` asks for `sending` and not for the attempt.
    FinishesAnyAttempt,
    /// `claim` takes what is `sending` whether or not its lease is over.
    ClaimsHeldMail,
    /// `take` does not ask whether the row is still as it was read.
    TakesWhatItReadBefore,
    /// What was left in `sending` is never claimed.
    NoLease,
    /// A lost answer counts as `sent`.
    BelievesSilence,
    /// A second lost answer in a row is tried again like the first.
    NeverSettlesDoubt,
}

/// A row of the outbox, and what a bystander knows of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Row {
    pub(crate) state: MailState,
    pub(crate) attempt: u8,
    /// Whether `leased_until` has passed.
    pub(crate) lease_over: bool,
    /// How many copies the relay has taken.
    pub(crate) copies: u8,
    /// One bit for each attempt that stood in `sending` at a crash or at the end of its lease, or whose
    /// answer was lost.
    pub(crate) excused: u32,
}

/// What a claimer knows of its claim.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Claim {
    /// The state that the mail was found in.
    pub(crate) found: MailState,
    pub(crate) attempt: u8,
    /// A bystander's: whether the lease of this claim has run out. The worker does not know.
    pub(crate) lease_over: bool,
}

/// How far a worker has come with a mail.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Task {
    /// `claim` has read the row and not written to it yet.
    Read { state: MailState, attempt: u8 },
    /// `claim` was committed.
    Claimed(Claim),
    /// `truth` found the mail still claimed and still worth sending; the talk with the relay begins.
    Talking(Claim),
    /// It is known what is to be recorded.
    Decided(Claim, MailState),
}

impl Task {
    /// The claim that is held, from the commit of `claim` on.
    pub(crate) const fn claim(self) -> Option<Claim> {
        match self {
            Self::Read { .. } => None,
            Self::Claimed(claim) | Self::Talking(claim) | Self::Decided(claim, _) => Some(claim),
        }
    }
}

/// Everything there is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct World {
    pub(crate) rows: [Row; MAILS],
    pub(crate) tasks: [[Option<Task>; MAILS]; WORKERS],
    pub(crate) crashes: u8,
    pub(crate) pauses: u8,
    /// A worker that had lost its lease wanted to finish, and nothing was changed.
    pub(crate) stale_refused: bool,
    /// A worker that had lost its lease changed a row.
    pub(crate) stale_changed: bool,
    /// A relay was silent about a mail that was found `uncertain`, and it was to be tried again.
    pub(crate) doubt_again: bool,
}

/// What a talk with the relay comes to: `SendError` and `Receipt` in `worker/src/mail/transport.rs`, and
/// what the sender cannot see.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Talk {
    /// It takes the message and says so.
    Taken,
    /// It takes the message, and the answer is lost.
    TakenInSilence,
    /// The line breaks before it has the message, which looks the same from here.
    LostInSilence,
    /// It does not take it now.
    NotNow,
    /// It will never take it.
    Never,
}

const TALKS: [Talk; 5] =
    [Talk::Taken, Talk::TakenInSilence, Talk::LostInSilence, Talk::NotNow, Talk::Never];

/// What may happen next. Workers are not told apart from their mails' tasks: a worker that stands still for
/// a while is one whose next action comes later.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Action {
    /// `store::outbox::claim` selects what is ready: as many mails as there are, for a worker that has
    /// none in hand (`deliver_mail::run` waits for all of a claim to end).
    Read { worker: usize },
    /// The updates of `store::outbox::take` and the commit of their transaction.
    Take { worker: usize },
    /// `deliver_mail::attempt` up to the talk: given up after too many tries; else
    /// `store::outbox::still_claimed` in `truth`, and whether there is anything left to say.
    Check { worker: usize, mail: usize, still_true: bool },
    /// `Transport::send`, and the outcome that `deliver_mail::send` makes of it.
    Talk { worker: usize, mail: usize, talk: Talk },
    /// `store::outbox::finish`, in the transaction of `deliver_mail::finish`.
    Finish { worker: usize, mail: usize },
    /// The worker is killed with mails in hand, and started anew. Before `Take` it would be as if it had
    /// never read; a transaction that fails ends the same way.
    Crash { worker: usize },
    /// `leased_until` passes.
    Expire { mail: usize },
}

/// Whether a mail has come to its end.
pub(crate) const fn ended(state: MailState) -> bool {
    matches!(state, MailState::Sent | MailState::Cancelled | MailState::Dead)
}

impl World {
    /// Workers are alike, and so are mails: of worlds that differ only in which is called which, one
    /// stands for all.
    pub(crate) fn whichever(mut self) -> Self {
        let mut other = self;
        other.rows.reverse();
        other.tasks.iter_mut().for_each(|tasks| tasks.reverse());
        self.tasks.sort_unstable();
        other.tasks.sort_unstable();
        self.min(other)
    }

    /// Whether a living worker works on the claim that the row stands for.
    fn is_held(&self, mail: usize) -> bool {
        let row = self.rows[mail];
        let theirs = self.tasks.iter().filter_map(|tasks| tasks[mail].and_then(Task::claim));
        row.state == MailState::Sending && theirs.into_iter().any(|one| one.attempt == row.attempt)
    }

    /// How many workers hold a mail under a lease that runs.
    pub(crate) fn holders(&self, mail: usize) -> usize {
        let theirs = self.tasks.iter().filter_map(|tasks| tasks[mail].and_then(Task::claim));
        theirs.filter(|claim| !claim.lease_over).count()
    }
}

impl Outbox {
    /// All mails due, nobody at work.
    pub(crate) fn beginning(self) -> World {
        let row = |mail| Row {
            state: if mail < self.mails { MailState::Due } else { MailState::Cancelled },
            attempt: 0,
            lease_over: false,
            copies: 0,
            excused: 0,
        };
        World {
            rows: std::array::from_fn(row),
            tasks: [[None; MAILS]; WORKERS],
            crashes: 0,
            pauses: 0,
            stale_refused: false,
            stale_changed: false,
            doubt_again: false,
        }
    }

    pub(crate) fn is_ready(self, row: Row) -> bool {
        match row.state {
            MailState::Due | MailState::Retry | MailState::Uncertain => true,
            MailState::Sending => match self.flaw {
                Flaw::ClaimsHeldMail => true,
                Flaw::NoLease => false,
                _ => row.lease_over,
            },
            MailState::Sent | MailState::Cancelled | MailState::Dead => false,
        }
    }

    /// Everything that may happen next.
    pub(crate) fn possible(self, world: &World) -> Vec<Action> {
        let mut possible = Vec::new();
        for worker in 0..WORKERS {
            self.possible_for(world, worker, &mut possible);
        }
        for (mail, row) in world.rows.iter().enumerate() {
            let runs = row.state == MailState::Sending && !row.lease_over;
            if runs && (!world.is_held(mail) || world.pauses < self.pauses) {
                possible.push(Action::Expire { mail });
            }
        }
        possible
    }

    fn possible_for(self, world: &World, worker: usize, possible: &mut Vec<Action>) {
        let tasks = world.tasks[worker];
        if tasks.iter().all(Option::is_none) && world.rows.iter().any(|row| self.is_ready(*row)) {
            possible.push(Action::Read { worker });
        }
        if tasks.iter().flatten().any(|task| matches!(task, Task::Read { .. })) {
            possible.push(Action::Take { worker });
        }
        if tasks.iter().flatten().any(|task| task.claim().is_some()) && world.crashes < self.crashes
        {
            possible.push(Action::Crash { worker });
        }
        for (mail, task) in tasks.iter().enumerate() {
            match task {
                Some(Task::Claimed(_)) => {
                    let check = |still_true| Action::Check { worker, mail, still_true };
                    possible.extend([true, false].map(check));
                }
                Some(Task::Talking(_)) => {
                    possible.extend(TALKS.map(|talk| Action::Talk { worker, mail, talk }));
                }
                Some(Task::Decided(..)) => possible.push(Action::Finish { worker, mail }),
                Some(Task::Read { .. }) | None => {}
            }
        }
    }

    /// What the world is after it; none, if the action is not possible.
    pub(crate) fn after(self, mut world: World, action: Action) -> Option<World> {
        match action {
            Action::Read { worker } => {
                for (mail, row) in world.rows.iter().enumerate() {
                    let read = Task::Read { state: row.state, attempt: row.attempt };
                    world.tasks[worker][mail] = self.is_ready(*row).then_some(read);
                }
            }
            Action::Take { worker } => self.take(&mut world, worker),
            Action::Check { worker, mail, still_true } => {
                let Some(Task::Claimed(claim)) = world.tasks[worker][mail] else { return None };
                world.tasks[worker][mail] = self.check(world.rows[mail], claim, still_true);
            }
            Action::Talk { worker, mail, talk } => {
                let Some(Task::Talking(claim)) = world.tasks[worker][mail] else { return None };
                let outcome = self.talk(&mut world.rows[mail], claim, talk);
                let silent = matches!(talk, Talk::TakenInSilence | Talk::LostInSilence);
                let both = (claim.found, outcome) == (MailState::Uncertain, MailState::Uncertain);
                world.doubt_again |= silent && both;
                world.tasks[worker][mail] = Some(Task::Decided(claim, outcome));
            }
            Action::Finish { worker, mail } => {
                let Some(Task::Decided(claim, to)) = world.tasks[worker][mail] else { return None };
                world.tasks[worker][mail] = None;
                self.finish(&mut world, mail, claim, to);
            }
            Action::Crash { worker } => crash(&mut world, worker),
            Action::Expire { mail } => expire(&mut world, mail),
        }
        Some(world)
    }

    fn take(self, world: &mut World, worker: usize) {
        for mail in 0..MAILS {
            let Some(Task::Read { state, attempt }) = world.tasks[worker][mail] else { continue };
            let row = &mut world.rows[mail];
            let as_read = (row.state, row.attempt) == (state, attempt);
            world.tasks[worker][mail] = None;
            if as_read || self.flaw == Flaw::TakesWhatItReadBefore {
                (row.state, row.attempt, row.lease_over) = (MailState::Sending, attempt + 1, false);
                let claim = Claim { found: state, attempt: attempt + 1, lease_over: false };
                world.tasks[worker][mail] = Some(Task::Claimed(claim));
            }
        }
    }

    fn check(self, row: Row, claim: Claim, still_true: bool) -> Option<Task> {
        if claim.attempt > self.tries && claim.found == MailState::Sending {
            return Some(Task::Decided(claim, MailState::Dead));
        }
        if row.state != MailState::Sending || row.attempt != claim.attempt {
            return None;
        }
        let task = Task::Decided(claim, MailState::Cancelled);
        Some(if still_true { Task::Talking(claim) } else { task })
    }

    fn talk(self, row: &mut Row, claim: Claim, talk: Talk) -> MailState {
        row.copies += u8::from(matches!(talk, Talk::Taken | Talk::TakenInSilence));
        match talk {
            Talk::Taken => MailState::Sent,
            Talk::NotNow if claim.attempt > self.tries => MailState::Dead,
            // A relay that refuses it now may have taken it then.
            Talk::NotNow => match claim.found {
                MailState::Uncertain | MailState::Sending => MailState::Uncertain,
                _ => MailState::Retry,
            },
            Talk::Never => MailState::Dead,
            Talk::TakenInSilence | Talk::LostInSilence => {
                row.excused |= 1 << claim.attempt;
                match (self.flaw, claim.found) {
                    (Flaw::BelievesSilence, _) => MailState::Sent,
                    (Flaw::NeverSettlesDoubt, _) => MailState::Uncertain,
                    (_, MailState::Uncertain) => MailState::Dead,
                    _ => MailState::Uncertain,
                }
            }
        }
    }

    fn finish(self, world: &mut World, mail: usize, claim: Claim, to: MailState) {
        let row = &mut world.rows[mail];
        let sending = row.state == MailState::Sending;
        let mine = sending && row.attempt == claim.attempt;
        let changes = mine || (self.flaw == Flaw::FinishesAnyAttempt && sending);
        if changes {
            (row.state, row.lease_over) = (to, false);
        }
        world.stale_changed |= changes && !mine;
        world.stale_refused |= !changes && !mine;
    }
}

/// Marks the attempt that a row stands in.
const fn excuse(row: &mut Row) {
    row.excused |= 1 << row.attempt;
}

fn crash(world: &mut World, worker: usize) {
    world.crashes += 1;
    for mail in 0..MAILS {
        let task = world.tasks[worker][mail].take();
        let row = &mut world.rows[mail];
        let attempt = task.and_then(Task::claim).map(|claim| claim.attempt);
        if row.state == MailState::Sending && attempt == Some(row.attempt) {
            excuse(row);
        }
    }
}

fn expire(world: &mut World, mail: usize) {
    world.pauses += u8::from(world.is_held(mail));
    let row = &mut world.rows[mail];
    row.lease_over = true;
    excuse(row);
    for tasks in &mut world.tasks {
        let Some(task) = &mut tasks[mail] else { continue };
        if let Task::Claimed(claim) | Task::Talking(claim) | Task::Decided(claim, _) = task
            && claim.attempt == row.attempt
        {
            claim.lease_over = true;
        }
    }
}
