-- Finding by day and by room without reading all of the history.
CREATE INDEX entry_day ON entry (day);
CREATE INDEX stay_room ON stay (room, until_ms) WHERE room IS NOT NULL;
