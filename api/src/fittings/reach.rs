//! Which bow a fitting is about, and who may put it right.

use domain::{
    fittings::{Fitting, Host},
    ids::BowId,
};
use store::{Read, StoreError};

use crate::{auth::SignedIn, error::ApiError, within_reach};

/// The bow that a part was fitted to, or that its host is under or was under last.
pub(super) fn bow_of(
    read: &mut Read<'_>,
    who: SignedIn,
    fitting: &Fitting,
) -> Result<Option<BowId>, StoreError> {
    match fitting.host {
        Host::Bow(bow) => Ok(Some(bow)),
        Host::Part(host) => within_reach::bow_of_part(read, who, host),
    }
}

/// Passes who may look after what a part was fitted to.
pub(super) fn may_tend_host(
    read: &mut Read<'_>,
    who: SignedIn,
    host: Host,
) -> Result<(), ApiError> {
    match host {
        Host::Bow(bow) => {
            let bow = store::bows::get(read, who.club, bow)?;
            who.may_tend(read, &bow)
        }
        Host::Part(host) => {
            store::parts::get(read, who.club, host)?;
            within_reach::may_tend_part(read, who, host)
        }
    }
}

/// Passes who may say where a part hung and when: it changes what the part was shot, and what the host
/// carried.
pub(super) fn may_put_right(
    read: &mut Read<'_>,
    who: SignedIn,
    fitting: &Fitting,
) -> Result<(), ApiError> {
    within_reach::may_tend_part(read, who, fitting.part_id)?;
    may_tend_host(read, who, fitting.host)
}
