//! The club's record as files, over HTTP. What stands in them is the business of [`crate::tables`].

mod export;
mod import;

pub(crate) use export::export_table;
pub(crate) use import::import_table;

use utoipa::openapi::{RefOr, Schema};

use crate::{
    auth::SignedIn,
    error::ApiError,
    fields::Fields,
    openapi::one_of,
    tables::{Actor, Table},
};

pub(crate) fn tables() -> RefOr<Schema> {
    one_of(Table::ALL.map(Table::as_str))
}

/// The table that is asked for, if it is for who asks.
fn table(who: SignedIn, name: &str) -> Result<Table, ApiError> {
    let mut fields = Fields::default();
    let table = fields.word("/table", name, Table::parse, &Table::ALL);
    let table = fields.finish(table)?;
    if table.is_for_owners() {
        who.owns_the_club()?;
    }
    Ok(table)
}

const fn actor(who: SignedIn) -> Actor {
    Actor { club: who.club, member: who.member, role: who.role, signs: Some(who.member) }
}
