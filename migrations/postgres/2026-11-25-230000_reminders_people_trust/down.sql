-- Mail and reminders of the kinds that the program before does not know go; what somebody answered to
-- a reminder is forgotten, and counts as told.
DELETE FROM reminders WHERE kind IN ('bench', 'silence');
DELETE FROM reminders WHERE mail_id IN (SELECT id FROM outbox
    WHERE outbox.club_id = reminders.club_id AND outbox.kind IN ('moved', 'bench', 'nudge', 'quieted'));
DELETE FROM outbox WHERE kind IN ('moved', 'bench', 'nudge', 'quieted');
UPDATE reminders SET state = 'sent' WHERE state IN ('done', 'snoozed', 'disowned');

DROP INDEX reminders_snoozed;
ALTER TABLE reminders DROP COLUMN told;
ALTER TABLE reminders DROP COLUMN snoozed_until;
ALTER TABLE reminders DROP COLUMN answered_at;
ALTER TABLE reminders DROP CONSTRAINT reminders_state_check;
ALTER TABLE reminders ADD CONSTRAINT reminders_state_check CHECK (state IN (
        'raised', 'sent', 'cancelled'));
ALTER TABLE reminders DROP CONSTRAINT reminders_kind_check;
ALTER TABLE reminders ADD CONSTRAINT reminders_kind_check CHECK (kind IN (
        'maintenance', 'stop', 'event'));

DROP INDEX outbox_tried;
DROP INDEX outbox_recipient;
CREATE INDEX outbox_recipient ON outbox (club_id, recipient_member_id);
ALTER TABLE outbox DROP COLUMN tried_at;
ALTER TABLE outbox DROP COLUMN wanted_at;
ALTER TABLE outbox DROP CONSTRAINT outbox_kind_check;
ALTER TABLE outbox ADD CONSTRAINT outbox_kind_check CHECK (kind IN (
        'digest', 'stop', 'event', 'squad', 'invitation', 'reset'));

DROP TABLE feeds;
DROP TABLE disowned_bows;
DROP TABLE stopped_mail;
ALTER TABLE events DROP COLUMN changed_at;
ALTER TABLE members DROP COLUMN email_refusal;
ALTER TABLE members DROP COLUMN email_refused_at;
ALTER TABLE clubs DROP COLUMN nudge_after_days;
ALTER TABLE clubs DROP COLUMN mails_per_day;
