//! The people of a club: who is in it, inviting somebody, changing what is on record of them, leaving.

mod body;
mod change;
mod guardian;
mod invitation;
mod invite;
mod leave;
mod read;
mod refusal;

pub(crate) use body::{EmailRefusedBody, MemberBody};
pub(crate) use change::change_member;
pub(crate) use guardian::GuardianBody;
pub(crate) use invitation::send_invitation;
pub(crate) use invite::invite_member;
pub(crate) use leave::remove_member;
pub(crate) use read::{get_member, list_members};
