DROP VIEW access_books;
DROP TRIGGER access_records_never_removed;
CREATE TRIGGER access_records_never_removed BEFORE DELETE ON access_records
BEGIN
    SELECT RAISE(ABORT, 'an access record is never removed');
END;
