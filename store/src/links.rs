//! Links that are mailed to somebody and work once.

use diesel::prelude::*;
use domain::{
    ids::{ClubId, LinkId, MailId},
    links::{Link, Purpose},
    mail::{Mail, MailKind, link_key},
    members::Member,
};
use jiff::Timestamp;

use crate::{
    StoreError, Tx, clubs, fresh_id, outbox,
    schema::one_time_links,
    sql_types::{Key, Utc},
};

#[derive(Insertable)]
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

/// Invites a member to join: makes a link and puts the mail that carries it into the outbox, due now.
pub fn invite(
    tx: &mut Tx<'_>,
    club: ClubId,
    member: &Member,
    now: Timestamp,
) -> Result<Link, StoreError> {
    let link = Link::new(fresh_id::<LinkId>(now), member.id, Purpose::Invitation, now);
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
    let zone = match &member.zone {
        Some(zone) => zone.clone(),
        None => clubs::get(tx, club)?.zone,
    };
    let (kind, when) = (MailKind::Invitation, (now, zone.date_of(now)));
    let key = link_key(kind, link.id);
    let mail = Mail::new(fresh_id::<MailId>(now), kind, member.id, when, key);
    outbox::post(tx, club, &Mail { link: Some(link.id), ..mail }, now)?;
    Ok(link)
}
