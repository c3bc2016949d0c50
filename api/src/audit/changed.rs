//! Putting a change on record, in the transaction that makes it.

use domain::{
    audit::{Change, Subject},
    ids::BowId,
};
use jiff::Timestamp;
use serde::Serialize;
use store::{Tx, fresh_id};
use uuid::Uuid;

use crate::{auth::SignedIn, error::ApiError};

/// A change that was made: by which operation, of what, and what was on record before and after, in the
/// words in which the API answers it. What nobody may read again has no place in it: no password, no
/// link, no token.
#[derive(Debug)]
pub(crate) struct Changed {
    operation: &'static str,
    subject: (Subject, Uuid),
    bow: Option<BowId>,
    before: Option<String>,
    after: Option<String>,
}

impl Changed {
    /// By that operation, of that thing.
    pub(crate) const fn of(operation: &'static str, subject: Subject, id: Uuid) -> Self {
        Self { operation, subject: (subject, id), bow: None, before: None, after: None }
    }

    /// It is about this bow, so that whoever may look after that may read of it.
    pub(crate) fn about(self, bow: Option<BowId>) -> Self {
        Self { bow, ..self }
    }

    /// What was on record.
    pub(crate) fn before(self, body: &impl Serialize) -> Result<Self, ApiError> {
        Ok(Self { before: Some(written(body)?), ..self })
    }

    /// What is on record now.
    pub(crate) fn after(self, body: &impl Serialize) -> Result<Self, ApiError> {
        Ok(Self { after: Some(written(body)?), ..self })
    }
}

fn written(body: &impl Serialize) -> Result<String, ApiError> {
    serde_json::to_string(body).map_err(|error| ApiError::Internal(error.to_string()))
}

impl SignedIn {
    /// Puts on record what they changed.
    pub(crate) fn record(
        self,
        tx: &mut Tx<'_>,
        now: Timestamp,
        changed: Changed,
    ) -> Result<(), ApiError> {
        let Changed { operation, subject: (subject, subject_id), bow, before, after } = changed;
        let change = Change {
            id: fresh_id(now),
            at: now,
            by: Some(self.member),
            operation: operation.to_owned(),
            subject,
            subject_id,
            bow,
            before,
            after,
        };
        Ok(store::audit::record(tx, self.club, &change)?)
    }
}
