//! Every route, one line each.

use utoipa_actix_web::{scope, service_config::ServiceConfig};

use crate::{
    auth, board, bows, due, fittings, health, me, openapi, parts, reminders, rules, shot_logs,
    upkeep,
};

/// All routes. The document of the API is made from the same list.
pub(crate) fn all(config: &mut ServiceConfig<'_>) {
    config
        .service(health::healthz)
        .service(health::readyz)
        .service(openapi::serve_document)
        .service(scope::scope("/api/v1").configure(v1));
}

fn v1(config: &mut ServiceConfig<'_>) {
    config
        .service(auth::set_up)
        .service(auth::sign_in)
        .service(me::get_me)
        .service(bows::add_bow)
        .service(bows::list_bows)
        .service(bows::get_bow)
        .service(parts::add_part)
        .service(parts::list_parts)
        .service(parts::get_part)
        .service(parts::retire_part)
        .service(fittings::fit_part)
        .service(fittings::take_off_part)
        .service(shot_logs::log_shots)
        .service(shot_logs::log_batch)
        .service(shot_logs::list_shot_logs)
        .service(upkeep::record_upkeep)
        .service(rules::list_rules)
        .service(rules::get_rule)
        .service(rules::add_rule)
        .service(rules::change_rule)
        .service(rules::remove_rule)
        .service(due::list_due)
        .service(board::get_board)
        .service(reminders::list_reminders);
}
