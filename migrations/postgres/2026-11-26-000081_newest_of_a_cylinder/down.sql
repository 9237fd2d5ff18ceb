ALTER TABLE subjects DROP COLUMN moved;
ALTER TABLE subjects DROP COLUMN newest;
