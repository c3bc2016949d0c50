-- The rule book in full and the record: a rule has a scope and settings by version, each in force from
-- a day on; a bow can be stopped by itself; who changed what is kept; a log may be merged into another;
-- and what a bow was shot each day is a counter.

CREATE TABLE rules_new (
    club_id BLOB NOT NULL REFERENCES clubs (club_id),
    id BLOB NOT NULL CHECK (length(id) = 16),
    part_kind TEXT NOT NULL,
    task TEXT NOT NULL CHECK (task IN (
        'wax', 'inspect', 're_serve', 'check_nocking_point', 'change', 'settle_in',
        'check_settling', 'sight_in')),
    scope TEXT NOT NULL CHECK (scope IN ('club', 'division', 'material', 'squad', 'bow')),
    -- The division or the material.
    scope_word TEXT CHECK ((scope_word IS NOT NULL) = (scope IN ('division', 'material'))),
    -- The squad or the bow; a squad may be gone since.
    scope_id BLOB CHECK ((scope_id IS NOT NULL) = (scope IN ('squad', 'bow'))),
    -- Of its last setting.
    version INTEGER NOT NULL,
    PRIMARY KEY (club_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO rules_new SELECT club_id, id, part_kind, task, 'club', NULL, NULL, version FROM rules;

-- Rows are added, never changed: yesterday's verdict is explained by yesterday's setting.
CREATE TABLE rule_settings (
    club_id BLOB NOT NULL,
    rule_id BLOB NOT NULL,
    version INTEGER NOT NULL,
    -- In force from this day on; none: as soon as it was set.
    effective_on TEXT,
    -- The rule is out of the book.
    withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
    combine TEXT NOT NULL CHECK (combine IN ('first', 'all')),
    plan_shots INTEGER,
    notice_shots INTEGER,
    grace_shots INTEGER,
    retire_shots INTEGER,
    checks_at_shots TEXT,
    plan_days INTEGER,
    notice_days INTEGER,
    grace_days INTEGER,
    retire_months INTEGER,
    notice_event_days INTEGER,
    -- Words apart by commas; none means any.
    findings TEXT,
    from_grade INTEGER CHECK (from_grade BETWEEN 1 AND 3),
    incidents TEXT,
    source TEXT NOT NULL,
    set_at INTEGER NOT NULL,
    set_by_member_id BLOB,
    PRIMARY KEY (club_id, rule_id, version),
    FOREIGN KEY (club_id, rule_id) REFERENCES rules (club_id, id),
    FOREIGN KEY (club_id, set_by_member_id) REFERENCES members (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX rule_settings_member ON rule_settings (club_id, set_by_member_id);
INSERT INTO rule_settings SELECT
    club_id, id, version, NULL, 0, 'first', plan_shots, notice_shots, grace_shots, retire_shots,
    checks_at_shots, plan_days, notice_days, grace_days, retire_months, NULL, NULL, NULL, NULL, source,
    set_at, set_by_member_id
FROM rules;
DROP TABLE rules;
ALTER TABLE rules_new RENAME TO rules;

-- An inspection of a bow as a whole by a coach or owner who gave a reason: it lifts what forbids
-- shooting the bow.
CREATE TABLE bow_clearances (
    club_id BLOB NOT NULL,
    id BLOB NOT NULL CHECK (length(id) = 16),
    bow_id BLOB NOT NULL,
    at INTEGER NOT NULL,
    reason TEXT NOT NULL,
    entered_by_member_id BLOB NOT NULL,
    received_at INTEGER NOT NULL,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id),
    FOREIGN KEY (club_id, entered_by_member_id) REFERENCES members (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX bow_clearances_bow ON bow_clearances (club_id, bow_id, at);
CREATE INDEX bow_clearances_member ON bow_clearances (club_id, entered_by_member_id);

-- Derived: which bows must not be shot, whatever hangs on them, and the last incident why.
CREATE TABLE bow_stops (
    club_id BLOB NOT NULL,
    bow_id BLOB NOT NULL,
    cause TEXT NOT NULL,
    at INTEGER NOT NULL,
    incident_id BLOB NOT NULL,
    PRIMARY KEY (club_id, bow_id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id),
    FOREIGN KEY (club_id, incident_id) REFERENCES incidents (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX bow_stops_incident ON bow_stops (club_id, incident_id);

-- Derived: what a bow was shot on each local day of its club.
CREATE TABLE bow_days (
    club_id BLOB NOT NULL,
    bow_id BLOB NOT NULL,
    on_date TEXT NOT NULL,
    shots INTEGER NOT NULL,
    logs INTEGER NOT NULL,
    PRIMARY KEY (club_id, bow_id, on_date),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id)
) STRICT, WITHOUT ROWID;

-- Who changed what, when, from what to what. Rows are added, never changed.
CREATE TABLE audit (
    club_id BLOB NOT NULL,
    id BLOB NOT NULL CHECK (length(id) = 16),
    at INTEGER NOT NULL,
    -- None: the program itself, or whoever runs it.
    by_member_id BLOB,
    -- The operation, by its name in the document of the API.
    operation TEXT NOT NULL,
    subject TEXT NOT NULL,
    subject_id BLOB NOT NULL,
    -- Whose bow it was, for those who may not see every bow.
    bow_id BLOB,
    -- Both as JSON.
    before TEXT,
    after TEXT,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, by_member_id) REFERENCES members (club_id, id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX audit_subject ON audit (club_id, subject_id, id);
CREATE INDEX audit_member ON audit (club_id, by_member_id, id);
CREATE INDEX audit_bow ON audit (club_id, bow_id, id);

ALTER TABLE fittings ADD COLUMN version INTEGER NOT NULL DEFAULT 1;
-- A correction may say that its log was entered twice: it is void, and this is the other one.
ALTER TABLE shot_logs ADD COLUMN merged_into_id BLOB;
