-- A club, its people, bows and parts; the ledger; the rule book; reminders and the outbox.
--
-- Every key and index leads with club_id, so that a club's rows lie together and a query that
-- forgets the club is slow enough to be noticed. Exceptions say why.

CREATE TABLE clubs (
    club_id uuid NOT NULL,
    name text NOT NULL,
    time_zone text NOT NULL,
    digest_at text NOT NULL,
    created_at timestamptz NOT NULL,
    PRIMARY KEY (club_id)
);

CREATE TABLE members (
    club_id uuid NOT NULL REFERENCES clubs (club_id),
    id uuid NOT NULL,
    name text NOT NULL,
    email text NOT NULL,
    role text NOT NULL CHECK (role IN ('archer', 'coach', 'owner')),
    time_zone text,
    created_at timestamptz NOT NULL,
    PRIMARY KEY (club_id, id)
);

CREATE TABLE logins (
    email text NOT NULL,
    club_id uuid NOT NULL,
    member_id uuid NOT NULL,
    password_hash text NOT NULL,
    PRIMARY KEY (email), -- cross-club: who signs in has said no club yet
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id)
);
CREATE INDEX logins_member ON logins (club_id, member_id);

CREATE TABLE bows (
    club_id uuid NOT NULL REFERENCES clubs (club_id),
    id uuid NOT NULL,
    name text NOT NULL,
    division text NOT NULL
        CHECK (division IN ('recurve', 'compound', 'barebow', 'longbow', 'traditional')),
    bow_length_in double precision NOT NULL,
    draw_weight_lbf double precision NOT NULL,
    owner_member_id uuid,
    archer_member_id uuid,
    keeper_member_id uuid,
    created_at timestamptz NOT NULL,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, owner_member_id) REFERENCES members (club_id, id),
    FOREIGN KEY (club_id, archer_member_id) REFERENCES members (club_id, id),
    FOREIGN KEY (club_id, keeper_member_id) REFERENCES members (club_id, id)
);
CREATE INDEX bows_owner ON bows (club_id, owner_member_id);
CREATE INDEX bows_archer ON bows (club_id, archer_member_id);
CREATE INDEX bows_keeper ON bows (club_id, keeper_member_id);

CREATE TABLE parts (
    club_id uuid NOT NULL REFERENCES clubs (club_id),
    id uuid NOT NULL,
    kind text NOT NULL CHECK (kind IN (
        'string', 'cable', 'center_serving', 'end_serving', 'nocking_point', 'd_loop', 'peep',
        'cams', 'limbs', 'rest', 'plunger', 'other')),
    name text NOT NULL,
    material text,
    strands integer,
    made_on date,
    starting_shots integer,
    starting_at timestamptz,
    unit_cost_hundredths bigint,
    retired_at timestamptz,
    retired_end text CHECK (retired_end IN ('by_policy', 'worn', 'found_bad', 'broke', 'lost')),
    retired_reason text,
    created_at timestamptz NOT NULL,
    PRIMARY KEY (club_id, id),
    CHECK ((starting_shots IS NULL) = (starting_at IS NULL)),
    CHECK ((retired_at IS NULL) = (retired_end IS NULL)),
    CHECK ((retired_at IS NULL) = (retired_reason IS NULL))
);

CREATE TABLE fittings (
    club_id uuid NOT NULL,
    id uuid NOT NULL,
    part_id uuid NOT NULL,
    bow_id uuid,
    host_part_id uuid,
    from_at timestamptz NOT NULL,
    to_at timestamptz,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, part_id) REFERENCES parts (club_id, id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id),
    FOREIGN KEY (club_id, host_part_id) REFERENCES parts (club_id, id),
    CHECK ((bow_id IS NULL) <> (host_part_id IS NULL)),
    CHECK (to_at IS NULL OR from_at < to_at)
);
CREATE INDEX fittings_part ON fittings (club_id, part_id, from_at);
-- Each log asks what was under its bow. These two answer that by themselves; without the further
-- columns SQLite, which takes a club for about ten rows, reads every fitting of the club instead.
CREATE INDEX fittings_bow ON fittings (club_id, bow_id, from_at, to_at, part_id);
CREATE INDEX fittings_host ON fittings (club_id, host_part_id, from_at, to_at, part_id);

-- The ledger. Rows are added, never changed.
CREATE TABLE shot_logs (
    club_id uuid NOT NULL,
    id uuid NOT NULL,
    bow_id uuid NOT NULL,
    at timestamptz NOT NULL,
    stated_at timestamptz NOT NULL,
    date_only boolean NOT NULL,
    skew_s bigint,
    shots integer NOT NULL CHECK (shots BETWEEN 1 AND 2000),
    kind text NOT NULL CHECK (kind IN ('practice', 'scoring', 'competition', 'tuning')),
    note text NOT NULL,
    entered_by_member_id uuid NOT NULL,
    received_at timestamptz NOT NULL,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id),
    FOREIGN KEY (club_id, entered_by_member_id) REFERENCES members (club_id, id)
);
CREATE INDEX shot_logs_bow ON shot_logs (club_id, bow_id, at);
CREATE INDEX shot_logs_member ON shot_logs (club_id, entered_by_member_id);

-- Derived: what each clock of a part shows. Written in the transaction that changes the ledger,
-- the fittings or the upkeep; always equal to the sum it stands for.
CREATE TABLE wear (
    club_id uuid NOT NULL,
    part_id uuid NOT NULL,
    clock text NOT NULL,
    counts_from timestamptz NOT NULL,
    reset_at timestamptz,
    shots bigint NOT NULL,
    PRIMARY KEY (club_id, part_id, clock),
    FOREIGN KEY (club_id, part_id) REFERENCES parts (club_id, id)
) WITH (fillfactor = 70); -- room on the page, so that a count is raised in place

CREATE TABLE upkeep (
    club_id uuid NOT NULL,
    id uuid NOT NULL,
    part_id uuid NOT NULL,
    task text NOT NULL CHECK (task IN (
        'waxed', 'inspected', 're_served', 'nocking_point_set', 'brace_height_set', 'replaced',
        'other')),
    at timestamptz NOT NULL,
    note text NOT NULL,
    entered_by_member_id uuid NOT NULL,
    received_at timestamptz NOT NULL,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, part_id) REFERENCES parts (club_id, id),
    FOREIGN KEY (club_id, entered_by_member_id) REFERENCES members (club_id, id)
);
CREATE INDEX upkeep_part ON upkeep (club_id, part_id, task, at);
CREATE INDEX upkeep_member ON upkeep (club_id, entered_by_member_id);

CREATE TABLE rules (
    club_id uuid NOT NULL REFERENCES clubs (club_id),
    id uuid NOT NULL,
    part_kind text NOT NULL,
    task text NOT NULL
        CHECK (task IN ('wax', 'inspect', 're_serve', 'check_nocking_point', 'change')),
    plan_shots integer,
    notice_shots integer,
    grace_shots integer,
    retire_shots integer,
    plan_days integer,
    notice_days integer,
    grace_days integer,
    retire_months integer,
    source text NOT NULL,
    set_at timestamptz NOT NULL,
    set_by_member_id uuid,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, set_by_member_id) REFERENCES members (club_id, id)
);
CREATE INDEX rules_member ON rules (club_id, set_by_member_id);

CREATE TABLE outbox (
    club_id uuid NOT NULL,
    id uuid NOT NULL,
    kind text NOT NULL CHECK (kind IN ('digest')),
    recipient_member_id uuid NOT NULL,
    for_date date NOT NULL,
    dedupe_key text NOT NULL,
    state text NOT NULL CHECK (state IN (
        'due', 'sending', 'sent', 'retry', 'uncertain', 'cancelled', 'dead')),
    due_at timestamptz NOT NULL,
    attempt integer NOT NULL,
    leased_until timestamptz,
    outcome text,
    created_at timestamptz NOT NULL,
    finished_at timestamptz,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, recipient_member_id) REFERENCES members (club_id, id)
);
CREATE UNIQUE INDEX outbox_dedupe ON outbox (club_id, dedupe_key);
CREATE INDEX outbox_recipient ON outbox (club_id, recipient_member_id);
CREATE INDEX outbox_waiting ON outbox (due_at) -- cross-club: a worker serves every club
    WHERE state IN ('due', 'sending', 'retry', 'uncertain');

CREATE TABLE reminders (
    club_id uuid NOT NULL,
    id uuid NOT NULL,
    rule_id uuid NOT NULL,
    task text NOT NULL,
    part_id uuid NOT NULL,
    bow_id uuid NOT NULL,
    recipient_member_id uuid NOT NULL,
    stage text NOT NULL CHECK (stage IN ('nearing', 'due', 'overdue')),
    cycle text NOT NULL,
    reason text NOT NULL,
    dedupe_key text NOT NULL,
    state text NOT NULL CHECK (state IN ('raised', 'sent', 'cancelled')),
    raised_at timestamptz NOT NULL,
    mail_id uuid NOT NULL,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, rule_id) REFERENCES rules (club_id, id),
    FOREIGN KEY (club_id, part_id) REFERENCES parts (club_id, id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id),
    FOREIGN KEY (club_id, recipient_member_id) REFERENCES members (club_id, id),
    FOREIGN KEY (club_id, mail_id) REFERENCES outbox (club_id, id)
);
CREATE UNIQUE INDEX reminders_dedupe ON reminders (club_id, dedupe_key);
CREATE INDEX reminders_rule ON reminders (club_id, rule_id);
CREATE INDEX reminders_part ON reminders (club_id, part_id);
CREATE INDEX reminders_bow ON reminders (club_id, bow_id);
CREATE INDEX reminders_recipient ON reminders (club_id, recipient_member_id);
CREATE INDEX reminders_mail ON reminders (club_id, mail_id);
