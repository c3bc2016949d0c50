//! `tautline reckon`: recomputes any number the service shows, from JSON on standard input. This
//! folder owns that wire form, so that the domain stays free of JSON; it must not compute anything
//! itself, nor touch the store, the clock or the settings.
//!
//! `frame` reads the records and writes the answers, `inputs` parses what a topic is given,
//! `repair` keeps one unusable number from spoiling a whole batch, and each other file holds the
//! topics of one family. To add a topic: a function from inputs to outputs there, and its line in
//! [`TOPICS`].

mod frame;
mod inputs;
mod repair;
mod trade;
mod units;

use frame::Topic;
pub(crate) use frame::run;

/// Every topic that can be asked, and who answers it.
const TOPICS: &[(&str, Topic)] = &[
    ("trade/brace_height", trade::brace_height),
    ("trade/club_policy", trade::club_policy),
    ("trade/event_window", trade::event_window),
    ("trade/round", trade::round),
    ("trade/scoring_rule", trade::scoring_rule),
    ("trade/speed_loss", trade::speed_loss),
    ("trade/strand_count", trade::strand_count),
    ("trade/target_face", trade::target_face),
    ("units/exact", units::exact),
];
