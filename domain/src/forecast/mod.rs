//! When a count of shots will be reached: how much a bow is shot, and the dates that follow from it.
//! Knows nothing of storage, and of rules only what they leave to be shot.

mod band;
mod outlook;
mod pace;

pub(crate) use band::days_in_weeks;
pub use band::{Band, Method, band};
pub use outlook::Outlook;
pub use pace::{MOST_WEEKS, Pace, PaceError};
