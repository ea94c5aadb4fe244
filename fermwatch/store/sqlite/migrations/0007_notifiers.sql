-- What each notifier told of an alarm last, and how it does.

CREATE TABLE told (
    site TEXT NOT NULL,
    notifier TEXT NOT NULL,
    rule TEXT NOT NULL,
    subject TEXT NOT NULL,
    told TEXT NOT NULL,
    PRIMARY KEY (site, notifier, rule, subject)
) STRICT, WITHOUT ROWID;

CREATE TABLE notifier (
    site TEXT NOT NULL,
    name TEXT NOT NULL,
    notifier TEXT NOT NULL,
    PRIMARY KEY (site, name)
) STRICT, WITHOUT ROWID;
