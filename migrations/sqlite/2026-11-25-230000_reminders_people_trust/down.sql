-- Mail and reminders of the kinds that the program before does not know go; what somebody answered to
-- a reminder is forgotten, and counts as told.
DELETE FROM reminders WHERE kind IN ('bench', 'silence');
DELETE FROM reminders WHERE mail_id IN (SELECT id FROM outbox
    WHERE outbox.club_id = reminders.club_id AND outbox.kind IN ('moved', 'bench', 'nudge', 'quieted'));
DELETE FROM outbox WHERE kind IN ('moved', 'bench', 'nudge', 'quieted');
UPDATE reminders SET state = 'sent' WHERE state IN ('done', 'snoozed', 'disowned');

CREATE TABLE reminders_old (
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
INSERT INTO reminders_old SELECT
    club_id, id, kind, rule_id, task, part_id, bow_id, event_id, recipient_member_id, stage, cycle,
    reason, dedupe_key, state, raised_at, mail_id
FROM reminders;
DROP TABLE reminders;
ALTER TABLE reminders_old RENAME TO reminders;
CREATE UNIQUE INDEX reminders_dedupe ON reminders (club_id, dedupe_key);
CREATE INDEX reminders_rule ON reminders (club_id, rule_id);
CREATE INDEX reminders_part ON reminders (club_id, part_id);
CREATE INDEX reminders_bow ON reminders (club_id, bow_id);
CREATE INDEX reminders_recipient ON reminders (club_id, recipient_member_id);
CREATE INDEX reminders_mail ON reminders (club_id, mail_id);
CREATE INDEX reminders_event ON reminders (club_id, event_id);

CREATE TABLE outbox_old (
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
INSERT INTO outbox_old SELECT
    club_id, id, kind, recipient_member_id, for_date, dedupe_key, state, due_at, attempt, leased_until,
    outcome, created_at, finished_at, link_id
FROM outbox;
DROP TABLE outbox;
ALTER TABLE outbox_old RENAME TO outbox;
CREATE UNIQUE INDEX outbox_dedupe ON outbox (club_id, dedupe_key);
CREATE INDEX outbox_recipient ON outbox (club_id, recipient_member_id);
CREATE INDEX outbox_waiting ON outbox (due_at) -- cross-club: a worker serves every club
    WHERE state IN ('due', 'sending', 'retry', 'uncertain');
CREATE INDEX outbox_link ON outbox (club_id, link_id);

DROP TABLE feeds;
DROP TABLE disowned_bows;
DROP TABLE stopped_mail;
ALTER TABLE events DROP COLUMN changed_at;
ALTER TABLE members DROP COLUMN email_refusal;
ALTER TABLE members DROP COLUMN email_refused_at;
ALTER TABLE clubs DROP COLUMN nudge_after_days;
ALTER TABLE clubs DROP COLUMN mails_per_day;
