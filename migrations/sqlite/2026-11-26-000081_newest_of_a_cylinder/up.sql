-- Where to begin when somebody looks at a cylinder, and when to stop: the newest entry that moved its
-- content (before that its registration; -1: older than the count, `tarebook rebuild` fills it), and
-- how many did. An index would be written with every movement;
-- these two numbers stand in a row that every posting writes anyway.
ALTER TABLE subjects ADD COLUMN newest BIGINT NOT NULL DEFAULT -1;
ALTER TABLE subjects ADD COLUMN moved BIGINT NOT NULL DEFAULT 0;
