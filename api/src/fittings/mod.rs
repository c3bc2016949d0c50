//! Fittings: what hangs where, and since when.

mod body;
mod fit;
mod list;
mod put_right;
mod reach;
mod read;
mod take_off;

pub(crate) use body::FittingBody;
pub(crate) use fit::fit_part;
pub(crate) use list::list_fittings;
pub(crate) use put_right::{change_fitting, remove_fitting};
pub(crate) use read::get_fitting;
pub(crate) use take_off::take_off_part;
