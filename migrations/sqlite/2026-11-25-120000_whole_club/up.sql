-- The whole club: squads, guardians, sign-ins, script tokens and one-time links; corrections of logs;
-- findings, incidents and the stops they lead to; events; and a rule book and outbox that know them.
-- SQLite cannot change a CHECK or add a composite foreign key: those tables are written anew. Foreign
-- keys are off while migrations run, and checked at their end.

CREATE TABLE squads (
    club_id BLOB NOT NULL REFERENCES clubs (club_id),
    id BLOB NOT NULL CHECK (length(id) = 16),
    name TEXT NOT NULL,
    version INTEGER NOT NULL,
    created_at INTEGER NOT NULL,
    PRIMARY KEY (club_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE squad_members (
    club_id BLOB NOT NULL,
    squad_id BLOB NOT NULL,
    member_id BLOB NOT NULL,
    part TEXT NOT NULL CHECK (part IN ('coach', 'archer')),
    PRIMARY KEY (club_id, squad_id, part, member_id),
    FOREIGN KEY (club_id, squad_id) REFERENCES squads (club_id, id),
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX squad_members_member ON squad_members (club_id, member_id, part);

-- One row for each device that somebody signed in on. Its refresh token names the generation; one of
-- an earlier generation that comes back was stolen or lost, and ends the sign-in.
CREATE TABLE sign_ins (
    club_id BLOB NOT NULL,
    id BLOB NOT NULL CHECK (length(id) = 16),
    member_id BLOB NOT NULL,
    generation INTEGER NOT NULL,
    created_at INTEGER NOT NULL,
    expires_at INTEGER NOT NULL,
    ended_at INTEGER,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX sign_ins_member ON sign_ins (club_id, member_id);

CREATE TABLE script_tokens (
    club_id BLOB NOT NULL,
    id BLOB NOT NULL CHECK (length(id) = 16),
    member_id BLOB NOT NULL,
    name TEXT NOT NULL,
    scope TEXT NOT NULL CHECK (scope IN ('log', 'read')),
    token_hash TEXT NOT NULL,
    created_at INTEGER NOT NULL,
    last_used_on TEXT,
    revoked_at INTEGER,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX script_tokens_member ON script_tokens (club_id, member_id);
CREATE UNIQUE INDEX script_tokens_hash -- cross-club: who bears it has said no club
    ON script_tokens (token_hash);

-- Links that are mailed and work once. What stands in the mail is sealed, and never kept here.
CREATE TABLE one_time_links (
    club_id BLOB NOT NULL,
    id BLOB NOT NULL CHECK (length(id) = 16),
    member_id BLOB NOT NULL,
    purpose TEXT NOT NULL CHECK (purpose IN ('invitation', 'reset')),
    created_at INTEGER NOT NULL,
    expires_at INTEGER NOT NULL,
    used_at INTEGER,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX one_time_links_member ON one_time_links (club_id, member_id, purpose);

-- What was answered to a request that may come again.
CREATE TABLE repeatable_requests (
    club_id BLOB NOT NULL,
    member_id BLOB NOT NULL,
    route TEXT NOT NULL,
    key TEXT NOT NULL,
    body_hash TEXT NOT NULL,
    status INTEGER NOT NULL,
    location TEXT,
    etag TEXT,
    answer TEXT NOT NULL,
    created_at INTEGER NOT NULL,
    PRIMARY KEY (club_id, member_id, route, key),
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX repeatable_requests_age -- cross-club: old ones of all clubs are forgotten
    ON repeatable_requests (created_at);

CREATE TABLE findings (
    club_id BLOB NOT NULL,
    upkeep_id BLOB NOT NULL,
    finding TEXT NOT NULL,
    grade INTEGER NOT NULL CHECK (grade BETWEEN 0 AND 3),
    PRIMARY KEY (club_id, upkeep_id, finding),
    FOREIGN KEY (club_id, upkeep_id) REFERENCES upkeep (club_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE incidents (
    club_id BLOB NOT NULL,
    id BLOB NOT NULL CHECK (length(id) = 16),
    bow_id BLOB NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN (
        'dry_fire', 'strand_cut', 'soaked', 'overheated', 'limb_damage', 'other')),
    at INTEGER NOT NULL,
    note TEXT NOT NULL,
    entered_by_member_id BLOB NOT NULL,
    received_at INTEGER NOT NULL,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id),
    FOREIGN KEY (club_id, entered_by_member_id) REFERENCES members (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX incidents_bow ON incidents (club_id, bow_id, at);
CREATE INDEX incidents_member ON incidents (club_id, entered_by_member_id);

-- Derived: which parts must not be shot now, and the last cause why. Written in the transaction that
-- changes findings, incidents, inspections or fittings.
CREATE TABLE stops (
    club_id BLOB NOT NULL,
    part_id BLOB NOT NULL,
    cause TEXT NOT NULL,
    at INTEGER NOT NULL,
    incident_id BLOB,
    upkeep_id BLOB,
    PRIMARY KEY (club_id, part_id),
    FOREIGN KEY (club_id, part_id) REFERENCES parts (club_id, id),
    FOREIGN KEY (club_id, incident_id) REFERENCES incidents (club_id, id),
    FOREIGN KEY (club_id, upkeep_id) REFERENCES upkeep (club_id, id),
    CHECK ((incident_id IS NULL) <> (upkeep_id IS NULL))
) STRICT, WITHOUT ROWID;
CREATE INDEX stops_incident ON stops (club_id, incident_id);
CREATE INDEX stops_upkeep ON stops (club_id, upkeep_id);

CREATE TABLE events (
    club_id BLOB NOT NULL,
    id BLOB NOT NULL CHECK (length(id) = 16),
    name TEXT NOT NULL,
    starts_on TEXT NOT NULL,
    ends_on TEXT NOT NULL,
    priority TEXT NOT NULL CHECK (priority IN ('major', 'regular', 'minor')),
    arrows_expected INTEGER NOT NULL,
    version INTEGER NOT NULL,
    cancelled_at INTEGER,
    created_by_member_id BLOB NOT NULL,
    created_at INTEGER NOT NULL,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, created_by_member_id) REFERENCES members (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX events_dates ON events (club_id, ends_on);
CREATE INDEX events_member ON events (club_id, created_by_member_id);

-- Days on which nothing is changed: travel, the event itself.
CREATE TABLE blocked_days (
    club_id BLOB NOT NULL,
    event_id BLOB NOT NULL,
    on_date TEXT NOT NULL,
    PRIMARY KEY (club_id, event_id, on_date),
    FOREIGN KEY (club_id, event_id) REFERENCES events (club_id, id)
) STRICT, WITHOUT ROWID;

-- Who goes, with which bow, and which spare string in the case.
CREATE TABLE entries (
    club_id BLOB NOT NULL,
    event_id BLOB NOT NULL,
    member_id BLOB NOT NULL,
    bow_id BLOB NOT NULL,
    spare_part_id BLOB,
    PRIMARY KEY (club_id, event_id, member_id, bow_id),
    FOREIGN KEY (club_id, event_id) REFERENCES events (club_id, id),
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id),
    FOREIGN KEY (club_id, spare_part_id) REFERENCES parts (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX entries_member ON entries (club_id, member_id);
CREATE INDEX entries_bow ON entries (club_id, bow_id);
CREATE INDEX entries_spare ON entries (club_id, spare_part_id);

ALTER TABLE clubs ADD COLUMN quiet_from TEXT NOT NULL DEFAULT '21:00';
ALTER TABLE clubs ADD COLUMN quiet_until TEXT NOT NULL DEFAULT '07:00';
ALTER TABLE clubs ADD COLUMN currency TEXT NOT NULL DEFAULT 'EUR';
ALTER TABLE clubs ADD COLUMN bench_jobs_per_week INTEGER NOT NULL DEFAULT 4;
ALTER TABLE clubs ADD COLUMN stages_days TEXT NOT NULL DEFAULT '28,14,7,2';
ALTER TABLE clubs ADD COLUMN version INTEGER NOT NULL DEFAULT 1;

ALTER TABLE members ADD COLUMN quiet_from TEXT;
ALTER TABLE members ADD COLUMN quiet_until TEXT;
ALTER TABLE members ADD COLUMN minor_until TEXT;
ALTER TABLE members ADD COLUMN guardian_name TEXT;
ALTER TABLE members ADD COLUMN guardian_email TEXT;
ALTER TABLE members ADD COLUMN guardian_consented_on TEXT;
ALTER TABLE members ADD COLUMN left_at INTEGER;
ALTER TABLE members ADD COLUMN version INTEGER NOT NULL DEFAULT 1;
-- Two people of a club who have not left never share an address.
CREATE UNIQUE INDEX members_email ON members (club_id, email) WHERE left_at IS NULL;

ALTER TABLE bows ADD COLUMN version INTEGER NOT NULL DEFAULT 1;
ALTER TABLE upkeep ADD COLUMN measured_mm REAL;
-- An inspection by a coach or owner who gave a reason: it lifts what forbids shooting.
ALTER TABLE upkeep ADD COLUMN clears INTEGER NOT NULL DEFAULT 0 CHECK (clears IN (0, 1));

-- An entry may correct another: the last of a chain counts, unless it is void. `counts` is derived.
CREATE TABLE shot_logs_new (
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
    corrects_id BLOB,
    seq INTEGER NOT NULL,
    void INTEGER NOT NULL CHECK (void IN (0, 1)),
    counts INTEGER NOT NULL CHECK (counts IN (0, 1)),
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id),
    FOREIGN KEY (club_id, entered_by_member_id) REFERENCES members (club_id, id),
    FOREIGN KEY (club_id, corrects_id) REFERENCES shot_logs (club_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO shot_logs_new SELECT
    club_id, id, bow_id, at, stated_at, date_only, skew_s, shots, kind, note, entered_by_member_id,
    received_at, NULL, 0, 0, 1
FROM shot_logs;
DROP TABLE shot_logs;
ALTER TABLE shot_logs_new RENAME TO shot_logs;
CREATE INDEX shot_logs_bow ON shot_logs (club_id, bow_id, at, counts, shots);
CREATE INDEX shot_logs_member ON shot_logs (club_id, entered_by_member_id);
CREATE INDEX shot_logs_corrects ON shot_logs (club_id, corrects_id, seq);

CREATE TABLE rules_new (
    club_id BLOB NOT NULL REFERENCES clubs (club_id),
    id BLOB NOT NULL CHECK (length(id) = 16),
    part_kind TEXT NOT NULL,
    task TEXT NOT NULL CHECK (task IN (
        'wax', 'inspect', 're_serve', 'check_nocking_point', 'change', 'settle_in',
        'check_settling', 'sight_in')),
    plan_shots INTEGER,
    notice_shots INTEGER,
    grace_shots INTEGER,
    retire_shots INTEGER,
    checks_at_shots TEXT,
    plan_days INTEGER,
    notice_days INTEGER,
    grace_days INTEGER,
    retire_months INTEGER,
    source TEXT NOT NULL,
    set_at INTEGER NOT NULL,
    set_by_member_id BLOB,
    version INTEGER NOT NULL,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, set_by_member_id) REFERENCES members (club_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO rules_new (
    club_id, id, part_kind, task, plan_shots, notice_shots, grace_shots, retire_shots, plan_days,
    notice_days, grace_days, retire_months, source, set_at, set_by_member_id, version)
SELECT
    club_id, id, part_kind, task, plan_shots, notice_shots, grace_shots, retire_shots, plan_days,
    notice_days, grace_days, retire_months, source, set_at, set_by_member_id, 1
FROM rules;
DROP TABLE rules;
ALTER TABLE rules_new RENAME TO rules;
CREATE INDEX rules_member ON rules (club_id, set_by_member_id);

-- The lines that the rule book of a new club has besides, for the clubs that are there already.
INSERT INTO rules (club_id, id, part_kind, task, plan_shots, notice_shots, grace_shots, plan_days,
    notice_days, grace_days, source, set_at, version)
SELECT club_id, randomblob(16), 'string', 'check_nocking_point', 1000, 150, 200, 30, 0, 6,
    'common practice, no source', created_at, 1 FROM clubs
WHERE NOT EXISTS (SELECT 1 FROM rules WHERE rules.club_id = clubs.club_id
    AND part_kind = 'string' AND task = 'check_nocking_point');
INSERT INTO rules (club_id, id, part_kind, task, plan_shots, notice_shots, grace_shots, source, set_at,
    version)
SELECT club_id, randomblob(16), 'string', 'settle_in', 200, 0, 0, 'common practice, no source', created_at, 1
FROM clubs;
INSERT INTO rules (club_id, id, part_kind, task, checks_at_shots, source, set_at, version)
SELECT club_id, randomblob(16), 'string', 'check_settling', '0,50,100,200',
    'common practice, no source', created_at, 1
FROM clubs;
INSERT INTO rules (club_id, id, part_kind, task, plan_shots, notice_shots, grace_shots, source, set_at,
    version)
SELECT club_id, randomblob(16), 'string', 'sight_in', 72, 0, 0, 'common practice, no source', created_at, 1
FROM clubs;

CREATE TABLE outbox_new (
    club_id BLOB NOT NULL,
    id BLOB NOT NULL CHECK (length(id) = 16),
    kind TEXT NOT NULL CHECK (kind IN (
        'digest', 'stop', 'event', 'squad', 'invitation', 'reset')),
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
    link_id BLOB,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, recipient_member_id) REFERENCES members (club_id, id),
    FOREIGN KEY (club_id, link_id) REFERENCES one_time_links (club_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO outbox_new SELECT
    club_id, id, kind, recipient_member_id, for_date, dedupe_key, state, due_at, attempt, leased_until,
    outcome, created_at, finished_at, NULL
FROM outbox;
DROP TABLE outbox;
ALTER TABLE outbox_new RENAME TO outbox;
CREATE UNIQUE INDEX outbox_dedupe ON outbox (club_id, dedupe_key);
CREATE INDEX outbox_recipient ON outbox (club_id, recipient_member_id);
CREATE INDEX outbox_waiting ON outbox (due_at) -- cross-club: a worker serves every club
    WHERE state IN ('due', 'sending', 'retry', 'uncertain');
CREATE INDEX outbox_link ON outbox (club_id, link_id);

CREATE TABLE reminders_new (
    club_id BLOB NOT NULL,
    id BLOB NOT NULL CHECK (length(id) = 16),
    kind TEXT NOT NULL CHECK (kind IN ('maintenance', 'stop', 'event')),
    rule_id BLOB,
    task TEXT,
    part_id BLOB,
    bow_id BLOB,
    event_id BLOB,
    recipient_member_id BLOB NOT NULL,
    stage TEXT NOT NULL,
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
    FOREIGN KEY (club_id, event_id) REFERENCES events (club_id, id),
    FOREIGN KEY (club_id, recipient_member_id) REFERENCES members (club_id, id),
    FOREIGN KEY (club_id, mail_id) REFERENCES outbox (club_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO reminders_new SELECT
    club_id, id, 'maintenance', rule_id, task, part_id, bow_id, NULL, recipient_member_id, stage, cycle,
    reason, dedupe_key, state, raised_at, mail_id
FROM reminders;
DROP TABLE reminders;
ALTER TABLE reminders_new RENAME TO reminders;
CREATE UNIQUE INDEX reminders_dedupe ON reminders (club_id, dedupe_key);
CREATE INDEX reminders_rule ON reminders (club_id, rule_id);
CREATE INDEX reminders_part ON reminders (club_id, part_id);
CREATE INDEX reminders_bow ON reminders (club_id, bow_id);
CREATE INDEX reminders_recipient ON reminders (club_id, recipient_member_id);
CREATE INDEX reminders_mail ON reminders (club_id, mail_id);
CREATE INDEX reminders_event ON reminders (club_id, event_id);
