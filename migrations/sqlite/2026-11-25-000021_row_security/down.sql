DROP VIEW newest_booking;
DROP VIEW unsigned_books;
DROP TRIGGER access_records_never_changed;
DROP TRIGGER access_records_never_removed;
