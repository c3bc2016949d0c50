//! Tokens for scripts: made, looked over and revoked by whoever signed in.

mod body;
mod make;
mod read;
mod revoke;

pub(crate) use make::make_token;
pub(crate) use read::list_tokens;
pub(crate) use revoke::revoke_token;
