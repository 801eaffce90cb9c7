-- What is asked of the uses of many days: kept in groups, so that it costs no more after ten years. A use is found by its entry and
-- by its lot; the uses of a day through the entries of the day.
ALTER TABLE mix ADD COLUMN drawn INTEGER NOT NULL DEFAULT 0;   -- how much of it went on, by the coats that count

ALTER TABLE room ADD COLUMN readings INTEGER NOT NULL DEFAULT 0;  -- how many were taken in

CREATE TABLE day_use (
    day     INTEGER NOT NULL,   -- production day
    lot     TEXT    NOT NULL,
    mix     INTEGER NOT NULL,   -- 0 where it was used without one
    coat    INTEGER NOT NULL,   -- 1 for a coat
    purpose TEXT    NOT NULL,
    volume  INTEGER NOT NULL,   -- of one use
    uses    INTEGER NOT NULL,   -- how many of them
    PRIMARY KEY (day, lot, mix, coat, purpose, volume)
) STRICT, WITHOUT ROWID;

CREATE TABLE coat_day (
    day     INTEGER PRIMARY KEY,
    known   INTEGER NOT NULL,   -- coats of which it is known how much of which lot went on
    unknown INTEGER NOT NULL    -- and those of which it is not
) STRICT;

DROP INDEX used_day;

-- The earliest coat that a room was ever seen to have on a production day. One that was taken back, or a piece that hung elsewhere
-- after all, may stand here: an earlier coat cannot be missing.
CREATE TABLE coat_room (
    day   INTEGER NOT NULL,
    room  TEXT    NOT NULL,
    began INTEGER NOT NULL,
    entry INTEGER NOT NULL,
    PRIMARY KEY (day, room)
) STRICT, WITHOUT ROWID;
