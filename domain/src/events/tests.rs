//! Which dates, days and entries an event takes.

use jiff::civil::date;
use uuid::Uuid;

use super::*;
use crate::bows::{BowLengthIn, Division, DrawWeightLbf};

fn of(starts_on: Date, ends_on: Date) -> EventDates {
    EventDates::new(starts_on, ends_on).unwrap()
}

#[test]
fn an_event_takes_sixty_days_at_most() {
    let first = date(2027, 6, 12);
    assert_eq!(EventDates::new(first, date(2027, 6, 11)), Err(EventError::EndsBeforeItStarts));
    assert!(EventDates::new(first, first).is_ok());
    // 12 June and 60 days are 11 August.
    assert!(EventDates::new(first, date(2027, 8, 11)).is_ok());
    assert_eq!(EventDates::new(first, date(2027, 8, 12)), Err(EventError::TooLong));
}

#[test]
fn a_blocked_day_has_to_do_with_its_event() {
    let dates = of(date(2027, 6, 12), date(2027, 6, 13));
    // 60 days before 12 June are 13 April.
    for day in [date(2027, 4, 13), date(2027, 6, 11), date(2027, 6, 12), date(2027, 6, 13)] {
        assert_eq!(dates.block(day), Ok(day));
    }
    for day in [date(2027, 4, 12), date(2027, 6, 14), date(2026, 6, 12)] {
        assert_eq!(dates.block(day), Err(EventError::BlockedDay), "{day}");
    }
}

fn member(n: u128) -> MemberId {
    MemberId(Uuid::from_u128(n))
}

fn bow(n: u128, archer: Option<u128>) -> Bow {
    Bow {
        id: BowId(Uuid::from_u128(n)),
        name: Name::of_ours("grey bow"),
        division: Division::Recurve,
        length: BowLengthIn::new(68.0).unwrap(),
        draw_weight: DrawWeightLbf::new(36.0).unwrap(),
        owner: None,
        archer: archer.map(member),
        keeper: None,
        version: 1,
        created_at: Timestamp::UNIX_EPOCH,
    }
}

fn entry(person: u128, bow: u128, spare: Option<u128>) -> Entry {
    let spare = spare.map(|part| PartId(Uuid::from_u128(part)));
    Entry { member: member(person), bow: BowId(Uuid::from_u128(bow)), spare }
}

#[test]
fn a_coach_enters_their_own_archers_and_leaves_the_others_as_they_are() {
    // Archer 1 is in the coach's squad, archer 2 is not; each has the bow of their number, and nobody
    // shoots bow 3.
    let bows = [bow(1, Some(1)), bow(2, Some(2)), bow(3, None)];
    let bows: BTreeMap<BowId, Bow> = bows.into_iter().map(|bow| (bow.id, bow)).collect();
    let coach = Reach::Squads(BTreeSet::from([member(1)]));
    let check = |before: &[Entry], after: &[Entry], may: bool| {
        assert_eq!(may_enter(&coach, &bows, before, after), may, "{before:?} {after:?}");
        assert!(may_enter(&Reach::Everybody, &bows, before, after));
    };
    let (own, other) = (entry(1, 1, None), entry(2, 2, None));
    check(&[], &[own], true);
    check(&[own, other], &[other], true);
    check(&[own, other], &[other, entry(1, 1, Some(9))], true);
    check(&[], &[entry(1, 3, None)], true);
    check(&[own, other], &[own], false);
    check(&[own], &[own, other], false);
    check(&[other], &[entry(2, 2, Some(9))], false);
    // A person within reach with a bow that is not, and the other way round.
    check(&[], &[entry(1, 2, None)], false);
    check(&[], &[entry(2, 1, None)], false);
}

#[test]
fn what_is_called_off_stays_so() {
    let event = Event {
        id: EventId(Uuid::nil()),
        name: Name::of_ours("invented cup"),
        dates: of(date(2027, 6, 12), date(2027, 6, 13)),
        priority: Priority::Major,
        arrows_expected: 144,
        blocked_days: BTreeSet::new(),
        version: 1,
        cancelled_at: None,
        created_by: member(1),
        created_at: Timestamp::UNIX_EPOCH,
        changed_at: Timestamp::UNIX_EPOCH,
    };
    assert!(event.is_ahead(date(2027, 6, 13)) && !event.is_ahead(date(2027, 6, 14)));
    let off = event.call_off(Timestamp::UNIX_EPOCH).unwrap();
    assert!(!off.is_ahead(date(2027, 6, 1)));
    assert_eq!(off.call_off(Timestamp::MAX), Err(EventError::CalledOff(Timestamp::UNIX_EPOCH)));
}
