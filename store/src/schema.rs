//! The tables as both databases have them; the migrations are what makes them so.
//!
//! A test reads every table through these columns on both databases.

use crate::sql_types::{DaySql, KeySql, UtcSql};

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    clubs (club_id) {
        club_id -> KeySql,
        name -> Text,
        time_zone -> Text,
        digest_at -> Text,
        created_at -> UtcSql,
        quiet_from -> Text,
        quiet_until -> Text,
        currency -> Text,
        bench_jobs_per_week -> Integer,
        stages_days -> Text,
        version -> Integer,
        mails_per_day -> Integer,
        nudge_after_days -> Nullable<Integer>,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    members (club_id, id) {
        club_id -> KeySql,
        id -> KeySql,
        name -> Text,
        email -> Text,
        role -> Text,
        time_zone -> Nullable<Text>,
        created_at -> UtcSql,
        quiet_from -> Nullable<Text>,
        quiet_until -> Nullable<Text>,
        minor_until -> Nullable<DaySql>,
        guardian_name -> Nullable<Text>,
        guardian_email -> Nullable<Text>,
        guardian_consented_on -> Nullable<DaySql>,
        left_at -> Nullable<UtcSql>,
        version -> Integer,
        email_refused_at -> Nullable<UtcSql>,
        email_refusal -> Nullable<Text>,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    logins (email) {
        email -> Text,
        club_id -> KeySql,
        member_id -> KeySql,
        password_hash -> Text,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    bows (club_id, id) {
        club_id -> KeySql,
        id -> KeySql,
        name -> Text,
        division -> Text,
        bow_length_in -> Double,
        draw_weight_lbf -> Double,
        owner_member_id -> Nullable<KeySql>,
        archer_member_id -> Nullable<KeySql>,
        keeper_member_id -> Nullable<KeySql>,
        created_at -> UtcSql,
        version -> Integer,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    parts (club_id, id) {
        club_id -> KeySql,
        id -> KeySql,
        kind -> Text,
        name -> Text,
        material -> Nullable<Text>,
        strands -> Nullable<Integer>,
        made_on -> Nullable<DaySql>,
        starting_shots -> Nullable<Integer>,
        starting_at -> Nullable<UtcSql>,
        unit_cost_hundredths -> Nullable<BigInt>,
        retired_at -> Nullable<UtcSql>,
        retired_end -> Nullable<Text>,
        retired_reason -> Nullable<Text>,
        created_at -> UtcSql,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    fittings (club_id, id) {
        club_id -> KeySql,
        id -> KeySql,
        part_id -> KeySql,
        bow_id -> Nullable<KeySql>,
        host_part_id -> Nullable<KeySql>,
        from_at -> UtcSql,
        to_at -> Nullable<UtcSql>,
        version -> Integer,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    shot_logs (club_id, id) {
        club_id -> KeySql,
        id -> KeySql,
        bow_id -> KeySql,
        at -> UtcSql,
        stated_at -> UtcSql,
        date_only -> Bool,
        skew_s -> Nullable<BigInt>,
        shots -> Integer,
        kind -> Text,
        note -> Text,
        entered_by_member_id -> KeySql,
        received_at -> UtcSql,
        corrects_id -> Nullable<KeySql>,
        seq -> Integer,
        void -> Bool,
        counts -> Bool,
        merged_into_id -> Nullable<KeySql>,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    wear (club_id, part_id, clock) {
        club_id -> KeySql,
        part_id -> KeySql,
        clock -> Text,
        counts_from -> UtcSql,
        reset_at -> Nullable<UtcSql>,
        shots -> BigInt,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    upkeep (club_id, id) {
        club_id -> KeySql,
        id -> KeySql,
        part_id -> KeySql,
        task -> Text,
        at -> UtcSql,
        note -> Text,
        entered_by_member_id -> KeySql,
        received_at -> UtcSql,
        measured_mm -> Nullable<Double>,
        clears -> Bool,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    rules (club_id, id) {
        club_id -> KeySql,
        id -> KeySql,
        part_kind -> Text,
        task -> Text,
        scope -> Text,
        scope_word -> Nullable<Text>,
        scope_id -> Nullable<KeySql>,
        version -> Integer,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    rule_settings (club_id, rule_id, version) {
        club_id -> KeySql,
        rule_id -> KeySql,
        version -> Integer,
        effective_on -> Nullable<DaySql>,
        withdrawn -> Bool,
        combine -> Text,
        plan_shots -> Nullable<Integer>,
        notice_shots -> Nullable<Integer>,
        grace_shots -> Nullable<Integer>,
        retire_shots -> Nullable<Integer>,
        checks_at_shots -> Nullable<Text>,
        plan_days -> Nullable<Integer>,
        notice_days -> Nullable<Integer>,
        grace_days -> Nullable<Integer>,
        retire_months -> Nullable<Integer>,
        notice_event_days -> Nullable<Integer>,
        findings -> Nullable<Text>,
        from_grade -> Nullable<Integer>,
        incidents -> Nullable<Text>,
        source -> Text,
        set_at -> UtcSql,
        set_by_member_id -> Nullable<KeySql>,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    outbox (club_id, id) {
        club_id -> KeySql,
        id -> KeySql,
        kind -> Text,
        recipient_member_id -> KeySql,
        for_date -> DaySql,
        dedupe_key -> Text,
        state -> Text,
        due_at -> UtcSql,
        attempt -> Integer,
        leased_until -> Nullable<UtcSql>,
        outcome -> Nullable<Text>,
        created_at -> UtcSql,
        finished_at -> Nullable<UtcSql>,
        link_id -> Nullable<KeySql>,
        wanted_at -> UtcSql,
        tried_at -> Nullable<UtcSql>,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    reminders (club_id, id) {
        club_id -> KeySql,
        id -> KeySql,
        kind -> Text,
        rule_id -> Nullable<KeySql>,
        task -> Nullable<Text>,
        part_id -> Nullable<KeySql>,
        bow_id -> Nullable<KeySql>,
        event_id -> Nullable<KeySql>,
        recipient_member_id -> KeySql,
        stage -> Text,
        cycle -> Text,
        reason -> Text,
        dedupe_key -> Text,
        state -> Text,
        raised_at -> UtcSql,
        mail_id -> KeySql,
        answered_at -> Nullable<UtcSql>,
        snoozed_until -> Nullable<UtcSql>,
        told -> Nullable<Text>,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    squads (club_id, id) {
        club_id -> KeySql,
        id -> KeySql,
        name -> Text,
        version -> Integer,
        created_at -> UtcSql,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    squad_members (club_id, squad_id, part, member_id) {
        club_id -> KeySql,
        squad_id -> KeySql,
        member_id -> KeySql,
        part -> Text,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    sign_ins (club_id, id) {
        club_id -> KeySql,
        id -> KeySql,
        member_id -> KeySql,
        generation -> Integer,
        created_at -> UtcSql,
        expires_at -> UtcSql,
        ended_at -> Nullable<UtcSql>,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    script_tokens (club_id, id) {
        club_id -> KeySql,
        id -> KeySql,
        member_id -> KeySql,
        name -> Text,
        scope -> Text,
        token_hash -> Text,
        created_at -> UtcSql,
        last_used_on -> Nullable<DaySql>,
        revoked_at -> Nullable<UtcSql>,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    one_time_links (club_id, id) {
        club_id -> KeySql,
        id -> KeySql,
        member_id -> KeySql,
        purpose -> Text,
        created_at -> UtcSql,
        expires_at -> UtcSql,
        used_at -> Nullable<UtcSql>,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    repeatable_requests (club_id, member_id, route, key) {
        club_id -> KeySql,
        member_id -> KeySql,
        route -> Text,
        key -> Text,
        body_hash -> Text,
        status -> Integer,
        location -> Nullable<Text>,
        etag -> Nullable<Text>,
        answer -> Text,
        created_at -> UtcSql,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    findings (club_id, upkeep_id, finding) {
        club_id -> KeySql,
        upkeep_id -> KeySql,
        finding -> Text,
        grade -> Integer,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    incidents (club_id, id) {
        club_id -> KeySql,
        id -> KeySql,
        bow_id -> KeySql,
        kind -> Text,
        at -> UtcSql,
        note -> Text,
        entered_by_member_id -> KeySql,
        received_at -> UtcSql,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    stops (club_id, part_id) {
        club_id -> KeySql,
        part_id -> KeySql,
        cause -> Text,
        at -> UtcSql,
        incident_id -> Nullable<KeySql>,
        upkeep_id -> Nullable<KeySql>,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    events (club_id, id) {
        club_id -> KeySql,
        id -> KeySql,
        name -> Text,
        starts_on -> DaySql,
        ends_on -> DaySql,
        priority -> Text,
        arrows_expected -> Integer,
        version -> Integer,
        cancelled_at -> Nullable<UtcSql>,
        created_by_member_id -> KeySql,
        created_at -> UtcSql,
        changed_at -> UtcSql,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    blocked_days (club_id, event_id, on_date) {
        club_id -> KeySql,
        event_id -> KeySql,
        on_date -> DaySql,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    entries (club_id, event_id, member_id, bow_id) {
        club_id -> KeySql,
        event_id -> KeySql,
        member_id -> KeySql,
        bow_id -> KeySql,
        spare_part_id -> Nullable<KeySql>,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    bow_clearances (club_id, id) {
        club_id -> KeySql,
        id -> KeySql,
        bow_id -> KeySql,
        at -> UtcSql,
        reason -> Text,
        entered_by_member_id -> KeySql,
        received_at -> UtcSql,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    bow_stops (club_id, bow_id) {
        club_id -> KeySql,
        bow_id -> KeySql,
        cause -> Text,
        at -> UtcSql,
        incident_id -> KeySql,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    bow_days (club_id, bow_id, on_date) {
        club_id -> KeySql,
        bow_id -> KeySql,
        on_date -> DaySql,
        shots -> BigInt,
        logs -> BigInt,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    audit (club_id, id) {
        club_id -> KeySql,
        id -> KeySql,
        at -> UtcSql,
        by_member_id -> Nullable<KeySql>,
        operation -> Text,
        subject -> Text,
        subject_id -> KeySql,
        bow_id -> Nullable<KeySql>,
        before -> Nullable<Text>,
        after -> Nullable<Text>,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    stopped_mail (club_id, member_id, kind) {
        club_id -> KeySql,
        member_id -> KeySql,
        kind -> Text,
        at -> UtcSql,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    disowned_bows (club_id, bow_id, member_id) {
        club_id -> KeySql,
        bow_id -> KeySql,
        member_id -> KeySql,
        at -> UtcSql,
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    feeds (club_id, id) {
        club_id -> KeySql,
        id -> KeySql,
        member_id -> KeySql,
        scope -> Text,
        name -> Text,
        token_hash -> Text,
        created_at -> UtcSql,
        last_read_on -> Nullable<DaySql>,
        revoked_at -> Nullable<UtcSql>,
    }
}

diesel::allow_tables_to_appear_in_same_query!(
    clubs,
    members,
    logins,
    bows,
    parts,
    fittings,
    shot_logs,
    wear,
    upkeep,
    rules,
    outbox,
    reminders,
    squads,
    squad_members,
    sign_ins,
    script_tokens,
    one_time_links,
    repeatable_requests,
    findings,
    incidents,
    stops,
    events,
    blocked_days,
    entries,
    rule_settings,
    bow_clearances,
    bow_stops,
    bow_days,
    audit,
    stopped_mail,
    disowned_bows,
    feeds
);
