-- What each controller does that fermwatch may do more with than read it, as the watcher saw it last.

CREATE TABLE controller (
    site TEXT NOT NULL,
    name TEXT NOT NULL,
    controller TEXT NOT NULL,
    PRIMARY KEY (site, name)
) STRICT, WITHOUT ROWID;
