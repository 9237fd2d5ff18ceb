DROP VIEW access_books;
DROP FUNCTION tarebook_access_books();
DROP TRIGGER access_records_never_removed ON access_records;
DROP FUNCTION refuse_to_remove_young_records();
