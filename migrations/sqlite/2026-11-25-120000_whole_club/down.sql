-- Back to the first schema. What it has no place for is lost: events, incidents, squads, sign-ins.
DELETE FROM reminders WHERE kind <> 'maintenance' OR stage NOT IN ('nearing', 'due', 'overdue')
    OR task IN ('settle_in', 'check_settling', 'sight_in');
DELETE FROM reminders WHERE mail_id IN (SELECT id FROM outbox WHERE kind <> 'digest');
DELETE FROM outbox WHERE kind <> 'digest';
DELETE FROM rules WHERE task IN ('settle_in', 'check_settling', 'sight_in');
-- A log becomes what its last correction says, under the id of that correction; a void one goes.
DELETE FROM shot_logs WHERE NOT counts;
UPDATE shot_logs SET corrects_id = NULL;
CREATE TABLE shot_logs_old (
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
INSERT INTO shot_logs_old SELECT
    club_id, id, bow_id, at, stated_at, date_only, skew_s, shots, kind, note, entered_by_member_id,
    received_at
FROM shot_logs;
DROP TABLE shot_logs;
ALTER TABLE shot_logs_old RENAME TO shot_logs;
CREATE INDEX shot_logs_bow ON shot_logs (club_id, bow_id, at);
CREATE INDEX shot_logs_member ON shot_logs (club_id, entered_by_member_id);

CREATE TABLE reminders_old (
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
INSERT INTO reminders_old SELECT
    club_id, id, rule_id, task, part_id, bow_id, recipient_member_id, stage, cycle, reason, dedupe_key,
    state, raised_at, mail_id
FROM reminders;
DROP TABLE reminders;
ALTER TABLE reminders_old RENAME TO reminders;
CREATE UNIQUE INDEX reminders_dedupe ON reminders (club_id, dedupe_key);
CREATE INDEX reminders_rule ON reminders (club_id, rule_id);
CREATE INDEX reminders_part ON reminders (club_id, part_id);
CREATE INDEX reminders_bow ON reminders (club_id, bow_id);
CREATE INDEX reminders_recipient ON reminders (club_id, recipient_member_id);
CREATE INDEX reminders_mail ON reminders (club_id, mail_id);

CREATE TABLE outbox_old (
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
INSERT INTO outbox_old SELECT
    club_id, id, kind, recipient_member_id, for_date, dedupe_key, state, due_at, attempt, leased_until,
    outcome, created_at, finished_at
FROM outbox;
DROP TABLE outbox;
ALTER TABLE outbox_old RENAME TO outbox;
CREATE UNIQUE INDEX outbox_dedupe ON outbox (club_id, dedupe_key);
CREATE INDEX outbox_recipient ON outbox (club_id, recipient_member_id);
CREATE INDEX outbox_waiting ON outbox (due_at) -- cross-club: a worker serves every club
    WHERE state IN ('due', 'sending', 'retry', 'uncertain');

CREATE TABLE rules_old (
    club_id BLOB NOT NULL REFERENCES clubs (club_id),
    id BLOB NOT NULL CHECK (length(id) = 16),
    part_kind TEXT NOT NULL,
    task TEXT NOT NULL CHECK (task IN (
        'wax', 'inspect', 're_serve', 'check_nocking_point', 'change')),
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
INSERT INTO rules_old SELECT
    club_id, id, part_kind, task, plan_shots, notice_shots, grace_shots, retire_shots, plan_days,
    notice_days, grace_days, retire_months, source, set_at, set_by_member_id
FROM rules;
DROP TABLE rules;
ALTER TABLE rules_old RENAME TO rules;
CREATE INDEX rules_member ON rules (club_id, set_by_member_id);

DELETE FROM wear WHERE clock IN ('brace_height_set', 'nocking_point_set') AND part_id IN (
    SELECT id FROM parts WHERE kind IN ('string', 'cable'));
DROP TABLE entries;
DROP TABLE blocked_days;
DROP TABLE events;
DROP TABLE stops;
DROP TABLE incidents;
DROP TABLE findings;
DROP TABLE repeatable_requests;
DROP TABLE script_tokens;
DROP TABLE sign_ins;
DROP TABLE squad_members;
DROP TABLE squads;
DROP TABLE one_time_links;
DROP INDEX members_email;
ALTER TABLE upkeep DROP COLUMN clears;
ALTER TABLE upkeep DROP COLUMN measured_mm;
ALTER TABLE bows DROP COLUMN version;
ALTER TABLE members DROP COLUMN version;
ALTER TABLE members DROP COLUMN left_at;
ALTER TABLE members DROP COLUMN guardian_consented_on;
ALTER TABLE members DROP COLUMN guardian_email;
ALTER TABLE members DROP COLUMN guardian_name;
ALTER TABLE members DROP COLUMN minor_until;
ALTER TABLE members DROP COLUMN quiet_until;
ALTER TABLE members DROP COLUMN quiet_from;
ALTER TABLE clubs DROP COLUMN version;
ALTER TABLE clubs DROP COLUMN stages_days;
ALTER TABLE clubs DROP COLUMN bench_jobs_per_week;
ALTER TABLE clubs DROP COLUMN currency;
ALTER TABLE clubs DROP COLUMN quiet_until;
ALTER TABLE clubs DROP COLUMN quiet_from;
