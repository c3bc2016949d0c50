//! Where the links of a mail lead. What they are sealed with is not known here: whoever asks for a letter
//! hands in the words that stand for an answer to a reminder, and for stopping the mail.

use domain::{ids::ReminderId, mail::Act};

use super::RenderError;

/// Makes what stands in the link by which somebody answers a reminder.
pub type SealAct<'a> = &'a (dyn Fn(ReminderId, Act) -> String + Sync);

/// The addresses that a letter may show; all lie below one.
#[derive(Clone)]
pub struct Links<'a> {
    base_url: &'a str,
    act: Option<SealAct<'a>>,
    quiet: Option<String>,
}

/// An answer to a reminder: what it says, and where it leads.
pub(super) struct Answer {
    pub(super) label: &'static str,
    pub(super) url: String,
}

impl<'a> Links<'a> {
    /// Links below an address, with nothing to answer and nothing to stop.
    ///
    /// # Errors
    /// [`RenderError::BaseUrl`].
    pub fn below(base_url: &'a str) -> Result<Self, RenderError> {
        let is_web = base_url.starts_with("https://") || base_url.starts_with("http://");
        if !is_web || base_url.chars().any(|c| c.is_whitespace() || c.is_control()) {
            return Err(RenderError::BaseUrl);
        }
        Ok(Self { base_url, act: None, quiet: None })
    }

    /// With links that answer reminders.
    #[must_use]
    pub fn with_answers(self, act: SealAct<'a>) -> Self {
        Self { act: Some(act), ..self }
    }

    /// With a link that stops this kind of mail, if `token` is some.
    #[must_use]
    pub fn with_quiet(self, token: Option<String>) -> Self {
        let quiet = token.map(|token| format!("{}/quiet/{token}", self.base_url));
        Self { quiet, ..self }
    }

    /// What the addresses lie below.
    pub(super) const fn base_url(&self) -> &'a str {
        self.base_url
    }

    /// Where this kind of mail is stopped.
    #[must_use]
    pub fn quiet(&self) -> Option<&str> {
        self.quiet.as_deref()
    }

    /// Where a reminder is answered.
    pub(super) fn answers(&self, reminder: ReminderId, acts: &[Act]) -> Vec<Answer> {
        let Some(seal) = self.act else { return Vec::new() };
        let answer = |&act: &Act| Answer {
            label: match act {
                Act::Done => "Done",
                Act::Snooze => "Snooze 3 days",
                Act::NotMine => "Not my bow",
            },
            url: format!("{}/act/{}", self.base_url, seal(reminder, act)),
        };
        acts.iter().map(answer).collect()
    }
}
