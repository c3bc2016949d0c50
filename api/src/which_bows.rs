//! Which bows a list is about: those within the reach of whoever asks, of a squad, or entered for an
//! event; with what hangs under them and how much they are shot. Knows nothing of what is told of them.

use std::collections::{BTreeMap, BTreeSet};

use domain::{
    bows::Bow,
    clubs::Club,
    events::Event,
    forecast::Pace,
    ids::{BowId, ClubId, EventId, SquadId},
    members::Role,
    reach::Reach,
    squads::Squad,
};
use jiff::Timestamp;
use store::{Read, StoreError, due::UnderBow};

use crate::{auth::SignedIn, error::ApiError};

/// The bows of a list.
#[derive(Debug)]
pub(crate) struct WhichBows {
    reach: Reach,
    squad: Option<Squad>,
    /// Those that were entered for the event.
    entered: Option<BTreeSet<BowId>>,
}

impl WhichBows {
    /// Those that somebody asks for, with the event they ask about. A squad is for who coaches it, and
    /// for owners of the club.
    pub(crate) fn read(
        read: &mut Read<'_>,
        who: SignedIn,
        squad: Option<SquadId>,
        event: Option<EventId>,
    ) -> Result<(Self, Option<Event>), ApiError> {
        let squad = squad.map(|id| store::squads::get(read, who.club, id)).transpose()?;
        let coached = |squad: &Squad| squad.coaches.contains(&who.member);
        if who.role != Role::Owner && squad.as_ref().is_some_and(|squad| !coached(squad)) {
            return Err(ApiError::Forbidden(
                "this is for coaches of the squad and owners of the club",
            ));
        }
        let event = event.map(|id| store::events::get(read, who.club, id)).transpose()?;
        let entered = match &event {
            None => None,
            Some(event) => {
                let entries = store::events::entries_of(read, who.club, event.id)?;
                Some(entries.into_iter().map(|entry| entry.bow).collect())
            }
        };
        Ok((Self { reach: who.reach(read)?, squad, entered }, event))
    }

    /// Whether a bow is one of them. A bow is of a squad if its archer is; without an archer, if its
    /// owner is.
    pub(crate) fn bow(&self, bow: &Bow) -> bool {
        let of_squad = |squad: &Squad| {
            bow.archer.or(bow.owner).is_some_and(|person| squad.archers.contains(&person))
        };
        self.reach.bow(bow)
            && self.squad.as_ref().is_none_or(of_squad)
            && self.entered.as_ref().is_none_or(|entered| entered.contains(&bow.id))
    }
}

/// Bows, what hangs under them, and how much each is shot in a week.
#[derive(Debug)]
pub(crate) struct SeenBows {
    pub(crate) club: Club,
    pub(crate) rows: Vec<UnderBow>,
    /// Of those bows that were logged for long enough to tell.
    pub(crate) paces: BTreeMap<BowId, Pace>,
}

impl SeenBows {
    /// Those bows, as they are at `now`.
    pub(crate) fn read(
        read: &mut Read<'_>,
        who: SignedIn,
        which: &WhichBows,
        now: Timestamp,
    ) -> Result<Self, StoreError> {
        Self::of_club(read, who.club, now, |bow| which.bow(bow))
    }

    /// The bows of a club that are wanted, as they are at `now`.
    pub(crate) fn of_club(
        read: &mut Read<'_>,
        club: ClubId,
        now: Timestamp,
        wanted: impl Fn(&Bow) -> bool,
    ) -> Result<Self, StoreError> {
        let club = store::clubs::get(read, club)?;
        let rows = store::due::under_bows(read, &club, now, wanted)?;
        let bows: Vec<BowId> = rows.iter().map(|row| row.bow.id).collect();
        let today = club.zone.date_of(now);
        let histories = store::pace::recent(read, club.id, &bows, today)?;
        let pace = |(bow, history): (BowId, Vec<_>)| Some((bow, Pace::of(&history, today).ok()?));
        Ok(Self { rows, paces: histories.into_iter().filter_map(pace).collect(), club })
    }
}
