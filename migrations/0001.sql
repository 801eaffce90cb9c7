-- The ledger. Two halves: the record, which only grows, and the read models, which follow from it and can be dropped
-- and rebuilt. Times are milliseconds UTC, days are days since 1970-01-01, amounts are integers in small SI units.

-- One action is one transaction: who did it and who wrote it, where, when it happened and when it was written.
CREATE TABLE action (
    seq        INTEGER PRIMARY KEY CHECK (seq >= 1),
    draft      TEXT    NOT NULL UNIQUE,   -- identity of the draft: a repeated save finds it and adds nothing
    deed       TEXT    NOT NULL,
    person     TEXT    NOT NULL,          -- initials of who did it
    writer     TEXT    NOT NULL,          -- initials of who wrote it
    station    TEXT    NOT NULL,
    began      INTEGER NOT NULL,
    ended      INTEGER NOT NULL CHECK (ended >= began),
    written    INTEGER NOT NULL,
    zone       TEXT    NOT NULL,          -- the shop's named zone
    offset_min INTEGER NOT NULL,          -- its offset when the deed began
    day        INTEGER NOT NULL,          -- production day of the start
    clock      TEXT    NOT NULL,          -- where the written time came from: system, demo, doubtful
    boot_ms    INTEGER,                   -- milliseconds since the machine was started, where it tells
    body       TEXT    NOT NULL,          -- facts that its entries share, as versioned JSON
    prev       BLOB    NOT NULL CHECK (length(prev) = 32),
    hash       BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

-- One entry is one fact on one piece and surface, or on none.
CREATE TABLE entry (
    seq      INTEGER PRIMARY KEY CHECK (seq >= 1),
    action   INTEGER NOT NULL REFERENCES action (seq),
    piece    INTEGER,
    surface  TEXT    NOT NULL,
    branch   INTEGER NOT NULL CHECK (branch >= 0),
    began    INTEGER NOT NULL,
    ended    INTEGER NOT NULL CHECK (ended >= began),
    day      INTEGER NOT NULL,
    kind     TEXT    NOT NULL,
    corrects INTEGER REFERENCES entry (seq),  -- the entry that this one voids, answers or stands for
    body     TEXT    NOT NULL,                -- the fact, as versioned JSON
    digest   BLOB    NOT NULL CHECK (length(digest) = 8)
) STRICT;
CREATE INDEX entry_action ON entry (action);
CREATE INDEX entry_piece ON entry (piece, seq) WHERE piece IS NOT NULL;
CREATE INDEX entry_corrects ON entry (corrects) WHERE corrects IS NOT NULL;

-- Climate readings; the chain holds the hash of the file that they came from.
CREATE TABLE reading (
    room           TEXT    NOT NULL,
    at             INTEGER NOT NULL,
    temperature_mc INTEGER NOT NULL,
    humidity_cpct  INTEGER,
    entry          INTEGER NOT NULL REFERENCES entry (seq),
    PRIMARY KEY (room, at)
) STRICT, WITHOUT ROWID;

CREATE TRIGGER action_stays_update BEFORE UPDATE ON action BEGIN SELECT raise(ABORT, 'the record is never changed'); END;
CREATE TRIGGER action_stays_delete BEFORE DELETE ON action BEGIN SELECT raise(ABORT, 'the record is never deleted'); END;
CREATE TRIGGER action_grows BEFORE INSERT ON action
    WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM action)
      OR EXISTS (SELECT 1 FROM action WHERE draft = NEW.draft)
    BEGIN SELECT raise(ABORT, 'the record only grows at its end'); END;
CREATE TRIGGER entry_stays_update BEFORE UPDATE ON entry BEGIN SELECT raise(ABORT, 'the record is never changed'); END;
CREATE TRIGGER entry_stays_delete BEFORE DELETE ON entry BEGIN SELECT raise(ABORT, 'the record is never deleted'); END;
CREATE TRIGGER entry_grows BEFORE INSERT ON entry
    WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM entry)
    BEGIN SELECT raise(ABORT, 'the record only grows at its end'); END;
CREATE TRIGGER reading_stays_update BEFORE UPDATE ON reading BEGIN SELECT raise(ABORT, 'the record is never changed'); END;
CREATE TRIGGER reading_stays_delete BEFORE DELETE ON reading BEGIN SELECT raise(ABORT, 'the record is never deleted'); END;
CREATE TRIGGER reading_grows BEFORE INSERT ON reading
    WHEN EXISTS (SELECT 1 FROM reading WHERE room = NEW.room AND at = NEW.at)
    BEGIN SELECT raise(ABORT, 'the record is never changed'); END;

-- Read models from here on. -----------------------------------------------------------------------------------

CREATE TABLE setting (
    name  TEXT PRIMARY KEY,
    value TEXT NOT NULL,
    entry INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE void (
    entry INTEGER PRIMARY KEY,   -- the entry that no longer counts
    by    INTEGER NOT NULL       -- the entry that says so
) STRICT;

CREATE TABLE room (
    name              TEXT PRIMARY KEY,
    interval_ms       INTEGER,   -- sampling interval; NULL for a room without readings
    forecast_permille INTEGER NOT NULL,
    entry             INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE material (
    code  TEXT NOT NULL,
    sheet TEXT NOT NULL,
    entry INTEGER NOT NULL,
    text  TEXT NOT NULL,
    PRIMARY KEY (code, sheet)
) STRICT;

CREATE TABLE recipe (
    code     TEXT NOT NULL,
    revision INTEGER NOT NULL,
    entry    INTEGER NOT NULL,
    text     TEXT NOT NULL,
    PRIMARY KEY (code, revision)
) STRICT;

CREATE TABLE lot (
    lot      TEXT PRIMARY KEY,
    material TEXT NOT NULL,
    sheet    TEXT NOT NULL,
    volume   INTEGER NOT NULL,
    expires  INTEGER,
    entry    INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE mix (
    mix          INTEGER PRIMARY KEY,
    name         TEXT NOT NULL,
    made         INTEGER NOT NULL,
    volume       INTEGER NOT NULL,
    solids_ppm   INTEGER NOT NULL,
    retarder_ppm INTEGER NOT NULL,
    entry        INTEGER NOT NULL
) STRICT;

CREATE TABLE pour (
    mix    INTEGER NOT NULL,
    line   INTEGER NOT NULL,
    lot    TEXT NOT NULL,
    volume INTEGER NOT NULL,
    PRIMARY KEY (mix, line)
) STRICT, WITHOUT ROWID;

CREATE TABLE ceiling (
    what   TEXT NOT NULL,
    scope  TEXT NOT NULL,
    value  INTEGER NOT NULL,
    typed  TEXT NOT NULL,
    basis  TEXT NOT NULL,
    source TEXT NOT NULL,
    person TEXT NOT NULL,
    since  INTEGER NOT NULL,
    entry  INTEGER NOT NULL,
    PRIMARY KEY (what, scope)
) STRICT, WITHOUT ROWID;

CREATE TABLE survey (
    entry      INTEGER PRIMARY KEY,
    booth      TEXT NOT NULL,
    at         INTEGER NOT NULL,
    readings   TEXT NOT NULL,
    wanted     INTEGER NOT NULL,
    instrument TEXT NOT NULL
) STRICT;

CREATE TABLE piece (
    id         INTEGER PRIMARY KEY,
    serial     TEXT NOT NULL UNIQUE,
    tag        TEXT,
    kind       TEXT NOT NULL,
    model      TEXT NOT NULL,
    recipe     TEXT NOT NULL,
    revision   INTEGER NOT NULL,
    area       INTEGER NOT NULL,
    due        INTEGER,
    mate       TEXT,
    holds      TEXT NOT NULL,
    scrapped   TEXT,
    mated      INTEGER NOT NULL,
    newest     INTEGER NOT NULL,
    branch     INTEGER NOT NULL,
    in_process INTEGER NOT NULL
) STRICT;
CREATE INDEX piece_in_process ON piece (id) WHERE in_process = 1;
CREATE INDEX piece_tag ON piece (tag) WHERE tag IS NOT NULL;
CREATE INDEX piece_newest ON piece (newest);

CREATE TABLE standing (
    piece            INTEGER NOT NULL,
    branch           INTEGER NOT NULL,
    surface          TEXT NOT NULL,
    done             TEXT NOT NULL,
    film_nm          INTEGER NOT NULL,
    gauged           INTEGER NOT NULL,
    last_wet         INTEGER,
    last_wet_kind    TEXT,
    retarder_last    INTEGER NOT NULL,
    retarder_set     INTEGER NOT NULL,
    coat_day         INTEGER NOT NULL,
    coats_that_day   TEXT NOT NULL,
    sanded_since_wet INTEGER NOT NULL,
    last_deed        INTEGER,
    PRIMARY KEY (piece, branch, surface)
) STRICT, WITHOUT ROWID;

CREATE TABLE stay (
    piece     INTEGER NOT NULL,
    line      INTEGER NOT NULL,
    from_ms   INTEGER NOT NULL,
    until_ms  INTEGER NOT NULL,
    rack      TEXT,
    hook      INTEGER,
    room      TEXT,
    PRIMARY KEY (piece, line)
) STRICT, WITHOUT ROWID;
CREATE INDEX stay_rack ON stay (rack, until_ms) WHERE rack IS NOT NULL;

CREATE TABLE deviation (
    entry  INTEGER NOT NULL,
    rule   TEXT NOT NULL,
    piece  INTEGER NOT NULL,
    text   TEXT NOT NULL,
    reason TEXT,
    raised INTEGER NOT NULL,   -- the action that brought it to light
    moot   INTEGER,            -- the action after which it no longer holds
    answer INTEGER,            -- the entry with the supervisor's word
    PRIMARY KEY (entry, rule)
) STRICT, WITHOUT ROWID;
CREATE INDEX deviation_piece ON deviation (piece);
CREATE INDEX deviation_open ON deviation (entry) WHERE moot IS NULL AND answer IS NULL;

CREATE TABLE used (
    entry  INTEGER NOT NULL,
    lot    TEXT NOT NULL,
    volume INTEGER NOT NULL,
    PRIMARY KEY (entry, lot)
) STRICT, WITHOUT ROWID;

CREATE TABLE month_mass (
    month    TEXT NOT NULL,
    material TEXT NOT NULL,
    sheet    TEXT NOT NULL,
    cas      TEXT NOT NULL,
    mass     INTEGER NOT NULL,
    PRIMARY KEY (month, material, sheet, cas)
) STRICT, WITHOUT ROWID;

CREATE TABLE month_volume (
    month  TEXT NOT NULL,
    lot    TEXT NOT NULL,
    volume INTEGER NOT NULL,
    PRIMARY KEY (month, lot)
) STRICT, WITHOUT ROWID;
