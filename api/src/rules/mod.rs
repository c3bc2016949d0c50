//! The rule book: which work, on which parts, at which limits, and who said so.

mod add;
mod body;
mod change;
mod limits;
mod preview;
mod read;
mod scope;

pub(crate) use add::add_rule;
pub(crate) use body::RuleBody;
pub(crate) use change::{change_rule, remove_rule};
pub(crate) use preview::preview_rule;
pub(crate) use read::{get_rule, list_rules, list_settings};
