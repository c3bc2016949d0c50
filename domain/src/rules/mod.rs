//! Maintenance rules: what is due on a part, and why.
//!
//! A rule is data, so that a club can set it; how a rule judges is here, in one place for all.

mod asked;
mod assessment;
mod book;
mod bow_stop;
mod causes;
pub mod common_practice;
mod condition;
mod default_book;
mod limits;
mod rule;
mod scope;
mod seen;
mod stop;
mod triggers;
mod verdict;

pub use asked::{AskedDays, AskedFinding, AskedLimits, AskedShots};
pub use assessment::{Assessment, PartRecord, Under, assess};
pub use book::{RuleBook, Setting};
pub use bow_stop::{BowStop, bow_cleared_at, bow_stopped, last_reason};
pub use causes::{Cause, Clearing, Ground, History, causes, clearings, stopped};
pub use condition::Condition;
pub use default_book::{COMMON_PRACTICE, SET_BY_THE_CLUB, default_book};
pub use limits::{Combine, DayLimits, Fault, FindingTrigger, Limits, Misfit, Place, ShotLimits};
pub use rule::{Provenance, Rule, RuleTask};
pub use scope::{Material, Scope, applying};
pub use seen::{Ahead, Found, Happened, Seen, happened_to, standing};
pub use stop::{Stop, StopCause};
pub(crate) use triggers::grouped;
pub use triggers::{Weighed, weigh};
pub use verdict::{Left, Trigger, Verdict, judge};
