-- People, their PINs, and what is known of the clock.

-- Read models: they follow from the record.
CREATE TABLE person (
    initials TEXT PRIMARY KEY,
    role     TEXT,                 -- NULL for somebody who left
    since    INTEGER NOT NULL,
    entry    INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
-- Who opened the ledger is its first supervisor.
INSERT INTO person (initials, role, since, entry)
    SELECT a.person, 'supervisor', e.began, e.seq FROM entry e JOIN action a ON a.seq = e.action
    WHERE e.seq = 1 AND e.kind = 'opened/1';

CREATE TABLE clock_fix (
    entry       INTEGER PRIMARY KEY,
    from_action INTEGER NOT NULL,
    to_action   INTEGER NOT NULL,
    by_ms       INTEGER NOT NULL   -- what must be added to the times of these actions
) STRICT;

-- Beside the record: never exported, in no backup, no part of the chain. -----------------------------------------

CREATE TABLE pin (
    initials TEXT PRIMARY KEY,
    hash     TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Every try of a PIN.
CREATE TABLE pin_try (
    seq      INTEGER PRIMARY KEY,
    initials TEXT    NOT NULL,
    station  TEXT    NOT NULL,
    deed     TEXT    NOT NULL,
    at       INTEGER NOT NULL,
    outcome  TEXT    NOT NULL      -- right, wrong, too soon
) STRICT;

-- Wrong tries in a row of a person at all terminals, and at a terminal of all people; the wait that follows from them.
CREATE TABLE pin_wait (
    scope    TEXT    NOT NULL,     -- person, station
    name     TEXT    NOT NULL,
    wrong    INTEGER NOT NULL,
    left_ms  INTEGER NOT NULL,     -- what was left to wait when it was noted
    boot     TEXT,                 -- the machine's start in which it was noted, where the kernel tells
    boot_ms  INTEGER,              -- and the time since that start
    at       INTEGER NOT NULL,     -- and by the wall clock, for machines that do not tell
    PRIMARY KEY (scope, name)
) STRICT, WITHOUT ROWID;

-- From which action on the machine ran under which start: tells a restart from a clock that was set.
CREATE TABLE boot (
    first_action INTEGER PRIMARY KEY,
    id           TEXT NOT NULL
) STRICT;
