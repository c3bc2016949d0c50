//! A club's rule book through time: every setting of every rule, and which of them was in force when.

use jiff::Timestamp;

use super::Rule;
use crate::{ids::RuleId, time::Zone};

/// One setting of a rule: what it says, or that it is out of the book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Setting {
    /// The rule as it was set.
    pub rule: Rule,
    /// It was taken out of the book by this setting, which otherwise says what the one before it said.
    pub withdrawn: bool,
}

/// Every setting of every rule of a club.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RuleBook {
    settings: Vec<Setting>,
}

impl RuleBook {
    /// The book of these settings, in whatever order.
    #[must_use]
    pub fn new(mut settings: Vec<Setting>) -> Self {
        settings.sort_by_key(|setting| (setting.rule.id, setting.rule.version));
        Self { settings }
    }

    /// The rules in force at a moment, by id: of each rule the last setting that had been made by then
    /// and had come into force on that day of the club, unless that took it out of the book.
    ///
    /// A setting supersedes every earlier one from its own day on, also one that was to come into force
    /// later.
    ///
    /// # Example
    /// ```
    /// use domain::{ids::RuleId, rules::*, time::{Zone, parse_instant}};
    /// use jiff::civil::date;
    /// use uuid::Uuid;
    /// let (first_of_march, noon) = (parse_instant("2027-03-01T00:00:00Z")?, "T12:00:00Z");
    /// let waxing = default_book(first_of_march, || RuleId(Uuid::nil())).swap_remove(0);
    /// let rarer = Rule {
    ///     version: 2,
    ///     effective_on: Some(date(2027, 3, 10)),
    ///     provenance: Provenance { source: "our string maker".to_owned(), ..waxing.provenance.clone() },
    ///     ..waxing.clone()
    /// };
    /// let setting = |rule| Setting { rule, withdrawn: false };
    /// let book = RuleBook::new(vec![setting(rarer), setting(waxing)]);
    /// let version = |on: &str| {
    ///     let at = parse_instant(&format!("{on}{noon}")).unwrap();
    ///     book.in_force(at, &Zone::utc()).first().map(|rule| rule.version)
    /// };
    /// assert_eq!(version("2027-02-28"), None);
    /// assert_eq!(version("2027-03-09"), Some(1));
    /// assert_eq!(version("2027-03-10"), Some(2));
    /// # Ok::<(), domain::time::TimeError>(())
    /// ```
    #[must_use]
    pub fn in_force(&self, at: Timestamp, zone: &Zone) -> Vec<Rule> {
        let today = zone.date_of(at);
        let counts = |setting: &&Setting| {
            let Rule { provenance, effective_on, .. } = &setting.rule;
            provenance.set_at <= at && effective_on.is_none_or(|from| from <= today)
        };
        let of_each = self.settings.chunk_by(|a, b| a.rule.id == b.rule.id);
        let last = of_each.filter_map(|settings| settings.iter().rfind(counts));
        last.filter(|setting| !setting.withdrawn).map(|setting| setting.rule.clone()).collect()
    }

    /// The last setting of each rule that is not out of the book, by id, in force or not yet.
    #[must_use]
    pub fn last(&self) -> Vec<Rule> {
        let of_each = self.settings.chunk_by(|a, b| a.rule.id == b.rule.id);
        let last = of_each.filter_map(|settings| settings.last());
        last.filter(|setting| !setting.withdrawn).map(|setting| setting.rule.clone()).collect()
    }

    /// Every setting of one rule, the first one first.
    pub fn of_rule(&self, rule: RuleId) -> impl Iterator<Item = &Setting> {
        self.settings.iter().filter(move |setting| setting.rule.id == rule)
    }

    /// The book with one more setting.
    #[must_use]
    pub fn with(&self, setting: Setting) -> Self {
        let mut settings = self.settings.clone();
        settings.push(setting);
        Self::new(settings)
    }
}
