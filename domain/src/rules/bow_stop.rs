//! What a bow must not be shot for, whatever hangs on it: an incident that nobody has cleared it of. It
//! knows no part; what forbids shooting a part is in `causes`.

use jiff::Timestamp;

use super::{Clearing, Stop, StopCause};
use crate::{
    ids::{BowId, IncidentId},
    incidents::Incident,
    time::Zone,
};

/// Why a bow must not be shot; they sort by time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct BowStop {
    /// Since when, and what happened.
    pub stop: Stop,
    /// Where that is on record.
    pub incident: IncidentId,
}

impl BowStop {
    /// The stop of an incident that forbids shooting; none of another.
    #[must_use]
    pub fn of(incident: &Incident) -> Option<Self> {
        let stop = Stop { at: incident.at, cause: StopCause::Incident(incident.kind) };
        let stop = Self { stop, incident: incident.id };
        incident.kind.forbids_shooting().then_some(stop)
    }

    /// Why, in words, with what would lift it.
    #[must_use]
    pub fn reason(&self, zone: &Zone) -> String {
        let (cause, on) = (self.stop.cause.label(), zone.date_of(self.stop.at));
        format!(
            "do not shoot: {cause} on {on}; a coach or owner inspects the bow and says why it may be \
             shot again"
        )
    }
}

/// Why a bow must not be shot, in words: the last cause of the bow itself or of anything under it, and of
/// both at one moment that of the bow.
#[must_use]
pub fn last_reason(bow: Option<BowStop>, under: &[Stop], zone: &Zone) -> Option<String> {
    let last = under.iter().max();
    match (bow, last) {
        (Some(bow), Some(last)) if last.at > bow.stop.at => Some(last.reason(zone)),
        (Some(bow), _) => Some(bow.reason(zone)),
        (None, last) => last.map(|stop| stop.reason(zone)),
    }
}

/// When an incident of a bow was cleared: by the first clearing of that bow that lifts it.
#[must_use]
pub fn bow_cleared_at(incident: &Incident, clearings: &[Clearing]) -> Option<Timestamp> {
    let lifting = clearings.iter().filter(|clearing| clearing.lifts(incident));
    lifting.map(|clearing| clearing.at).min()
}

/// Whether a bow must not be shot now: the last of its incidents that forbid shooting and that it was not
/// cleared of.
///
/// # Formula
/// An incident `i` is open if it forbids shooting and no clearing `c` of the bow has both
/// `c.at >= i.at` and `c.known_at >= i.received_at`: nobody clears a bow of what they were not told. The
/// bow is stopped by the greatest open incident in the order of time, kind and id, so that of several at
/// one moment it is always the same. Common practice, no source.
///
/// # Domain
/// `incidents` and `clearings` in any order; those of other bows do not matter. A clearing is an
/// inspection of the bow as a whole, or of any part that was under it then, by a coach or owner who gave
/// a reason.
///
/// # Example
/// ```
/// use domain::{ids::*, incidents::*, rules::*, text::Note, time::parse_instant};
/// use uuid::Uuid;
/// let day = |n: u8| parse_instant(&format!("2027-03-0{n}T10:00:00Z")).unwrap();
/// let (bow_id, entered_by) = (BowId(Uuid::nil()), MemberId(Uuid::nil()));
/// let happened = |kind, on| Incident {
///     id: IncidentId(Uuid::nil()), bow_id, kind, at: day(on),
///     note: Note::default(), entered_by, received_at: day(on),
/// };
/// let incidents = [happened(IncidentKind::DryFire, 2), happened(IncidentKind::Soaked, 5)];
/// let cleared = |on| [Clearing { bow_id, at: day(on), known_at: day(on) }];
/// let stop = bow_stopped(bow_id, &incidents, &[]).unwrap().stop;
/// assert_eq!(stop, Stop { at: day(2), cause: StopCause::Incident(IncidentKind::DryFire) });
/// assert!(bow_stopped(bow_id, &incidents, &cleared(1)).is_some(), "cleared before it happened");
/// assert_eq!(bow_stopped(bow_id, &incidents, &cleared(2)), None);
/// let told_late = [Incident { received_at: day(4), ..incidents[0].clone() }];
/// assert!(bow_stopped(bow_id, &told_late, &cleared(3)).is_some(), "nobody knew of it by then");
/// ```
#[must_use]
pub fn bow_stopped(bow: BowId, incidents: &[Incident], clearings: &[Clearing]) -> Option<BowStop> {
    let of_bow = incidents.iter().filter(|incident| incident.bow_id == bow);
    let open = of_bow.filter(|incident| bow_cleared_at(incident, clearings).is_none());
    open.filter_map(BowStop::of).max()
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::{ids::MemberId, incidents::IncidentKind, text::Note};

    fn at(hour: i64) -> Timestamp {
        Timestamp::from_second(hour * 3_600).unwrap()
    }

    fn bow(n: u128) -> BowId {
        BowId(Uuid::from_u128(n))
    }

    fn happened(n: u128, kind: IncidentKind, hour: i64) -> Incident {
        Incident {
            id: IncidentId(Uuid::from_u128(n)),
            bow_id: bow(1),
            kind,
            at: at(hour),
            note: Note::default(),
            entered_by: MemberId(Uuid::nil()),
            received_at: at(hour),
        }
    }

    fn open(incidents: &[Incident], cleared: &[(u128, i64)]) -> Option<u128> {
        let clearing = |&(n, hour): &(u128, i64)| Clearing {
            bow_id: bow(n),
            at: at(hour),
            known_at: at(hour),
        };
        let cleared: Vec<Clearing> = cleared.iter().map(clearing).collect();
        bow_stopped(bow(1), incidents, &cleared).map(|stop| stop.incident.0.as_u128())
    }

    #[test]
    fn the_last_open_incident_stops_the_bow() {
        let all = [
            happened(1, IncidentKind::DryFire, 10),
            happened(2, IncidentKind::StrandCut, 20),
            happened(3, IncidentKind::Overheated, 30),
        ];
        assert_eq!(open(&all, &[]), Some(2));
        assert_eq!(open(&all, &[(1, 15)]), Some(2));
        assert_eq!(open(&all, &[(1, 20)]), None);
        assert_eq!(open(&all, &[(2, 25)]), Some(2), "another bow was cleared");
        assert_eq!(open(&all[2..], &[]), None, "heat forbids nothing");
        assert_eq!(bow_stopped(bow(2), &all, &[]), None, "it happened to another bow");
    }

    #[test]
    fn the_bow_speaks_for_what_hangs_on_it() {
        let stop = |hour| Stop { at: at(hour), cause: StopCause::Incident(IncidentKind::DryFire) };
        let bow = BowStop { stop: stop(10), incident: IncidentId(Uuid::nil()) };
        let said = |bow, under: &[Stop]| last_reason(bow, under, &Zone::utc());
        assert_eq!(said(None, &[]), None);
        assert_eq!(said(None, &[stop(1), stop(2)]), Some(stop(2).reason(&Zone::utc())));
        for under in [&[][..], &[stop(10)], &[stop(9)]] {
            assert_eq!(said(Some(bow), under), Some(bow.reason(&Zone::utc())));
        }
        assert_eq!(said(Some(bow), &[stop(11)]), Some(stop(11).reason(&Zone::utc())));
    }

    #[test]
    fn of_several_at_one_moment_it_is_always_the_same() {
        let mut all = [
            happened(5, IncidentKind::DryFire, 10),
            happened(4, IncidentKind::LimbDamage, 10),
            happened(6, IncidentKind::DryFire, 10),
        ];
        let first = open(&all, &[]);
        all.reverse();
        assert_eq!((first, open(&all, &[])), (Some(4), Some(4)));
    }
}
