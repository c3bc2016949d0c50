//! Members, and what they sign in with.

use std::collections::BTreeMap;

use diesel::prelude::*;
use domain::{
    ids::{ClubId, MemberId},
    members::{AddressRefused, EmailAddress, Guardian, Member, Role},
    membership::People,
    quiet_hours::QuietHours,
    reach::Reach,
    text::Name,
    time::{Zone, parse_time_of_day},
};

use crate::{
    Page, Read, StoreError, Tx,
    clubs::time_text,
    dialect,
    error::changed_once,
    schema::{logins, members},
    sql_types::{Day, Key, Utc},
};

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(
    table_name = members,
    primary_key(club_id, id),
    treat_none_as_default_value = false,
    treat_none_as_null = true
)]
struct MemberRow {
    club_id: Key,
    id: Key,
    name: String,
    email: String,
    role: String,
    time_zone: Option<String>,
    created_at: Utc,
    quiet_from: Option<String>,
    quiet_until: Option<String>,
    minor_until: Option<Day>,
    guardian_name: Option<String>,
    guardian_email: Option<String>,
    guardian_consented_on: Option<Day>,
    left_at: Option<Utc>,
    version: i32,
    email_refused_at: Option<Utc>,
    email_refusal: Option<String>,
}

impl MemberRow {
    fn of(club: ClubId, member: &Member) -> Self {
        let guardian = member.guardian.as_ref();
        Self {
            club_id: Key(club.0),
            id: Key(member.id.0),
            name: member.name.to_string(),
            email: member.email.to_string(),
            role: member.role.as_str().to_owned(),
            time_zone: member.zone.as_ref().map(|zone| zone.name().to_owned()),
            created_at: Utc(member.created_at),
            quiet_from: member.quiet.map(|quiet| time_text(quiet.from)),
            quiet_until: member.quiet.map(|quiet| time_text(quiet.until)),
            minor_until: member.minor_until.map(Day),
            guardian_name: guardian.map(|guardian| guardian.name.to_string()),
            guardian_email: guardian.map(|guardian| guardian.email.to_string()),
            guardian_consented_on: guardian.and_then(|one| one.consented_on).map(Day),
            left_at: member.left_at.map(Utc),
            version: member.version,
            email_refused_at: member.refused.as_ref().map(|refused| Utc(refused.at)),
            email_refusal: member.refused.as_ref().map(|refused| refused.answer.clone()),
        }
    }

    fn bad(&self, column: &'static str, found: &str) -> StoreError {
        let (table, found) = ("members", found.to_owned());
        StoreError::Inconsistent { table, column, id: self.id.0, found }
    }

    fn quiet(&self) -> Result<Option<QuietHours>, StoreError> {
        let (Some(from), Some(until)) = (&self.quiet_from, &self.quiet_until) else {
            return Ok(None);
        };
        let time = |column, text| parse_time_of_day(text).map_err(|_bad| self.bad(column, text));
        Ok(Some(QuietHours { from: time("quiet_from", from)?, until: time("quiet_until", until)? }))
    }

    fn guardian(&self) -> Result<Option<Guardian>, StoreError> {
        let (Some(name), Some(email)) = (&self.guardian_name, &self.guardian_email) else {
            return Ok(None);
        };
        Ok(Some(Guardian {
            name: Name::parse(name).map_err(|_bad| self.bad("guardian_name", name))?,
            email: EmailAddress::parse(email).map_err(|_bad| self.bad("guardian_email", email))?,
            consented_on: self.guardian_consented_on.map(|day| day.0),
        }))
    }
}

impl TryFrom<MemberRow> for Member {
    type Error = StoreError;

    fn try_from(row: MemberRow) -> Result<Self, StoreError> {
        let bad = |column, found: &str| row.bad(column, found);
        let zone = row
            .time_zone
            .as_deref()
            .map(|name| Zone::parse(name).map_err(|_bad| bad("time_zone", name)));
        Ok(Self {
            id: MemberId(row.id.0),
            name: Name::parse(&row.name).map_err(|_bad| bad("name", &row.name))?,
            email: EmailAddress::parse(&row.email).map_err(|_bad| bad("email", &row.email))?,
            role: Role::parse(&row.role).ok_or_else(|| bad("role", &row.role))?,
            zone: zone.transpose()?,
            quiet: row.quiet()?,
            minor_until: row.minor_until.map(|day| day.0),
            guardian: row.guardian()?,
            left_at: row.left_at.map(|at| at.0),
            refused: row.email_refused_at.map(|at| AddressRefused {
                at: at.0,
                answer: row.email_refusal.clone().unwrap_or_default(),
            }),
            version: row.version,
            created_at: row.created_at.0,
        })
    }
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = logins)]
struct LoginRow {
    email: String,
    club_id: Key,
    member_id: Key,
    password_hash: String,
}

/// What somebody signs in with.
#[derive(Clone, PartialEq, Eq)]
pub struct Login {
    /// Of which club.
    pub club: ClubId,
    /// Who.
    pub member: MemberId,
    /// The password's hash, in the form of a PHC string.
    pub password_hash: String,
}

/// Adds a member who cannot sign in yet.
pub fn add(tx: &mut Tx<'_>, club: ClubId, member: &Member) -> Result<(), StoreError> {
    let row = MemberRow::of(club, member);
    diesel::insert_into(members::table).values(row).execute(tx.conn())?;
    Ok(())
}

/// Keeps a changed member. `member.version` is the one that they were read with; the one that is kept
/// comes after it. A conflict, if somebody else changed them meanwhile.
pub fn change(tx: &mut Tx<'_>, club: ClubId, member: &Member) -> Result<Member, StoreError> {
    let changed = Member { version: member.version + 1, ..member.clone() };
    let as_read = members::table
        .find((Key(club.0), Key(member.id.0)))
        .filter(members::version.eq(member.version));
    let kept = diesel::update(as_read).set(MemberRow::of(club, &changed)).execute(tx.conn())?;
    changed_once(kept).map(|()| changed)
}

/// Keeps what a relay said of a member's address, if it still is theirs and nothing was said of it before;
/// whether it was kept.
pub fn refuse_address(
    tx: &mut Tx<'_>,
    club: ClubId,
    member: MemberId,
    address: &EmailAddress,
    refused: &AddressRefused,
) -> Result<bool, StoreError> {
    let theirs = members::email.eq(address.as_str()).and(members::email_refused_at.is_null());
    let kept = diesel::update(members::table.find((Key(club.0), Key(member.0))).filter(theirs))
        .set((
            members::email_refused_at.eq(Some(Utc(refused.at))),
            members::email_refusal.eq(Some(&refused.answer)),
            members::version.eq(members::version + 1),
        ))
        .execute(tx.conn())?;
    Ok(kept == 1)
}

/// Everybody who has not left. Until the transaction ends nobody else joins, is changed or leaves, and
/// no squad is changed.
pub fn current_to_change(tx: &mut Tx<'_>, club: ClubId) -> Result<People, StoreError> {
    dialect::hold_people(tx, club)?;
    Ok(People::of(all(tx, club)?))
}

/// Lets a member sign in with their address and the password of that hash.
pub fn allow_sign_in(
    tx: &mut Tx<'_>,
    club: ClubId,
    member: &Member,
    password_hash: String,
) -> Result<(), StoreError> {
    let row = LoginRow {
        email: member.email.to_string(),
        club_id: Key(club.0),
        member_id: Key(member.id.0),
        password_hash,
    };
    diesel::insert_into(logins::table).values(row).execute(tx.conn())?;
    Ok(())
}

/// What the owner of an address signs in with, in whichever club that is.
pub fn login(read: &mut Read<'_>, email: &EmailAddress) -> Result<Option<Login>, StoreError> {
    let row = logins::table
        .find(email.as_str())
        .select(LoginRow::as_select())
        .get_result(read.conn())
        .optional()?;
    Ok(row.map(|row| Login {
        club: ClubId(row.club_id.0),
        member: MemberId(row.member_id.0),
        password_hash: row.password_hash,
    }))
}

/// One member.
pub fn get(read: &mut Read<'_>, club: ClubId, member: MemberId) -> Result<Member, StoreError> {
    members::table
        .find((Key(club.0), Key(member.0)))
        .select(MemberRow::as_select())
        .get_result(read.conn())
        .optional()?
        .ok_or(StoreError::NotFound { what: "member" })?
        .try_into()
}

/// What everybody is called who is or was in a club. Nothing else of their rows is read, so that one that
/// cannot be keeps no list from being shown.
pub fn names(read: &mut Read<'_>, club: ClubId) -> Result<BTreeMap<MemberId, String>, StoreError> {
    let rows: Vec<(Key, String)> = members::table
        .filter(members::club_id.eq(Key(club.0)))
        .select((members::id, members::name))
        .order(members::id)
        .load(read.conn())?;
    Ok(rows.into_iter().map(|(id, name)| (MemberId(id.0), name)).collect())
}

/// Who is in a club as what; those who left are not.
pub fn roles(read: &mut Read<'_>, club: ClubId) -> Result<BTreeMap<MemberId, Role>, StoreError> {
    let rows: Vec<(Key, String)> = members::table
        .filter(members::club_id.eq(Key(club.0)).and(members::left_at.is_null()))
        .select((members::id, members::role))
        .order(members::id)
        .load(read.conn())?;
    let role = |(id, role): (Key, String)| match Role::parse(&role) {
        Some(role) => Ok((MemberId(id.0), role)),
        None => Err(StoreError::Inconsistent {
            table: "members",
            column: "role",
            id: id.0,
            found: role,
        }),
    };
    rows.into_iter().map(role).collect()
}

/// Every member of a club, in the order they joined.
pub fn all(read: &mut Read<'_>, club: ClubId) -> Result<Vec<Member>, StoreError> {
    members::table
        .filter(members::club_id.eq(Key(club.0)))
        .select(MemberRow::as_select())
        .order(members::id)
        .load(read.conn())?
        .into_iter()
        .map(Member::try_from)
        .collect()
}

/// Those who have not left and are within reach, in the order they joined.
pub fn list(
    read: &mut Read<'_>,
    club: ClubId,
    reach: &Reach,
    page: Page,
) -> Result<Vec<Member>, StoreError> {
    let asked = members::club_id.eq(Key(club.0)).and(members::id.gt(page.after_key()));
    let current = members::table.filter(asked).filter(members::left_at.is_null());
    let query = current.select(MemberRow::as_select()).order(members::id).limit(page.limit.into());
    let some = |ids: Vec<Key>| members::id.eq_any(ids);
    let rows: Vec<MemberRow> = match reach {
        Reach::Everybody => query.load(read.conn())?, // unordered: the order is set above
        Reach::Squads(people) => {
            let ids = people.iter().map(|member| Key(member.0)).collect();
            query.filter(some(ids)).load(read.conn())? // unordered: the order is set above
        }
        Reach::Own(member) => query.filter(some(vec![Key(member.0)])).load(read.conn())?, // unordered: one
    };
    rows.into_iter().map(Member::try_from).collect()
}
