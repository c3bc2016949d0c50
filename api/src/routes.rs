//! Every route, one line each.

use actix_web::web;
use utoipa_actix_web::{scope, service_config::ServiceConfig};

use crate::{
    audit, auth, board, bows, checklists, club, due, events, fallback, feeds, fittings, health,
    incidents, mails, me, members, metrics, openapi, pages, parts, records, reminders, rules,
    shot_logs, squads, timeline, tokens, upkeep,
};

/// All routes. The document of the API is made from the same list.
pub(crate) fn all(config: &mut ServiceConfig<'_>) {
    config
        .service(health::healthz)
        .service(health::readyz)
        .service(metrics::metrics)
        .service(openapi::serve_document)
        .service(pages::page_style)
        .service(pages::show_answer)
        .service(pages::answer_by_link)
        .service(pages::show_quiet)
        .service(pages::stop_mail_by_link)
        .service(pages::show_invitation)
        .service(pages::join_by_page)
        .service(pages::show_reset)
        .service(pages::reset_by_page)
        .service(scope::scope("/api/v1").configure(v1));
}

fn v1(config: &mut ServiceConfig<'_>) {
    people(config);
    workshop(config);
    record(config);
}

/// The club and who is in it.
fn people(config: &mut ServiceConfig<'_>) {
    config
        .service(auth::set_up)
        .service(auth::sign_in)
        .service(auth::refresh_access)
        .service(auth::sign_out)
        .service(auth::ask_reset)
        .service(auth::reset_password)
        .service(auth::get_invitation)
        .service(auth::accept_invitation)
        .service(tokens::make_token)
        .service(tokens::list_tokens)
        .service(tokens::revoke_token)
        .service(feeds::read_feed)
        // Before `/feeds/{id}`, which would take these words for ids.
        .route("/feeds/{token}.ics", web::route().to(fallback::no_such_route))
        .service(feeds::make_feed)
        .service(feeds::list_feeds)
        .service(feeds::revoke_feed)
        .service(me::get_me)
        .service(me::change_me)
        .service(me::change_password)
        .service(club::get_club)
        .service(club::change_club)
        .service(members::invite_member)
        .service(members::list_members)
        .service(members::get_member)
        .service(members::change_member)
        .service(members::remove_member)
        .service(members::send_invitation)
        .service(squads::add_squad)
        .service(squads::list_squads)
        .service(squads::get_squad)
        .service(squads::change_squad)
        .service(squads::remove_squad);
}

/// Bows, parts, and what hung where.
fn workshop(config: &mut ServiceConfig<'_>) {
    config
        .service(bows::add_bow)
        .service(bows::list_bows)
        .service(bows::get_bow)
        .service(bows::change_bow)
        .service(bows::change_string)
        .service(bows::clear_bow)
        .service(timeline::get_bow_timeline)
        .service(parts::add_part)
        .service(parts::list_parts)
        .service(parts::get_part)
        .service(parts::explain_part)
        .service(parts::retire_part)
        .service(timeline::get_part_timeline)
        .service(fittings::fit_part)
        .service(fittings::list_fittings)
        .service(fittings::get_fitting)
        .service(fittings::change_fitting)
        .service(fittings::remove_fitting)
        .service(fittings::take_off_part);
}

/// What was shot, done and planned; what is due for it and by which rules, and who was told.
fn record(config: &mut ServiceConfig<'_>) {
    config
        .service(shot_logs::log_shots)
        .service(shot_logs::log_batch)
        // Before `/shot-logs/{id}`, which would take these words for ids.
        .route("/shot-logs/batch", web::route().to(fallback::no_such_route))
        .service(shot_logs::list_possible_duplicates)
        .route("/shot-logs/possible-duplicates", web::route().to(fallback::no_such_route))
        .service(shot_logs::list_shot_logs)
        .service(shot_logs::get_log)
        .service(shot_logs::correct_log)
        .service(shot_logs::void_log)
        .service(shot_logs::merge_log)
        .service(upkeep::record_upkeep)
        .service(upkeep::list_upkeep)
        .service(upkeep::get_upkeep)
        .service(upkeep::remove_upkeep)
        .service(checklists::list_checklists)
        .service(incidents::record_incident)
        .service(incidents::list_incidents)
        .service(due::list_due)
        .service(events::add_event)
        .service(events::list_events)
        .service(events::get_event)
        .service(events::change_event)
        .service(events::call_off_event)
        .service(events::set_entries)
        .service(rules::preview_rule)
        // Before `/rules/{id}`, as above.
        .route("/rules/preview", web::route().to(fallback::no_such_route))
        .service(rules::list_rules)
        .service(rules::list_settings)
        .service(rules::get_rule)
        .service(rules::add_rule)
        .service(rules::change_rule)
        .service(rules::remove_rule)
        .service(audit::list_changes)
        .service(board::get_board)
        .service(reminders::list_reminders)
        .service(reminders::finish_reminder)
        .service(reminders::snooze_reminder)
        .service(reminders::disown_bow)
        .service(mails::list_mails)
        .service(records::export_table)
        .service(records::import_table);
}
