-- Reminders people trust: other kinds of mail, what somebody answered to a reminder, which mail they
-- stopped, calendars, and what a relay says of an address.

ALTER TABLE clubs ADD COLUMN mails_per_day integer NOT NULL DEFAULT 3;
-- After so many days without a log of a bow its archer is asked; none: nobody is.
ALTER TABLE clubs ADD COLUMN nudge_after_days integer;

-- When a relay said that there is no such mailbox, and its words.
ALTER TABLE members ADD COLUMN email_refused_at timestamptz;
ALTER TABLE members ADD COLUMN email_refusal text;

ALTER TABLE events ADD COLUMN changed_at timestamptz;
UPDATE events SET changed_at = COALESCE(cancelled_at, created_at);
ALTER TABLE events ALTER COLUMN changed_at SET NOT NULL;

-- Which kinds of mail somebody does not want.
CREATE TABLE stopped_mail (
    club_id uuid NOT NULL,
    member_id uuid NOT NULL,
    kind text NOT NULL CHECK (kind IN ('digest', 'event', 'squad', 'bench', 'nudge')),
    at timestamptz NOT NULL,
    PRIMARY KEY (club_id, member_id, kind),
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id)
);

-- Who said of which bow that it is not theirs to look after.
CREATE TABLE disowned_bows (
    club_id uuid NOT NULL,
    bow_id uuid NOT NULL,
    member_id uuid NOT NULL,
    at timestamptz NOT NULL,
    PRIMARY KEY (club_id, bow_id, member_id),
    FOREIGN KEY (club_id, bow_id) REFERENCES bows (club_id, id),
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id)
);
CREATE INDEX disowned_bows_member ON disowned_bows (club_id, member_id);

-- Calendars that somebody subscribed to. Only the hash of what stands in the address is kept.
CREATE TABLE feeds (
    club_id uuid NOT NULL,
    id uuid NOT NULL,
    member_id uuid NOT NULL,
    scope text NOT NULL CHECK (scope IN ('mine', 'squad')),
    name text NOT NULL,
    token_hash text NOT NULL,
    created_at timestamptz NOT NULL,
    last_read_on date,
    revoked_at timestamptz,
    PRIMARY KEY (club_id, id),
    FOREIGN KEY (club_id, member_id) REFERENCES members (club_id, id)
);
CREATE INDEX feeds_member ON feeds (club_id, member_id);
CREATE UNIQUE INDEX feeds_token ON feeds (token_hash); -- cross-club: who reads a calendar has said no club yet

ALTER TABLE outbox DROP CONSTRAINT outbox_kind_check;
ALTER TABLE outbox ADD CONSTRAINT outbox_kind_check CHECK (kind IN (
        'digest', 'stop', 'event', 'squad', 'moved', 'bench', 'nudge', 'invitation', 'reset', 'quieted'));
-- When it was to go out, however often it was put off since.
ALTER TABLE outbox ADD COLUMN wanted_at timestamptz;
UPDATE outbox SET wanted_at = due_at;
ALTER TABLE outbox ALTER COLUMN wanted_at SET NOT NULL;
ALTER TABLE outbox ADD COLUMN tried_at timestamptz;
DROP INDEX outbox_recipient;
CREATE INDEX outbox_recipient ON outbox (club_id, recipient_member_id, for_date);
CREATE INDEX outbox_tried ON outbox (tried_at); -- cross-club: a relay takes so many a minute from all of them

ALTER TABLE reminders DROP CONSTRAINT reminders_kind_check;
ALTER TABLE reminders ADD CONSTRAINT reminders_kind_check CHECK (kind IN (
        'maintenance', 'stop', 'event', 'bench', 'silence'));
ALTER TABLE reminders DROP CONSTRAINT reminders_state_check;
ALTER TABLE reminders ADD CONSTRAINT reminders_state_check CHECK (state IN (
        'raised', 'sent', 'cancelled', 'done', 'snoozed', 'disowned'));
-- When its recipient answered, and until when they want to hear no more of it.
ALTER TABLE reminders ADD COLUMN answered_at timestamptz;
ALTER TABLE reminders ADD COLUMN snoozed_until timestamptz;
-- What a mail before an event told, as JSON: the next one says what has changed since.
ALTER TABLE reminders ADD COLUMN told text;
CREATE INDEX reminders_snoozed ON reminders (club_id, snoozed_until) WHERE state = 'snoozed';
