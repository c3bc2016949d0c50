//! Pages for the links in mails: small, whole without a script, and for whoever is not signed in. Showing
//! one changes nothing, so that a program that looks at every link in a mail does no harm; its button
//! does.

mod act;
mod choose;
mod chosen;
mod form;
mod page;
mod quiet;
mod seen;
mod style;
mod words;

pub(crate) use act::{answer_by_link, show_answer};
pub(crate) use choose::{join_by_page, reset_by_page, show_invitation, show_reset};
pub(crate) use quiet::{show_quiet, stop_mail_by_link};
pub(crate) use style::page_style;
