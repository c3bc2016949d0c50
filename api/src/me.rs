//! Who is signed in.

use actix_web::{get, web};
use serde::Serialize;
use store::StoreError;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::SignedIn,
    error::ApiError,
    paging::{NoQuery, Query},
    server::Api,
};

/// The person signed in, and their club.
#[derive(Serialize, ToSchema)]
pub(crate) struct MeBody {
    member_id: Uuid,
    #[schema(example = "Maren Ilves")]
    name: String,
    #[schema(example = "maren@club.example")]
    email: String,
    #[schema(example = "owner")]
    role: &'static str,
    club_id: Uuid,
    #[schema(example = "Bowmen of Invented Hill")]
    club_name: String,
    #[schema(example = "Europe/Lisbon")]
    club_time_zone: String,
}

/// The person signed in.
#[utoipa::path(
    operation_id = "get_me",
    tag = "accounts",
    responses((status = 200, description = "The person signed in", body = MeBody))
)]
#[get("/me")]
pub(crate) async fn get_me(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
) -> Result<web::Json<MeBody>, ApiError> {
    let found = api.store.read(move |read| {
        let member = store::members::get(read, who.club, who.member)?;
        Ok::<_, StoreError>((member, store::clubs::get(read, who.club)?))
    });
    let (member, club) = found.await?;
    Ok(web::Json(MeBody {
        member_id: member.id.0,
        name: member.name.to_string(),
        email: member.email.to_string(),
        role: member.role.as_str(),
        club_id: club.id.0,
        club_name: club.name.to_string(),
        club_time_zone: club.zone.name().to_owned(),
    }))
}
