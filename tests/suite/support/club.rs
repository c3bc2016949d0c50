//! A club on a server of its own, with a worker beside it and a clock that both are handed.

use std::{
    net::TcpListener,
    sync::{Arc, LazyLock},
};

use actix_web::dev::ServerHandle;
use api::{Api, Keys, SigningKey};
use domain::{
    clubs::Club as ClubRow,
    ids::{ClubId, MemberId, RuleId},
    mail::MailState,
    members::{EmailAddress, Member, Role},
    rules::default_book,
    text::Name,
    time::{Clock, Zone},
};
use jiff::{SignedDuration, Timestamp};
use serde_json::{Value, json};
use store::{Store, StoreError, fresh_id, outbox::Posted, seals::Seals, testing::Fresh};
use tokio::runtime::Runtime;
use uuid::Uuid;
use worker::{Sending, Worker, mail::Transport};

use super::{
    people::{PASSWORD, Person},
    read_mails,
    scratch::Scratch,
    set_clock::SetClock,
};

/// What tokens are signed with here; a test that forges one uses it too.
pub(crate) fn key() -> SigningKey {
    SigningKey { id: "suite".to_owned(), secret: [42; 32] }
}

/// What links and refresh tokens are sealed with here.
pub(crate) fn seals() -> Seals {
    Seals::new([43; 32], None)
}

/// The code that sets the club up.
pub(crate) const SETUP_CODE: &str = "the code of this test";

/// A hash of everybody's password. Made once: it is slow on purpose.
static HASH: LazyLock<String> = LazyLock::new(|| api::hash_password(PASSWORD).unwrap());

pub(crate) struct Club {
    pub(crate) store: Store,
    pub(crate) clock: Arc<SetClock>,
    pub(crate) id: ClubId,
    owner: Person,
    base: String,
    worker: Worker,
    mail: Scratch,
    server: ServerHandle,
    runtime: Runtime,
}

impl Club {
    /// A club in an empty database, on a Monday morning in March. Its mail goes into files.
    pub(crate) fn start(database: &Fresh) -> Self {
        Self::start_at(database, "2027-03-01T09:00:00Z".parse().unwrap(), None)
    }

    /// The same at another time, and with a relay for its mail.
    pub(crate) fn start_at(database: &Fresh, now: Timestamp, smtp_url: Option<&str>) -> Self {
        let transport = smtp_url.map(|url| Transport::smtp(url).unwrap());
        Self::set_up(database, now, transport, ("Maren Ilves", OWNER))
    }

    /// The same with mail that leaves in a way of the test's own.
    pub(crate) fn start_with(database: &Fresh, now: Timestamp, transport: Transport) -> Self {
        Self::set_up(database, now, Some(transport), ("Maren Ilves", OWNER))
    }

    /// The same, set up by somebody of that name and address.
    pub(crate) fn set_up_by(database: &Fresh, now: Timestamp, owner: (&str, &str)) -> Self {
        Self::set_up(database, now, None, owner)
    }

    fn set_up(
        database: &Fresh,
        now: Timestamp,
        transport: Option<Transport>,
        (name, email): (&str, &str),
    ) -> Self {
        let (store, clock) = (database.open(), Arc::new(SetClock::at(now)));
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(2)
            .enable_all()
            .build()
            .unwrap();
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let base = format!("http://{}", listener.local_addr().unwrap());
        let keys = Keys { signing: key(), previous: None, seals: seals() };
        let api = Api::new(store.clone(), clock.clone(), &keys, Some(SETUP_CODE.to_owned()))
            .reached_at("https://tautline.example");
        let server = runtime.block_on(async {
            let server = api::server(api, listener, 2).unwrap();
            let handle = server.handle();
            tokio::spawn(server);
            handle
        });
        let mail = Scratch::new();
        let transport = transport.unwrap_or_else(|| Transport::files(mail.path()));
        let sending = Sending {
            from: EmailAddress::parse("bench@tautline.example").unwrap(),
            base_url: "https://tautline.example".to_owned(),
            lease: SignedDuration::from_mins(2),
            per_minute: 60,
            seals: seals(),
        };
        let worker = Worker::new(store.clone(), clock.clone(), transport, sending);
        let set_up = Person::nobody(&base).post("/setup", &set_up_body(name, email)).expect(201);
        let id = |name: &str| set_up[name].as_str().unwrap().parse::<Uuid>().unwrap();
        let owner = Person::with_account(&base, MemberId(id("member_id")), email, clock.clone());
        Self { id: ClubId(id("club_id")), store, clock, owner, base, worker, mail, server, runtime }
    }

    /// Who set the club up.
    pub(crate) const fn owner(&self) -> &Person {
        &self.owner
    }

    /// A new member who may log for bows of their own.
    pub(crate) fn archer(&self, name: &str) -> Person {
        self.join(self.id, name, Role::Archer)
    }

    /// A new member who may coach squads.
    pub(crate) fn coach(&self, name: &str) -> Person {
        self.join(self.id, name, Role::Coach)
    }

    /// A second owner.
    pub(crate) fn second_owner(&self, name: &str) -> Person {
        self.join(self.id, name, Role::Owner)
    }

    /// Where its server is.
    pub(crate) fn base(&self) -> &str {
        &self.base
    }

    /// Somebody who is not signed in.
    pub(crate) fn anonymous(&self) -> Person {
        Person::nobody(&self.base)
    }

    /// Somebody who has nothing but this token.
    pub(crate) fn bearing(&self, token: &str) -> Person {
        Person::bearing(&self.base, token)
    }

    /// The owner of another club on the same server.
    pub(crate) fn neighbour(&self) -> Person {
        let now = self.clock.now();
        let name = Name::parse("Invented Archers of Elsewhere").unwrap();
        let club = ClubRow::new(fresh_id(now), name, Zone::utc(), now);
        let id = club.id;
        self.write(move |tx| {
            store::clubs::add(tx, &club)?;
            default_book(now, || fresh_id::<RuleId>(now))
                .iter()
                .try_for_each(|rule| store::rules::add(tx, club.id, rule))
        });
        self.join(id, "Pell Wrenfield", Role::Owner)
    }

    /// A new member of somebody's club.
    pub(crate) fn joins(&self, whose: &Person, name: &str, role: &str) -> Person {
        let club = whose.get("/me").expect(200)["club_id"].as_str().unwrap().parse().unwrap();
        self.join(ClubId(club), name, Role::parse(role).unwrap())
    }

    fn join(&self, club: ClubId, name: &str, role: Role) -> Person {
        let now = self.clock.now();
        let email = format!("{}@club.example", name.to_lowercase().replace(' ', "."));
        let address = EmailAddress::parse(&email).unwrap();
        let member = Member::new(fresh_id(now), Name::parse(name).unwrap(), address, role, now);
        let id = member.id;
        self.write(move |tx| {
            store::members::add(tx, club, &member)?;
            store::members::allow_sign_in(tx, club, &member, HASH.clone())
        });
        Person::with_account(&self.base, id, &email, self.clock.clone())
    }

    fn write(&self, f: impl FnOnce(&mut store::Tx<'_>) -> Result<(), StoreError> + Send + 'static) {
        self.runtime.block_on(self.store.write(f)).unwrap();
    }

    /// The present moment, as a body says it.
    pub(crate) fn now(&self) -> String {
        self.clock.now().to_string()
    }

    /// One round of the worker, whatever became of its jobs.
    pub(crate) fn run_round(&self) {
        drop(self.runtime.block_on(self.worker.run_once()));
    }

    /// One round of the worker: what each job did, by its name. The sweep and the delivery are always
    /// among them, another job only if it did anything.
    #[track_caller]
    pub(crate) fn sweep(&self) -> Value {
        let round = self.runtime.block_on(self.worker.run_once());
        let counted = round.into_iter().map(|done| (done.job, done.outcome.unwrap()));
        let always = ["check_maintenance", "deliver_mail"];
        let told = counted.filter(|(job, count)| *count > 0 || always.contains(job));
        told.map(|(job, count)| (job, json!(count))).collect()
    }

    /// Every mail that went out as a file, as a stranger reads it.
    pub(crate) fn mails(&self) -> Vec<Value> {
        read_mails(self.mail.path())
    }

    /// The outbox, in the order it was written.
    pub(crate) fn outbox(&self) -> Vec<Posted> {
        let club = self.id;
        self.runtime.block_on(self.store.read(move |read| store::outbox::all(read, club))).unwrap()
    }

    /// The states of the mails in the outbox.
    pub(crate) fn mail_states(&self) -> Vec<MailState> {
        self.outbox().iter().map(|posted| posted.mail.state).collect()
    }
}

impl Drop for Club {
    fn drop(&mut self) {
        self.runtime.block_on(self.server.stop(false));
    }
}

const OWNER: &str = "maren@club.example";

fn set_up_body(name: &str, email: &str) -> Value {
    json!({
        "setup_code": SETUP_CODE,
        "club": {"name": "Bowmen of Invented Hill", "time_zone": "Europe/Lisbon"},
        "owner": {"name": name, "email": email, "password": PASSWORD},
    })
}
