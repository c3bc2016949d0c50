-- Back to the first schema. What it has no place for is lost: events, incidents, squads, sign-ins.
DELETE FROM reminders WHERE kind <> 'maintenance' OR stage NOT IN ('nearing', 'due', 'overdue')
    OR task IN ('settle_in', 'check_settling', 'sight_in');
DELETE FROM reminders WHERE mail_id IN (SELECT id FROM outbox WHERE kind <> 'digest');
DELETE FROM outbox WHERE kind <> 'digest';
DELETE FROM rules WHERE task IN ('settle_in', 'check_settling', 'sight_in');
-- A log becomes what its last correction says, under the id of that correction; a void one goes.
UPDATE shot_logs SET corrects_id = NULL;
DELETE FROM shot_logs WHERE NOT counts;
ALTER TABLE shot_logs DROP COLUMN corrects_id;
ALTER TABLE shot_logs DROP COLUMN seq;
ALTER TABLE shot_logs DROP COLUMN void;
DROP INDEX shot_logs_bow;
ALTER TABLE shot_logs DROP COLUMN counts;
CREATE INDEX shot_logs_bow ON shot_logs (club_id, bow_id, at);

ALTER TABLE reminders DROP COLUMN event_id;
ALTER TABLE reminders DROP COLUMN kind;
ALTER TABLE reminders ALTER COLUMN rule_id SET NOT NULL;
ALTER TABLE reminders ALTER COLUMN task SET NOT NULL;
ALTER TABLE reminders ALTER COLUMN part_id SET NOT NULL;
ALTER TABLE reminders ALTER COLUMN bow_id SET NOT NULL;
ALTER TABLE reminders ADD CONSTRAINT reminders_stage_check CHECK (stage IN ('nearing', 'due', 'overdue'));

ALTER TABLE outbox DROP COLUMN link_id;
ALTER TABLE outbox DROP CONSTRAINT outbox_kind_check;
ALTER TABLE outbox ADD CONSTRAINT outbox_kind_check CHECK (kind IN ('digest'));

ALTER TABLE rules DROP COLUMN version;
ALTER TABLE rules DROP COLUMN checks_at_shots;
ALTER TABLE rules DROP CONSTRAINT rules_task_check;
ALTER TABLE rules ADD CONSTRAINT rules_task_check
    CHECK (task IN ('wax', 'inspect', 're_serve', 'check_nocking_point', 'change'));

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
