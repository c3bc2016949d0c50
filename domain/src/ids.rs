//! Names for rows that cannot be confused with one another.
//!
//! Ids are UUIDs of version 7 and are made elsewhere: making one needs a clock and chance, which this crate
//! has neither of.

use std::fmt;

use uuid::Uuid;

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub Uuid);

        impl From<Uuid> for $name {
            fn from(id: Uuid) -> Self {
                Self(id)
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }
    )+};
}

ids! {
    /// A club: the tenant.
    ClubId;
    /// A person in a club.
    MemberId;
    /// A bow.
    BowId;
    /// A part: what wears and can be swapped.
    PartId;
    /// A part's stay on a host.
    FittingId;
    /// An entry of the ledger.
    ShotLogId;
    /// A piece of work done on a part.
    UpkeepId;
    /// A maintenance rule of a club.
    RuleId;
    /// A reason to write to somebody.
    ReminderId;
    /// A row of the outbox.
    MailId;
    /// A squad.
    SquadId;
    /// A device that somebody signed in on.
    SignInId;
    /// A script's token.
    ScriptTokenId;
    /// A link that is mailed and works once.
    LinkId;
    /// An incident.
    IncidentId;
    /// A tournament.
    EventId;
    /// An inspection of a bow as a whole.
    ClearanceId;
    /// A calendar that somebody subscribed to.
    FeedId;
    /// A change on record.
    ChangeId;
}
