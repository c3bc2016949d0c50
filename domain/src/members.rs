//! People of a club, and the addresses that mail may go to.

use std::fmt;

use jiff::{Timestamp, civil::Date};

use crate::{ids::MemberId, quiet_hours::QuietHours, text::Name, time::Zone, words::words};

words! {
    /// What a member may do.
    pub enum Role {
        /// Logs shots and upkeep, reads what is theirs.
        Archer = "archer",
        /// Looks after the archers of their squads.
        Coach = "coach",
        /// Looks after the whole club.
        Owner = "owner",
    }
}

/// A person in a club.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Member {
    /// Which person.
    pub id: MemberId,
    /// What they are called.
    pub name: Name,
    /// Where mail to them goes.
    pub email: EmailAddress,
    /// What they may do.
    pub role: Role,
    /// Where they live, if not where the club shoots.
    pub zone: Option<Zone>,
    /// When they want no mail, if not at the club's hours.
    pub quiet: Option<QuietHours>,
    /// Until when they are a minor; nothing else of their age is on record.
    pub minor_until: Option<Date>,
    /// Who is responsible for them while they are a minor.
    pub guardian: Option<Guardian>,
    /// When they left the club, if they did; what they shot stays.
    pub left_at: Option<Timestamp>,
    /// What a relay said of their address, if it knows no such mailbox.
    pub refused: Option<AddressRefused>,
    /// How often they were changed, and one more.
    pub version: i32,
    /// Since when they are on record.
    pub created_at: Timestamp,
}

/// Somebody responsible for a minor: they get a copy of all mail, and do not sign in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Guardian {
    /// What they are called.
    pub name: Name,
    /// Where the copies go.
    pub email: EmailAddress,
    /// When they agreed that the minor is written to, if they did.
    pub consented_on: Option<Date>,
}

/// A relay said that there is no such mailbox. No mail goes there until somebody sets the address anew.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AddressRefused {
    /// When.
    pub at: Timestamp,
    /// In its words.
    pub answer: String,
}

/// Where a mail to a member goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Addressees<'a> {
    /// To them alone.
    Member,
    /// To them, and a copy to their guardian.
    MemberAndGuardian(&'a Guardian),
    /// To their guardian alone, who has not agreed that the minor is written to.
    Guardian(&'a Guardian),
    /// To nobody: a minor without a guardian, or somebody who left.
    Nobody,
}

impl Member {
    /// A member of age who lives where the club shoots.
    #[must_use]
    pub fn new(
        id: MemberId,
        name: Name,
        email: EmailAddress,
        role: Role,
        created_at: Timestamp,
    ) -> Self {
        Self {
            id,
            name,
            email,
            role,
            zone: None,
            quiet: None,
            minor_until: None,
            guardian: None,
            left_at: None,
            refused: None,
            version: 1,
            created_at,
        }
    }

    /// Whether they are a minor on a day.
    #[must_use]
    pub fn is_minor(&self, today: Date) -> bool {
        self.minor_until.is_some_and(|until| today < until)
    }

    /// Whether a mail to them reaches anybody on a day: they or a guardian may be written to, and have a
    /// mailbox as far as is known.
    #[must_use]
    pub fn is_reached(&self, today: Date) -> bool {
        match self.addressees(today) {
            Addressees::Nobody => false,
            Addressees::Member => self.refused.is_none(),
            Addressees::MemberAndGuardian(_) | Addressees::Guardian(_) => true,
        }
    }

    /// Where a mail to them goes on a day.
    #[must_use]
    pub fn addressees(&self, today: Date) -> Addressees<'_> {
        let minor = self.is_minor(today);
        match &self.guardian {
            _ if self.left_at.is_some() => Addressees::Nobody,
            _ if !minor => Addressees::Member,
            Some(guardian) if guardian.consented_on.is_some() => {
                Addressees::MemberAndGuardian(guardian)
            }
            Some(guardian) => Addressees::Guardian(guardian),
            None => Addressees::Nobody,
        }
    }

    /// The guardian who is written to on a day, with them or in their place.
    #[must_use]
    pub fn guardian_written_to(&self, today: Date) -> Option<&Guardian> {
        match self.addressees(today) {
            Addressees::MemberAndGuardian(guardian) | Addressees::Guardian(guardian) => {
                Some(guardian)
            }
            Addressees::Member | Addressees::Nobody => None,
        }
    }
}

/// Why an address was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum AddressError {
    /// Not of the form name@domain.
    #[error("must be a mail address such as name@example.org")]
    Malformed,
    /// Letters outside ASCII: a look-alike of another's address cannot be told apart.
    #[error("must be written in ASCII letters")]
    NotAscii,
    /// The domain has no dot, or is a number.
    #[error("must name a mail domain such as example.org")]
    Domain,
}

/// A mail address in lower case, of the plain kind that every relay takes.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct EmailAddress(String);

impl EmailAddress {
    /// Takes an address as typed.
    ///
    /// RFC 5321 allows quoted local parts and address literals; both are refused here, as is
    /// anything outside ASCII, because an account is found by its address and two addresses that
    /// look the same must be the same.
    ///
    /// # Errors
    /// [`AddressError`].
    ///
    /// # Example
    /// ```
    /// use domain::members::{AddressError, EmailAddress};
    /// assert_eq!(EmailAddress::parse("Ada@Example.org")?.as_str(), "ada@example.org");
    /// assert_eq!(EmailAddress::parse("ada@localhost"), Err(AddressError::Domain));
    /// # Ok::<(), AddressError>(())
    /// ```
    pub fn parse(typed: &str) -> Result<Self, AddressError> {
        let text = typed.trim();
        if !text.is_ascii() {
            return Err(AddressError::NotAscii);
        }
        let (local, domain) = text.rsplit_once('@').ok_or(AddressError::Malformed)?;
        let local_ok = !local.is_empty()
            && local.len() <= 64
            && !local.starts_with('.')
            && !local.ends_with('.')
            && !local.contains("..")
            && local
                .bytes()
                .all(|b| b.is_ascii_alphanumeric() || b"!#$%&'*+-/=?^_`{|}~.".contains(&b));
        if !local_ok || text.len() > 254 {
            return Err(AddressError::Malformed);
        }
        let labels: Vec<&str> = domain.split('.').collect();
        let label_ok = |label: &&str| {
            !label.is_empty()
                && label.len() <= 63
                && !label.starts_with('-')
                && !label.ends_with('-')
                && label.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-')
        };
        let is_name = labels.last().is_some_and(|top| !top.bytes().all(|b| b.is_ascii_digit()));
        if labels.len() < 2 || !is_name || !labels.iter().all(label_ok) {
            return Err(AddressError::Domain);
        }
        Ok(Self(text.to_ascii_lowercase()))
    }

    /// Whether two addresses are easily taken for one another by a reader: they differ at most in
    /// characters of ASCII that look alike in common typefaces. Letters of other scripts never get this
    /// far. Which pairs is ours: the small letters and digits among the confusables of Unicode Technical
    /// Standard 39, from memory.
    ///
    /// # Example
    /// ```
    /// use domain::members::EmailAddress;
    /// let of = |text| EmailAddress::parse(text).unwrap();
    /// assert!(of("maren@club.example").looks_like(&of("rnaren@c1ub.example")));
    /// assert!(!of("ilse@club.example").looks_like(&of("lise@club.example")));
    /// ```
    #[must_use]
    pub fn looks_like(&self, other: &Self) -> bool {
        let skeleton = |address: &Self| {
            let single = address.0.replace(['1', '|'], "l").replace('0', "o");
            single.replace("rn", "m").replace("vv", "w")
        };
        skeleton(self) == skeleton(other)
    }

    /// The address as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for EmailAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;
    use uuid::Uuid;

    use super::*;

    #[test]
    fn only_a_minors_guardian_is_written_to_and_with_or_without_consent() {
        let member = Member::new(
            MemberId(Uuid::nil()),
            Name::parse("Ada Invented").unwrap(),
            EmailAddress::parse("ada@club.example").unwrap(),
            Role::Archer,
            Timestamp::UNIX_EPOCH,
        );
        let guardian = |consented_on| Guardian {
            name: Name::parse("Gus Invented").unwrap(),
            email: EmailAddress::parse("gus@home.example").unwrap(),
            consented_on,
        };
        let (today, of_age_on) = (date(2027, 3, 1), date(2029, 1, 1));
        assert_eq!(member.guardian_written_to(today), None);
        let alone = Member { minor_until: Some(of_age_on), ..member };
        assert_eq!(alone.guardian_written_to(today), None);
        for consented_on in [None, Some(today)] {
            let guardian = guardian(consented_on);
            let minor = Member { guardian: Some(guardian.clone()), ..alone.clone() };
            assert_eq!(minor.guardian_written_to(today), Some(&guardian));
            assert_eq!(minor.guardian_written_to(of_age_on), None);
            let left = Member { left_at: Some(Timestamp::UNIX_EPOCH), ..minor };
            assert_eq!(left.guardian_written_to(today), None);
        }
    }

    #[test]
    fn an_address_is_plain_ascii_with_a_real_domain() {
        for good in ["a@b.cc", "o'neil+bow@club.example.org", "x_y-z@xn--bcher-kva.example"] {
            assert_eq!(EmailAddress::parse(good).map(|a| a.0), Ok(good.to_owned()));
        }
        for (bad, why) in [
            ("ada", AddressError::Malformed),
            ("@example.org", AddressError::Malformed),
            ("a b@example.org", AddressError::Malformed),
            ("a@b@example.org", AddressError::Malformed),
            ("a\r\n@example.org", AddressError::Malformed),
            ("\u{430}da@example.org", AddressError::NotAscii),
            ("ada@localhost", AddressError::Domain),
            ("ada@[127.0.0.1]", AddressError::Domain),
            ("ada@127.0.0.1", AddressError::Domain),
            ("ada@example..org", AddressError::Domain),
        ] {
            assert_eq!(EmailAddress::parse(bad), Err(why), "{bad:?}");
        }
    }
}
