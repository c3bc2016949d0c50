//! Links that are mailed to somebody and work once. What stands in the mail is sealed, and never kept.

use diesel::prelude::*;
use domain::{
    ids::{ClubId, LinkId, MailId, MemberId},
    links::{Link, Purpose},
    mail::{Mail, MailKind, MailState, link_key},
    members::Member,
};
use jiff::Timestamp;

use crate::{
    Read, StoreError, Tx, clubs, fresh_id, outbox,
    schema::{one_time_links, outbox as mails},
    seals::Seals,
    sql_types::{Key, Utc},
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = one_time_links, treat_none_as_default_value = false)]
struct LinkRow {
    club_id: Key,
    id: Key,
    member_id: Key,
    purpose: String,
    created_at: Utc,
    expires_at: Utc,
    used_at: Option<Utc>,
}

impl TryFrom<LinkRow> for Link {
    type Error = StoreError;

    fn try_from(row: LinkRow) -> Result<Self, StoreError> {
        let purpose = Purpose::parse(&row.purpose).ok_or_else(|| StoreError::Inconsistent {
            table: "one_time_links",
            column: "purpose",
            id: row.id.0,
            found: row.purpose.clone(),
        })?;
        Ok(Self {
            id: LinkId(row.id.0),
            member: MemberId(row.member_id.0),
            purpose,
            created_at: row.created_at.0,
            expires_at: row.expires_at.0,
            used_at: row.used_at.map(|at| at.0),
        })
    }
}

/// What stands in the mail for a link: its club and its id, sealed for its purpose.
#[must_use]
pub fn seal(seals: &Seals, club: ClubId, link: &Link) -> String {
    let content = [club.0.into_bytes(), link.id.0.into_bytes()].concat();
    seals.seal(link.purpose.as_str(), &content)
}

/// Keeps a link.
pub fn add(tx: &mut Tx<'_>, club: ClubId, link: &Link) -> Result<(), StoreError> {
    let row = LinkRow {
        club_id: Key(club.0),
        id: Key(link.id.0),
        member_id: Key(link.member.0),
        purpose: link.purpose.as_str().to_owned(),
        created_at: Utc(link.created_at),
        expires_at: Utc(link.expires_at),
        used_at: link.used_at.map(Utc),
    };
    diesel::insert_into(one_time_links::table).values(row).execute(tx.conn())?;
    Ok(())
}

/// One link, whether it still works or not.
pub fn get(read: &mut Read<'_>, club: ClubId, link: LinkId) -> Result<Link, StoreError> {
    one_time_links::table
        .find((Key(club.0), Key(link.0)))
        .select(LinkRow::as_select())
        .get_result(read.conn())
        .optional()?
        .ok_or(StoreError::NotFound { what: "link" })?
        .try_into()
}

/// Uses a link up, and with it every other one of the same purpose that its member was mailed. `false`
/// means that it does not work, or was used by somebody else meanwhile; then nothing is changed.
pub fn use_up(
    tx: &mut Tx<'_>,
    club: ClubId,
    link: LinkId,
    now: Timestamp,
) -> Result<bool, StoreError> {
    let works = one_time_links::used_at.is_null().and(one_time_links::expires_at.gt(Utc(now)));
    let row = one_time_links::table.find((Key(club.0), Key(link.0))).filter(works);
    let used =
        diesel::update(row).set(one_time_links::used_at.eq(Some(Utc(now)))).execute(tx.conn())?;
    if used != 1 {
        return Ok(false);
    }
    let Link { member, purpose, .. } = get(tx, club, link)?;
    let alike = one_time_links::club_id
        .eq(Key(club.0))
        .and(one_time_links::member_id.eq(Key(member.0)))
        .and(one_time_links::purpose.eq(purpose.as_str()));
    diesel::update(one_time_links::table.filter(alike.and(one_time_links::used_at.is_null())))
        .set(one_time_links::used_at.eq(Some(Utc(now))))
        .execute(tx.conn())?;
    Ok(true)
}

/// Invites a member to join: makes a link and puts the mail that carries it into the outbox, due now.
pub fn invite(
    tx: &mut Tx<'_>,
    club: ClubId,
    member: &Member,
    now: Timestamp,
) -> Result<Link, StoreError> {
    send(tx, club, member, (Purpose::Invitation, MailKind::Invitation), now)
}

/// Mails a member a link to choose another password by, due now.
pub fn send_reset(
    tx: &mut Tx<'_>,
    club: ClubId,
    member: &Member,
    now: Timestamp,
) -> Result<Link, StoreError> {
    send(tx, club, member, (Purpose::Reset, MailKind::Reset), now)
}

fn send(
    tx: &mut Tx<'_>,
    club: ClubId,
    member: &Member,
    (purpose, kind): (Purpose, MailKind),
    now: Timestamp,
) -> Result<Link, StoreError> {
    let link = Link::new(fresh_id::<LinkId>(now), member.id, purpose, now);
    add(tx, club, &link)?;
    let zone = match &member.zone {
        Some(zone) => zone.clone(),
        None => clubs::get(tx, club)?.zone,
    };
    let when = (now, zone.date_of(now));
    let mail = Mail::new(fresh_id::<MailId>(now), kind, member.id, when, link_key(kind, link.id));
    outbox::post(tx, club, &Mail { link: Some(link.id), ..mail }, now)?;
    Ok(link)
}

/// Forgets, in every club, the links that ran out before a moment; says how many. A mail that is done
/// with does not name its link any more; one that is not keeps it.
pub fn forget(tx: &mut Tx<'_>, before: Timestamp) -> Result<usize, StoreError> {
    let old = || one_time_links::expires_at.lt(Utc(before)); // cross-club: old ones of all clubs are swept
    let done = [MailState::Sent, MailState::Cancelled, MailState::Dead].map(MailState::as_str);
    let of_old = diesel::dsl::exists(
        one_time_links::table
            .filter(one_time_links::club_id.eq(mails::club_id))
            .filter(one_time_links::id.nullable().eq(mails::link_id))
            .filter(old()),
    );
    diesel::update(mails::table.filter(mails::state.eq_any(done).and(of_old)))
        .set(mails::link_id.eq(None::<Key>))
        .execute(tx.conn())?;
    let named = diesel::dsl::exists(
        mails::table
            .filter(mails::club_id.eq(one_time_links::club_id))
            .filter(mails::link_id.eq(one_time_links::id.nullable())),
    );
    let unnamed = old().and(diesel::dsl::not(named));
    Ok(diesel::delete(one_time_links::table.filter(unnamed)).execute(tx.conn())?)
}
