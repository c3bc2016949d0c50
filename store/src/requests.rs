//! What was answered to requests that may come again: kept in the transaction that did the work, so
//! that a second sending finds either all of it or nothing.

use diesel::prelude::*;
use domain::ids::{ClubId, MemberId};
use jiff::Timestamp;

use crate::{
    Read, StoreError, Tx,
    dialect::on_each,
    schema::repeatable_requests,
    sql_types::{Key, Utc},
};

/// What makes a request the same as another: who sent it, to which address, under which key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Request {
    /// Who sent it.
    pub member: MemberId,
    /// Method and path.
    pub route: String,
    /// The key that its sender chose.
    pub key: String,
    /// What tells its body from another.
    pub body_hash: String,
}

/// An answer as it is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptAnswer {
    /// Its HTTP status, as a number.
    pub status: i32,
    /// Where what it made is to be found.
    pub location: Option<String>,
    /// The version of what it made.
    pub etag: Option<String>,
    /// Its body.
    pub body: String,
}

/// What is known of a request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Known {
    /// It has not come before; its answer has to be kept by [`keep`] in this transaction.
    New,
    /// It came before and was answered so.
    Again(KeptAnswer),
    /// Its key came before with another body.
    KeyTaken,
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = repeatable_requests, treat_none_as_default_value = false)]
struct RequestRow {
    club_id: Key,
    member_id: Key,
    route: String,
    key: String,
    body_hash: String,
    status: i32,
    location: Option<String>,
    etag: Option<String>,
    answer: String,
    created_at: Utc,
}

/// Notes that a request is being worked on, unless it came before. Of two that come at once the
/// second waits here until the first has ended.
pub fn begin(
    tx: &mut Tx<'_>,
    club: ClubId,
    request: &Request,
    now: Timestamp,
) -> Result<Known, StoreError> {
    let row = RequestRow {
        club_id: Key(club.0),
        member_id: Key(request.member.0),
        route: request.route.clone(),
        key: request.key.clone(),
        body_hash: request.body_hash.clone(),
        status: 0,
        location: None,
        etag: None,
        answer: String::new(),
        created_at: Utc(now),
    };
    let added = on_each!(tx.conn(), c => {
        diesel::insert_into(repeatable_requests::table)
            .values(row)
            .on_conflict_do_nothing()
            .execute(c)
    })?;
    if added == 1 {
        return Ok(Known::New);
    }
    let before = find(tx, club, request)?;
    if before.body_hash != request.body_hash {
        return Ok(Known::KeyTaken);
    }
    let RequestRow { status, location, etag, answer: body, .. } = before;
    Ok(Known::Again(KeptAnswer { status, location, etag, body }))
}

fn find(read: &mut Read<'_>, club: ClubId, request: &Request) -> Result<RequestRow, StoreError> {
    let key = (Key(club.0), Key(request.member.0), request.route.as_str(), request.key.as_str());
    let row = repeatable_requests::table.find(key).select(RequestRow::as_select());
    Ok(row.get_result(read.conn())?)
}

/// Keeps the answer to a request that [`begin`] found to be new.
pub fn keep(
    tx: &mut Tx<'_>,
    club: ClubId,
    request: &Request,
    answer: &KeptAnswer,
) -> Result<(), StoreError> {
    let key = (Key(club.0), Key(request.member.0), request.route.as_str(), request.key.as_str());
    diesel::update(repeatable_requests::table.find(key))
        .set((
            repeatable_requests::status.eq(answer.status),
            repeatable_requests::location.eq(&answer.location),
            repeatable_requests::etag.eq(&answer.etag),
            repeatable_requests::answer.eq(&answer.body),
        ))
        .execute(tx.conn())?;
    Ok(())
}

/// Forgets what was answered before a moment, in every club; says how much that was.
pub fn forget(tx: &mut Tx<'_>, before: Timestamp) -> Result<usize, StoreError> {
    let old = repeatable_requests::created_at.lt(Utc(before));
    Ok(diesel::delete(repeatable_requests::table.filter(old)).execute(tx.conn())?)
}
