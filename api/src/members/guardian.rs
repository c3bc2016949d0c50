//! How the guardian of a minor is written.

use domain::{
    members::{EmailAddress, Guardian},
    time::parse_date,
};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    fields::Fields,
    patch::{Clearable, change, replacement, stays_or_clears},
};

/// Who is responsible for a minor. They get a copy of all mail, and do not sign in.
#[derive(Serialize, ToSchema)]
pub(crate) struct GuardianBody {
    #[schema(example = "Runa Quillfeather")]
    name: String,
    #[schema(example = "runa@club.example")]
    email: String,
    /// When they agreed that the minor is written to; until then the mail goes to them alone.
    #[schema(value_type = Option<String>, format = Date)]
    consented_on: Option<Date>,
}

impl From<&Guardian> for GuardianBody {
    fn from(guardian: &Guardian) -> Self {
        Self {
            name: guardian.name.to_string(),
            email: guardian.email.to_string(),
            consented_on: guardian.consented_on,
        }
    }
}

/// Who is responsible for a minor.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct NewGuardian {
    #[schema(example = "Runa Quillfeather", max_length = 200)]
    name: String,
    #[schema(example = "runa@club.example", max_length = 254)]
    email: String,
    /// When they agreed that the minor is written to.
    #[schema(example = "2026-01-09", format = Date)]
    consented_on: Option<String>,
}

impl NewGuardian {
    pub(super) fn parse(&self, fields: &mut Fields) -> Option<Guardian> {
        let name = fields.name("/guardian/name", &self.name);
        let email = fields.take("/guardian/email", EmailAddress::parse(&self.email));
        let consented_on = self.consented_on.as_deref();
        let consented_on = fields.take_if("/guardian/consented_on", consented_on, parse_date);
        Some(Guardian { name: name?, email: email?, consented_on })
    }
}

/// Changes of a guardian; what is absent stays as it is. Where there was none, name and email have to
/// be given.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ChangeGuardian {
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = "Runa Quillfeather", max_length = 200, nullable = false)]
    name: Option<String>,
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = "runa@club.example", max_length = 254, nullable = false)]
    email: Option<String>,
    /// When they agreed that the minor is written to; null takes that back.
    #[serde(default, deserialize_with = "change")]
    #[schema(value_type = Option<String>, example = "2026-01-09", format = Date)]
    consented_on: Clearable<String>,
}

impl ChangeGuardian {
    pub(super) fn apply(self, fields: &mut Fields, before: Option<&Guardian>) -> Option<Guardian> {
        let name = match (&self.name, before) {
            (Some(name), _) => fields.name("/guardian/name", name),
            (None, Some(before)) => Some(before.name.clone()),
            (None, None) => missing(fields, "/guardian/name"),
        };
        let email = match (&self.email, before) {
            (Some(text), _) => fields.take("/guardian/email", EmailAddress::parse(text)),
            (None, Some(before)) => Some(before.email.clone()),
            (None, None) => missing(fields, "/guardian/email"),
        };
        let agreed = before.and_then(|before| before.consented_on);
        let consented_on = stays_or_clears(self.consented_on, agreed.as_ref(), |text| {
            fields.take("/guardian/consented_on", parse_date(&text))
        });
        Some(Guardian { name: name?, email: email?, consented_on: consented_on? })
    }
}

fn missing<T>(fields: &mut Fields, pointer: &str) -> Option<T> {
    fields.refuse(pointer, "missing", "is missing");
    None
}
