//! A page of a list that is ordered by id, which is the order in which its rows were made.

use uuid::Uuid;

/// Which rows of a list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Page {
    /// Only rows after this one.
    pub after: Option<Uuid>,
    /// At most so many.
    pub limit: u32,
}

impl Page {
    /// The key to go on from; all keys come after the nil one.
    pub(crate) fn after_key(self) -> crate::sql_types::Key {
        crate::sql_types::Key(self.after.unwrap_or(Uuid::nil()))
    }
}
