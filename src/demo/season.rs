//! What the invented club shot: the same every time for the same day.

use domain::{
    ids::{BowId, ClubId, MemberId, ShotLogId},
    ledger::{LogKind, LogTime, ShotLog, Shots},
    text::Note,
};
use jiff::Timestamp;
use store::{Tx, fresh_id};

use super::club::{DAYS, Kit, days_ago, zone};

/// Logs the practices of a bow: on some days of each week, more or less of the ordinary number,
/// with a week off in every nine.
pub(super) fn shoot(
    tx: &mut Tx<'_>,
    club: ClubId,
    bow_id: BowId,
    kit: &Kit,
    number: usize,
    people: &[MemberId],
    now: Timestamp,
) -> anyhow::Result<()> {
    let Some(&entered_by) = people.get(kit.archer) else { return Ok(()) };
    for day in (1..DAYS).rev() {
        let chance = scatter(day, number);
        let week_off = (day / 7 + number) % 9 == 4;
        if week_off || chance % 7 >= kit.per_week {
            continue;
        }
        let date = zone().date_of(days_ago(now, day));
        let Ok(at) = zone().instant(date, jiff::civil::time(17, 30, 0, 0)) else { continue };
        let swing = i64::from(chance / 7 % 64) - 32;
        let log = ShotLog {
            id: fresh_id::<ShotLogId>(at),
            bow_id,
            time: LogTime { at, stated: at, date_only: false, skew_s: None },
            shots: Shots::new(kit.per_practice + kit.per_practice * swing / 128)?,
            kind: if chance.is_multiple_of(11) { LogKind::Scoring } else { LogKind::Practice },
            note: Note::default(),
            entered_by,
            received_at: at,
        };
        store::ledger::append(tx, club, &log)?;
    }
    Ok(())
}

/// A number that looks like chance and is the same every time (the finaliser of `MurmurHash3`,
/// written from memory).
fn scatter(day: usize, number: usize) -> u32 {
    let mut x = u32::try_from(day * 31 + number * 7_919).unwrap_or(0);
    x = (x ^ (x >> 16)).wrapping_mul(0x85eb_ca6b);
    x = (x ^ (x >> 13)).wrapping_mul(0xc2b2_ae35);
    x ^ (x >> 16)
}
