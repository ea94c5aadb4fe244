-- What changed, until every consumer has taken it. A number is never given twice.

CREATE TABLE notice (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    site TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    kind TEXT NOT NULL,
    subject TEXT NOT NULL,
    what TEXT NOT NULL
) STRICT;

CREATE TABLE consumer (
    site TEXT NOT NULL,
    consumer TEXT NOT NULL,
    taken INTEGER NOT NULL,
    PRIMARY KEY (site, consumer)
) STRICT, WITHOUT ROWID;
