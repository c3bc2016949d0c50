//! Who is asking: setting up the first owner, signing in, and the proof that goes with a request.

mod first_club;
mod login;
mod password;
mod signed_in;
mod token;

pub use password::hash_password;
pub use token::SigningKey;

pub(crate) use first_club::{SetupCode, set_up};
pub(crate) use login::sign_in;
pub(crate) use password::{LENGTH as PASSWORD_LENGTH, Passwords};
pub(crate) use signed_in::SignedIn;
pub(crate) use token::Tokens;
