//! `tautline doctor`: proofs that what is kept is right, and that what is set works.

mod ledger;
mod mail;

pub(crate) use ledger::ledger;
pub(crate) use mail::mail;
