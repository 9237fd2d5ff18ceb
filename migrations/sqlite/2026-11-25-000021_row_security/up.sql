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

-- What looks after all books asks by these two (PostgreSQL needs a narrow way for them).
CREATE VIEW unsigned_books AS
    SELECT organisations.org, organisations.name, organisations.log
    FROM heads JOIN organisations ON organisations.org = heads.org
    WHERE next_seq > COALESCE((SELECT MAX(size) FROM checkpoints
                               WHERE checkpoints.org = heads.org), 0);
CREATE VIEW newest_booking AS SELECT COALESCE(MAX(booked_at), 0) AS booked_at FROM heads;
