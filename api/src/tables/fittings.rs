//! Stays of parts on bows, and on other parts. What was retired since comes in too.

use domain::{
    fittings::{Fitting, Host},
    ids::FittingId,
};
use store::{Read, StoreError, Tx};
use uuid::Uuid;

use super::{
    NotWritten, Written,
    cells::Cells,
    columns::{Column, column},
    import::Rows,
    known::Known,
    writing::Cell,
};

pub(super) struct Fittings;

impl Rows for Fittings {
    type Value = Fitting;

    const COLUMNS: &'static [Column] = &[
        column("id", &["fitting_id"]),
        column("part_id", &[]),
        column("part", &["part_name", "teil", "pièce", "onderdeel", "pieza"]).aside(),
        column("bow_id", &[]),
        column("bow", &["bow_name", "bogen", "arc", "boog", "arco"]).aside(),
        column("host_part_id", &["host_id"]),
        column("host_part", &["host", "host_part_name", "auf_teil"]).aside(),
        column("from", &["fitted_at", "from_at", "von", "de", "du", "van", "desde"])
            .dated()
            .needed(),
        column("to", &["taken_off_at", "to_at", "bis", "à", "au", "tot", "hasta"]).dated(),
    ];

    fn all(read: &mut Read<'_>, known: &Known) -> Result<Vec<Fitting>, StoreError> {
        let by_part = store::fittings::of_club(read, known.actor.club)?;
        let mut fittings: Vec<Fitting> = by_part.into_values().flatten().collect();
        fittings.sort_by_key(|fitting| fitting.id);
        Ok(fittings)
    }

    fn id(fitting: &Fitting) -> Uuid {
        fitting.id.0
    }

    fn set_id(fitting: &mut Fitting, id: Uuid) {
        fitting.id = FittingId(id);
    }

    fn cells(fitting: &Fitting, known: &Known) -> Vec<Cell> {
        let (bow, host) = match fitting.host {
            Host::Bow(bow) => (Some(bow), None),
            Host::Part(part) => (None, Some(part)),
        };
        vec![
            Cell::plain(fitting.id),
            Cell::plain(fitting.part_id),
            Cell::text(known.part_name(fitting.part_id)),
            Cell::plain_if(bow),
            Cell::text_if(bow.map(|bow| known.bow_name(bow))),
            Cell::plain_if(host),
            Cell::text_if(host.map(|host| known.part_name(host))),
            Cell::plain(fitting.from),
            Cell::plain_if(fitting.to),
        ]
    }

    fn parse(cells: &mut Cells<'_>, known: &Known, id: Uuid) -> Option<Fitting> {
        let part_id = known.part(cells, ("part_id", "part"));
        let named = |cells: &Cells<'_>, columns: [&str; 2]| {
            columns.iter().any(|column| cells.text(column).is_some())
        };
        if !named(cells, ["part_id", "part"]) {
            cells.refuse("part_id", "give part_id, or a name that only one part has");
        }
        let (on_bow, on_part) =
            (named(cells, ["bow_id", "bow"]), named(cells, ["host_part_id", "host_part"]));
        let host = match (on_bow, on_part) {
            (true, false) => known.bow(cells).map(Host::Bow),
            (false, true) => known.part(cells, ("host_part_id", "host_part")).map(Host::Part),
            (true, true) => {
                cells.refuse("host_part_id", "give a bow or a part that it is on, not both");
                None
            }
            (false, false) => {
                cells.refuse("bow_id", "give a bow or a part that it is on");
                None
            }
        };
        let from = cells.moment("from");
        let to = cells.moment_if("to");
        let id = FittingId(id);
        Some(Fitting { id, part_id: part_id?, host: host?, from: from?, to, version: 1 })
    }

    fn write(
        tx: &mut Tx<'_>,
        known: &Known,
        fittings: &[Fitting],
    ) -> Result<Vec<Written>, StoreError> {
        let club = known.actor.club;
        let mut restore =
            |fitting: &Fitting| NotWritten::of(store::fittings::restore(tx, club, fitting));
        fittings.iter().map(&mut restore).collect()
    }
}
