//! Choosing another password.

use actix_web::{HttpResponse, post, web};
use serde::Deserialize;
use store::StoreError;
use utoipa::ToSchema;

use crate::{
    auth::{Net, PASSWORD_LENGTH, SignedIn},
    body::Body,
    error::ApiError,
    fields::{FieldError, Fields},
    server::Api,
};

/// The password that is in use, and the one to come.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ChangePassword {
    #[schema(example = "correct horse battery", max_length = 256)]
    current_password: String,
    #[schema(example = "nine invented feathers", min_length = 8, max_length = 256)]
    new_password: String,
}

fn wrong_password() -> ApiError {
    let detail = "is not the password that you sign in with";
    ApiError::Invalid(vec![FieldError::new("/current_password", "wrong_password", detail)])
}

/// Choose another password. Every other device is signed out.
#[utoipa::path(
    operation_id = "change_password",
    tag = "accounts",
    request_body = ChangePassword,
    responses((status = 204, description = "Changed; signed in on this device alone"))
)]
#[post("/me/password")]
pub(crate) async fn change_password(
    api: web::Data<Api>,
    who: SignedIn,
    from: Net,
    body: Body<ChangePassword>,
) -> Result<HttpResponse, ApiError> {
    api.throttle.password(from)?;
    let but = Some(who.signed_in_themselves()?);
    let Body(ChangePassword { current_password, new_password }, once) = body;
    let mut fields = Fields::default();
    if current_password.chars().count() > *PASSWORD_LENGTH.end() {
        fields.refuse("/current_password", "bad_length", "must have at most 256 characters");
    }
    if !PASSWORD_LENGTH.contains(&new_password.chars().count()) {
        fields.refuse("/new_password", "bad_length", "must have 8 to 256 characters");
    }
    fields.finish(Some(()))?;
    let found =
        api.store.read(move |read| store::access::password_hash(read, who.club, who.member));
    let before = found.await.map_err(|error: StoreError| ApiError::from(error))?;
    if !api.passwords.matches(current_password, before.clone()).await? {
        // Nothing of a password is kept to know the request by. Sent again it finds the new password
        // in place: then it was done.
        let again = once.is_keyed() && api.passwords.matches(new_password, before).await?;
        return if again { Ok(HttpResponse::NoContent().finish()) } else { Err(wrong_password()) };
    }
    let (before, now) = (before.unwrap_or_default(), api.now());
    let after = api.passwords.hash(new_password).await?;
    let changed = api.store.write(move |tx| {
        let replaced = store::access::replace_password(tx, who.club, who.member, &before, &after);
        match replaced {
            // Another request has changed it meanwhile.
            Err(StoreError::Changed) => return Err(wrong_password()),
            replaced => replaced?,
        }
        store::access::end_sign_ins(tx, who.club, who.member, but, now).map_err(ApiError::from)
    });
    changed.await?;
    Ok(HttpResponse::NoContent().finish())
}
