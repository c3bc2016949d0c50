-- A club, its people, bows and parts; the ledger; the rule book; reminders and the outbox.
--
-- Every key and index leads with club_id, so that a club's rows lie together and a query that
-- forgets the club is slow enough to be noticed. Exceptions say why.
-- Ids are 16-byte UUIDs, times are microseconds since 1970 in UTC, dates are YYYY-MM-DD.

CREATE TABLE clubs (
    club_id BLOB NOT NULL CHECK (length(club_id) = 16),
    name TEXT NOT NULL,
    time_zone TEXT NOT NULL,
    digest_at TEXT NOT NULL,
    created_at INTEGER NOT NULL,
    PRIMARY KEY (club_id)
) STRICT, WITHOUT ROWID;

CREATE TABLE members (
    club_id BLOB NOT NULL REFERENCES clubs (club_id),
    id BLOB NOT NULL CHECK (length(id) = 16),
    name TEXT NOT NULL,
    email TEXT NOT NULL,
    role TEXT NOT NULL CHECK (role IN ('archer', 'coach', 'owner')),
    time_zone TEXT,
    created_at INTEGER NOT NULL,
    PRIMARY KEY (club_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE logins (
    email TEXT NOT NULL,
    club_id BLOB NOT NULL,
    member_id BLOB NOT NULL,
    password_hash TEXT NOT NULL,
    PRIMARY KEY (email), -- cross-club: who signs in has said no club yet
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX logins_member ON logins (club_id, member_id);

CREATE TABLE bows (
    club_id BLOB NOT NULL REFERENCES clubs (club_id),
    id BLOB NOT NULL CHECK (length(id) = 16),
    name TEXT NOT NULL,
    division TEXT NOT NULL
        CHECK (division IN ('recurve', 'compound', 'barebow', 'longbow', 'traditional')),
    bow_length_in REAL NOT NULL,
    draw_weight_lbf REAL NOT NULL,
    owner_member_id BLOB,
    archer_member_id BLOB,
    keeper_member_id BLOB,
    created_at INTEGER NOT NULL,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, owner_member_id) REFERENCES members (club_id, id),
    FOREIGN KEY (club_id, archer_member_id) REFERENCES members (club_id, id),
    FOREIGN KEY (club_id, keeper_member_id) REFERENCES members (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX bows_owner ON bows (club_id, owner_member_id);
CREATE INDEX bows_archer ON bows (club_id, archer_member_id);
CREATE INDEX bows_keeper ON bows (club_id, keeper_member_id);

CREATE TABLE parts (
    club_id BLOB NOT NULL REFERENCES clubs (club_id),
    id BLOB NOT NULL CHECK (length(id) = 16),
    kind TEXT NOT NULL CHECK (kind IN (
        'string', 'cable', 'center_serving', 'end_serving', 'nocking_point', 'd_loop', 'peep',
        'cams', 'limbs', 'rest', 'plunger', 'other')),
    name TEXT NOT NULL,
    material TEXT,
    strands INTEGER,
    made_on TEXT,
    starting_shots INTEGER,
    starting_at INTEGER,
    unit_cost_hundredths INTEGER,
    retired_at INTEGER,
    retired_end TEXT CHECK (retired_end IN ('by_policy', 'worn', 'found_bad', 'broke', 'lost')),
    retired_reason TEXT,
    created_at INTEGER NOT NULL,
    PRIMARY KEY (club_id, id),
    CHECK ((starting_shots IS NULL) = (starting_at IS NULL)),
    CHECK ((retired_at IS NULL) = (retired_end IS NULL)),
    CHECK ((retired_at IS NULL) = (retired_reason IS NULL))
) STRICT, WITHOUT ROWID;

CREATE TABLE fittings (
    club_id BLOB NOT NULL,
    id BLOB NOT NULL CHECK (length(id) = 16),
    part_id BLOB NOT NULL,
    bow_id BLOB,
    host_part_id BLOB,
    from_at INTEGER NOT NULL,
    to_at INTEGER,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, part_id) REFERENCES parts (club_id, id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id),
    FOREIGN KEY (club_id, host_part_id) REFERENCES parts (club_id, id),
    CHECK ((bow_id IS NULL) <> (host_part_id IS NULL)),
    CHECK (to_at IS NULL OR from_at < to_at)
) STRICT, WITHOUT ROWID;
CREATE INDEX fittings_part ON fittings (club_id, part_id, from_at);
-- Each log asks what was under its bow. These two answer that by themselves; without the further
-- columns SQLite, which takes a club for about ten rows, reads every fitting of the club instead.
CREATE INDEX fittings_bow ON fittings (club_id, bow_id, from_at, to_at, part_id);
CREATE INDEX fittings_host ON fittings (club_id, host_part_id, from_at, to_at, part_id);

-- The ledger. Rows are added, never changed.
CREATE TABLE shot_logs (
    club_id BLOB NOT NULL,
    id BLOB NOT NULL CHECK (length(id) = 16),
    bow_id BLOB NOT NULL,
    at INTEGER NOT NULL,
    stated_at INTEGER NOT NULL,
    date_only INTEGER NOT NULL CHECK (date_only IN (0, 1)),
    skew_s INTEGER,
    shots INTEGER NOT NULL CHECK (shots BETWEEN 1 AND 2000),
    kind TEXT NOT NULL CHECK (kind IN ('practice', 'scoring', 'competition', 'tuning')),
    note TEXT NOT NULL,
    entered_by_member_id BLOB NOT NULL,
    received_at INTEGER NOT NULL,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id),
    FOREIGN KEY (club_id, entered_by_member_id) REFERENCES members (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX shot_logs_bow ON shot_logs (club_id, bow_id, at);
CREATE INDEX shot_logs_member ON shot_logs (club_id, entered_by_member_id);

-- Derived: what each clock of a part shows. Written in the transaction that changes the ledger,
-- the fittings or the upkeep; always equal to the sum it stands for.
CREATE TABLE wear (
    club_id BLOB NOT NULL,
    part_id BLOB NOT NULL,
    clock TEXT NOT NULL,
    counts_from INTEGER NOT NULL,
    reset_at INTEGER,
    shots INTEGER NOT NULL,
    PRIMARY KEY (club_id, part_id, clock),
    FOREIGN KEY (club_id, part_id) REFERENCES parts (club_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE upkeep (
    club_id BLOB NOT NULL,
    id BLOB NOT NULL CHECK (length(id) = 16),
    part_id BLOB NOT NULL,
    task TEXT NOT NULL CHECK (task IN (
        'waxed', 'inspected', 're_served', 'nocking_point_set', 'brace_height_set', 'replaced',
        'other')),
    at INTEGER NOT NULL,
    note TEXT NOT NULL,
    entered_by_member_id BLOB NOT NULL,
    received_at INTEGER NOT NULL,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, part_id) REFERENCES parts (club_id, id),
    FOREIGN KEY (club_id, entered_by_member_id) REFERENCES members (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX upkeep_part ON upkeep (club_id, part_id, task, at);
CREATE INDEX upkeep_member ON upkeep (club_id, entered_by_member_id);

CREATE TABLE rules (
    club_id BLOB NOT NULL REFERENCES clubs (club_id),
    id BLOB NOT NULL CHECK (length(id) = 16),
    part_kind TEXT NOT NULL,
    task TEXT NOT NULL
        CHECK (task IN ('wax', 'inspect', 're_serve', 'check_nocking_point', 'change')),
    plan_shots INTEGER,
    notice_shots INTEGER,
    grace_shots INTEGER,
    retire_shots INTEGER,
    plan_days INTEGER,
    notice_days INTEGER,
    grace_days INTEGER,
    retire_months INTEGER,
    source TEXT NOT NULL,
    set_at INTEGER NOT NULL,
    set_by_member_id BLOB,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, set_by_member_id) REFERENCES members (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX rules_member ON rules (club_id, set_by_member_id);

CREATE TABLE outbox (
    club_id BLOB NOT NULL,
    id BLOB NOT NULL CHECK (length(id) = 16),
    kind TEXT NOT NULL CHECK (kind IN ('digest')),
    recipient_member_id BLOB NOT NULL,
    for_date TEXT NOT NULL,
    dedupe_key TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN (
        'due', 'sending', 'sent', 'retry', 'uncertain', 'cancelled', 'dead')),
    due_at INTEGER NOT NULL,
    attempt INTEGER NOT NULL,
    leased_until INTEGER,
    outcome TEXT,
    created_at INTEGER NOT NULL,
    finished_at INTEGER,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, recipient_member_id) REFERENCES members (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX outbox_dedupe ON outbox (club_id, dedupe_key);
CREATE INDEX outbox_recipient ON outbox (club_id, recipient_member_id);
CREATE INDEX outbox_waiting ON outbox (due_at) -- cross-club: a worker serves every club
    WHERE state IN ('due', 'sending', 'retry', 'uncertain');

CREATE TABLE reminders (
    club_id BLOB NOT NULL,
    id BLOB NOT NULL CHECK (length(id) = 16),
    rule_id BLOB NOT NULL,
    task TEXT NOT NULL,
    part_id BLOB NOT NULL,
    bow_id BLOB NOT NULL,
    recipient_member_id BLOB NOT NULL,
    stage TEXT NOT NULL CHECK (stage IN ('nearing', 'due', 'overdue')),
    cycle TEXT NOT NULL,
    reason TEXT NOT NULL,
    dedupe_key TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('raised', 'sent', 'cancelled')),
    raised_at INTEGER NOT NULL,
    mail_id BLOB NOT NULL,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, rule_id) REFERENCES rules (club_id, id),
    FOREIGN KEY (club_id, part_id) REFERENCES parts (club_id, id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id),
    FOREIGN KEY (club_id, recipient_member_id) REFERENCES members (club_id, id),
    FOREIGN KEY (club_id, mail_id) REFERENCES outbox (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX reminders_dedupe ON reminders (club_id, dedupe_key);
CREATE INDEX reminders_rule ON reminders (club_id, rule_id);
CREATE INDEX reminders_part ON reminders (club_id, part_id);
CREATE INDEX reminders_bow ON reminders (club_id, bow_id);
CREATE INDEX reminders_recipient ON reminders (club_id, recipient_member_id);
CREATE INDEX reminders_mail ON reminders (club_id, mail_id);
