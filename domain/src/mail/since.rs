//! What a mail before an event told of a bow, and what has changed since. Each mail of a count-down says
//! so: somebody who has read the last one reads only that.

use jiff::civil::Date;

use crate::{
    events::Event,
    ids::{BowId, PartId},
    mail::{ChangeWindow, EventWork, GoingBow},
    parts::PartKind,
    rules::RuleTask,
};

/// What a mail told of an event.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// On which day of the recipient's.
    pub on: Date,
    /// On which day the event starts.
    pub starts_on: Date,
    /// On which day it ends; none, if it was called off.
    pub ends_on: Option<Date>,
    /// Of which bows.
    pub bows: Vec<ToldBow>,
}

/// What was told of a bow.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ToldBow {
    /// Which bow.
    pub bow: BowId,
    /// It must not be shot.
    pub stopped: bool,
    /// What it needs.
    pub works: Vec<ToldWork>,
    /// Until when its string and serving may be changed.
    pub change: ChangeWindow,
}

/// Work that was told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ToldWork {
    /// On which part.
    pub part: PartId,
    /// Of which kind.
    pub part_kind: PartKind,
    /// Which work.
    pub task: RuleTask,
    /// Until which day; none, if it has to wait until after the event.
    pub by: Option<Date>,
}

/// What has changed for a bow since a mail.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Since {
    /// Since the mail of which day.
    pub on: Date,
    /// What; nothing, if all is as it was.
    pub changes: Vec<Change>,
}

/// One change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// It must not be shot any more.
    Stopped,
    /// It may be shot again.
    Cleared,
    /// Work that was asked for is not any more.
    Gone(ToldWork),
    /// Work is asked for that was not.
    New(ToldWork),
    /// Work is wanted by another day than the one that was told.
    Moved {
        /// The work, as it is now.
        work: ToldWork,
        /// By when it was wanted.
        from: Option<Date>,
    },
    /// String and serving may be changed until another day.
    Window {
        /// What was told.
        from: ChangeWindow,
        /// What is true.
        to: ChangeWindow,
    },
}

impl Told {
    /// Whether it names a day that is not over.
    #[must_use]
    pub fn is_ahead(&self, today: Date) -> bool {
        self.ends_on.is_some_and(|last| last >= today)
    }

    /// Adds what was told before and not since: the bows, and of each the work.
    pub fn follow(&mut self, earlier: Self) {
        for before in earlier.bows {
            match self.bows.iter_mut().find(|bow| bow.bow == before.bow) {
                None => self.bows.push(before),
                Some(bow) => {
                    for work in before.works {
                        if !bow.works.iter().any(|later| later.is_that(&work)) {
                            bow.works.push(work);
                        }
                    }
                }
            }
        }
    }
}

impl ToldBow {
    /// What a mail tells of a bow.
    #[must_use]
    pub fn of(going: &GoingBow) -> Self {
        let work = |work: &EventWork| ToldWork {
            part: work.part_id,
            part_kind: work.part_kind,
            task: work.task,
            by: work.by,
        };
        Self {
            bow: going.bow_id,
            stopped: going.stopped.is_some(),
            works: going.works.iter().map(work).collect(),
            change: going.change,
        }
    }

    /// What has changed since another telling of the same bow: what is new and moved in the order of what
    /// is to do now, after it what has gone.
    ///
    /// # Example
    /// ```
    /// use domain::{ids::*, mail::*, parts::PartKind, rules::RuleTask};
    /// use jiff::civil::date;
    /// use uuid::Uuid;
    /// let wax = ToldWork {
    ///     part: PartId(Uuid::nil()),
    ///     part_kind: PartKind::Bowstring,
    ///     task: RuleTask::Wax,
    ///     by: Some(date(2027, 6, 11)),
    /// };
    /// let told = |works| ToldBow {
    ///     bow: BowId(Uuid::nil()), stopped: false, works, change: ChangeWindow::Open,
    /// };
    /// let (before, now) = (told(vec![wax.clone()]), told(Vec::new()));
    /// assert_eq!(now.changes_since(&before), [Change::Gone(wax.clone())]);
    /// assert_eq!(before.changes_since(&now), [Change::New(wax)]);
    /// assert_eq!(now.changes_since(&now), []);
    /// ```
    #[must_use]
    pub fn changes_since(&self, before: &Self) -> Vec<Change> {
        let mut changes = Vec::new();
        if self.stopped != before.stopped {
            changes.push(if self.stopped { Change::Stopped } else { Change::Cleared });
        }
        for work in &self.works {
            match before.works.iter().find(|told| work.is_that(told)) {
                None => changes.push(Change::New(work.clone())),
                Some(told) if told.by != work.by => {
                    changes.push(Change::Moved { work: work.clone(), from: told.by });
                }
                Some(_) => {}
            }
        }
        let gone = before.works.iter().filter(|told| !self.works.iter().any(|w| w.is_that(told)));
        changes.extend(gone.cloned().map(Change::Gone));
        if self.change != before.change {
            changes.push(Change::Window { from: before.change, to: self.change });
        }
        changes
    }
}

impl ToldWork {
    /// Whether it is the same work on the same part.
    fn is_that(&self, other: &Self) -> bool {
        (self.part, self.task) == (other.part, other.task)
    }
}

/// Whether what was told of an event's days would lead somebody astray: it names a day that is not over, and
/// other days than those on which the event is.
#[must_use]
pub fn misleads(told: &Told, event: &Event, today: Date) -> bool {
    // Who was told that it is off is led astray as soon as it is on again; nobody calls an event on again.
    let Some(last) = told.ends_on else { return false };
    let is = (event.dates.starts_on(), event.dates.ends_on());
    let differs = event.cancelled_at.is_some() || (told.starts_on, last) != is;
    differs && told.is_ahead(today)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use jiff::{Timestamp, civil::date};
    use uuid::Uuid;

    use super::*;
    use crate::{
        events::{EventDates, Priority},
        ids::{EventId, MemberId},
        text::Name,
    };

    fn work(part: u128, task: RuleTask, by: Option<Date>) -> ToldWork {
        let part = PartId(Uuid::from_u128(part));
        ToldWork { part, part_kind: PartKind::Bowstring, task, by }
    }

    #[test]
    fn every_kind_of_change_is_told_once_and_in_order() {
        let (early, late) = (Some(date(2027, 6, 3)), Some(date(2027, 6, 11)));
        let before = ToldBow {
            bow: BowId(Uuid::nil()),
            stopped: true,
            works: vec![
                work(1, RuleTask::Wax, late),
                work(1, RuleTask::Change, early),
                work(2, RuleTask::Wax, late),
            ],
            change: ChangeWindow::Until(date(2027, 6, 3)),
        };
        let now = ToldBow {
            stopped: false,
            works: vec![
                work(3, RuleTask::Inspect, late),
                work(1, RuleTask::Change, None),
                work(2, RuleTask::Wax, late),
            ],
            change: ChangeWindow::Closed,
            ..before.clone()
        };
        assert_eq!(
            now.changes_since(&before),
            [
                Change::Cleared,
                Change::New(work(3, RuleTask::Inspect, late)),
                Change::Moved { work: work(1, RuleTask::Change, None), from: early },
                Change::Gone(work(1, RuleTask::Wax, late)),
                Change::Window { from: before.change, to: ChangeWindow::Closed },
            ]
        );
        assert_eq!(before.changes_since(&before), []);
    }

    #[test]
    fn what_was_told_before_is_added_to_what_was_told_last() {
        let (early, late) = (Some(date(2027, 6, 3)), Some(date(2027, 6, 11)));
        let bow = |id, works| ToldBow {
            bow: BowId(Uuid::from_u128(id)),
            stopped: false,
            works,
            change: ChangeWindow::Open,
        };
        let told = |day, bows| Told {
            on: date(2027, 5, day),
            starts_on: date(2027, 6, 12),
            ends_on: Some(date(2027, 6, 13)),
            bows,
        };
        let mut last = told(29, vec![bow(1, vec![work(1, RuleTask::Wax, late)])]);
        last.follow(told(
            15,
            vec![
                bow(1, vec![work(1, RuleTask::Wax, early), work(1, RuleTask::Inspect, early)]),
                bow(2, vec![work(2, RuleTask::Wax, early)]),
            ],
        ));
        let first = vec![work(1, RuleTask::Wax, late), work(1, RuleTask::Inspect, early)];
        let second = vec![work(2, RuleTask::Wax, early)];
        assert_eq!(last, told(29, vec![bow(1, first), bow(2, second)]));
    }

    #[test]
    fn only_a_day_that_is_not_over_and_not_right_leads_astray() {
        let (first, last) = (date(2027, 6, 12), date(2027, 6, 13));
        let event = |dates, cancelled_at| Event {
            id: EventId(Uuid::nil()),
            name: Name::parse("Spring Round").unwrap(),
            dates,
            priority: Priority::Major,
            arrows_expected: 144,
            blocked_days: BTreeSet::new(),
            version: 2,
            cancelled_at,
            created_by: MemberId(Uuid::nil()),
            created_at: Timestamp::UNIX_EPOCH,
            changed_at: Timestamp::UNIX_EPOCH,
        };
        let days = |from, to| EventDates::new(from, to).unwrap();
        let told =
            Told { on: date(2027, 5, 29), starts_on: first, ends_on: Some(last), bows: Vec::new() };
        let as_told = event(days(first, last), None);
        assert!(!misleads(&told, &as_told, date(2027, 6, 1)));
        let shortened = event(days(first, first), None);
        assert!(misleads(&told, &shortened, date(2027, 6, 1)));
        assert!(misleads(&told, &shortened, last), "somebody would go on the second day");
        assert!(!misleads(&told, &shortened, date(2027, 6, 14)));
        let later = event(days(date(2027, 6, 19), date(2027, 6, 20)), None);
        assert!(misleads(&told, &later, date(2027, 6, 1)));
        let off = event(days(first, last), Some(Timestamp::UNIX_EPOCH));
        assert!(misleads(&told, &off, date(2027, 6, 1)));
        assert!(told.is_ahead(last) && !told.is_ahead(date(2027, 6, 14)));
        assert!(!misleads(&Told { ends_on: None, ..told }, &off, date(2027, 6, 1)));
    }
}
