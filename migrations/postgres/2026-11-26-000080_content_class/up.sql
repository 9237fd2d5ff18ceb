-- The condition of what a cylinder holds (api/src/store/columns/class.rs): 0 not stated, 1 clean,
-- 2 suspect, 3 unknown, 4 burn-out, 5 mixed. Worked out from the entries: `tarebook rebuild` fills it
-- for books that are older than the column.
ALTER TABLE subjects ADD COLUMN class BIGINT NOT NULL DEFAULT 0;
