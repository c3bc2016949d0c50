//! Parts, with how their life ended.

use domain::{
    ids::PartId,
    parts::{self, Cost, End, Part, PartKind, Retirement, Start},
    text::Name,
};
use store::{Read, StoreError, Tx};
use uuid::Uuid;

use super::{
    Written,
    cells::Cells,
    columns::{Column, column},
    import::Rows,
    known::Known,
    writing::Cell,
};

pub(super) struct Parts;

impl Rows for Parts {
    type Value = Part;

    const COLUMNS: &'static [Column] = &[
        column("id", &["part_id"]),
        column("kind", &["art", "type", "soort", "tipo"]).needed(),
        column("name", &["part", "teil", "pièce", "onderdeel", "pieza"]).needed(),
        column("material", &["matière", "materiaal"]),
        column("strands", &["strand_count", "stränge", "brins", "strengen", "hilos"]),
        column("made_on", &["made", "hergestellt_am", "fabriqué_le", "gemaakt_op"]).dated(),
        column("starting_shots", &["shots_before", "anfangsschüsse"]),
        column("starting_at", &["shots_before_until", "anfang_am"]).dated(),
        column("unit_cost", &["cost", "price", "preis", "prix", "prijs", "precio"]),
        column("retired_at", &["retired", "ausgemustert_am", "retiré_le", "afgedankt_op"]).dated(),
        column("retired_end", &["end", "ende", "fin", "einde"]),
        column("retired_reason", &["reason", "grund", "raison", "reden", "motivo"]),
    ];

    fn all(_read: &mut Read<'_>, known: &Known) -> Result<Vec<Part>, StoreError> {
        Ok(known.parts.values().cloned().collect())
    }

    fn id(part: &Part) -> Uuid {
        part.id.0
    }

    fn set_id(part: &mut Part, id: Uuid) {
        part.id = PartId(id);
    }

    fn cells(part: &Part, _known: &Known) -> Vec<Cell> {
        let retirement = part.retirement.as_ref();
        let amount =
            |cost: Cost| format!("{}.{:02}", cost.hundredths() / 100, cost.hundredths() % 100);
        vec![
            Cell::plain(part.id),
            Cell::plain(part.kind),
            Cell::text(&part.name),
            Cell::text_if(part.material.as_ref()),
            Cell::plain_if(part.strands),
            Cell::plain_if(part.made_on),
            Cell::plain_if(part.start.map(|start| start.shots)),
            Cell::plain_if(part.start.map(|start| start.at)),
            Cell::plain_if(part.unit_cost.map(amount)),
            Cell::plain_if(retirement.map(|retirement| retirement.at)),
            Cell::plain_if(retirement.map(|retirement| retirement.end)),
            Cell::text_if(retirement.map(|retirement| &retirement.reason)),
        ]
    }

    fn parse(cells: &mut Cells<'_>, known: &Known, id: Uuid) -> Option<Part> {
        let kind = cells.word("kind", PartKind::parse, PartKind::ALL);
        let name = cells.parse("name", Name::parse);
        let material = cells.parse_if("material", Name::parse);
        let strands = cells.whole("strands").map(parts::strands);
        let strands = strands.and_then(|count| cells.take("strands", count));
        let made_on = cells.day("made_on");
        let start = start(cells);
        let unit_cost = cells.number("unit_cost").map(Cost::from_amount);
        let unit_cost = unit_cost.and_then(|cost| cells.take("unit_cost", cost));
        let retirement = retirement(cells);
        Some(Part {
            id: PartId(id),
            kind: kind?,
            name: name?,
            material,
            strands,
            made_on,
            start,
            unit_cost,
            retirement,
            created_at: known.now,
        })
    }

    fn write(tx: &mut Tx<'_>, known: &Known, parts: &[Part]) -> Result<Vec<Written>, StoreError> {
        let add = |part: &Part| store::parts::add(tx, known.actor.club, part).map(|()| Ok(true));
        parts.iter().map(add).collect()
    }
}

fn start(cells: &mut Cells<'_>) -> Option<Start> {
    let shots = cells.whole("starting_shots").map(parts::starting_shots);
    let shots = shots.and_then(|count| cells.take("starting_shots", count));
    let at = cells.moment_if("starting_at");
    match (cells.text("starting_shots"), cells.text("starting_at")) {
        (Some(_), None) => cells.refuse("starting_at", "goes with starting_shots"),
        (None, Some(_)) => cells.refuse("starting_shots", "goes with starting_at"),
        _ => {}
    }
    Some(Start { shots: shots?, at: at? })
}

fn retirement(cells: &mut Cells<'_>) -> Option<Retirement> {
    let columns = ["retired_at", "retired_end", "retired_reason"];
    if columns.iter().all(|column| cells.text(column).is_none()) {
        return None;
    }
    let at = cells.moment("retired_at");
    let end = cells.word("retired_end", End::parse, End::ALL);
    let reason = cells.parse("retired_reason", Name::parse);
    Some(Retirement { at: at?, end: end?, reason: reason? })
}
