-- What must be told follows from alarms and what was told of them; nobody ever read what waited here.

DROP TABLE notice;
DROP TABLE consumer;
