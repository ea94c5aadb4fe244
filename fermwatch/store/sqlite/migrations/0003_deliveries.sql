-- Known again by the device's running number too, whichever message brings it; what is remembered is soon remembered anew.
DROP TABLE delivery;

-- Readings stored of late that no device time tells apart, oldest turn first.
CREATE TABLE delivery (
    turn INTEGER PRIMARY KEY,
    series INTEGER NOT NULL,
    kind INTEGER NOT NULL, -- 0: a message's identifier, 1: the device's running number
    number INTEGER NOT NULL,
    value REAL NOT NULL,
    received_ms INTEGER NOT NULL
) STRICT;
