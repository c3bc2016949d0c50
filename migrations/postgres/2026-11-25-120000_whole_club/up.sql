-- The whole club: squads, guardians, sign-ins, script tokens and one-time links; corrections of logs;
-- findings, incidents and the stops they lead to; events; and a rule book and outbox that know them.

CREATE TABLE squads (
    club_id uuid NOT NULL REFERENCES clubs (club_id),
    id uuid NOT NULL,
    name text NOT NULL,
    version integer NOT NULL,
    created_at timestamptz NOT NULL,
    PRIMARY KEY (club_id, id)
);

CREATE TABLE squad_members (
    club_id uuid NOT NULL,
    squad_id uuid NOT NULL,
    member_id uuid NOT NULL,
    part text NOT NULL CHECK (part IN ('coach', 'archer')),
    PRIMARY KEY (club_id, squad_id, part, member_id),
    FOREIGN KEY (club_id, squad_id) REFERENCES squads (club_id, id),
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id)
);
CREATE INDEX squad_members_member ON squad_members (club_id, member_id, part);

-- One row for each device that somebody signed in on. Its refresh token names the generation; one of
-- an earlier generation that comes back was stolen or lost, and ends the sign-in.
CREATE TABLE sign_ins (
    club_id uuid NOT NULL,
    id uuid NOT NULL,
    member_id uuid NOT NULL,
    generation integer NOT NULL,
    created_at timestamptz NOT NULL,
    expires_at timestamptz NOT NULL,
    ended_at timestamptz,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id)
);
CREATE INDEX sign_ins_member ON sign_ins (club_id, member_id);

CREATE TABLE script_tokens (
    club_id uuid NOT NULL,
    id uuid NOT NULL,
    member_id uuid NOT NULL,
    name text NOT NULL,
    scope text NOT NULL CHECK (scope IN ('log', 'read')),
    token_hash text NOT NULL,
    created_at timestamptz NOT NULL,
    last_used_on date,
    revoked_at timestamptz,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id)
);
CREATE INDEX script_tokens_member ON script_tokens (club_id, member_id);
CREATE UNIQUE INDEX script_tokens_hash -- cross-club: who bears it has said no club
    ON script_tokens (token_hash);

-- Links that are mailed and work once. What stands in the mail is sealed, and never kept here.
CREATE TABLE one_time_links (
    club_id uuid NOT NULL,
    id uuid NOT NULL,
    member_id uuid NOT NULL,
    purpose text NOT NULL CHECK (purpose IN ('invitation', 'reset')),
    created_at timestamptz NOT NULL,
    expires_at timestamptz NOT NULL,
    used_at timestamptz,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id)
);
CREATE INDEX one_time_links_member ON one_time_links (club_id, member_id, purpose);

-- What was answered to a request that may come again.
CREATE TABLE repeatable_requests (
    club_id uuid NOT NULL,
    member_id uuid NOT NULL,
    route text NOT NULL,
    key text NOT NULL,
    body_hash text NOT NULL,
    status integer NOT NULL,
    location text,
    etag text,
    answer text NOT NULL,
    created_at timestamptz NOT NULL,
    PRIMARY KEY (club_id, member_id, route, key),
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id)
);
CREATE INDEX repeatable_requests_age -- cross-club: old ones of all clubs are forgotten
    ON repeatable_requests (created_at);

CREATE TABLE findings (
    club_id uuid NOT NULL,
    upkeep_id uuid NOT NULL,
    finding text NOT NULL,
    grade integer NOT NULL CHECK (grade BETWEEN 0 AND 3),
    PRIMARY KEY (club_id, upkeep_id, finding),
    FOREIGN KEY (club_id, upkeep_id) REFERENCES upkeep (club_id, id)
);

CREATE TABLE incidents (
    club_id uuid NOT NULL,
    id uuid NOT NULL,
    bow_id uuid NOT NULL,
    kind text NOT NULL CHECK (kind IN (
        'dry_fire', 'strand_cut', 'soaked', 'overheated', 'limb_damage', 'other')),
    at timestamptz NOT NULL,
    note text NOT NULL,
    entered_by_member_id uuid NOT NULL,
    received_at timestamptz NOT NULL,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id),
    FOREIGN KEY (club_id, entered_by_member_id) REFERENCES members (club_id, id)
);
CREATE INDEX incidents_bow ON incidents (club_id, bow_id, at);
CREATE INDEX incidents_member ON incidents (club_id, entered_by_member_id);

-- Derived: which parts must not be shot now, and the last cause why. Written in the transaction that
-- changes findings, incidents, inspections or fittings.
CREATE TABLE stops (
    club_id uuid NOT NULL,
    part_id uuid NOT NULL,
    cause text NOT NULL,
    at timestamptz NOT NULL,
    incident_id uuid,
    upkeep_id uuid,
    PRIMARY KEY (club_id, part_id),
    FOREIGN KEY (club_id, part_id) REFERENCES parts (club_id, id),
    FOREIGN KEY (club_id, incident_id) REFERENCES incidents (club_id, id),
    FOREIGN KEY (club_id, upkeep_id) REFERENCES upkeep (club_id, id),
    CHECK ((incident_id IS NULL) <> (upkeep_id IS NULL))
);
CREATE INDEX stops_incident ON stops (club_id, incident_id);
CREATE INDEX stops_upkeep ON stops (club_id, upkeep_id);

CREATE TABLE events (
    club_id uuid NOT NULL,
    id uuid NOT NULL,
    name text NOT NULL,
    starts_on date NOT NULL,
    ends_on date NOT NULL,
    priority text NOT NULL CHECK (priority IN ('major', 'regular', 'minor')),
    arrows_expected integer NOT NULL,
    version integer NOT NULL,
    cancelled_at timestamptz,
    created_by_member_id uuid NOT NULL,
    created_at timestamptz NOT NULL,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, created_by_member_id) REFERENCES members (club_id, id)
);
CREATE INDEX events_dates ON events (club_id, ends_on);
CREATE INDEX events_member ON events (club_id, created_by_member_id);

-- Days on which nothing is changed: travel, the event itself.
CREATE TABLE blocked_days (
    club_id uuid NOT NULL,
    event_id uuid NOT NULL,
    on_date date NOT NULL,
    PRIMARY KEY (club_id, event_id, on_date),
    FOREIGN KEY (club_id, event_id) REFERENCES events (club_id, id)
);

-- Who goes, with which bow, and which spare string in the case.
CREATE TABLE entries (
    club_id uuid NOT NULL,
    event_id uuid NOT NULL,
    member_id uuid NOT NULL,
    bow_id uuid NOT NULL,
    spare_part_id uuid,
    PRIMARY KEY (club_id, event_id, member_id, bow_id),
    FOREIGN KEY (club_id, event_id) REFERENCES events (club_id, id),
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id),
    FOREIGN KEY (club_id, spare_part_id) REFERENCES parts (club_id, id)
);
CREATE INDEX entries_member ON entries (club_id, member_id);
CREATE INDEX entries_bow ON entries (club_id, bow_id);
CREATE INDEX entries_spare ON entries (club_id, spare_part_id);

ALTER TABLE clubs ADD COLUMN quiet_from text NOT NULL DEFAULT '21:00';
ALTER TABLE clubs ADD COLUMN quiet_until text NOT NULL DEFAULT '07:00';
ALTER TABLE clubs ADD COLUMN currency text NOT NULL DEFAULT 'EUR';
ALTER TABLE clubs ADD COLUMN bench_jobs_per_week integer NOT NULL DEFAULT 4;
ALTER TABLE clubs ADD COLUMN stages_days text NOT NULL DEFAULT '28,14,7,2';
ALTER TABLE clubs ADD COLUMN version integer NOT NULL DEFAULT 1;

ALTER TABLE members ADD COLUMN quiet_from text;
ALTER TABLE members ADD COLUMN quiet_until text;
ALTER TABLE members ADD COLUMN minor_until date;
ALTER TABLE members ADD COLUMN guardian_name text;
ALTER TABLE members ADD COLUMN guardian_email text;
ALTER TABLE members ADD COLUMN guardian_consented_on date;
ALTER TABLE members ADD COLUMN left_at timestamptz;
ALTER TABLE members ADD COLUMN version integer NOT NULL DEFAULT 1;
-- Two people of a club who have not left never share an address.
CREATE UNIQUE INDEX members_email ON members (club_id, email) WHERE left_at IS NULL;

ALTER TABLE bows ADD COLUMN version integer NOT NULL DEFAULT 1;
ALTER TABLE upkeep ADD COLUMN measured_mm double precision;
-- An inspection by a coach or owner who gave a reason: it lifts what forbids shooting.
ALTER TABLE upkeep ADD COLUMN clears boolean NOT NULL DEFAULT false;

-- An entry may correct another: the last of a chain counts, unless it is void. `counts` is derived.
ALTER TABLE shot_logs ADD COLUMN corrects_id uuid;
ALTER TABLE shot_logs ADD COLUMN seq integer NOT NULL DEFAULT 0;
ALTER TABLE shot_logs ADD COLUMN void boolean NOT NULL DEFAULT false;
ALTER TABLE shot_logs ADD COLUMN counts boolean NOT NULL DEFAULT true;
ALTER TABLE shot_logs ADD FOREIGN KEY (club_id, corrects_id) REFERENCES shot_logs (club_id, id);
DROP INDEX shot_logs_bow;
CREATE INDEX shot_logs_bow ON shot_logs (club_id, bow_id, at, counts, shots);
CREATE INDEX shot_logs_corrects ON shot_logs (club_id, corrects_id, seq);

ALTER TABLE rules DROP CONSTRAINT rules_task_check;
ALTER TABLE rules ADD CONSTRAINT rules_task_check CHECK (task IN (
        'wax', 'inspect', 're_serve', 'check_nocking_point', 'change', 'settle_in',
        'check_settling', 'sight_in'));
ALTER TABLE rules ADD COLUMN checks_at_shots text;
ALTER TABLE rules ADD COLUMN version integer NOT NULL DEFAULT 1;

-- The lines that the rule book of a new club has besides, for the clubs that are there already.
INSERT INTO rules (club_id, id, part_kind, task, plan_shots, notice_shots, grace_shots, plan_days,
    notice_days, grace_days, source, set_at, version)
SELECT club_id, gen_random_uuid(), 'string', 'check_nocking_point', 1000, 150, 200, 30, 0, 6,
    'common practice, no source', created_at, 1 FROM clubs
WHERE NOT EXISTS (SELECT 1 FROM rules WHERE rules.club_id = clubs.club_id
    AND part_kind = 'string' AND task = 'check_nocking_point');
INSERT INTO rules (club_id, id, part_kind, task, plan_shots, notice_shots, grace_shots, source, set_at,
    version)
SELECT club_id, gen_random_uuid(), 'string', 'settle_in', 200, 0, 0, 'common practice, no source', created_at, 1
FROM clubs;
INSERT INTO rules (club_id, id, part_kind, task, checks_at_shots, source, set_at, version)
SELECT club_id, gen_random_uuid(), 'string', 'check_settling', '0,50,100,200',
    'common practice, no source', created_at, 1
FROM clubs;
INSERT INTO rules (club_id, id, part_kind, task, plan_shots, notice_shots, grace_shots, source, set_at,
    version)
SELECT club_id, gen_random_uuid(), 'string', 'sight_in', 72, 0, 0, 'common practice, no source', created_at, 1
FROM clubs;

ALTER TABLE outbox DROP CONSTRAINT outbox_kind_check;
ALTER TABLE outbox ADD CONSTRAINT outbox_kind_check CHECK (kind IN (
        'digest', 'stop', 'event', 'squad', 'invitation', 'reset'));
ALTER TABLE outbox ADD COLUMN link_id uuid;
ALTER TABLE outbox ADD FOREIGN KEY (club_id, link_id) REFERENCES one_time_links (club_id, id);
CREATE INDEX outbox_link ON outbox (club_id, link_id);

ALTER TABLE reminders ADD COLUMN kind text NOT NULL DEFAULT 'maintenance'
    CHECK (kind IN ('maintenance', 'stop', 'event'));
ALTER TABLE reminders ALTER COLUMN kind DROP DEFAULT;
ALTER TABLE reminders ADD COLUMN event_id uuid;
ALTER TABLE reminders ADD FOREIGN KEY (club_id, event_id) REFERENCES events (club_id, id);
ALTER TABLE reminders ALTER COLUMN rule_id DROP NOT NULL;
ALTER TABLE reminders ALTER COLUMN task DROP NOT NULL;
ALTER TABLE reminders ALTER COLUMN part_id DROP NOT NULL;
ALTER TABLE reminders ALTER COLUMN bow_id DROP NOT NULL;
ALTER TABLE reminders DROP CONSTRAINT reminders_stage_check;
CREATE INDEX reminders_event ON reminders (club_id, event_id);
