//! What is answered to a request that changed something. It is made inside the transaction, so that it
//! can be kept there for a request that comes again.

use actix_web::{
    HttpResponse,
    http::{StatusCode, header},
};
use serde::Serialize;
use store::requests::KeptAnswer;

use crate::{error::ApiError, versions::etag};

/// An answer.
#[derive(Debug)]
pub(crate) struct Answer {
    status: StatusCode,
    location: Option<String>,
    etag: Option<String>,
    /// JSON, or nothing.
    body: String,
    /// What is kept of it for a request that comes again, if not all.
    kept_body: Option<String>,
}

impl Answer {
    /// Something new.
    pub(crate) fn created(body: &impl Serialize) -> Result<Self, ApiError> {
        Self::of(StatusCode::CREATED, body)
    }

    /// Done.
    pub(crate) fn ok(body: &impl Serialize) -> Result<Self, ApiError> {
        Self::of(StatusCode::OK, body)
    }

    /// Done, and there is nothing to say.
    pub(crate) const fn nothing() -> Self {
        Self {
            status: StatusCode::NO_CONTENT,
            location: None,
            etag: None,
            body: String::new(),
            kept_body: None,
        }
    }

    /// With another status.
    pub(crate) fn of(status: StatusCode, body: &impl Serialize) -> Result<Self, ApiError> {
        let body = serde_json::to_string(body).map_err(|e| ApiError::Internal(e.to_string()))?;
        Ok(Self { status, location: None, etag: None, body, kept_body: None })
    }

    /// Found at that path below `/api/v1`.
    pub(crate) fn at(self, path: &str) -> Self {
        Self { location: Some(format!("/api/v1{path}")), ..self }
    }

    /// In that version.
    pub(crate) fn version(self, version: i32) -> Self {
        Self { etag: Some(etag(version)), ..self }
    }

    /// Shown once: a request that comes again is answered with this instead, and no more is kept.
    pub(crate) fn kept_as(self, body: &impl Serialize) -> Result<Self, ApiError> {
        let kept = serde_json::to_string(body).map_err(|e| ApiError::Internal(e.to_string()))?;
        Ok(Self { kept_body: Some(kept), ..self })
    }

    /// As it is kept for a request that comes again.
    pub(crate) fn kept(&self) -> KeptAnswer {
        KeptAnswer {
            status: self.status.as_u16().into(),
            location: self.location.clone(),
            etag: self.etag.clone(),
            body: self.kept_body.as_ref().unwrap_or(&self.body).clone(),
        }
    }

    /// From what was kept.
    pub(crate) fn again(kept: KeptAnswer) -> Result<Self, ApiError> {
        let status = u16::try_from(kept.status).ok().and_then(|n| StatusCode::from_u16(n).ok());
        let status = status.ok_or_else(|| {
            ApiError::Internal(format!("a kept answer has the status {}", kept.status))
        })?;
        Ok(Self {
            status,
            location: kept.location,
            etag: kept.etag,
            body: kept.body,
            kept_body: None,
        })
    }

    /// As it goes out.
    pub(crate) fn respond(self) -> HttpResponse {
        let mut response = HttpResponse::build(self.status);
        if let Some(location) = self.location {
            response.insert_header((header::LOCATION, location));
        }
        if let Some(etag) = self.etag {
            response.insert_header((header::ETAG, etag));
        }
        if self.body.is_empty() {
            return response.finish();
        }
        response.content_type("application/json").body(self.body)
    }
}
