-- Times are whole milliseconds since 1970, UTC. Values are canonical (°C, SG 20/20, bar gauge, 0..1), uncalibrated.
-- A row that is read and written whole is kept as JSON beside the columns it is looked up by.
-- Rows keyed by a series belong to that series' site.

CREATE TABLE site (
    site TEXT PRIMARY KEY,
    timezone TEXT NOT NULL,
    begun_at_ms INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE vessel (
    site TEXT NOT NULL,
    slug TEXT NOT NULL,
    position INTEGER NOT NULL,
    configured INTEGER NOT NULL,
    vessel TEXT NOT NULL,
    PRIMARY KEY (site, slug)
) STRICT, WITHOUT ROWID;

-- A slug that comes back for another quantity is another series: temperatures and gravities never mix.
CREATE TABLE series (
    series INTEGER PRIMARY KEY,
    site TEXT NOT NULL,
    slug TEXT NOT NULL,
    quantity TEXT NOT NULL,
    position INTEGER NOT NULL,
    configured INTEGER NOT NULL,
    probe TEXT NOT NULL,
    UNIQUE (site, slug, quantity)
) STRICT;

CREATE TABLE binding (
    series INTEGER NOT NULL,
    valid_from_ms INTEGER NOT NULL,
    vessel TEXT NOT NULL,
    "offset" REAL NOT NULL,
    factor REAL NOT NULL,
    PRIMARY KEY (series, valid_from_ms)
) STRICT, WITHOUT ROWID;

CREATE TABLE reading (
    series INTEGER NOT NULL,
    at_ms INTEGER NOT NULL,
    n INTEGER NOT NULL, -- tells two readings of one instant apart
    value REAL NOT NULL,
    lag_ms INTEGER NOT NULL,
    sequence INTEGER,
    flags INTEGER NOT NULL,
    PRIMARY KEY (series, at_ms, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE latest (
    series INTEGER PRIMARY KEY,
    at_ms INTEGER NOT NULL,
    value REAL NOT NULL,
    flags INTEGER NOT NULL,
    last_known INTEGER NOT NULL
) STRICT;

-- Messages stored of late, oldest turn first: one delivered again is known by its identifier and value.
CREATE TABLE delivery (
    turn INTEGER PRIMARY KEY,
    series INTEGER NOT NULL,
    message_id INTEGER NOT NULL,
    value REAL NOT NULL
) STRICT;

-- Roll-ups of good readings: `bucket` counts spans of the table's length since 1970.
CREATE TABLE quarter_hour (
    series INTEGER NOT NULL,
    bucket INTEGER NOT NULL,
    n INTEGER NOT NULL,
    low REAL NOT NULL,
    high REAL NOT NULL,
    total REAL NOT NULL,
    PRIMARY KEY (series, bucket)
) STRICT, WITHOUT ROWID;

CREATE TABLE hour (
    series INTEGER NOT NULL,
    bucket INTEGER NOT NULL,
    n INTEGER NOT NULL,
    low REAL NOT NULL,
    high REAL NOT NULL,
    total REAL NOT NULL,
    PRIMARY KEY (series, bucket)
) STRICT, WITHOUT ROWID;

CREATE TABLE day (
    series INTEGER NOT NULL,
    bucket INTEGER NOT NULL,
    n INTEGER NOT NULL,
    low REAL NOT NULL,
    high REAL NOT NULL,
    total REAL NOT NULL,
    PRIMARY KEY (series, bucket)
) STRICT, WITHOUT ROWID;

CREATE TABLE batch (
    site TEXT NOT NULL,
    id TEXT NOT NULL,
    vessel TEXT NOT NULL,
    pitched_at_ms INTEGER NOT NULL,
    ended INTEGER NOT NULL,
    batch TEXT NOT NULL,
    PRIMARY KEY (site, id)
) STRICT, WITHOUT ROWID;

CREATE UNIQUE INDEX one_open_batch_per_vessel ON batch (site, vessel) WHERE NOT ended;

CREATE TABLE measurement (
    site TEXT NOT NULL,
    id TEXT NOT NULL,
    batch TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    voided INTEGER NOT NULL DEFAULT 0,
    void_reason TEXT NOT NULL DEFAULT '',
    measurement TEXT NOT NULL,
    PRIMARY KEY (site, id)
) STRICT, WITHOUT ROWID;

CREATE INDEX measurement_by_batch ON measurement (site, batch, at_ms);

CREATE TABLE event (
    site TEXT NOT NULL,
    id TEXT NOT NULL,
    batch TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    voided INTEGER NOT NULL DEFAULT 0,
    void_reason TEXT NOT NULL DEFAULT '',
    event TEXT NOT NULL,
    PRIMARY KEY (site, id)
) STRICT, WITHOUT ROWID;

CREATE INDEX event_by_batch ON event (site, batch, at_ms);

CREATE TABLE judgement (
    site TEXT NOT NULL,
    batch TEXT NOT NULL,
    judgement TEXT NOT NULL,
    PRIMARY KEY (site, batch)
) STRICT, WITHOUT ROWID;

CREATE TABLE alarm (
    site TEXT NOT NULL,
    rule TEXT NOT NULL,
    subject TEXT NOT NULL,
    alarm TEXT NOT NULL,
    PRIMARY KEY (site, rule, subject)
) STRICT, WITHOUT ROWID;

CREATE TABLE source (
    site TEXT NOT NULL,
    name TEXT NOT NULL,
    source TEXT NOT NULL,
    PRIMARY KEY (site, name)
) STRICT, WITHOUT ROWID;

CREATE TABLE watcher (
    site TEXT PRIMARY KEY,
    watcher TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE journal (
    id INTEGER PRIMARY KEY,
    site TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    kind TEXT NOT NULL,
    subject TEXT NOT NULL,
    text TEXT NOT NULL
) STRICT;

CREATE TABLE outcome (
    site TEXT NOT NULL,
    request TEXT NOT NULL,
    state TEXT NOT NULL,
    reason TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    PRIMARY KEY (site, request)
) STRICT, WITHOUT ROWID;

-- What people said and what happened is added to, never rewritten.
CREATE TRIGGER journal_is_not_rewritten BEFORE UPDATE ON journal
BEGIN SELECT RAISE(ABORT, 'the journal is only added to'); END;

CREATE TRIGGER journal_is_not_erased BEFORE DELETE ON journal
BEGIN SELECT RAISE(ABORT, 'the journal is only added to'); END;

CREATE TRIGGER measurement_is_not_rewritten BEFORE UPDATE OF site, id, batch, at_ms, measurement ON measurement
BEGIN SELECT RAISE(ABORT, 'a measurement is voided, never edited'); END;

CREATE TRIGGER event_is_not_rewritten BEFORE UPDATE OF site, id, batch, at_ms, event ON event
BEGIN SELECT RAISE(ABORT, 'an event is voided, never edited'); END;
