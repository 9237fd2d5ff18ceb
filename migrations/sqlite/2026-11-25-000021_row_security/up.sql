-- SQLite has no roles and no row security: a book in a file is opened by one program, every
-- statement of which names its organisation, and a test reads them all (promise S2). What PostgreSQL
-- keeps from the role of the service by grants, triggers keep here: an access record is written once.

CREATE TRIGGER access_records_never_changed BEFORE UPDATE ON access_records
BEGIN
    SELECT RAISE(ABORT, 'an access record is never changed');
END;

CREATE TRIGGER access_records_never_removed BEFORE DELETE ON access_records
BEGIN
    SELECT RAISE(ABORT, 'an access record is never removed');
END;
