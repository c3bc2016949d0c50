//! Making a token for a script.

use actix_web::{HttpResponse, http::header, post, web};
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use domain::{
    audit::Subject,
    ids::ScriptTokenId,
    script_tokens::{MOST_TOKENS, Scope, ScriptToken},
};
use serde::Deserialize;
use store::{fresh_id, script_tokens};
use utoipa::ToSchema;

use super::body::{MadeTokenBody, TokenBody, scopes};
use crate::{
    answer::Answer,
    audit::Changed,
    auth::{SCRIPT_PREFIX, SignedIn, token_hash},
    body::Body,
    error::ApiError,
    fields::Fields,
    server::Api,
};

/// A token to be.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct MakeToken {
    /// So that you know later which script has it.
    #[schema(example = "Phone of the bench", max_length = 200)]
    name: String,
    /// `log` may log shots and nothing else; `read` may read what you may, and change nothing.
    #[schema(schema_with = scopes)]
    scope: String,
}

/// Make a token for a script that acts for you. It is shown this once.
#[utoipa::path(
    operation_id = "make_token",
    tag = "accounts",
    request_body = MakeToken,
    responses((status = 201, description = "Made; keep the token, nobody can show it again",
        body = MadeTokenBody))
)]
#[post("/tokens")]
pub(crate) async fn make_token(
    api: web::Data<Api>,
    who: SignedIn,
    body: Body<MakeToken>,
) -> Result<HttpResponse, ApiError> {
    who.signed_in_themselves()?;
    let Body(MakeToken { name, scope }, once) = body;
    let mut fields = Fields::default();
    let name = fields.name("/name", &name);
    let scope = fields.word("/scope", &scope, Scope::parse, Scope::ALL);
    let (name, scope) = fields.finish(name.zip(scope))?;
    let now = api.now();
    let token = ScriptToken {
        id: fresh_id::<ScriptTokenId>(now),
        member: who.member,
        name,
        scope,
        created_at: now,
        last_used_on: None,
        revoked_at: None,
    };
    let shown = shown()?;
    let made = api.write_once(who, once, move |tx| {
        if script_tokens::of_member(tx, who.club, who.member)?.len() >= MOST_TOKENS {
            return Err(too_many());
        }
        script_tokens::add(tx, who.club, &token, &token_hash(&shown))?;
        let made = Changed::of("make_token", Subject::Token, token.id.0);
        who.record(tx, now, made.after(&TokenBody::from(&token))?)?;
        let body = MadeTokenBody::of(&token, Some(shown));
        Answer::created(&body)?.kept_as(&MadeTokenBody::of(&token, None))
    });
    let mut answer = made.await?;
    answer
        .headers_mut()
        .insert(header::CACHE_CONTROL, header::HeaderValue::from_static("no-store"));
    Ok(answer)
}

fn too_many() -> ApiError {
    let detail = format!("you have {MOST_TOKENS} tokens; revoke one that is not in use any more");
    ApiError::Conflict { code: "too_many_tokens", detail }
}

/// What a script shows: 192 bits of chance.
fn shown() -> Result<String, ApiError> {
    let mut bytes = [0_u8; 24];
    getrandom::fill(&mut bytes).map_err(|error| ApiError::Internal(error.to_string()))?;
    Ok(format!("{SCRIPT_PREFIX}{}", URL_SAFE_NO_PAD.encode(bytes)))
}
