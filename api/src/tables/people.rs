//! People, known by their addresses: the owner who set a club up is the same person in another's file. No
//! password goes out or comes in, and nobody is invited.

use std::collections::{BTreeMap, btree_map::Entry};

use aws_lc_rs::digest;
use domain::{
    ids::MemberId,
    members::{EmailAddress, Guardian, Member, Role},
    membership::MembershipError,
    quiet_hours::QuietHours,
    text::Name,
    time::{Zone, parse_time_of_day},
};
use store::{Read, StoreError, Tx};
use uuid::Uuid;

use super::{
    Written,
    cells::Cells,
    columns::{Column, column},
    import::Rows,
    known::Known,
    sameness::of_hash,
    writing::Cell,
};

pub(super) struct People;

impl Rows for People {
    type Value = Member;

    const COLUMNS: &'static [Column] = &[
        column("email", &["e_mail", "mail", "address", "adresse", "correo", "courriel"]).needed(),
        column("name", &["nom", "naam", "nombre", "member", "mitglied"]).needed(),
        column("role", &["rolle", "rôle", "rol"]).needed(),
        column("time_zone", &["zone", "zeitzone", "fuseau_horaire", "tijdzone", "zona_horaria"]),
        column("quiet_from", &["ruhe_von"]),
        column("quiet_until", &["ruhe_bis"]),
        column("minor_until", &["minderjährig_bis", "mineur_jusqu_au", "minderjarig_tot"]).dated(),
        column("guardian_name", &["guardian", "vormund", "tuteur", "voogd", "tutor"]),
        column("guardian_email", &["vormund_email", "tuteur_email", "voogd_email", "tutor_email"]),
        column("guardian_consented_on", &["consented_on", "einwilligung_am"]).dated(),
        column("left_at", &["left", "ausgetreten_am", "parti_le", "vertrokken_op"]).dated(),
    ];

    fn all(_read: &mut Read<'_>, known: &Known) -> Result<Vec<Member>, StoreError> {
        let mut people: Vec<Member> = known.people.values().cloned().collect();
        people.sort_by(|a, b| (&a.email, a.left_at, a.id).cmp(&(&b.email, b.left_at, b.id)));
        Ok(people)
    }

    fn id(member: &Member) -> Uuid {
        member.id.0
    }

    fn set_id(member: &mut Member, id: Uuid) {
        member.id = MemberId(id);
    }

    fn cells(member: &Member, _known: &Known) -> Vec<Cell> {
        let guardian = member.guardian.as_ref();
        let time = |time: jiff::civil::Time| time.strftime("%H:%M").to_string();
        vec![
            Cell::text(&member.email),
            Cell::text(&member.name),
            Cell::plain(member.role),
            Cell::plain_if(member.zone.as_ref().map(Zone::name)),
            Cell::plain_if(member.quiet.map(|quiet| time(quiet.from))),
            Cell::plain_if(member.quiet.map(|quiet| time(quiet.until))),
            Cell::plain_if(member.minor_until),
            Cell::text_if(guardian.map(|guardian| &guardian.name)),
            Cell::text_if(guardian.map(|guardian| &guardian.email)),
            Cell::plain_if(guardian.and_then(|guardian| guardian.consented_on)),
            Cell::plain_if(member.left_at),
        ]
    }

    fn parse(cells: &mut Cells<'_>, known: &Known, _id: Uuid) -> Option<Member> {
        let email = cells.parse("email", EmailAddress::parse);
        let name = cells.parse("name", Name::parse);
        let role = cells.word("role", Role::parse, Role::ALL);
        let zone = cells.parse_if("time_zone", Zone::parse);
        let quiet = quiet(cells);
        let minor_until = cells.day("minor_until");
        let guardian = guardian(cells);
        let left_at = cells.moment_if("left_at");
        let email = email?;
        let on_record = known.so_addressed(email.as_str()).find(|one| one.left_at == left_at);
        let id = on_record.map_or_else(|| id_of(known, &email, left_at), |one| one.id);
        let member = Member::new(id, name?, email, role?, known.now);
        Some(Member { zone, quiet, minor_until, guardian, left_at, ..member })
    }

    fn write(
        tx: &mut Tx<'_>,
        known: &Known,
        members: &[Member],
    ) -> Result<Vec<Written>, StoreError> {
        let (club, today) = (known.actor.club, known.today());
        // Held, so that nobody else takes an address meanwhile.
        store::members::current_to_change(tx, club)?;
        let current = store::members::all(tx, club)?.into_iter();
        let current = current.filter(|member| member.left_at.is_none());
        let mut taken: Taken = current.map(|member| (member.email, member.id)).collect();
        let mut written = Vec::with_capacity(members.len());
        for member in members {
            let passed = member.check_minor(today).and_then(|()| take_address(&mut taken, member));
            if passed.is_ok() {
                store::members::add(tx, club, member)?;
            }
            written.push(passed.map(|()| true).map_err(|error| error.to_string()));
        }
        Ok(written)
    }
}

fn quiet(cells: &mut Cells<'_>) -> Option<QuietHours> {
    let from = cells.parse_if("quiet_from", parse_time_of_day);
    let until = cells.parse_if("quiet_until", parse_time_of_day);
    match (cells.text("quiet_from"), cells.text("quiet_until")) {
        (Some(_), None) => cells.refuse("quiet_until", "goes with quiet_from"),
        (None, Some(_)) => cells.refuse("quiet_from", "goes with quiet_until"),
        _ => {}
    }
    Some(QuietHours { from: from?, until: until? })
}

fn guardian(cells: &mut Cells<'_>) -> Option<Guardian> {
    let name = cells.parse_if("guardian_name", Name::parse);
    let email = cells.parse_if("guardian_email", EmailAddress::parse);
    let consented_on = cells.day("guardian_consented_on");
    match (cells.text("guardian_name"), cells.text("guardian_email")) {
        (Some(_), None) => cells.refuse("guardian_email", "goes with guardian_name"),
        (None, Some(_)) => cells.refuse("guardian_name", "goes with guardian_email"),
        (None, None) if consented_on.is_some() => {
            cells.refuse("guardian_consented_on", "goes with a guardian");
        }
        _ => {}
    }
    Some(Guardian { name: name?, email: email?, consented_on })
}

/// Somebody's id, the same whenever the file is read.
fn id_of(known: &Known, email: &EmailAddress, left_at: Option<jiff::Timestamp>) -> MemberId {
    let mut said = digest::Context::new(&digest::SHA256);
    said.update(known.club.id.0.as_bytes());
    said.update(email.as_str().as_bytes());
    said.update(left_at.map(|at| at.to_string()).unwrap_or_default().as_bytes());
    MemberId(of_hash(said.finish().as_ref()))
}

/// Who in the club has which address.
type Taken = BTreeMap<EmailAddress, MemberId>;

/// Takes their address for somebody who is in the club, if nobody else there has it.
fn take_address(taken: &mut Taken, member: &Member) -> Result<(), MembershipError> {
    if member.left_at.is_some() {
        return Ok(());
    }
    match taken.entry(member.email.clone()) {
        Entry::Occupied(by) if *by.get() != member.id => Err(MembershipError::AddressTaken),
        Entry::Occupied(_) => Ok(()),
        Entry::Vacant(free) => {
            free.insert(member.id);
            Ok(())
        }
    }
}
