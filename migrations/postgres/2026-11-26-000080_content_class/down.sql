ALTER TABLE subjects DROP COLUMN class;
