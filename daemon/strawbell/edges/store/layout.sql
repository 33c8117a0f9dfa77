-- The layout of the store, as numbered steps; a step once released is never edited.
--
-- Recording what became of a message touches two pages, one of the outbox and one of the journal:
-- the texts lie apart, and there are no indexes on what changes. Every page more would be two calls
-- more in which a kill makes a double. Nothing is ever deleted, so the numbers of rows only grow.
--
-- A step begins with its number and what it is for; an empty line parts two statements.

-- 1: journal, outbox, forecast answers

CREATE TABLE identity (
    only_row INTEGER PRIMARY KEY CHECK (only_row = 1),
    store_id TEXT NOT NULL,
    touched  INTEGER NOT NULL DEFAULT 0
) STRICT

CREATE TABLE journal (
    number     INTEGER PRIMARY KEY,
    at         TEXT NOT NULL,
    garden     TEXT NOT NULL,
    local_date TEXT NOT NULL,
    kind       TEXT NOT NULL,
    batch      TEXT,
    task       TEXT,
    state      TEXT,
    value      REAL,
    text       TEXT NOT NULL,
    data       ANY
) STRICT

CREATE INDEX journal_briefs ON journal (garden, local_date) WHERE kind = 'brief'

CREATE TRIGGER journal_is_never_edited BEFORE UPDATE ON journal
BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END

CREATE TRIGGER journal_is_never_deleted BEFORE DELETE ON journal
BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END

CREATE TABLE outbox (
    number          INTEGER PRIMARY KEY,
    unique_key      TEXT NOT NULL UNIQUE,
    channel         TEXT NOT NULL,
    recipient       TEXT NOT NULL,
    message_id      TEXT NOT NULL,
    subject         TEXT NOT NULL,
    garden          TEXT NOT NULL,
    local_date      TEXT NOT NULL,
    kind            TEXT NOT NULL,
    state           TEXT NOT NULL CHECK (state IN
        ('due', 'sending', 'accepted', 'later', 'for-good', 'unknown', 'expired')),
    attempts        INTEGER NOT NULL,
    created_at      TEXT NOT NULL,
    next_attempt_at TEXT NOT NULL,
    expires_at      TEXT NOT NULL,
    detail          TEXT NOT NULL,
    surfaced        INTEGER NOT NULL DEFAULT 0,
    claimed_by      TEXT
) STRICT

CREATE TABLE bodies (
    unique_key TEXT PRIMARY KEY REFERENCES outbox (unique_key),
    body       BLOB NOT NULL
) STRICT

CREATE TRIGGER body_is_frozen BEFORE UPDATE ON bodies
BEGIN SELECT RAISE(ABORT, 'a queued message is frozen'); END

CREATE TRIGGER body_stays_until_the_end BEFORE DELETE ON bodies
WHEN (SELECT state FROM outbox WHERE unique_key = OLD.unique_key)
     NOT IN ('accepted', 'for-good', 'expired')
BEGIN SELECT RAISE(ABORT, 'a queued message is frozen'); END

CREATE TRIGGER outbox_is_never_deleted BEFORE DELETE ON outbox
BEGIN SELECT RAISE(ABORT, 'a message is never deleted'); END

CREATE TRIGGER outbox_message_is_frozen BEFORE UPDATE ON outbox
WHEN NEW.unique_key IS NOT OLD.unique_key
  OR NEW.message_id IS NOT OLD.message_id
  OR NEW.recipient IS NOT OLD.recipient
  OR NEW.channel IS NOT OLD.channel
BEGIN SELECT RAISE(ABORT, 'a queued message is frozen'); END

CREATE TRIGGER outbox_end_is_final BEFORE UPDATE ON outbox
WHEN OLD.state IN ('accepted', 'for-good', 'expired') AND NEW.state IS NOT OLD.state
BEGIN SELECT RAISE(ABORT, 'the end of a message is final'); END

CREATE TABLE answers (
    url           TEXT PRIMARY KEY,
    etag          TEXT,
    last_modified TEXT,
    expires_at    TEXT,
    fetched_at    TEXT NOT NULL,
    body          BLOB NOT NULL
) STRICT

-- 2: the planner's rows of one garden found without reading those of all

DROP INDEX journal_briefs

-- Deliveries stay out: recording one must not touch another page.
CREATE INDEX journal_of_garden ON journal (garden) WHERE kind <> 'delivery'

-- 3: a secret of the store's own, which Message-IDs and answers are proved with

ALTER TABLE identity ADD COLUMN secret BLOB

-- 4: what gardens are known by found without reading the journal

CREATE INDEX journal_of_known ON journal (garden) WHERE kind = 'known'

-- 5: how far answers were read, and which of them have had their effect

CREATE TABLE marks (
    name  TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT

-- 6: the weather of a day in a column of its own, and the index of a journal laid by

ALTER TABLE journal ADD COLUMN planned TEXT

DROP TRIGGER journal_is_never_edited

-- What of a stored brief later mornings rest on: edges/store/rows.py, planned_of.
UPDATE journal SET planned = planned_of(data) WHERE kind = 'brief'

CREATE TRIGGER journal_is_never_edited BEFORE UPDATE ON journal
BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END

CREATE TABLE checkpoints (
    garden  TEXT PRIMARY KEY,
    called  TEXT NOT NULL,
    number  INTEGER NOT NULL,
    content BLOB NOT NULL
) STRICT

-- Garden and date of a message never change, so recording what became of it writes neither.
CREATE INDEX outbox_of_garden ON outbox (garden, local_date)

-- Only what failed is in it: a message that is accepted never touches it.
CREATE INDEX outbox_unsurfaced ON outbox (number)
WHERE state IN ('for-good', 'expired') AND surfaced = 0
