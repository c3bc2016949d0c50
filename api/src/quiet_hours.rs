//! How quiet hours are written, wherever a person or a club has some.

use domain::{quiet_hours::QuietHours, time::parse_time_of_day};
use jiff::civil::Time;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{fields::Fields, patch::replacement};

/// From when until when nobody wants mail that can wait, in local time; over midnight where the end is
/// earlier than the beginning. The same time twice means that no hour is quiet.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct QuietHoursBody {
    #[schema(example = "21:00")]
    from: String,
    #[schema(example = "07:00")]
    until: String,
}

impl From<QuietHours> for QuietHoursBody {
    fn from(quiet: QuietHours) -> Self {
        Self { from: time_text(quiet.from), until: time_text(quiet.until) }
    }
}

/// A time of day as it is answered.
pub(crate) fn time_text(time: Time) -> String {
    time.strftime("%H:%M").to_string()
}

impl QuietHoursBody {
    /// The hours, which stand at `pointer`.
    pub(crate) fn parse(&self, fields: &mut Fields, pointer: &str) -> Option<QuietHours> {
        let from = fields.take(&format!("{pointer}/from"), parse_time_of_day(&self.from));
        let until = fields.take(&format!("{pointer}/until"), parse_time_of_day(&self.until));
        Some(QuietHours { from: from?, until: until? })
    }
}

/// Changed quiet hours; what is absent stays as it is.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ChangeQuietHours {
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = "21:00", nullable = false)]
    from: Option<String>,
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = "07:00", nullable = false)]
    until: Option<String>,
}

impl ChangeQuietHours {
    /// The hours as they are afterwards. Where there were none, both ends have to be given.
    pub(crate) fn apply(
        &self,
        fields: &mut Fields,
        pointer: &str,
        before: Option<QuietHours>,
    ) -> Option<QuietHours> {
        let mut end = |name: &str, given: Option<&String>, before: Option<Time>| {
            let pointer = format!("{pointer}/{name}");
            if let Some(text) = given {
                return fields.take(&pointer, parse_time_of_day(text));
            }
            if before.is_none() {
                fields.refuse(&pointer, "missing", "is missing");
            }
            before
        };
        let from = end("from", self.from.as_ref(), before.map(|quiet| quiet.from));
        let until = end("until", self.until.as_ref(), before.map(|quiet| quiet.until));
        Some(QuietHours { from: from?, until: until? })
    }
}
