//! The same for what is put right and for the record of who changed what: called with the wrong club,
//! no function finds or changes anything, and nothing of ours names what is another club's.

use domain::{fittings::Host, ids::ClubId, ledger::ShotLog, time::Zone, upkeep::Upkeep};
use store::{
    Page, Read, StoreError, Tx,
    audit::{self, Filter},
    clubs, fittings, ledger, upkeep,
};

use crate::{
    audit::change,
    invented::{at, at_hour, shot_log, stay, work},
    support::{Database, Refused, Scene, Strung, on_both},
};

const EVERYTHING: Page = Page { after: None, limit: 100 };

/// A club with a bow that was waxed, two logs that may be one, and a change on record.
struct Theirs {
    scene: Scene,
    on: Strung,
    log: ShotLog,
    waxed: Upkeep,
}

impl Theirs {
    async fn in_database(db: &Database) -> Self {
        let scene = db.scene().await;
        let on = scene.strung_bow("theirs", at(0)).await;
        let log = shot_log(scene.owner, on.bow.id, at_hour(20), 72);
        let again = shot_log(scene.owner, on.bow.id, at_hour(21), 72);
        for one in [&log, &again] {
            scene.try_append(one.clone()).await.unwrap();
        }
        let task = domain::upkeep::UpkeepTask::Waxed;
        let waxed = work(scene.owner, on.string.id, task, at(2));
        scene.record(&on.string, waxed.clone()).await;
        let changed = change(scene.owner, Some(on.bow.id), at(1));
        scene.write(move |tx, c| Ok(audit::record(tx, c, &changed)?)).await.unwrap();
        Self { scene, on, log, waxed }
    }

    /// What each reading function finds of theirs for a club.
    async fn lists(&self, scene: &Scene) -> Vec<(&'static str, String)> {
        let (bow, log, waxed) = ([self.on.bow.id], self.log.clone(), self.waxed.id);
        let lists = move |r: &mut Read<'_>, c| {
            let (zone, any) = (Zone::utc(), Filter::default());
            let repeats = ledger::may_be_a_repeat(r, c, &zone, &log)?;
            let pairs = ledger::possible_duplicates(r, c, &zone, &bow, (at(-9), at(9)))?;
            let work = upkeep::get(r, c, waxed).ok();
            Ok([
                ("ledger::may_be_a_repeat", format!("{:?}", repeats.then_some(()).as_slice())),
                ("ledger::possible_duplicates", format!("{pairs:?}")),
                ("upkeep::get", format!("{:?}", work.as_slice())),
                ("audit::list", format!("{:?}", audit::list(r, c, &any, EVERYTHING)?)),
            ])
        };
        scene.read(lists).await.to_vec()
    }

    /// Everything of theirs that could be put right, as text.
    async fn all(&self) -> String {
        let part = self.on.string.id;
        let stays = self.scene.read(move |r, c| fittings::of_part(r, c, part)).await;
        let shots = self.scene.shots(&self.on.string).await;
        format!("{:#?} {stays:?} {shots}", self.lists(&self.scene).await)
    }
}

#[tokio::test]
async fn nothing_on_the_record_of_another_club_is_found() {
    on_both(async |db| {
        let theirs = Theirs::in_database(&db).await;
        for (called, found) in theirs.lists(&theirs.scene).await {
            assert!(found != "[]", "{called} finds nothing to begin with");
        }
        let ours = db.scene().await;
        for (called, found) in theirs.lists(&ours).await {
            assert_eq!(found, "[]", "{called}");
        }
    })
    .await;
}

type Change = Box<dyn FnOnce(&mut Tx<'_>, ClubId) -> Result<(), Refused> + Send>;

/// What would change something of theirs, or name it.
fn changes(theirs: &Theirs, ours: &Scene) -> Vec<(&'static str, Change)> {
    let (stays, waxed, log) = (theirs.on.string_on, theirs.waxed.clone(), theirs.log.id);
    let string = theirs.on.string.clone();
    let ended = domain::fittings::Fitting { to: Some(at(3)), ..stays };
    let by_them = change(theirs.scene.owner, None, at(1));
    let of_theirs = change(ours.owner, Some(theirs.on.bow.id), at(1));
    vec![
        ("fittings::change", Box::new(move |tx, c| fittings::change(tx, c, &ended).map(drop))),
        ("fittings::remove", Box::new(move |tx, c| Ok(fittings::remove(tx, c, &stays)?))),
        ("upkeep::remove", Box::new(move |tx, c| Ok(upkeep::remove(tx, c, &string, &waxed)?))),
        (
            "ledger::effective_to_merge",
            Box::new(move |tx, c| Ok(ledger::effective_to_merge(tx, c, log).map(drop)?)),
        ),
        ("audit::record by", Box::new(move |tx, c| Ok(audit::record(tx, c, &by_them)?))),
        ("audit::record of", Box::new(move |tx, c| Ok(audit::record(tx, c, &of_theirs)?))),
    ]
}

#[tokio::test]
async fn nothing_on_record_of_another_club_is_put_right_or_named() {
    on_both(async |db| {
        let (theirs, ours) = (Theirs::in_database(&db).await, db.scene().await);
        let before = theirs.all().await;
        for (called, change) in changes(&theirs, &ours) {
            let refused = ours.write(change).await;
            assert!(refused.is_err(), "{called}");
            assert_eq!(theirs.all().await, before, "{called}");
        }
        // To hold a club changes nothing of any.
        ours.write(|tx, c| Ok::<_, Refused>(clubs::hold_alone(tx, c)?)).await.unwrap();
        assert_eq!(theirs.all().await, before);
        // With a stay of ours that has the id of one of theirs, only ours is touched.
        let our = ours.strung_bow("ours", at(0)).await;
        let part = ours.part(our.string.kind).await;
        let bow = ours.bow("another of ours").await;
        let same = stay(part.id, Host::Bow(bow.id), at(0), None);
        let same = domain::fittings::Fitting { id: theirs.on.string_on.id, ..same };
        ours.try_fit(same).await.unwrap();
        ours.write(move |tx, c| Ok::<_, Refused>(fittings::remove(tx, c, &same)?)).await.unwrap();
        let gone = ours.write(move |tx, c| Ok(fittings::get(tx, c, same.id)?)).await;
        assert!(matches!(gone, Err(Refused::Store(StoreError::NotFound { .. }))), "{gone:?}");
        assert_eq!(theirs.all().await, before);
    })
    .await;
}
