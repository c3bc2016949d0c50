//! The ledger as it stands after its corrections. Whoever may log may bring logs in, for the bows within
//! their reach.

use domain::{
    ids::{BowId, ShotLogId},
    ledger::{LogKind, ShotLog, Shots},
    members::Role,
    reach::Reach,
    text::Note,
};
use store::{Read, StoreError, Tx, ledger::Appended};
use uuid::Uuid;

use super::{
    Written,
    cells::Cells,
    columns::{Column, column},
    import::Rows,
    known::{ALL, Known},
    writing::Cell,
};

pub(super) struct ShotLogs;

impl Rows for ShotLogs {
    type Value = ShotLog;

    const COLUMNS: &'static [Column] = &[
        column("id", &["log_id", "shot_log_id"]),
        column("bow_id", &[]),
        column("bow", &["bow_name", "bogen", "arc", "boog", "arco"]).aside(),
        column("at", &["date", "day", "when", "datum", "tag", "jour", "dag", "fecha"])
            .dated()
            .needed(),
        column(
            "shots",
            &[
                "arrows", "count", "schüsse", "schuss", "pfeile", "flèches", "tirs", "pijlen",
                "schoten", "flechas", "tiros",
            ],
        )
        .needed(),
        column("kind", &["art", "type", "soort", "tipo"]),
        column("note", &["notes", "notiz", "remarque", "opmerking", "nota"]),
        column("entered_by", &["by", "eingetragen_von", "saisi_par", "ingevoerd_door"]).aside(),
    ];

    const WRITES_ONCE: bool = true;

    fn all(read: &mut Read<'_>, known: &Known) -> Result<Vec<ShotLog>, StoreError> {
        let within = || -> Vec<BowId> {
            let bows = known.bows.values().filter(|bow| known.reach.bow(bow));
            bows.map(|bow| bow.id).collect()
        };
        let bows = (known.reach != Reach::Everybody).then(within);
        store::ledger::list(read, known.actor.club, bows.as_deref(), ALL)
    }

    fn on_record(
        read: &mut Read<'_>,
        known: &Known,
        ids: &[Uuid],
    ) -> Result<Vec<ShotLog>, StoreError> {
        let ids: Vec<ShotLogId> = ids.iter().copied().map(ShotLogId).collect();
        Ok(store::ledger::some(read, known.actor.club, &ids)?.into_values().collect())
    }

    fn id(log: &ShotLog) -> Uuid {
        log.id.0
    }

    fn set_id(log: &mut ShotLog, id: Uuid) {
        log.id = ShotLogId(id);
    }

    fn cells(log: &ShotLog, known: &Known) -> Vec<Cell> {
        let at = if log.time.date_only {
            known.club.zone.date_of(log.time.stated).to_string()
        } else {
            log.time.at.to_string()
        };
        vec![
            Cell::plain(log.id),
            Cell::plain(log.bow_id),
            Cell::text(known.bow_name(log.bow_id)),
            Cell::Plain(at),
            Cell::plain(log.shots.get()),
            Cell::plain(log.kind),
            Cell::text(log.note.as_str()),
            Cell::text_if(known.address(log.entered_by)),
        ]
    }

    fn parse(cells: &mut Cells<'_>, known: &Known, id: Uuid) -> Option<ShotLog> {
        let bow_id = known.needed_bow(cells);
        let time = cells.log_time("at");
        let shots = match cells.needed("shots") {
            Some(_) => cells.whole("shots").map(Shots::new),
            None => None,
        };
        let shots = shots.and_then(|shots| cells.take("shots", shots));
        let kind = match cells.text("kind") {
            Some(_) => cells.word("kind", LogKind::parse, LogKind::ALL),
            None => Some(LogKind::Practice),
        };
        let note = cells.parse_if("note", Note::parse).unwrap_or_default();
        let entered_by = known.entered_by(cells);
        Some(ShotLog {
            id: ShotLogId(id),
            bow_id: bow_id?,
            time: time?,
            shots: shots?,
            kind: kind?,
            note,
            entered_by: entered_by?,
            received_at: known.now,
        })
    }

    fn write(tx: &mut Tx<'_>, known: &Known, logs: &[ShotLog]) -> Result<Vec<Written>, StoreError> {
        let others =
            |log: &ShotLog| known.actor.role != Role::Owner && log.entered_by != known.actor.member;
        let own: Vec<ShotLog> = logs.iter().filter(|log| !others(log)).cloned().collect();
        let mut entries = store::ledger::append_all(tx, known.actor.club, &own)?.into_iter();
        let written = logs.iter().map(|log| {
            if others(log) {
                return Err("only owners bring in what somebody else entered".to_owned());
            }
            match entries.next().map(|entry| entry.appended) {
                Some(Appended::New) => Ok(true),
                Some(Appended::Again(_) | Appended::Void(_)) => Ok(false),
                Some(Appended::IdTaken) | None => {
                    Err("another log with other content has this id".to_owned())
                }
            }
        });
        Ok(written.collect())
    }
}
