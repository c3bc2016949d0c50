//! Reading the board.

use actix_web::{HttpResponse, get, web};
use domain::ids::{EventId, SquadId};
use serde::Deserialize;
use utoipa::IntoParams;
use uuid::Uuid;

use super::body::{BoardBody, Seen};
use crate::{
    auth::SignedIn,
    error::ApiError,
    fresh::Known,
    paging::Query,
    server::Api,
    which_bows::{SeenBows, WhichBows},
};

/// What the board takes.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct BoardQuery {
    /// Only bows of this squad's archers; for who coaches it, and for owners of the club.
    squad_id: Option<Uuid>,
    /// Only bows entered for this event, and what has to be done before it.
    event_id: Option<Uuid>,
}

/// Every bow within reach with what it needs and why, the most urgent first.
#[utoipa::path(
    operation_id = "get_board",
    tag = "due",
    params(
        BoardQuery,
        ("If-None-Match" = Option<String>, Header, description = "The ETag of the answer before")
    ),
    responses(
        (status = 200, description = "The board", body = BoardBody),
        (status = 304, description = "It is as it was")
    )
)]
#[get("/board")]
pub(crate) async fn get_board(
    api: web::Data<Api>,
    who: SignedIn,
    query: Query<BoardQuery>,
    known: Known,
) -> Result<HttpResponse, ApiError> {
    let now = api.now();
    let (squad, event) = (query.0.squad_id.map(SquadId), query.0.event_id.map(EventId));
    let seen = api.store.read(move |read| {
        let (which, event) = WhichBows::read(read, who, squad, event)?;
        let bows = SeenBows::read(read, who, &which, now)?;
        let members = store::members::all(read, who.club)?;
        let disowned = store::disowned_bows::of_club(read, who.club)?;
        let disowned = disowned.into_iter().map(|(bow, _)| bow).collect();
        Ok::<_, ApiError>(Seen { event, members, bows, disowned })
    });
    known.answer(&BoardBody::of(seen.await?, now))
}
