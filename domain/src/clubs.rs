//! A club: the tenant. Everything else belongs to exactly one.

use std::fmt;

use jiff::{Timestamp, civil};

use crate::{ids::ClubId, quiet_hours::QuietHours, text::Name, time::Zone};

/// A club and the settings that all of its members share.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Club {
    /// Which club.
    pub id: ClubId,
    /// What it is called.
    pub name: Name,
    /// Where it shoots: dates are dates of this zone.
    pub zone: Zone,
    /// The local time of day at which a day's reminders go out.
    pub digest_at: civil::Time,
    /// When nobody wants mail, unless they say otherwise for themselves.
    pub quiet: QuietHours,
    /// What its costs are in.
    pub currency: Currency,
    /// How many strings its bench can make a week.
    pub bench_jobs_per_week: u32,
    /// How many days before an event its people are told what their bows need.
    pub stages: Stages,
    /// The most mails a day to one person, those about safety and accounts not counted.
    pub mails_per_day: u32,
    /// After how many days without a log of a bow its archer is asked; nobody is, if none.
    pub nudge_after_days: Option<u32>,
    /// How often its settings were changed, and one more.
    pub version: i32,
    /// Since when it is on record.
    pub created_at: Timestamp,
}

/// When a day's reminders go out unless a club says otherwise.
pub const DEFAULT_DIGEST_AT: civil::Time = civil::time(7, 30, 0, 0);

impl Club {
    /// A club with the settings that one starts with.
    #[must_use]
    pub fn new(id: ClubId, name: Name, zone: Zone, created_at: Timestamp) -> Self {
        Self {
            id,
            name,
            zone,
            digest_at: DEFAULT_DIGEST_AT,
            quiet: QuietHours::NIGHT,
            currency: Currency::EURO,
            bench_jobs_per_week: 4,
            stages: Stages::default(),
            mails_per_day: 3,
            nudge_after_days: None,
            version: 1,
            created_at,
        }
    }
}

/// Why a setting of a club was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum ClubError {
    /// Not a code of ISO 4217.
    #[error("must be a currency code of three capital letters, such as EUR")]
    Currency,
    /// More jobs than any bench does.
    #[error("must be between 0 and 1000 jobs a week")]
    Bench,
    /// Not a list of days before an event.
    #[error("must be 1 to 8 different whole numbers of days between 0 and 365")]
    Stages,
    /// Nothing at all, or more than anybody reads.
    #[error("must be between 1 and 20 mails a day")]
    MailsPerDay,
    /// Too soon to have been forgotten, or too late to remember.
    #[error("must be between 2 and 90 days")]
    NudgeAfter,
}

/// The most jobs a week that a bench may be said to do.
pub const MOST_BENCH_JOBS: u32 = 1_000;

/// Takes how many strings a bench can make a week.
///
/// # Errors
/// [`ClubError::Bench`] unless it is between 0 and [`MOST_BENCH_JOBS`].
pub fn bench_jobs(jobs: i64) -> Result<u32, ClubError> {
    let jobs = u32::try_from(jobs).ok().filter(|&jobs| jobs <= MOST_BENCH_JOBS);
    jobs.ok_or(ClubError::Bench)
}

/// Takes how many mails a day one person gets at most.
///
/// # Errors
/// [`ClubError::MailsPerDay`] unless it is between 1 and 20.
pub fn mails_per_day(mails: i64) -> Result<u32, ClubError> {
    let mails = u32::try_from(mails).ok().filter(|mails| (1..=20).contains(mails));
    mails.ok_or(ClubError::MailsPerDay)
}

/// Takes after how many days without a log of a bow its archer is asked.
///
/// # Errors
/// [`ClubError::NudgeAfter`] unless it is between 2 and 90.
pub fn nudge_after(days: i64) -> Result<u32, ClubError> {
    let days = u32::try_from(days).ok().filter(|days| (2..=90).contains(days));
    days.ok_or(ClubError::NudgeAfter)
}

/// A currency by its code of ISO 4217.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Currency([u8; 3]);

impl Currency {
    /// What a club's costs are in unless it says otherwise.
    pub const EURO: Self = Self(*b"EUR");

    /// Takes a code as typed. Whether a country uses it is not asked.
    ///
    /// # Errors
    /// [`ClubError::Currency`] unless it is three capital letters.
    ///
    /// # Example
    /// ```
    /// use domain::clubs::{ClubError, Currency};
    /// assert_eq!(Currency::parse("SEK")?.to_string(), "SEK");
    /// assert_eq!(Currency::parse("kr"), Err(ClubError::Currency));
    /// # Ok::<(), ClubError>(())
    /// ```
    pub fn parse(code: &str) -> Result<Self, ClubError> {
        let bytes: [u8; 3] = code.as_bytes().try_into().map_err(|_length| ClubError::Currency)?;
        let letters = bytes.iter().all(u8::is_ascii_uppercase);
        if letters { Ok(Self(bytes)) } else { Err(ClubError::Currency) }
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|&letter| fmt::Write::write_char(f, char::from(letter)))
    }
}

/// How many days before an event its people are told, the longest first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stages(Vec<u16>);

impl Default for Stages {
    /// Four weeks, two weeks, one week and two days: common practice, no source.
    fn default() -> Self {
        Self(vec![28, 14, 7, 2])
    }
}

impl Stages {
    /// Takes days in any order.
    ///
    /// # Errors
    /// [`ClubError::Stages`] unless they are 1 to 8 different numbers between 0 and 365.
    ///
    /// # Example
    /// ```
    /// use domain::clubs::{ClubError, Stages};
    /// assert_eq!(Stages::new(&[2, 14])?.days(), [14, 2]);
    /// assert_eq!(Stages::new(&[]), Err(ClubError::Stages));
    /// # Ok::<(), ClubError>(())
    /// ```
    pub fn new(days: &[i64]) -> Result<Self, ClubError> {
        let taken = days.iter().map(|&day| u16::try_from(day).ok().filter(|&day| day <= 365));
        let mut taken = taken.collect::<Option<Vec<u16>>>().ok_or(ClubError::Stages)?;
        taken.sort_unstable_by(|a, b| b.cmp(a));
        taken.dedup();
        let right = (1..=8).contains(&taken.len()) && taken.len() == days.len();
        if right { Ok(Self(taken)) } else { Err(ClubError::Stages) }
    }

    /// The days, the longest first.
    #[must_use]
    pub fn days(&self) -> &[u16] {
        &self.0
    }

    /// The stage that has been reached when so many days are left: the last one of those passed.
    ///
    /// # Example
    /// ```
    /// use domain::clubs::Stages;
    /// let stages = Stages::default();
    /// assert_eq!([29, 28, 10, 2, 0].map(|left| stages.reached(left)), [None, Some(28), Some(14), Some(2), Some(2)]);
    /// assert_eq!(stages.reached(-1), None);
    /// ```
    #[must_use]
    pub fn reached(&self, days_left: i64) -> Option<u16> {
        if days_left < 0 {
            return None;
        }
        self.0.iter().copied().filter(|&stage| days_left <= i64::from(stage)).min()
    }
}
