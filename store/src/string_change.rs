//! A string change in one transaction: the old string comes off, the new one goes on with its
//! servings, and what was set is on record.

use domain::{
    fittings::{Fitting, FittingError, Host},
    ids::{BowId, ClubId, PartId},
    parts::{Part, PartError, PartKind},
    string_change::{NewString, StringChange, StringChangeError},
    upkeep::{Upkeep, UpkeepTask},
};

use crate::{
    StoreError, Tx, bows,
    dialect::{self, Hold},
    fittings, fresh_id, parts, upkeep,
};

/// What came off and what went on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Changed {
    /// The string that was on the bow, if there was one.
    pub old: Option<PartId>,
    /// The string that is on it now.
    pub new: PartId,
    /// The servings that were put on record with it, in the order given.
    pub servings: Vec<PartId>,
}

/// Changes the string of a bow.
///
/// # Errors
/// A refusal by the domain, a missing bow or part, or the database.
pub fn change<E>(
    tx: &mut Tx<'_>,
    club: ClubId,
    bow: BowId,
    change: &StringChange,
) -> Result<Changed, E>
where
    E: From<StoreError> + From<FittingError> + From<PartError> + From<StringChangeError>,
{
    dialect::hold(tx, club, Hold::Alone)?;
    bows::get(tx, club, bow)?;
    let strings = fittings::on_host(tx, club, Host::Bow(bow), PartKind::Bowstring)?;
    let ended = change.ended(&strings)?;
    let new = match &change.new {
        NewString::Known(id) => parts::get(tx, club, *id)?,
        NewString::Made(part) => {
            parts::add(tx, club, part)?;
            part.clone()
        }
    };
    change.goes_on(&new, ended.as_ref())?;
    if let Some(stay) = &ended {
        take_off::<E>(tx, club, stay, change)?;
    }
    fit::<E>(tx, club, new.id, Host::Bow(bow), change)?;
    for serving in &change.servings {
        parts::add(tx, club, serving)?;
        fit::<E>(tx, club, serving.id, Host::Part(new.id), change)?;
    }
    for setting in &change.settings {
        let (measured_mm, note) = (setting.measured_mm, setting.note.clone());
        let work = Upkeep { measured_mm, note, ..work(change, new.id, setting.task) };
        upkeep::record(tx, club, &new, &work)?;
    }
    let servings = change.servings.iter().map(|serving| serving.id).collect();
    Ok(Changed { old: ended.map(|stay| stay.part_id), new: new.id, servings })
}

/// Takes the old string off, and retires it if its life is over.
fn take_off<E>(
    tx: &mut Tx<'_>,
    club: ClubId,
    stay: &Fitting,
    change: &StringChange,
) -> Result<(), E>
where
    E: From<StoreError> + From<FittingError> + From<PartError>,
{
    let old: Part = parts::get(tx, club, stay.part_id)?;
    upkeep::record(tx, club, &old, &work(change, old.id, UpkeepTask::Replaced))?;
    match &change.old_end {
        Some(end) => parts::retire::<E>(tx, club, old, end.clone()).map(drop),
        None => fittings::take_off::<E>(tx, club, stay.id, change.at).map(drop),
    }
}

fn fit<E>(
    tx: &mut Tx<'_>,
    club: ClubId,
    part_id: PartId,
    host: Host,
    change: &StringChange,
) -> Result<(), E>
where
    E: From<StoreError> + From<FittingError>,
{
    let id = fresh_id(change.received_at);
    let stay = Fitting { id, part_id, host, from: change.at, to: None, version: 1 };
    fittings::fit::<E>(tx, club, &stay)
}

fn work(change: &StringChange, part: PartId, task: UpkeepTask) -> Upkeep {
    let received_at = change.received_at;
    let work = Upkeep::new(fresh_id(received_at), part, task, change.at, change.entered_by);
    Upkeep { received_at, ..work }
}
