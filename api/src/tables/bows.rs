//! Bows, with their people by address.

use domain::{
    bows::{Bow, BowLengthIn, Division, DrawWeightLbf},
    ids::BowId,
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

/// 1 in = 25.4 mm and 1 lb = 0.45359237 kg, both exact (NIST SP 811, appendix B).
const LENGTHS: &[(&str, f64)] =
    &[("in", 1.0), ("inch", 1.0), ("inches", 1.0), ("\"", 1.0), ("cm", 1.0 / 2.54)];
const WEIGHTS: &[(&str, f64)] = &[
    ("lb", 1.0),
    ("lbs", 1.0),
    ("lbf", 1.0),
    ("#", 1.0),
    ("kg", 1.0 / 0.453_592_37),
    ("kgf", 1.0 / 0.453_592_37),
];

pub(super) struct Bows;

impl Rows for Bows {
    type Value = Bow;

    const COLUMNS: &'static [Column] = &[
        column("id", &["bow_id"]),
        column("name", &["bow", "bogen", "arc", "boog", "arco"]).needed(),
        column("division", &["bow_type", "bogenart", "bogenklasse", "discipline", "categorie"])
            .needed(),
        column("bow_length_in", &["bow_length", "length", "bogenlänge", "longueur", "booglengte"])
            .needed(),
        column(
            "draw_weight_lbf",
            &["draw_weight", "zuggewicht", "puissance", "trekgewicht", "potencia"],
        )
        .needed(),
        column("owner", &["owner_email", "besitzer", "propriétaire", "eigenaar", "dueño"]),
        column("archer", &["archer_email", "schütze", "tireur", "schutter", "arquero"]),
        column("keeper", &["keeper_email", "betreuer", "responsable", "beheerder"]),
    ];

    fn all(_read: &mut Read<'_>, known: &Known) -> Result<Vec<Bow>, StoreError> {
        Ok(known.bows.values().cloned().collect())
    }

    fn id(bow: &Bow) -> Uuid {
        bow.id.0
    }

    fn set_id(bow: &mut Bow, id: Uuid) {
        bow.id = BowId(id);
    }

    fn cells(bow: &Bow, known: &Known) -> Vec<Cell> {
        let address = |member: Option<_>| Cell::text_if(member.and_then(|id| known.address(id)));
        vec![
            Cell::plain(bow.id),
            Cell::text(&bow.name),
            Cell::plain(bow.division),
            Cell::plain(bow.length.get()),
            Cell::plain(bow.draw_weight.get()),
            address(bow.owner),
            address(bow.archer),
            address(bow.keeper),
        ]
    }

    fn parse(cells: &mut Cells<'_>, known: &Known, id: Uuid) -> Option<Bow> {
        let name = cells.parse("name", Name::parse);
        let division = cells.word("division", Division::parse, Division::ALL);
        let length = cells.measure("bow_length_in", LENGTHS).map(BowLengthIn::new);
        let length = length.and_then(|length| cells.take("bow_length_in", length));
        let weight = cells.measure("draw_weight_lbf", WEIGHTS).map(DrawWeightLbf::new);
        let draw_weight = weight.and_then(|weight| cells.take("draw_weight_lbf", weight));
        let owner = known.person(cells, "owner");
        let archer = known.person(cells, "archer");
        let keeper = known.person(cells, "keeper");
        Some(Bow {
            id: BowId(id),
            name: name?,
            division: division?,
            length: length?,
            draw_weight: draw_weight?,
            owner,
            archer,
            keeper,
            version: 1,
            created_at: known.now,
        })
    }

    fn write(tx: &mut Tx<'_>, known: &Known, bows: &[Bow]) -> Result<Vec<Written>, StoreError> {
        let add = |bow: &Bow| store::bows::add(tx, known.actor.club, bow).map(|()| Ok(true));
        bows.iter().map(add).collect()
    }
}
