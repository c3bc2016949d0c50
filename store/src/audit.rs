//! Who changed what, when, from what to what. Rows are added in the transaction of the change itself,
//! and nothing here changes or removes one.

use diesel::prelude::*;
use domain::{
    audit::{Change, Subject},
    ids::{BowId, ChangeId, ClubId, MemberId},
};
use jiff::Timestamp;
use uuid::Uuid;

use crate::{
    Page, Read, StoreError, Tx,
    conn::MultiBackend,
    schema::audit,
    sql_types::{Key, Utc},
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = audit, treat_none_as_default_value = false)]
struct ChangeRow {
    club_id: Key,
    id: Key,
    at: Utc,
    by_member_id: Option<Key>,
    operation: String,
    subject: String,
    subject_id: Key,
    bow_id: Option<Key>,
    before: Option<String>,
    after: Option<String>,
}

impl TryFrom<ChangeRow> for Change {
    type Error = StoreError;

    fn try_from(row: ChangeRow) -> Result<Self, StoreError> {
        let subject = Subject::parse(&row.subject).ok_or_else(|| StoreError::Inconsistent {
            table: "audit",
            column: "subject",
            id: row.id.0,
            found: row.subject.clone(),
        })?;
        Ok(Self {
            id: ChangeId(row.id.0),
            at: row.at.0,
            by: row.by_member_id.map(|member| MemberId(member.0)),
            operation: row.operation,
            subject,
            subject_id: row.subject_id.0,
            bow: row.bow_id.map(|bow| BowId(bow.0)),
            before: row.before,
            after: row.after,
        })
    }
}

/// Puts a change on record. Its own id orders it, so it has to be made where the change is.
pub fn record(tx: &mut Tx<'_>, club: ClubId, change: &Change) -> Result<(), StoreError> {
    let row = ChangeRow {
        club_id: Key(club.0),
        id: Key(change.id.0),
        at: Utc(change.at),
        by_member_id: change.by.map(|member| Key(member.0)),
        operation: change.operation.clone(),
        subject: change.subject.as_str().to_owned(),
        subject_id: Key(change.subject_id),
        bow_id: change.bow.map(|bow| Key(bow.0)),
        before: change.before.clone(),
        after: change.after.clone(),
    };
    diesel::insert_into(audit::table).values(row).execute(tx.conn())?;
    Ok(())
}

/// Which changes; what is absent does not matter.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Filter {
    /// Of this one thing.
    pub subject_id: Option<Uuid>,
    /// About one of these bows.
    pub bows: Option<Vec<BowId>>,
    /// Made by this member.
    pub by: Option<MemberId>,
    /// Made by the operation called so.
    pub operation: Option<String>,
    /// Made at this moment or after.
    pub from: Option<Timestamp>,
    /// Made before this moment.
    pub until: Option<Timestamp>,
}

/// Changes of a club, the last one first. The page goes on to what was changed before its cursor.
pub fn list(
    read: &mut Read<'_>,
    club: ClubId,
    filter: &Filter,
    page: Page,
) -> Result<Vec<Change>, StoreError> {
    let before = Key(page.after.unwrap_or(Uuid::max()));
    let mut query = audit::table
        .filter(audit::club_id.eq(Key(club.0)).and(audit::id.lt(before)))
        .select(ChangeRow::as_select())
        .order(audit::id.desc())
        .limit(page.limit.into())
        .into_boxed::<MultiBackend>();
    if let Some(subject) = filter.subject_id {
        query = query.filter(audit::subject_id.eq(Key(subject)));
    }
    if let Some(bows) = &filter.bows {
        let theirs = audit::bow_id.eq_any(bows.iter().map(|bow| Some(Key(bow.0))));
        query = query.filter(theirs.assume_not_null());
    }
    if let Some(member) = filter.by {
        query = query.filter(audit::by_member_id.eq(Some(Key(member.0))).assume_not_null());
    }
    if let Some(operation) = &filter.operation {
        query = query.filter(audit::operation.eq(operation));
    }
    if let Some(from) = filter.from {
        query = query.filter(audit::at.ge(Utc(from)));
    }
    if let Some(until) = filter.until {
        query = query.filter(audit::at.lt(Utc(until)));
    }
    let rows: Vec<ChangeRow> = query.load(read.conn())?;
    rows.into_iter().map(Change::try_from).collect()
}
