//! The first club and its owner, set up once by whoever started the server.

use actix_web::{HttpResponse, post, web};
use domain::{
    clubs::{Club, DEFAULT_DIGEST_AT},
    ids::RuleId,
    members::{EmailAddress, Member, Role},
    rules::default_book,
    time::{Zone, parse_time_of_day},
};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use store::{StoreError, fresh_id};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{password::LENGTH, throttle::Net};
use crate::{body::Body, error::ApiError, fields::Fields, object::Object, server::Api};

/// The code that the server printed when it started on an empty database.
#[derive(Clone)]
pub(crate) struct SetupCode(String);

impl SetupCode {
    pub(crate) fn new(code: String) -> Self {
        Self(code)
    }

    /// Compares in a time that does not depend on where the two differ.
    fn is(&self, shown: &str) -> bool {
        let differing = self.0.bytes().zip(shown.bytes()).fold(0, |acc, (a, b)| acc | (a ^ b));
        self.0.len() == shown.len() && differing == 0
    }
}

/// The first club and its owner.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SetUp {
    /// The code from the server's start.
    setup_code: String,
    #[schema(value_type = NewClub)]
    club: Object<NewClub>,
    #[schema(value_type = NewOwner)]
    owner: Object<NewOwner>,
}

/// A club to be.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewClub {
    #[schema(example = "Bowmen of Invented Hill", max_length = 200)]
    name: String,
    #[schema(example = "Europe/Lisbon")]
    time_zone: String,
    /// The local time of day at which reminders go out; 07:30 unless given.
    #[schema(example = "07:30")]
    digest_at: Option<String>,
}

/// Its owner.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewOwner {
    #[schema(example = "Maren Ilves", max_length = 200)]
    name: String,
    #[schema(example = "maren@club.example", max_length = 254)]
    email: String,
    #[schema(example = "correct horse battery", min_length = 8, max_length = 256)]
    password: String,
}

/// What was set up.
#[derive(Serialize, ToSchema)]
pub(crate) struct SetUpBody {
    club_id: Uuid,
    member_id: Uuid,
}

impl SetUp {
    fn parse(&self, now: Timestamp) -> Result<(Club, Member), ApiError> {
        let (Object(club), Object(owner)) = (&self.club, &self.owner);
        let mut fields = Fields::default();
        let club_name = fields.name("/club/name", &club.name);
        let zone = fields.take("/club/time_zone", Zone::parse(&club.time_zone));
        let digest_at = match &club.digest_at {
            Some(text) => fields.take("/club/digest_at", parse_time_of_day(text)),
            None => Some(DEFAULT_DIGEST_AT),
        };
        let owner_name = fields.name("/owner/name", &owner.name);
        let email = fields.take("/owner/email", EmailAddress::parse(&owner.email));
        if !LENGTH.contains(&owner.password.chars().count()) {
            fields.refuse("/owner/password", "bad_length", "must have 8 to 256 characters");
        }
        let built = || {
            let club = Club::new(fresh_id(now), club_name?, zone?, now);
            let owner = Member::new(fresh_id(now), owner_name?, email?, Role::Owner, now);
            Some((Club { digest_at: digest_at?, ..club }, owner))
        };
        fields.finish(built())
    }
}

/// Set up the first club and its owner, once, with the code from the server's start.
#[utoipa::path(
    operation_id = "set_up",
    tag = "accounts",
    request_body = SetUp,
    responses((status = 201, description = "Set up; sign in next", body = SetUpBody)),
    security(())
)]
#[post("/setup")]
pub(crate) async fn set_up(
    api: web::Data<Api>,
    from: Net,
    body: Body<SetUp>,
) -> Result<HttpResponse, ApiError> {
    const CLOSED: ApiError =
        ApiError::Forbidden("this is not the code of a server that waits to be set up");
    api.throttle.set_up(from)?;
    let Body(body, _once) = body;
    let shown_right = api.setup_code.as_ref().is_some_and(|code| code.is(&body.setup_code));
    if !shown_right {
        return Err(CLOSED);
    }
    let now = api.now();
    let (club, owner) = body.parse(now)?;
    let hash = api.passwords.hash(body.owner.0.password).await?;
    let answer = SetUpBody { club_id: club.id.0, member_id: owner.id.0 };
    api.store
        .write(move |tx| {
            if !store::clubs::none_yet(tx)? {
                return Err(CLOSED);
            }
            store::clubs::add(tx, &club)?;
            store::members::add(tx, club.id, &owner)?;
            store::members::allow_sign_in(tx, club.id, &owner, hash)?;
            default_book(now, || fresh_id::<RuleId>(now))
                .iter()
                .try_for_each(|rule| store::rules::add(tx, club.id, rule))
                .map_err(|error: StoreError| ApiError::from(error))
        })
        .await?;
    Ok(HttpResponse::Created().json(answer))
}
