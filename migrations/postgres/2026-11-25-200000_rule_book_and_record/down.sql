-- Back to one setting a rule, and no record of changes. A rule that was for less than the club goes,
-- and so does one that was withdrawn.
DELETE FROM reminders WHERE kind = 'maintenance' AND rule_id NOT IN (
    SELECT rules.id FROM rules JOIN rule_settings AS s
        ON s.club_id = rules.club_id AND s.rule_id = rules.id AND s.version = rules.version
    WHERE scope = 'club' AND NOT withdrawn
        AND (plan_shots IS NOT NULL OR notice_days IS NOT NULL OR checks_at_shots IS NOT NULL));
DELETE FROM reminders WHERE kind = 'stop' AND part_id IS NULL;
ALTER TABLE rules ADD COLUMN plan_shots integer;
ALTER TABLE rules ADD COLUMN notice_shots integer;
ALTER TABLE rules ADD COLUMN grace_shots integer;
ALTER TABLE rules ADD COLUMN retire_shots integer;
ALTER TABLE rules ADD COLUMN checks_at_shots text;
ALTER TABLE rules ADD COLUMN plan_days integer;
ALTER TABLE rules ADD COLUMN notice_days integer;
ALTER TABLE rules ADD COLUMN grace_days integer;
ALTER TABLE rules ADD COLUMN retire_months integer;
ALTER TABLE rules ADD COLUMN source text;
ALTER TABLE rules ADD COLUMN set_at timestamptz;
ALTER TABLE rules ADD COLUMN set_by_member_id uuid;
UPDATE rules SET plan_shots = s.plan_shots, notice_shots = s.notice_shots, grace_shots = s.grace_shots,
    retire_shots = s.retire_shots, checks_at_shots = s.checks_at_shots, plan_days = s.plan_days,
    notice_days = s.notice_days, grace_days = s.grace_days, retire_months = s.retire_months,
    source = s.source, set_at = s.set_at, set_by_member_id = s.set_by_member_id
FROM rule_settings AS s
WHERE s.club_id = rules.club_id AND s.rule_id = rules.id AND s.version = rules.version
    AND scope = 'club' AND NOT withdrawn
    AND (s.plan_shots IS NOT NULL OR s.notice_days IS NOT NULL OR s.checks_at_shots IS NOT NULL);
DROP TABLE rule_settings;
DELETE FROM rules WHERE source IS NULL;
ALTER TABLE rules ALTER COLUMN source SET NOT NULL;
ALTER TABLE rules ALTER COLUMN set_at SET NOT NULL;
ALTER TABLE rules DROP COLUMN scope_id;
ALTER TABLE rules DROP COLUMN scope_word;
ALTER TABLE rules DROP COLUMN scope;
ALTER TABLE rules ADD FOREIGN KEY (club_id, set_by_member_id) REFERENCES members (club_id, id);
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
