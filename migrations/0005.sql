-- The solvent book: what leaves the stock and what for, what a pot holds, and an index of the facts that are read one by
-- one. Only read models change; they are built anew from the record afterwards.

ALTER TABLE lot ADD COLUMN document TEXT;                      -- delivery note or invoice
ALTER TABLE mix ADD COLUMN parent INTEGER;                     -- the mix that it tops up
ALTER TABLE mix ADD COLUMN left_ul INTEGER;                    -- what was left of that one and is in this one
ALTER TABLE mix ADD COLUMN closed INTEGER;                     -- the entry that closed its pot
CREATE INDEX mix_parent ON mix (parent) WHERE parent IS NOT NULL;
ALTER TABLE pour ADD COLUMN fresh INTEGER NOT NULL DEFAULT 0;  -- the part of it that came from the stock

ALTER TABLE used ADD COLUMN purpose TEXT NOT NULL DEFAULT 'coating';
ALTER TABLE used ADD COLUMN day INTEGER NOT NULL DEFAULT 0;    -- production day
CREATE INDEX used_day ON used (day);
CREATE INDEX used_lot ON used (lot, day);

ALTER TABLE ceiling ADD COLUMN warn TEXT NOT NULL DEFAULT '';  -- thousandths at which a word is said before
ALTER TABLE ceiling ADD COLUMN rules TEXT;                     -- the rule set that says what counts

-- What came into the stock (above 0) and what left it (below 0).
CREATE TABLE stock_move (
    entry  INTEGER NOT NULL,
    line   INTEGER NOT NULL,
    lot    TEXT    NOT NULL,
    place  TEXT    NOT NULL,
    volume INTEGER NOT NULL,
    day    INTEGER NOT NULL,
    at     INTEGER NOT NULL,
    PRIMARY KEY (entry, line)
) STRICT, WITHOUT ROWID;
CREATE INDEX stock_move_lot ON stock_move (lot, day);

CREATE TABLE rule_set (
    code     TEXT    NOT NULL,
    revision TEXT    NOT NULL,
    entry    INTEGER NOT NULL,
    text     TEXT    NOT NULL,
    PRIMARY KEY (code, revision)
) STRICT;

-- Facts that are read one by one: counts, drums, deeds that come round, incidents, cautions that were read.
CREATE TABLE noted (
    entry INTEGER PRIMARY KEY,
    topic TEXT    NOT NULL,   -- the kind of the entry without its version
    about TEXT    NOT NULL,   -- the material, drum, booth or person
    at    INTEGER NOT NULL
) STRICT;
CREATE INDEX noted_topic ON noted (topic, about, at);
