-- What was delivered of late is one site's own affair: several may share a store.

CREATE TABLE delivery_of_site (
    site TEXT NOT NULL,
    turn INTEGER NOT NULL,
    series INTEGER NOT NULL,
    kind INTEGER NOT NULL,
    number INTEGER NOT NULL,
    value REAL NOT NULL,
    received_ms INTEGER NOT NULL,
    PRIMARY KEY (site, turn)
) STRICT, WITHOUT ROWID;

INSERT INTO delivery_of_site
SELECT series.site, turn, delivery.series, kind, number, value, received_ms FROM delivery JOIN series USING (series);

DROP TABLE delivery;

ALTER TABLE delivery_of_site RENAME TO delivery;
