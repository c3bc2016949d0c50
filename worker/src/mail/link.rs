//! What the mails with a link in them say alike: whom it is for, until when it works, and where it
//! leads by page and by call. What the link is sealed with they do not know.

use domain::mail::LinkNotice;

use super::Links;

/// What a mail's templates are given.
pub(super) struct Content<'a> {
    pub(super) club: &'a str,
    pub(super) recipient: &'a str,
    pub(super) until: String,
    pub(super) zone: &'a str,
    pub(super) page: String,
    pub(super) call: String,
}

impl<'a> Content<'a> {
    /// `page` and `call` are what follows `base_url` in the two addresses, `token` what ends both.
    pub(super) fn of(
        notice: &'a LinkNotice,
        token: &str,
        links: &Links<'_>,
        (page, call): (&str, &str),
    ) -> Self {
        let base_url = links.base_url();
        Self {
            club: notice.club.as_str(),
            recipient: notice.recipient.as_str(),
            until: notice.until.strftime("%a %-d %B %Y, %H:%M").to_string(),
            zone: notice.zone.name(),
            page: format!("{base_url}/{page}/{token}"),
            call: format!("{base_url}/{call}/{token}"),
        }
    }
}
