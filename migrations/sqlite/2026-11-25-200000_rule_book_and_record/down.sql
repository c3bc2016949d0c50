-- Back to one setting a rule, and no record of changes. A rule that was for less than the club goes,
-- and so does one that was withdrawn.
DELETE FROM reminders WHERE kind = 'maintenance' AND rule_id NOT IN (
    SELECT rules.id FROM rules JOIN rule_settings AS s
        ON s.club_id = rules.club_id AND s.rule_id = rules.id AND s.version = rules.version
    WHERE scope = 'club' AND NOT withdrawn
        AND (plan_shots IS NOT NULL OR notice_days IS NOT NULL OR checks_at_shots IS NOT NULL));
DELETE FROM reminders WHERE kind = 'stop' AND part_id IS NULL;
CREATE TABLE rules_old (
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
INSERT INTO rules_old SELECT
    rules.club_id, rules.id, part_kind, task, plan_shots, notice_shots, grace_shots, retire_shots,
    checks_at_shots, plan_days, notice_days, grace_days, retire_months, source, set_at,
    set_by_member_id, rules.version
FROM rules JOIN rule_settings AS s
    ON s.club_id = rules.club_id AND s.rule_id = rules.id AND s.version = rules.version
WHERE scope = 'club' AND NOT withdrawn
    AND (plan_shots IS NOT NULL OR notice_days IS NOT NULL OR checks_at_shots IS NOT NULL);
DROP TABLE rule_settings;
DROP TABLE rules;
ALTER TABLE rules_old RENAME TO rules;
CREATE INDEX rules_member ON rules (club_id, set_by_member_id);
DROP TABLE audit;
DROP TABLE bow_days;
DROP TABLE bow_stops;
DROP TABLE bow_clearances;
ALTER TABLE fittings DROP COLUMN version;
ALTER TABLE shot_logs DROP COLUMN merged_into_id;

-- Findings that the program before does not know become other ones, as bad as the worst of them.
INSERT INTO findings (club_id, upkeep_id, finding, grade)
SELECT club_id, upkeep_id, 'other', MAX(grade) FROM findings
WHERE finding IN ('other', 'tip_wear', 'nocking_point_moved', 'd_loop_wear', 'peep_moved',
    'rest_wear', 'plunger_wear')
GROUP BY club_id, upkeep_id
ON CONFLICT (club_id, upkeep_id, finding) DO UPDATE SET grade = excluded.grade;
DELETE FROM findings WHERE finding IN ('tip_wear', 'nocking_point_moved', 'd_loop_wear', 'peep_moved',
    'rest_wear', 'plunger_wear');
UPDATE stops SET cause = 'other' WHERE cause IN ('tip_wear', 'nocking_point_moved', 'd_loop_wear', 'peep_moved',
    'rest_wear', 'plunger_wear');
