-- The rule book in full and the record: a rule has a scope and settings by version, each in force from
-- a day on; a bow can be stopped by itself; who changed what is kept; a log may be merged into another;
-- and what a bow was shot each day is a counter.

-- Rows are added, never changed: yesterday's verdict is explained by yesterday's setting.
CREATE TABLE rule_settings (
    club_id uuid NOT NULL,
    rule_id uuid NOT NULL,
    version integer NOT NULL,
    -- In force from this day on; none: as soon as it was set.
    effective_on date,
    -- The rule is out of the book.
    withdrawn boolean NOT NULL,
    combine text NOT NULL CHECK (combine IN ('first', 'all')),
    plan_shots integer,
    notice_shots integer,
    grace_shots integer,
    retire_shots integer,
    checks_at_shots text,
    plan_days integer,
    notice_days integer,
    grace_days integer,
    retire_months integer,
    notice_event_days integer,
    -- Words apart by commas; none means any.
    findings text,
    from_grade integer CHECK (from_grade BETWEEN 1 AND 3),
    incidents text,
    source text NOT NULL,
    set_at timestamptz NOT NULL,
    set_by_member_id uuid,
    PRIMARY KEY (club_id, rule_id, version),
    FOREIGN KEY (club_id, rule_id) REFERENCES rules (club_id, id),
    FOREIGN KEY (club_id, set_by_member_id) REFERENCES members (club_id, id)
);
CREATE INDEX rule_settings_member ON rule_settings (club_id, set_by_member_id);
INSERT INTO rule_settings SELECT
    club_id, id, version, NULL, false, 'first', plan_shots, notice_shots, grace_shots, retire_shots,
    checks_at_shots, plan_days, notice_days, grace_days, retire_months, NULL, NULL, NULL, NULL, source,
    set_at, set_by_member_id
FROM rules;
ALTER TABLE rules DROP COLUMN plan_shots;
ALTER TABLE rules DROP COLUMN notice_shots;
ALTER TABLE rules DROP COLUMN grace_shots;
ALTER TABLE rules DROP COLUMN retire_shots;
ALTER TABLE rules DROP COLUMN checks_at_shots;
ALTER TABLE rules DROP COLUMN plan_days;
ALTER TABLE rules DROP COLUMN notice_days;
ALTER TABLE rules DROP COLUMN grace_days;
ALTER TABLE rules DROP COLUMN retire_months;
ALTER TABLE rules DROP COLUMN source;
ALTER TABLE rules DROP COLUMN set_at;
ALTER TABLE rules DROP COLUMN set_by_member_id;
ALTER TABLE rules ADD COLUMN scope text NOT NULL DEFAULT 'club'
    CHECK (scope IN ('club', 'division', 'material', 'squad', 'bow'));
ALTER TABLE rules ALTER COLUMN scope DROP DEFAULT;
-- The division or the material.
ALTER TABLE rules ADD COLUMN scope_word text
    CHECK ((scope_word IS NOT NULL) = (scope IN ('division', 'material')));
-- The squad or the bow; a squad may be gone since.
ALTER TABLE rules ADD COLUMN scope_id uuid
    CHECK ((scope_id IS NOT NULL) = (scope IN ('squad', 'bow')));

-- An inspection of a bow as a whole by a coach or owner who gave a reason: it lifts what forbids
-- shooting the bow.
CREATE TABLE bow_clearances (
    club_id uuid NOT NULL,
    id uuid NOT NULL,
    bow_id uuid NOT NULL,
    at timestamptz NOT NULL,
    reason text NOT NULL,
    entered_by_member_id uuid NOT NULL,
    received_at timestamptz NOT NULL,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id),
    FOREIGN KEY (club_id, entered_by_member_id) REFERENCES members (club_id, id)
);
CREATE INDEX bow_clearances_bow ON bow_clearances (club_id, bow_id, at);
CREATE INDEX bow_clearances_member ON bow_clearances (club_id, entered_by_member_id);

-- Derived: which bows must not be shot, whatever hangs on them, and the last incident why.
CREATE TABLE bow_stops (
    club_id uuid NOT NULL,
    bow_id uuid NOT NULL,
    cause text NOT NULL,
    at timestamptz NOT NULL,
    incident_id uuid NOT NULL,
    PRIMARY KEY (club_id, bow_id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id),
    FOREIGN KEY (club_id, incident_id) REFERENCES incidents (club_id, id)
);
CREATE INDEX bow_stops_incident ON bow_stops (club_id, incident_id);

-- Derived: what a bow was shot on each local day of its club.
CREATE TABLE bow_days (
    club_id uuid NOT NULL,
    bow_id uuid NOT NULL,
    on_date date NOT NULL,
    shots bigint NOT NULL,
    logs bigint NOT NULL,
    PRIMARY KEY (club_id, bow_id, on_date),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id)
);

-- Who changed what, when, from what to what. Rows are added, never changed.
CREATE TABLE audit (
    club_id uuid NOT NULL,
    id uuid NOT NULL,
    at timestamptz NOT NULL,
    -- None: the program itself, or whoever runs it.
    by_member_id uuid,
    -- The operation, by its name in the document of the API.
    operation text NOT NULL,
    subject text NOT NULL,
    subject_id uuid NOT NULL,
    -- Whose bow it was, for those who may not see every bow.
    bow_id uuid,
    -- Both as JSON.
    before text,
    after text,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, by_member_id) REFERENCES members (club_id, id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id)
);
CREATE INDEX audit_subject ON audit (club_id, subject_id, id);
CREATE INDEX audit_member ON audit (club_id, by_member_id, id);
CREATE INDEX audit_bow ON audit (club_id, bow_id, id);

ALTER TABLE fittings ADD COLUMN version integer NOT NULL DEFAULT 1;
-- A correction may say that its log was entered twice: it is void, and this is the other one.
ALTER TABLE shot_logs ADD COLUMN merged_into_id uuid;
