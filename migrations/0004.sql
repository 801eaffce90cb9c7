-- Signed months: which entry signed which revision of a month. What was signed stands in that entry, as it was printed.
CREATE TABLE signed_month (
    month    TEXT    NOT NULL,
    revision INTEGER NOT NULL CHECK (revision >= 1),
    entry    INTEGER NOT NULL,
    PRIMARY KEY (month, revision)
) STRICT, WITHOUT ROWID;
