//! Requests that may come again, because their sender did not hear the answer: with the same
//! `Idempotency-Key` and body they are done once, and answered again as before.

use actix_web::HttpRequest;
use aws_lc_rs::digest;
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use store::{
    Tx,
    requests::{self, Known, Request},
};

use crate::{answer::Answer, auth::SignedIn, error::ApiError, fields::FieldError, server::Api};

const HEADER: &str = "idempotency-key";
/// The most characters of a key.
const LONGEST: usize = 200;

/// The key of a request, if its sender chose one.
#[derive(Debug)]
pub(crate) struct Once(Option<Key>);

#[derive(Debug)]
struct Key {
    chosen: String,
    route: String,
    body_hash: String,
}

impl Once {
    /// Whether its sender chose one.
    pub(crate) const fn is_keyed(&self) -> bool {
        self.0.is_some()
    }

    /// Reads the key; `body` is what was sent, in one piece or several.
    pub(crate) fn of(request: &HttpRequest, body: &[&[u8]]) -> Result<Self, ApiError> {
        let Some(header) = request.headers().get(HEADER) else { return Ok(Self(None)) };
        let key = header.to_str().unwrap_or_default().trim();
        // The draft of the header writes a quoted string; most clients do not.
        let unquoted = key.strip_prefix('"').and_then(|key| key.strip_suffix('"'));
        let key = unquoted.unwrap_or(key);
        if key.is_empty() || key.len() > LONGEST || !key.chars().all(|c| c.is_ascii_graphic()) {
            let detail = format!("Idempotency-Key must be 1 to {LONGEST} visible ASCII characters");
            return Err(ApiError::Invalid(vec![FieldError::new(
                "",
                "bad_idempotency_key",
                detail,
            )]));
        }
        let mut hashed = digest::Context::new(&digest::SHA256);
        for piece in body {
            hashed.update(piece);
        }
        let body_hash = URL_SAFE_NO_PAD.encode(hashed.finish());
        let route = format!("{} {}", request.method(), request.path());
        Ok(Self(Some(Key { chosen: key.to_owned(), route, body_hash })))
    }
}

impl Api {
    /// Does a request in one transaction, or finds that it was done before. What is refused leaves no
    /// trace, and may be sent again with the same key.
    pub(crate) async fn write_once<F>(
        &self,
        who: SignedIn,
        once: Once,
        work: F,
    ) -> Result<actix_web::HttpResponse, ApiError>
    where
        F: FnOnce(&mut Tx<'_>) -> Result<Answer, ApiError> + Send + 'static,
    {
        let now = self.now();
        let answer = self.store.write(move |tx| {
            let Some(Key { chosen: key, route, body_hash }) = once.0 else { return work(tx) };
            let request = Request { member: who.member, route, key, body_hash };
            match requests::begin(tx, who.club, &request, now)? {
                Known::Again(kept) => Answer::again(kept),
                Known::KeyTaken => {
                    let detail = "another request, with another body, has this Idempotency-Key";
                    let error = FieldError::new("", "idempotency_key_taken", detail);
                    Err(ApiError::Invalid(vec![error]))
                }
                Known::New => {
                    let answer = work(tx)?;
                    requests::keep(tx, who.club, &request, &answer.kept())?;
                    Ok(answer)
                }
            }
        });
        Ok(answer.await?.respond())
    }
}
