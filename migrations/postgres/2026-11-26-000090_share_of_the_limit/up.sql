-- How much of its limit the newest rate of an appliance is, so that a fleet can be listed by it. What was
-- worked out without it is worked out anew.
TRUNCATE standings;
ALTER TABLE standings ADD COLUMN share BIGINT NOT NULL DEFAULT -1; -- ten-thousandths of the limit, -1: no limit is held against it
