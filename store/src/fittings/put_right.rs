//! Putting fittings right: other times for a stay, and taking one off the record that never was.

use diesel::prelude::*;
use domain::{
    fittings::{self, Fitting, FittingError},
    ids::ClubId,
};

use super::{Around, put, recount, riders};
use crate::{
    StoreError, Tx,
    dialect::{self, Hold},
    error::changed_once,
    hanging::Hanging,
    parts,
    schema::fittings as table,
    sql_types::Key,
    stops,
};

/// Puts other times on record for a stay that was read in its version; gives the stay as it is now.
///
/// # Errors
/// A [`FittingError`] from the domain, changed meanwhile, or the database.
pub fn change<E>(tx: &mut Tx<'_>, club: ClubId, fitting: &Fitting) -> Result<Fitting, E>
where
    E: From<StoreError> + From<FittingError>,
{
    dialect::hold(tx, club, Hold::Alone)?;
    let around = Around::of(tx, club, fitting)?;
    fittings::check_moved(fitting, around.surroundings())?;
    let changed = put(tx, club, fitting)?;
    recount(tx, club, &around.part)?;
    Ok(changed)
}

/// Takes a stay off the record that never was, in the version it was read in.
///
/// # Errors
/// Changed meanwhile, or the database.
pub fn remove(tx: &mut Tx<'_>, club: ClubId, fitting: &Fitting) -> Result<(), StoreError> {
    dialect::hold(tx, club, Hold::Alone)?;
    let part = parts::get(tx, club, fitting.part_id)?;
    // An inspection of this part, or of what rides on it, may have cleared the bow.
    let mut concerned = riders(tx, club, part.id)?;
    concerned.push(part.id);
    let bows = Hanging::of(tx, club, &concerned)?.bows();
    let row = table::table.find((Key(club.0), Key(fitting.id.0)));
    let rows = diesel::delete(row.filter(table::version.eq(fitting.version))).execute(tx.conn())?;
    changed_once(rows)?;
    recount(tx, club, &part)?;
    bows.into_iter().try_for_each(|bow| stops::reckon_bow(tx, club, bow))
}
