//! The ledger. Entries are appended, and nothing here changes or removes what one says: a correction
//! is an entry of its own, and the last of a log's entries counts.

mod append;
mod chain;
mod correct;
mod duplicates;
mod list;
mod row;

pub use append::{Appended, Entry, append, append_all};
pub use correct::{Corrected, correct};
pub use duplicates::{may_be_a_repeat, possible_duplicates};
pub use list::{list, some};

use domain::{
    ids::{ClubId, ShotLogId},
    ledger::ShotLog,
};

use crate::{
    Read, StoreError, Tx,
    dialect::{self, Hold},
};
use chain::Chain;

/// One log as it was appended, whatever was corrected since.
pub fn get(read: &mut Read<'_>, club: ClubId, log: ShotLogId) -> Result<ShotLog, StoreError> {
    Chain::of(read, club, log)?.into_appended()
}

/// What a log says now, and in which version: one more than the corrections it took. One that is void
/// is not there.
pub fn effective(
    read: &mut Read<'_>,
    club: ClubId,
    log: ShotLogId,
) -> Result<(ShotLog, i32), StoreError> {
    let chain = Chain::of(read, club, log)?;
    let version = chain.version();
    chain.says_now()?.map(|log| (log, version)).ok_or(StoreError::NotFound { what: "shot log" })
}

/// The same of a log that another is about to be merged into, with its club held so that it stays what
/// it is.
pub fn effective_to_merge(
    tx: &mut Tx<'_>,
    club: ClubId,
    log: ShotLogId,
) -> Result<(ShotLog, i32), StoreError> {
    dialect::hold(tx, club, Hold::Alone)?;
    effective(tx, club, log)
}
