//! The inspection of a bow as a whole by somebody who may lift what forbids shooting it.

use jiff::Timestamp;

use crate::{
    ids::{BowId, ClearanceId, MemberId},
    rules::Clearing,
    text::{Note, TextError},
};

/// A coach or owner inspected a bow as a whole and said why it may be shot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BowClearance {
    /// Which inspection.
    pub id: ClearanceId,
    /// Of which bow.
    pub bow_id: BowId,
    /// When.
    pub at: Timestamp,
    /// Why it may be shot; never empty.
    pub reason: Note,
    /// Who entered it.
    pub entered_by: MemberId,
    /// When it reached us.
    pub received_at: Timestamp,
}

impl BowClearance {
    /// What it lifts: the same as the inspection of a part that was under the bow then.
    #[must_use]
    pub const fn clearing(&self) -> Clearing {
        Clearing { bow_id: self.bow_id, at: self.at, known_at: self.received_at }
    }
}

/// Takes the reason of a clearance as typed.
///
/// # Errors
/// [`TextError::Empty`] without one; too long, or with a control character.
///
/// # Example
/// ```
/// use domain::{clearances::reason, text::TextError};
/// assert_eq!(reason(" limbs and tips sound ")?.as_str(), "limbs and tips sound");
/// assert_eq!(reason("  "), Err(TextError::Empty));
/// # Ok::<(), TextError>(())
/// ```
pub fn reason(typed: &str) -> Result<Note, TextError> {
    let reason = Note::parse(typed)?;
    if reason.as_str().is_empty() { Err(TextError::Empty) } else { Ok(reason) }
}
