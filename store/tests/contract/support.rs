//! Both databases for one test, and a club in each whose people can fit, shoot and maintain in one
//! line. Only what several families need is here.

use domain::{
    bows::Bow,
    clubs::Club,
    fittings::{Fitting, FittingError, Host},
    ids::{BowId, ClubId, FittingId, MemberId, PartId},
    incidents::IncidentKind,
    ledger::{Clock, Reading, ShotLog},
    members::Role,
    parts::{Part, PartError, PartKind},
    rules::{BowStop, Rule, Stop, default_book},
    string_change::StringChangeError,
    upkeep::{Upkeep, UpkeepTask},
};
use jiff::Timestamp;
use store::{
    Read, Store, StoreError, Tx, bow_clearances, bow_stops, bows, clubs, due, fittings, incidents,
    ledger, members, parts, rules,
    testing::{Fresh, both},
    upkeep, wear,
};

use crate::invented;

/// Why a change was refused.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Refused {
    #[error(transparent)]
    Store(#[from] StoreError),
    #[error(transparent)]
    Fitting(#[from] FittingError),
    #[error(transparent)]
    Part(#[from] PartError),
    #[error(transparent)]
    StringChange(#[from] StringChangeError),
}

impl Refused {
    /// Whether something was looked for that is not there.
    pub(crate) fn is_not_found(&self) -> bool {
        matches!(self, Self::Store(StoreError::NotFound { .. }))
    }

    /// Whether something was to be changed that is not there as it was read.
    pub(crate) fn is_changed(&self) -> bool {
        matches!(self, Self::Store(StoreError::Changed))
    }
}

/// A fresh database that is open. The store is named first so that it is closed before the
/// database is removed.
pub(crate) struct Database {
    pub(crate) store: Store,
    pub(crate) fresh: Fresh,
}

/// Says on which database a test failed, since its panic cannot.
struct Named(String);

impl Drop for Named {
    fn drop(&mut self) {
        if std::thread::panicking() {
            eprintln!("this happened on {}", self.0);
        }
    }
}

/// Runs a test on a fresh SQLite and on a fresh PostgreSQL database.
pub(crate) async fn on_both(test: impl AsyncFn(Database)) {
    for fresh in both() {
        on(fresh, &test).await;
    }
}

/// Runs a test on one fresh database, where the point is what only that one does.
pub(crate) async fn on(fresh: Fresh, test: &impl AsyncFn(Database)) {
    let _named = Named(fresh.url.to_string());
    test(Database { store: fresh.open(), fresh }).await;
}

impl Database {
    /// Adds a club with the default rules and one member.
    pub(crate) async fn scene(&self) -> Scene {
        let club = invented::club();
        let rules = default_book(club.created_at, invented::id);
        self.scene_of(club, rules).await
    }

    /// Adds this club with that rule book and one member.
    pub(crate) async fn scene_of(&self, club: Club, rules: Vec<Rule>) -> Scene {
        let owner = invented::member(Role::Owner);
        let scene = Scene { store: self.store.clone(), club, owner: owner.id, rules };
        let (club, rules) = (scene.club.clone(), scene.rules.clone());
        scene
            .write(move |tx, id| {
                clubs::add(tx, &club)?;
                members::add(tx, id, &owner)?;
                rules.iter().try_for_each(|rule| rules::add(tx, id, rule))?;
                Ok(())
            })
            .await
            .unwrap();
        scene
    }
}

/// A club in a database. What cannot be refused is unwrapped; the rest begins with `try_`.
#[derive(Clone)]
pub(crate) struct Scene {
    pub(crate) store: Store,
    pub(crate) club: Club,
    pub(crate) owner: MemberId,
    pub(crate) rules: Vec<Rule>,
}

impl Scene {
    pub(crate) async fn write<T, F>(&self, f: F) -> Result<T, Refused>
    where
        T: Send + 'static,
        F: FnOnce(&mut Tx<'_>, ClubId) -> Result<T, Refused> + Send + 'static,
    {
        let club = self.club.id;
        self.store.write(move |tx| f(tx, club)).await
    }

    pub(crate) async fn read<T, F>(&self, f: F) -> T
    where
        T: Send + 'static,
        F: FnOnce(&mut Read<'_>, ClubId) -> Result<T, StoreError> + Send + 'static,
    {
        let club = self.club.id;
        self.store.read(move |read| f(read, club)).await.unwrap()
    }

    /// The rules in the club's book, as they were set last.
    pub(crate) async fn book(&self) -> Vec<Rule> {
        self.read(rules::book).await.last()
    }

    pub(crate) async fn bow(&self, called: &str) -> Bow {
        let bow = invented::bow(called);
        let added = bow.clone();
        self.write(move |tx, club| Ok(bows::add(tx, club, &added)?)).await.unwrap();
        bow
    }

    pub(crate) async fn part(&self, kind: PartKind) -> Part {
        self.add_part(invented::part(kind)).await
    }

    pub(crate) async fn add_part(&self, part: Part) -> Part {
        let added = part.clone();
        self.write(move |tx, club| Ok(parts::add(tx, club, &added)?)).await.unwrap();
        part
    }

    /// A bow with a string and a center serving on it since a moment.
    pub(crate) async fn strung_bow(&self, called: &str, since: Timestamp) -> Strung {
        let bow = self.bow(called).await;
        let string = self.part(PartKind::Bowstring).await;
        let serving = self.part(PartKind::CenterServing).await;
        let string_on = self.fit(string.id, Host::Bow(bow.id), since).await;
        self.fit(serving.id, Host::Part(string.id), since).await;
        Strung { bow, string, serving, string_on }
    }

    pub(crate) async fn fit(&self, part: PartId, host: Host, from: Timestamp) -> Fitting {
        let fitting = invented::stay(part, host, from, None);
        self.try_fit(fitting).await.unwrap();
        fitting
    }

    pub(crate) async fn try_fit(&self, fitting: Fitting) -> Result<(), Refused> {
        self.write(move |tx, club| fittings::fit(tx, club, &fitting)).await
    }

    pub(crate) async fn take_off(&self, fitting: FittingId, at: Timestamp) -> Fitting {
        self.write(move |tx, club| fittings::take_off(tx, club, fitting, at)).await.unwrap()
    }

    pub(crate) async fn shoot(&self, bow: &Bow, at: Timestamp, shots: i64) -> ledger::Entry {
        self.try_append(invented::shot_log(self.owner, bow.id, at, shots)).await.unwrap()
    }

    pub(crate) async fn try_append(&self, log: ShotLog) -> Result<ledger::Entry, Refused> {
        self.write(move |tx, club| Ok(ledger::append(tx, club, &log)?)).await
    }

    pub(crate) async fn maintain(&self, part: &Part, task: UpkeepTask, at: Timestamp) {
        self.record(part, invented::work(self.owner, part.id, task, at)).await;
    }

    pub(crate) async fn record(&self, part: &Part, work: Upkeep) {
        let part = part.clone();
        self.write(move |tx, club| Ok(upkeep::record(tx, club, &part, &work)?)).await.unwrap();
    }

    pub(crate) async fn happened(&self, bow: &Bow, kind: IncidentKind, at: Timestamp) {
        let incident = invented::incident(self.owner, bow.id, kind, at);
        self.write(move |tx, club| Ok(incidents::add(tx, club, &incident)?)).await.unwrap();
    }

    /// Somebody inspected a bow as a whole.
    pub(crate) async fn clear(&self, bow: &Bow, at: Timestamp) {
        let clearance = invented::clearance(self.owner, bow.id, at);
        self.write(move |tx, club| Ok(bow_clearances::add(tx, club, &clearance)?)).await.unwrap();
    }

    /// Why each of these bows must not be shot, if so; the same however it is asked for.
    pub(crate) async fn bow_stops(&self, bows: &[BowId]) -> Vec<Option<BowStop>> {
        let bows = bows.to_vec();
        self.read(move |read, club| {
            let all = bow_stops::of_club(read, club)?;
            let of_bow = |bow: &BowId| {
                let stop = bow_stops::of_bow(read, club, *bow)?;
                assert_eq!(stop, all.get(bow).copied());
                Ok(stop)
            };
            bows.iter().map(of_bow).collect()
        })
        .await
    }

    /// Why each of these parts must not be shot, if so.
    pub(crate) async fn stops(&self, parts: &[PartId]) -> Vec<Option<Stop>> {
        let (club, parts) = (self.club.clone(), parts.to_vec());
        let judged = self.read(move |read, _| due::of_parts(read, &club, &parts, invented::at(90)));
        judged.await.into_iter().map(|one| one.record.stop).collect()
    }

    pub(crate) async fn readings(&self, part: &Part) -> Vec<Reading> {
        let part = part.id;
        self.read(move |read, club| wear::readings(read, club, part)).await
    }

    /// The shots of a part's whole life.
    pub(crate) async fn shots(&self, part: &Part) -> i64 {
        self.shots_on(part, Clock::Life).await
    }

    /// The shots that one of a part's clocks shows.
    pub(crate) async fn shots_on(&self, part: &Part, clock: Clock) -> i64 {
        let readings = self.readings(part).await;
        readings.iter().find(|reading| reading.clock == clock).unwrap().shots
    }
}

/// A bow that can be shot, and what is on it.
pub(crate) struct Strung {
    pub(crate) bow: Bow,
    pub(crate) string: Part,
    pub(crate) serving: Part,
    pub(crate) string_on: Fitting,
}
