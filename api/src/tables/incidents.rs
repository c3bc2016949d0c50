//! What happened to bows.

use domain::{
    ids::IncidentId,
    incidents::{Incident, IncidentKind},
    text::Note,
};
use store::{Read, StoreError, Tx};
use uuid::Uuid;

use super::{
    NotWritten, Written,
    cells::Cells,
    columns::{Column, column},
    import::Rows,
    known::{ALL, Known},
    writing::Cell,
};

pub(super) struct Incidents;

impl Rows for Incidents {
    type Value = Incident;

    const COLUMNS: &'static [Column] = &[
        column("id", &["incident_id"]),
        column("bow_id", &[]),
        column("bow", &["bow_name", "bogen", "arc", "boog", "arco"]).aside(),
        column("kind", &["what", "art", "type", "soort", "tipo"]).needed(),
        column("at", &["date", "when", "datum", "fecha"]).dated().needed(),
        column("note", &["notes", "notiz", "remarque", "opmerking", "nota"]),
        column("entered_by", &["by", "eingetragen_von", "saisi_par", "ingevoerd_door"]).aside(),
    ];

    fn all(read: &mut Read<'_>, known: &Known) -> Result<Vec<Incident>, StoreError> {
        store::incidents::list(read, known.actor.club, None, ALL)
    }

    fn id(incident: &Incident) -> Uuid {
        incident.id.0
    }

    fn set_id(incident: &mut Incident, id: Uuid) {
        incident.id = IncidentId(id);
    }

    fn cells(incident: &Incident, known: &Known) -> Vec<Cell> {
        vec![
            Cell::plain(incident.id),
            Cell::plain(incident.bow_id),
            Cell::text(known.bow_name(incident.bow_id)),
            Cell::plain(incident.kind),
            Cell::plain(incident.at),
            Cell::text(incident.note.as_str()),
            Cell::text_if(known.address(incident.entered_by)),
        ]
    }

    fn parse(cells: &mut Cells<'_>, known: &Known, id: Uuid) -> Option<Incident> {
        let bow_id = known.needed_bow(cells);
        let kind = cells.word("kind", IncidentKind::parse, IncidentKind::ALL);
        let at = cells.moment("at");
        let note = cells.parse_if("note", Note::parse).unwrap_or_default();
        let entered_by = known.entered_by(cells);
        Some(Incident {
            id: IncidentId(id),
            bow_id: bow_id?,
            kind: kind?,
            at: at?,
            note,
            entered_by: entered_by?,
            // When it was told is not in the file. Taken as told when it happened, an inspection of
            // the same file that came after it has cleared it.
            received_at: at?,
        })
    }

    fn write(
        tx: &mut Tx<'_>,
        known: &Known,
        incidents: &[Incident],
    ) -> Result<Vec<Written>, StoreError> {
        let club = known.actor.club;
        let mut add = |incident: &Incident| {
            NotWritten::of(store::incidents::add(tx, club, incident).map_err(NotWritten::from))
        };
        incidents.iter().map(&mut add).collect()
    }
}
