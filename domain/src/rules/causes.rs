//! What a part must not be shot for, found from its history: where it hung, what happened to the bows
//! there, and what was seen at inspections. It is the same in whatever order all that became known.

use jiff::Timestamp;

use super::{Stop, StopCause};
use crate::{
    ids::{BowId, IncidentId, UpkeepId},
    incidents::Incident,
    ledger::Stretch,
    upkeep::{Grade, Upkeep},
};

/// What is on record of a part, as far as it can forbid shooting it.
#[derive(Debug, Clone, Copy)]
pub struct History<'a> {
    /// When and under which bows it hung.
    pub stretches: &'a [Stretch],
    /// All inspections of it; other work on it does not matter.
    pub inspections: &'a [Upkeep],
    /// All incidents of those bows; other incidents do not matter.
    pub incidents: &'a [Incident],
    /// When those bows were cleared, as a whole or by an inspection of whatever part was under them.
    pub clearings: &'a [Clearing],
}

/// An inspection that lifts what forbids shooting, of a bow or of a part that was under it at that time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Clearing {
    /// Under which bow.
    pub bow_id: BowId,
    /// When.
    pub at: Timestamp,
    /// When it was told: it lifts nothing that only became known later.
    pub known_at: Timestamp,
}

impl Clearing {
    /// Whether it lifts an incident of its bow: one at its own time or before, and known by then.
    #[must_use]
    pub fn lifts(&self, incident: &Incident) -> bool {
        self.bow_id == incident.bow_id
            && self.at >= incident.at
            && self.known_at >= incident.received_at
    }
}

/// Where a cause is on record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ground {
    /// An inspection.
    Inspection(UpkeepId),
    /// An incident.
    Incident(IncidentId),
}

/// A cause not to shoot a part, cleared since or not.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cause {
    /// Since when, and what it was.
    pub stop: Stop,
    /// Where that is on record.
    pub ground: Ground,
    /// From when on it forbade shooting the part: what happened to a bow before the part came under it
    /// does so from then on.
    pub since: Timestamp,
    /// When it became known.
    pub known_at: Timestamp,
}

impl Cause {
    /// Whether an inspection of the part lifts it: one that clears, at its own time or after it, by
    /// somebody who could know of it.
    fn is_lifted_by(&self, work: &Upkeep) -> bool {
        work.clears && work.at >= self.stop.at && work.received_at >= self.known_at
    }
}

/// What the inspections of a part say of the bows that it was under.
#[must_use]
pub fn clearings(stretches: &[Stretch], inspections: &[Upkeep]) -> Vec<Clearing> {
    let clearing = inspections.iter().filter(|work| work.clears);
    let of_bows = clearing.flat_map(|work| {
        let over = stretches.iter().filter(|stretch| stretch.covers(work.at));
        over.map(|stretch| Clearing {
            bow_id: stretch.bow_id,
            at: work.at,
            known_at: work.received_at,
        })
    });
    of_bows.collect()
}

/// Every cause not to shoot a part that its history knows, cleared since or not.
///
/// A finding is one if it is unsafe. An incident that forbids shooting is one if the part was under
/// the bow when it happened, or came under that bow later while nobody had cleared it yet: no clearing
/// of the bow that lifts it lies before the part came. A clearing lifts what happened at its own time or
/// before, as far as that had been told by then.
///
/// # Example
/// ```
/// use domain::{ids::*, incidents::*, ledger::Stretch, rules::*, text::Note, time::parse_instant};
/// use uuid::Uuid;
/// let day = |n: u8| parse_instant(&format!("2027-03-0{n}T10:00:00Z")).unwrap();
/// let (bow_id, entered_by) = (BowId(Uuid::nil()), MemberId(Uuid::nil()));
/// let dry_fire = Incident {
///     id: IncidentId(Uuid::nil()), bow_id, kind: IncidentKind::DryFire, at: day(2),
///     note: Note::default(), entered_by, received_at: day(2),
/// };
/// let came = |on| [Stretch { bow_id, from: day(on), to: None }];
/// let count = |on, clearings: &[Clearing]| {
///     let incidents = &[dry_fire.clone()];
///     let history = History { stretches: &came(on), inspections: &[], incidents, clearings };
///     causes(history).len()
/// };
/// let cleared = |on| [Clearing { bow_id, at: day(on), known_at: day(on) }];
/// assert_eq!(count(1, &cleared(3)), 1, "it was there: only its own inspection lifts that");
/// assert_eq!(count(4, &[]), 1, "nobody has looked at the bow");
/// assert_eq!(count(4, &cleared(3)), 0, "the bow was cleared before the part came");
/// assert_eq!(count(4, &cleared(5)), 1, "cleared too late for this part");
/// assert_eq!(count(4, &cleared(1)), 1, "cleared before it happened");
/// ```
#[must_use]
pub fn causes(of: History<'_>) -> Vec<Cause> {
    let found = of.inspections.iter().flat_map(|work| {
        let bad = work.findings.iter().filter(|(_, grade)| **grade == Grade::Unsafe);
        bad.map(|(&finding, _)| Cause {
            stop: Stop { at: work.at, cause: StopCause::Finding(finding) },
            ground: Ground::Inspection(work.id),
            since: work.at,
            known_at: work.received_at,
        })
    });
    let happened = of.incidents.iter().filter_map(|incident| {
        Some(Cause {
            stop: Stop { at: incident.at, cause: StopCause::Incident(incident.kind) },
            ground: Ground::Incident(incident.id),
            since: concerns_since(of, incident)?,
            known_at: incident.received_at,
        })
    });
    found.chain(happened).collect()
}

/// From when on an incident forbids shooting a part; none if it does not.
fn concerns_since(of: History<'_>, incident: &Incident) -> Option<Timestamp> {
    let stays = || of.stretches.iter().filter(|stretch| stretch.bow_id == incident.bow_id);
    let cleared_before = |came: Timestamp| {
        of.clearings.iter().any(|clearing| clearing.at < came && clearing.lifts(incident))
    };
    if !incident.kind.forbids_shooting() {
        return None;
    }
    if stays().any(|stretch| stretch.covers(incident.at)) {
        return Some(incident.at);
    }
    let came = stays().map(|stretch| stretch.from).filter(|from| *from > incident.at);
    came.filter(|came| !cleared_before(*came)).min()
}

/// Why a part must not be shot, if so: the last of its causes that no inspection of the part itself has
/// lifted, and of several at one moment always the same.
///
/// An inspection lifts what happened or was found at its own time or before, and was known when it was
/// told itself: a dry fire that is only told after a look-over was not what was looked for.
#[must_use]
pub fn stopped(of: History<'_>) -> Option<Cause> {
    let lifted = |cause: &Cause| of.inspections.iter().any(|work| cause.is_lifted_by(work));
    causes(of).into_iter().filter(|cause| !lifted(cause)).max()
}
