ALTER TABLE standings DROP COLUMN share;
