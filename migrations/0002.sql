-- What a whole process needs besides coats: reworks and their surfaces, begun deeds, spots, retired tags.
-- Only read models change; they are built anew from the record afterwards.

ALTER TABLE piece ADD COLUMN more TEXT NOT NULL DEFAULT '{}';  -- reworks, begun deed, tape, flaws, who buffed
ALTER TABLE piece ADD COLUMN batch TEXT;                       -- batch of the colour on it

ALTER TABLE standing ADD COLUMN start INTEGER NOT NULL DEFAULT 0;  -- steps before it are no longer asked for
ALTER TABLE standing ADD COLUMN closed INTEGER;                    -- when a rework was done on this surface
ALTER TABLE standing ADD COLUMN spots TEXT NOT NULL DEFAULT '{}';  -- drop-filled spots: newest drop and number

ALTER TABLE mix ADD COLUMN mixed INTEGER NOT NULL DEFAULT 0;       -- when its oldest part was mixed

CREATE TABLE retired_tag (
    tag   TEXT NOT NULL,
    piece INTEGER NOT NULL,
    line  INTEGER NOT NULL,
    why   TEXT NOT NULL,
    at    INTEGER NOT NULL,
    PRIMARY KEY (piece, line)
) STRICT, WITHOUT ROWID;
CREATE INDEX retired_tag_tag ON retired_tag (tag);

CREATE TABLE wheel_use (
    entry    INTEGER PRIMARY KEY,
    wheel    TEXT NOT NULL,
    at       INTEGER NOT NULL,
    compound TEXT NOT NULL
) STRICT;
CREATE INDEX wheel_use_wheel ON wheel_use (wheel, at);

-- Stops of a booth's exhaust, and the checks after them.
CREATE TABLE exhaust (
    entry    INTEGER PRIMARY KEY,
    booth    TEXT    NOT NULL,
    stopped  INTEGER NOT NULL,   -- 1 for a stop, 0 for a check
    at       INTEGER NOT NULL,
    until_ms INTEGER             -- when it ran again, where that is known
) STRICT;
CREATE INDEX exhaust_booth ON exhaust (booth, at);
