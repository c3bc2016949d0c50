-- Reminders people trust: other kinds of mail, what somebody answered to a reminder, which mail they
-- stopped, calendars, and what a relay says of an address. SQLite cannot change a CHECK: the two tables
-- that have one are written anew.

ALTER TABLE clubs ADD COLUMN mails_per_day INTEGER NOT NULL DEFAULT 3;
-- After so many days without a log of a bow its archer is asked; none: nobody is.
ALTER TABLE clubs ADD COLUMN nudge_after_days INTEGER;

-- When a relay said that there is no such mailbox, and its words.
ALTER TABLE members ADD COLUMN email_refused_at INTEGER;
ALTER TABLE members ADD COLUMN email_refusal TEXT;

ALTER TABLE events ADD COLUMN changed_at INTEGER NOT NULL DEFAULT 0;
UPDATE events SET changed_at = COALESCE(cancelled_at, created_at);

-- Which kinds of mail somebody does not want.
CREATE TABLE stopped_mail (
    club_id BLOB NOT NULL,
    member_id BLOB NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('digest', 'event', 'squad', 'bench', 'nudge')),
    at INTEGER NOT NULL,
    PRIMARY KEY (club_id, member_id, kind),
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id)
) STRICT, WITHOUT ROWID;

-- Who said of which bow that it is not theirs to look after.
CREATE TABLE disowned_bows (
    club_id BLOB NOT NULL,
    bow_id BLOB NOT NULL,
    member_id BLOB NOT NULL,
    at INTEGER NOT NULL,
    PRIMARY KEY (club_id, bow_id, member_id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id),
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX disowned_bows_member ON disowned_bows (club_id, member_id);

-- Calendars that somebody subscribed to. Only the hash of what stands in the address is kept.
CREATE TABLE feeds (
    club_id BLOB NOT NULL,
    id BLOB NOT NULL CHECK (length(id) = 16),
    member_id BLOB NOT NULL,
    scope TEXT NOT NULL CHECK (scope IN ('mine', 'squad')),
    name TEXT NOT NULL,
    token_hash TEXT NOT NULL,
    created_at INTEGER NOT NULL,
    last_read_on TEXT,
    revoked_at INTEGER,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX feeds_member ON feeds (club_id, member_id);
CREATE UNIQUE INDEX feeds_token ON feeds (token_hash); -- cross-club: who reads a calendar has said no club yet

CREATE TABLE outbox_new (
    club_id BLOB NOT NULL,
    id BLOB NOT NULL CHECK (length(id) = 16),
    kind TEXT NOT NULL CHECK (kind IN (
        'digest', 'stop', 'event', 'squad', 'moved', 'bench', 'nudge', 'invitation', 'reset', 'quieted')),
    recipient_member_id BLOB NOT NULL,
    for_date TEXT NOT NULL,
    dedupe_key TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN (
        'due', 'sending', 'sent', 'retry', 'uncertain', 'cancelled', 'dead')),
    -- When it was to go out, however often it was put off since.
    wanted_at INTEGER NOT NULL,
    due_at INTEGER NOT NULL,
    attempt INTEGER NOT NULL,
    tried_at INTEGER,
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
    club_id, id, kind, recipient_member_id, for_date, dedupe_key, state, due_at, due_at, attempt, NULL,
    leased_until, outcome, created_at, finished_at, link_id
FROM outbox;
DROP TABLE outbox;
ALTER TABLE outbox_new RENAME TO outbox;
CREATE UNIQUE INDEX outbox_dedupe ON outbox (club_id, dedupe_key);
CREATE INDEX outbox_recipient ON outbox (club_id, recipient_member_id, for_date);
CREATE INDEX outbox_waiting ON outbox (due_at) -- cross-club: a worker serves every club
    WHERE state IN ('due', 'sending', 'retry', 'uncertain');
CREATE INDEX outbox_tried ON outbox (tried_at); -- cross-club: a relay takes so many a minute from all of them
CREATE INDEX outbox_link ON outbox (club_id, link_id);

CREATE TABLE reminders_new (
    club_id BLOB NOT NULL,
    id BLOB NOT NULL CHECK (length(id) = 16),
    kind TEXT NOT NULL CHECK (kind IN ('maintenance', 'stop', 'event', 'bench', 'silence')),
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
    state TEXT NOT NULL CHECK (state IN (
        'raised', 'sent', 'cancelled', 'done', 'snoozed', 'disowned')),
    raised_at INTEGER NOT NULL,
    mail_id BLOB NOT NULL,
    -- When its recipient answered, and until when they want to hear no more of it.
    answered_at INTEGER,
    snoozed_until INTEGER,
    -- What a mail before an event told, as JSON: the next one says what has changed since.
    told TEXT,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, rule_id) REFERENCES rules (club_id, id),
    FOREIGN KEY (club_id, part_id) REFERENCES parts (club_id, id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id),
    FOREIGN KEY (club_id, event_id) REFERENCES events (club_id, id),
    FOREIGN KEY (club_id, recipient_member_id) REFERENCES members (club_id, id),
    FOREIGN KEY (club_id, mail_id) REFERENCES outbox (club_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO reminders_new SELECT
    club_id, id, kind, rule_id, task, part_id, bow_id, event_id, recipient_member_id, stage, cycle,
    reason, dedupe_key, state, raised_at, mail_id, NULL, NULL, NULL
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
CREATE INDEX reminders_snoozed ON reminders (club_id, snoozed_until) WHERE state = 'snoozed';
