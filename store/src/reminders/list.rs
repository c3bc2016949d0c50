//! Reminders as a page of a list.

use diesel::prelude::*;
use domain::{
    ids::{BowId, ClubId, MemberId},
    mail::MailState,
    reach::Reach,
    reminders::ReminderState,
};

use super::{Listed, ReminderRow};
use crate::{
    Page, Read, StoreError,
    conn::MultiBackend,
    schema::{outbox, reminders},
    sql_types::Key,
};

/// Which reminders; what is absent does not matter.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Filter {
    /// Standing so.
    pub state: Option<ReminderState>,
    /// Carried by a mail that has come so far.
    pub mail_state: Option<MailState>,
    /// About this bow.
    pub bow: Option<BowId>,
    /// To this member.
    pub recipient: Option<MemberId>,
}

/// Reminders of a club to whom somebody reaches, in the order they were raised.
pub fn list(
    read: &mut Read<'_>,
    club: ClubId,
    reach: &Reach,
    filter: &Filter,
    page: Page,
) -> Result<Vec<Listed>, StoreError> {
    let mut query = reminders::table
        .filter(reminders::club_id.eq(Key(club.0)).and(reminders::id.gt(page.after_key())))
        .select(ReminderRow::as_select())
        .order(reminders::id)
        .limit(page.limit.into())
        .into_boxed::<MultiBackend>();
    if let Some(people) = people_of(reach) {
        query = query.filter(reminders::recipient_member_id.eq_any(people));
    }
    if let Some(state) = filter.state {
        query = query.filter(reminders::state.eq(state.as_str()));
    }
    if let Some(state) = filter.mail_state {
        let mails = outbox::table
            .filter(outbox::club_id.eq(Key(club.0)).and(outbox::state.eq(state.as_str())))
            .select(outbox::id);
        query = query.filter(reminders::mail_id.eq_any(mails));
    }
    if let Some(bow) = filter.bow {
        query = query.filter(reminders::bow_id.eq(Some(Key(bow.0))).assume_not_null());
    }
    if let Some(member) = filter.recipient {
        query = query.filter(reminders::recipient_member_id.eq(Key(member.0)));
    }
    let rows: Vec<ReminderRow> = query.load(read.conn())?;
    rows.into_iter().map(Listed::try_from).collect()
}

/// To whom somebody reaches, unless it is everybody.
pub(crate) fn people_of(reach: &Reach) -> Option<Vec<Key>> {
    match reach {
        Reach::Everybody => None,
        Reach::Squads(members) => Some(members.iter().map(|member| Key(member.0)).collect()),
        Reach::Own(member) => Some(vec![Key(member.0)]),
    }
}
