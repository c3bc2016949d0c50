//! Parts, without their wear, which is in [`crate::wear`].

use std::collections::BTreeMap;

use diesel::prelude::*;
use domain::{
    fittings::FittingError,
    ids::{ClubId, PartId},
    parts::{Cost, End, Part, PartError, PartKind, Retirement, Start},
    text::Name,
};

use crate::{
    Page, Read, StoreError, Tx,
    dialect::{self, Hold},
    fittings,
    schema::parts,
    sql_types::{Day, Key, Utc},
    stops, wear,
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = parts, treat_none_as_default_value = false)]
struct PartRow {
    club_id: Key,
    id: Key,
    kind: String,
    name: String,
    material: Option<String>,
    strands: Option<i32>,
    made_on: Option<Day>,
    starting_shots: Option<i32>,
    starting_at: Option<Utc>,
    unit_cost_hundredths: Option<i64>,
    retired_at: Option<Utc>,
    retired_end: Option<String>,
    retired_reason: Option<String>,
    created_at: Utc,
}

impl PartRow {
    fn bad(&self, column: &'static str, found: &dyn ToString) -> StoreError {
        StoreError::Inconsistent { table: "parts", column, id: self.id.0, found: found.to_string() }
    }

    fn name(&self, column: &'static str, text: &str) -> Result<Name, StoreError> {
        Name::parse(text).map_err(|_bad| self.bad(column, &text))
    }

    fn start(&self) -> Result<Option<Start>, StoreError> {
        let Some((shots, at)) = self.starting_shots.zip(self.starting_at) else { return Ok(None) };
        let shots = u32::try_from(shots).map_err(|_bad| self.bad("starting_shots", &shots))?;
        Ok(Some(Start { shots, at: at.0 }))
    }

    fn retirement(&self) -> Result<Option<Retirement>, StoreError> {
        let (Some(at), Some(end), Some(reason)) =
            (self.retired_at, &self.retired_end, &self.retired_reason)
        else {
            return Ok(None);
        };
        Ok(Some(Retirement {
            at: at.0,
            end: End::parse(end).ok_or_else(|| self.bad("retired_end", &end))?,
            reason: self.name("retired_reason", reason)?,
        }))
    }
}

impl TryFrom<PartRow> for Part {
    type Error = StoreError;

    fn try_from(row: PartRow) -> Result<Self, StoreError> {
        let strands = row.strands.map(|n| u16::try_from(n).map_err(|_bad| row.bad("strands", &n)));
        Ok(Self {
            id: PartId(row.id.0),
            kind: PartKind::parse(&row.kind).ok_or_else(|| row.bad("kind", &row.kind))?,
            name: row.name("name", &row.name)?,
            material: row.material.as_deref().map(|text| row.name("material", text)).transpose()?,
            strands: strands.transpose()?,
            made_on: row.made_on.map(|day| day.0),
            start: row.start()?,
            unit_cost: row.unit_cost_hundredths.map(Cost::from_hundredths),
            retirement: row.retirement()?,
            created_at: row.created_at.0,
        })
    }
}

/// Adds a part that has not been fitted to anything, with its clocks at what it starts with.
pub fn add(tx: &mut Tx<'_>, club: ClubId, part: &Part) -> Result<(), StoreError> {
    let retirement = part.retirement.as_ref();
    let row = PartRow {
        club_id: Key(club.0),
        id: Key(part.id.0),
        kind: part.kind.as_str().to_owned(),
        name: part.name.to_string(),
        material: part.material.as_ref().map(ToString::to_string),
        strands: part.strands.map(i32::from),
        made_on: part.made_on.map(Day),
        starting_shots: part.start.map(|start| start.shots.cast_signed()),
        starting_at: part.start.map(|start| Utc(start.at)),
        unit_cost_hundredths: part.unit_cost.map(Cost::hundredths),
        retired_at: retirement.map(|retirement| Utc(retirement.at)),
        retired_end: retirement.map(|retirement| retirement.end.as_str().to_owned()),
        retired_reason: retirement.map(|retirement| retirement.reason.to_string()),
        created_at: Utc(part.created_at),
    };
    diesel::insert_into(parts::table).values(row).execute(tx.conn())?;
    wear::recount(tx, club, part)
}

/// One part.
pub fn get(read: &mut Read<'_>, club: ClubId, part: PartId) -> Result<Part, StoreError> {
    parts::table
        .find((Key(club.0), Key(part.0)))
        .select(PartRow::as_select())
        .get_result(read.conn())
        .optional()?
        .ok_or(StoreError::NotFound { what: "part" })?
        .try_into()
}

/// One part that is about to be changed, with its club held so that nobody else changes it.
pub fn get_to_change(tx: &mut Tx<'_>, club: ClubId, part: PartId) -> Result<Part, StoreError> {
    dialect::hold(tx, club, Hold::Alone)?;
    get(tx, club, part)
}

/// Parts of a club, in the order they were added.
pub fn list(read: &mut Read<'_>, club: ClubId, page: Page) -> Result<Vec<Part>, StoreError> {
    parts::table
        .filter(parts::club_id.eq(Key(club.0)).and(parts::id.gt(page.after_key())))
        .select(PartRow::as_select())
        .order(parts::id)
        .limit(page.limit.into())
        .load(read.conn())?
        .into_iter()
        .map(Part::try_from)
        .collect()
}

/// Every part of a club, in the order they were added.
pub(crate) fn all(read: &mut Read<'_>, club: ClubId) -> Result<Vec<Part>, StoreError> {
    list(read, club, Page { after: None, limit: u32::MAX })
}

/// Every part of a club that is not retired, in the order they were added.
pub(crate) fn in_use(read: &mut Read<'_>, club: ClubId) -> Result<Vec<Part>, StoreError> {
    parts::table
        .filter(parts::club_id.eq(Key(club.0)).and(parts::retired_at.is_null()))
        .select(PartRow::as_select())
        .order(parts::id)
        .load(read.conn())?
        .into_iter()
        .map(Part::try_from)
        .collect()
}

/// Those of these parts that there are.
pub fn some(
    read: &mut Read<'_>,
    club: ClubId,
    ids: &[PartId],
) -> Result<BTreeMap<PartId, Part>, StoreError> {
    let asked = parts::id.eq_any(ids.iter().map(|part| Key(part.0)));
    let rows: Vec<PartRow> = parts::table
        .filter(parts::club_id.eq(Key(club.0)).and(asked))
        .select(PartRow::as_select())
        .order(parts::id)
        .load(read.conn())?;
    rows.into_iter().map(|row| Ok((PartId(row.id.0), row.try_into()?))).collect()
}

/// Ends the life of a part from [`get_to_change`], and with it its stay on whatever it is fitted to.
///
/// # Errors
/// A [`PartError`] or [`FittingError`] from the domain, or the database.
pub fn retire<E>(
    tx: &mut Tx<'_>,
    club: ClubId,
    part: Part,
    retirement: Retirement,
) -> Result<Part, E>
where
    E: From<StoreError> + From<FittingError> + From<PartError>,
{
    let at = retirement.at;
    let stays = fittings::of_part(tx, club, part.id)?;
    let part = part.retire(retirement, &stays)?;
    if let Some(later) = fittings::last_to(tx, club, part.id)?.filter(|from| *from >= at) {
        return Err(PartError::BeforeLastFitting { at: later }.into());
    }
    fittings::take_off_part::<E>(tx, club, part.id, at)?;
    let retirement = part.retirement.as_ref();
    let kept = diesel::update(parts::table.find((Key(club.0), Key(part.id.0))))
        .set((
            parts::retired_at.eq(retirement.map(|retirement| Utc(retirement.at))),
            parts::retired_end.eq(retirement.map(|retirement| retirement.end.as_str())),
            parts::retired_reason.eq(retirement.map(|retirement| retirement.reason.as_str())),
        ))
        .execute(tx.conn())
        .map_err(StoreError::from)?;
    if kept != 1 {
        return Err(StoreError::NotFound { what: "part" }.into());
    }
    stops::reckon(tx, club, &[part.id])?;
    Ok(part)
}
