//! The keys that an API is handed. Where they come from is the program's to know.

use store::seals::Seals;

use super::token::SigningKey;

/// What access tokens are signed with, and what links and refresh tokens are sealed with.
pub struct Keys {
    /// Signs access tokens.
    pub signing: SigningKey,
    /// The one before it: what it signed is still taken, until that runs out.
    pub previous: Option<SigningKey>,
    /// Seals links and refresh tokens.
    pub seals: Seals,
}
