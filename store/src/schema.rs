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
        plan_shots -> Nullable<Integer>,
        notice_shots -> Nullable<Integer>,
        grace_shots -> Nullable<Integer>,
        retire_shots -> Nullable<Integer>,
        plan_days -> Nullable<Integer>,
        notice_days -> Nullable<Integer>,
        grace_days -> Nullable<Integer>,
        retire_months -> Nullable<Integer>,
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
    }
}

diesel::table! {
    use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
    use super::{DaySql, KeySql, UtcSql};

    reminders (club_id, id) {
        club_id -> KeySql,
        id -> KeySql,
        rule_id -> KeySql,
        task -> Text,
        part_id -> KeySql,
        bow_id -> KeySql,
        recipient_member_id -> KeySql,
        stage -> Text,
        cycle -> Text,
        reason -> Text,
        dedupe_key -> Text,
        state -> Text,
        raised_at -> UtcSql,
        mail_id -> KeySql,
    }
}

diesel::allow_tables_to_appear_in_same_query!(
    clubs, members, logins, bows, parts, fittings, shot_logs, wear, upkeep, rules, outbox,
    reminders
);
