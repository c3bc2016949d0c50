//! The outbox as people look at it: what became of which mail. Sending is not done here.

use std::collections::BTreeMap;

use diesel::prelude::*;
use domain::{
    ids::{ClubId, MailId},
    mail::{MailKind, MailState},
    reach::Reach,
};

use crate::{
    Page, Read, StoreError,
    conn::MultiBackend,
    outbox::{MailRow, Posted},
    reminders::people_of,
    schema::outbox,
    sql_types::Key,
};

/// Which mails; what is absent does not matter.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Filter {
    /// That have come so far.
    pub state: Option<MailState>,
    /// About that.
    pub kind: Option<MailKind>,
}

/// These mails.
pub fn some(
    read: &mut Read<'_>,
    club: ClubId,
    ids: &[MailId],
) -> Result<BTreeMap<MailId, Posted>, StoreError> {
    let these = outbox::id.eq_any(ids.iter().map(|id| Key(id.0)));
    let rows: Vec<MailRow> = outbox::table
        .filter(outbox::club_id.eq(Key(club.0)).and(these))
        .select(MailRow::as_select())
        .order(outbox::id)
        .load(read.conn())?;
    let posted = rows.into_iter().map(Posted::try_from);
    posted.map(|one| one.map(|one| (one.mail.id, one))).collect()
}

/// Mails of a club to people to whom somebody reaches, in the order they were written.
pub fn list(
    read: &mut Read<'_>,
    club: ClubId,
    reach: &Reach,
    filter: Filter,
    page: Page,
) -> Result<Vec<Posted>, StoreError> {
    let mut query = outbox::table
        .filter(outbox::club_id.eq(Key(club.0)).and(outbox::id.gt(page.after_key())))
        .select(MailRow::as_select())
        .order(outbox::id)
        .limit(page.limit.into())
        .into_boxed::<MultiBackend>();
    if let Some(people) = people_of(reach) {
        query = query.filter(outbox::recipient_member_id.eq_any(people));
    }
    if let Some(state) = filter.state {
        query = query.filter(outbox::state.eq(state.as_str()));
    }
    if let Some(kind) = filter.kind {
        query = query.filter(outbox::kind.eq(kind.as_str()));
    }
    let rows: Vec<MailRow> = query.load(read.conn())?;
    rows.into_iter().map(Posted::try_from).collect()
}
