//! A calendar as text: the format iCalendar (RFC 5545), with what RFC 7986 adds for a calendar that is
//! subscribed to and what RFC 5546 asks of one that is mailed.
//!
//! It is written here, and not by a crate, because the same content has to be the same bytes: the mail
//! that is sent again is the mail that was sent, and who reads a calendar twice is told that nothing
//! changed. Writers that are at hand stamp the present moment and chance ids where none are given, and
//! let a day end on itself, where the end is to be the day after (RFC 5545, section 3.6.1).
//!
//! Times are dates of whole days or UTC stamps, so no time zone has to be described.

use std::ops::RangeInclusive;

use jiff::{Timestamp, civil::Date};

use super::lines::{escaped, push, quoted};
use crate::{ids::EventId, members::EmailAddress, text::Name, words::words};

const PRODUCT: &str = "-//Tautline//Bows and events//EN";

/// A calendar has to hold something (RFC 5545, section 3.4); this shows nothing.
const NOTHING_TO_SHOW: [&str; 8] = [
    "BEGIN:VTIMEZONE",
    "TZID:Etc/UTC",
    "BEGIN:STANDARD",
    "DTSTART:19700101T000000",
    "TZOFFSETFROM:+0000",
    "TZOFFSETTO:+0000",
    "END:STANDARD",
    "END:VTIMEZONE",
];

words! {
    /// What is to be done with a calendar that is mailed (RFC 5546, sections 3.2.1 and 3.2.5).
    pub enum Method {
        /// To be shown.
        Publish = "PUBLISH",
        /// To be taken out.
        Cancel = "CANCEL",
    }
}

words! {
    /// How sure an entry is (RFC 5545, section 3.8.1.11).
    pub enum State {
        /// It is on.
        Confirmed = "CONFIRMED",
        /// It is expected.
        Tentative = "TENTATIVE",
        /// It is off.
        Cancelled = "CANCELLED",
    }
}

/// The host in an address, which makes the ids of entries ours.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Host(String);

impl Host {
    /// The host of a web address, without its port.
    ///
    /// # Example
    /// ```
    /// use domain::{calendar::Host, ids::EventId};
    /// use uuid::Uuid;
    /// let host = Host::of("https://club.example:8484/bows");
    /// let uid = "event-00000000-0000-0000-0000-000000000000@club.example";
    /// assert_eq!(host.event_uid(EventId(Uuid::nil())), uid);
    /// ```
    #[must_use]
    pub fn of(base_url: &str) -> Self {
        let rest = base_url.split_once("://").map_or(base_url, |(_, rest)| rest);
        let authority = rest.split(['/', '?', '#']).next().unwrap_or_default();
        let bracket = authority.split_inclusive(']').next().filter(|_| authority.starts_with('['));
        let host = bracket.or_else(|| authority.split(':').next()).unwrap_or_default();
        Self(host.to_owned())
    }

    /// What the entry of an event is known by.
    #[must_use]
    pub fn event_uid(&self, event: EventId) -> String {
        format!("event-{event}@{self}")
    }
}

impl std::fmt::Display for Host {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

/// What stands on one or more whole days.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// What it is known by, in every calendar that it stands in.
    pub uid: String,
    /// In a few words.
    pub summary: String,
    /// In more words, of one or more lines.
    pub description: String,
    /// On which days.
    pub days: RangeInclusive<Date>,
    /// How often it was changed: of two with one id the greater one counts.
    pub sequence: i32,
    /// As of when.
    pub stamp: Timestamp,
    /// How sure it is.
    pub state: State,
    /// Whether those days are as free as without it.
    pub transparent: bool,
}

/// From whom a mailed calendar is; RFC 5546 wants one in each entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Organiser {
    /// What they are called.
    pub name: Name,
    /// The address that the mail is from.
    pub address: EmailAddress,
}

/// A calendar.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Calendar {
    /// What to do with it, if it is mailed; one that is subscribed to is just shown, and asked for anew
    /// every hour.
    pub method: Option<(Method, Organiser)>,
    /// What it is called.
    pub name: String,
    /// What stands in it.
    pub entries: Vec<Entry>,
}

impl Calendar {
    /// The calendar as text.
    ///
    /// # Example
    /// ```
    /// use domain::calendar::{Calendar, Entry, State};
    /// use jiff::civil::date;
    /// let wax = Entry {
    ///     uid: "work-1@club.example".to_owned(),
    ///     summary: "Wax the string: Blue bow".to_owned(),
    ///     description: "520 shots; plan 500".to_owned(),
    ///     days: date(2027, 3, 14)..=date(2027, 3, 14),
    ///     sequence: 2629,
    ///     stamp: "2027-03-14T00:00:00Z".parse().unwrap(),
    ///     state: State::Tentative,
    ///     transparent: true,
    /// };
    /// let bows = Calendar { method: None, name: "Bows".to_owned(), entries: vec![wax] };
    /// let lines = [
    ///     "BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Tautline//Bows and events//EN",
    ///     "CALSCALE:GREGORIAN", "NAME:Bows", "X-WR-CALNAME:Bows",
    ///     "REFRESH-INTERVAL;VALUE=DURATION:PT1H", "X-PUBLISHED-TTL:PT1H",
    ///     "BEGIN:VEVENT", "UID:work-1@club.example", "DTSTAMP:20270314T000000Z",
    ///     "DTSTART;VALUE=DATE:20270314", "DTEND;VALUE=DATE:20270315", "SEQUENCE:2629",
    ///     "STATUS:TENTATIVE", "TRANSP:TRANSPARENT", "SUMMARY:Wax the string: Blue bow",
    ///     "DESCRIPTION:520 shots\\; plan 500", "END:VEVENT", "END:VCALENDAR", "",
    /// ];
    /// assert_eq!(bows.to_text(), lines.join("\r\n"));
    /// ```
    #[must_use]
    pub fn to_text(&self) -> String {
        let mut text = String::new();
        push(&mut text, "BEGIN:VCALENDAR");
        push(&mut text, "VERSION:2.0");
        push(&mut text, &format!("PRODID:{PRODUCT}"));
        push(&mut text, "CALSCALE:GREGORIAN");
        if let Some((method, _)) = &self.method {
            push(&mut text, &format!("METHOD:{method}"));
        } else {
            let name = escaped(&self.name);
            // RFC 7986, sections 5.1 and 5.7, and what was in use before it.
            push(&mut text, &format!("NAME:{name}"));
            push(&mut text, &format!("X-WR-CALNAME:{name}"));
            push(&mut text, "REFRESH-INTERVAL;VALUE=DURATION:PT1H");
            push(&mut text, "X-PUBLISHED-TTL:PT1H");
        }
        let organiser = self.method.as_ref().map(|(_, organiser)| organiser);
        for entry in &self.entries {
            entry.write(&mut text, organiser);
        }
        if self.entries.is_empty() {
            for line in NOTHING_TO_SHOW {
                push(&mut text, line);
            }
        }
        push(&mut text, "END:VCALENDAR");
        text
    }
}

impl Entry {
    fn write(&self, text: &mut String, organiser: Option<&Organiser>) {
        let (first, last) = (self.days.start(), self.days.end());
        // The end is the first day that is over (RFC 5545, sections 3.6.1 and 3.8.2.2).
        let end = last.max(first).tomorrow().unwrap_or(*last);
        let stamp = self.stamp.strftime("%Y%m%dT%H%M%SZ");
        push(text, "BEGIN:VEVENT");
        push(text, &format!("UID:{}", escaped(&self.uid)));
        push(text, &format!("DTSTAMP:{stamp}"));
        push(text, &format!("DTSTART;VALUE=DATE:{}", first.strftime("%Y%m%d")));
        push(text, &format!("DTEND;VALUE=DATE:{}", end.strftime("%Y%m%d")));
        push(text, &format!("SEQUENCE:{}", self.sequence.max(0)));
        push(text, &format!("STATUS:{}", self.state));
        push(text, if self.transparent { "TRANSP:TRANSPARENT" } else { "TRANSP:OPAQUE" });
        push(text, &format!("SUMMARY:{}", escaped(&self.summary)));
        push(text, &format!("DESCRIPTION:{}", escaped(&self.description)));
        if let Some(Organiser { name, address }) = organiser {
            push(text, &format!("ORGANIZER;CN={}:mailto:{address}", quoted(name.as_str())));
        }
        push(text, "END:VEVENT");
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    fn entry(days: RangeInclusive<Date>) -> Entry {
        Entry {
            uid: "event-1@club.example".to_owned(),
            summary: "Invented Round".to_owned(),
            description: "Line one\nline two".to_owned(),
            days,
            sequence: 3,
            stamp: "2027-05-30T09:00:00.5Z".parse().unwrap(),
            state: State::Cancelled,
            transparent: false,
        }
    }

    #[test]
    fn days_end_on_the_day_after_the_last_also_over_months_and_leap_days() {
        for (first, last, end) in [
            (date(2027, 6, 12), date(2027, 6, 13), "20270614"),
            (date(2027, 12, 31), date(2027, 12, 31), "20280101"),
            (date(2028, 2, 28), date(2028, 2, 28), "20280229"),
            // Never before it begins.
            (date(2027, 6, 12), date(2027, 6, 1), "20270613"),
        ] {
            let calendar =
                Calendar { method: None, name: String::new(), entries: vec![entry(first..=last)] };
            let line = format!("\r\nDTEND;VALUE=DATE:{end}\r\n");
            assert!(calendar.to_text().contains(&line), "{first} to {last}: {end}");
        }
    }

    #[test]
    fn a_mailed_calendar_names_its_method_and_who_it_is_from_and_asks_for_no_refresh() {
        let organiser = Organiser {
            name: Name::parse("Bowmen of \"Nowhere\"; east").unwrap(),
            address: EmailAddress::parse("club@example.org").unwrap(),
        };
        let calendar = Calendar {
            method: Some((Method::Cancel, organiser)),
            name: "Off".to_owned(),
            entries: vec![entry(date(2027, 6, 12)..=date(2027, 6, 13))],
        };
        let text = calendar.to_text().replace("\r\n ", "");
        for line in [
            "METHOD:CANCEL",
            "STATUS:CANCELLED",
            "SEQUENCE:3",
            "TRANSP:OPAQUE",
            "DTSTAMP:20270530T090000Z",
            "DESCRIPTION:Line one\\nline two",
            "ORGANIZER;CN=\"Bowmen of 'Nowhere'; east\":mailto:club@example.org",
        ] {
            assert!(text.contains(&format!("\r\n{line}\r\n")), "{line} in {text}");
        }
        assert!(!text.contains("REFRESH") && !text.contains("NAME:"), "{text}");
    }

    #[test]
    fn a_calendar_of_nothing_is_still_one_and_says_so_alike_each_time() {
        let empty = Calendar { method: None, name: "Bows".to_owned(), entries: Vec::new() };
        let text = empty.to_text();
        assert!(text.contains("\r\nBEGIN:VTIMEZONE\r\n") && text.ends_with("END:VCALENDAR\r\n"));
        assert_eq!(text, empty.to_text());
    }

    #[test]
    fn a_host_is_taken_out_of_any_web_address() {
        for (url, host) in [
            ("http://127.0.0.1:8484", "127.0.0.1"),
            ("http://[::1]:8484/x", "[::1]"),
            ("https://club.example", "club.example"),
            ("club.example/x", "club.example"),
        ] {
            assert_eq!(Host::of(url).to_string(), host);
        }
    }
}
