//! What the link that answers a reminder comes to when it is followed. It reads, and writes no words.

use domain::{
    ids::ClubId,
    mail::{Act, ActLink},
    members::Member,
    reminders::ReminderState,
    time::Zone,
};
use jiff::{Timestamp, civil};
use store::{Read, StoreError, reminders::Listed};

use super::page::moment;
use crate::{
    auth::SignedIn,
    error::ApiError,
    reminders::{Open, Standing, look},
};

/// Where and to whom something is said.
#[derive(Clone)]
pub(super) struct Place {
    pub(super) club: String,
    /// Where its reader lives.
    pub(super) zone: Zone,
}

/// What a link comes to now.
pub(super) enum Seen {
    /// It can be answered.
    Open(Box<Asked>),
    /// It was answered, by this link or otherwise.
    Used { place: Place, listed: Box<Listed>, bow: Option<String> },
    /// It has run out.
    Expired(Place),
    /// It is not true any more; why.
    Gone(Place, &'static str),
}

/// What is asked, and of whom.
pub(super) struct Asked {
    pub(super) place: Place,
    pub(super) who: SignedIn,
    pub(super) member: Member,
    pub(super) open: Open,
}

const LEFT: &str = "you are not in the club any more";
const NOT_YOURS: &str = "the bow is somebody else's to look after by now";
const NOT_SO: &str = "it cannot be answered in this way";

/// What a link comes to, read in one go with what it is about.
pub(super) fn see(
    read: &mut Read<'_>,
    club: ClubId,
    link: ActLink,
    listed: Listed,
    now: Timestamp,
) -> Result<Seen, ApiError> {
    let member = store::members::get(read, club, listed.reminder.recipient)?;
    let club = store::clubs::get(read, club)?;
    let zone = member.zone.as_ref().unwrap_or(&club.zone).clone();
    let place = Place { club: club.name.to_string(), zone };
    let put_off = listed.reminder.state == ReminderState::Snoozed
        && listed.snoozed_until.is_some_and(|until| now < until);
    if link.act == Act::Snooze && put_off {
        return used(read, &club.id, place, listed);
    }
    let Some(who) = SignedIn::by_link(club.id, &member) else { return Ok(Seen::Gone(place, LEFT)) };
    match look(read, who, listed, now)? {
        Standing::Answered(listed) => used(read, &club.id, place, *listed),
        _ if !link.works(now) => Ok(Seen::Expired(place)),
        Standing::NotTheirs => Ok(Seen::Gone(place, NOT_YOURS)),
        Standing::Gone(why) => Ok(Seen::Gone(place, why)),
        Standing::Open(open) if !open.takes(link.act) => Ok(Seen::Gone(place, NOT_SO)),
        Standing::Open(open) => Ok(Seen::Open(Box::new(Asked { place, who, member, open: *open }))),
    }
}

fn used(
    read: &mut Read<'_>,
    club: &ClubId,
    place: Place,
    listed: Listed,
) -> Result<Seen, ApiError> {
    let bow = match listed.reminder.about.bow() {
        Some(bow) => match store::bows::get(read, *club, bow) {
            Ok(bow) => Some(bow.name.to_string()),
            Err(StoreError::NotFound { .. }) => None,
            Err(error) => return Err(error.into()),
        },
        None => None,
    };
    Ok(Seen::Used { place, listed: Box::new(listed), bow })
}

/// A moment that the form offers.
pub(super) struct When {
    pub(super) word: &'static str,
    pub(super) label: String,
    pub(super) at: Timestamp,
}

/// The moment that the form offers first.
pub(super) const NOW: &str = "now";

impl Asked {
    /// When the work may have been done: now, or on one of the club's last days, which stands for its
    /// noon, as it does in a log; not before it was last done.
    pub(super) fn whens(&self, now: Timestamp) -> Vec<When> {
        let zone = &self.open.club.zone;
        let label = format!("now ({})", moment(now, &self.place.zone));
        let mut whens = vec![When { word: NOW, label, at: now }];
        let last = self.open.work.as_ref().and_then(|work| work.last_done_at);
        let noon = civil::time(12, 0, 0, 0);
        let mut day = zone.date_of(now);
        for (word, called) in [("yesterday", "yesterday"), ("two_days_ago", "two days ago")] {
            let Ok(before) = day.yesterday() else { break };
            day = before;
            let Ok(at) = zone.instant(day, noon) else { break };
            if last.is_none_or(|last| at > last) {
                let label = format!("{called} ({})", day.strftime("%a %-d %B"));
                whens.push(When { word, label, at });
            }
        }
        whens
    }
}
