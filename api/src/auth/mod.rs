//! Who is asking: setting up the first owner, signing in, and the proof that goes with a request.

mod first_club;
mod invitation;
mod keys;
mod link;
mod login;
mod password;
mod refresh;
mod reset;
mod sealed;
mod signed_in;
mod throttle;
mod token;

pub use keys::Keys;
pub use password::hash_password;
pub use token::SigningKey;

pub(crate) use first_club::{SetupCode, set_up};
pub(crate) use invitation::{accept_invitation, get_invitation, join};
pub(crate) use link::{Followed, Found, NewPassword, follow};
pub(crate) use login::sign_in;
pub(crate) use password::{LENGTH as PASSWORD_LENGTH, Passwords};
pub(crate) use refresh::{refresh_access, sign_out};
pub(crate) use reset::{ask_reset, change as change_by_link, reset_password};
pub(crate) use signed_in::{NOT_THEIRS, SCRIPT_PREFIX, SignedIn, token_hash};
pub(crate) use throttle::{Net, Throttle};
pub(crate) use token::Tokens;
