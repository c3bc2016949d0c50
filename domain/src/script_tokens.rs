//! Tokens for scripts: they let a program in, on behalf of one member, for one kind of thing.

use jiff::{Timestamp, civil::Date};

use crate::{
    ids::{MemberId, ScriptTokenId},
    text::Name,
    words::words,
};

words! {
    /// What a script may do.
    pub enum Scope {
        /// To log shots, and nothing else.
        Log = "log",
        /// To read what its member may read, and to change nothing.
        Read = "read",
    }
}

/// The most tokens that one member has at a time: enough for every device of a household, and few
/// enough to be looked over.
pub const MOST_TOKENS: usize = 50;

/// A script's token. What the script shows is not on record, only what it is known by.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScriptToken {
    /// Which token.
    pub id: ScriptTokenId,
    /// On whose behalf.
    pub member: MemberId,
    /// What it is called, so that its owner knows which script has it.
    pub name: Name,
    /// What it may do.
    pub scope: Scope,
    /// Since when.
    pub created_at: Timestamp,
    /// The club's date when it was last used, if it was.
    pub last_used_on: Option<Date>,
    /// When it was revoked, if it was.
    pub revoked_at: Option<Timestamp>,
}
