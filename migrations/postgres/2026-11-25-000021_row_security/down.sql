DROP VIEW newest_booking;
DROP VIEW unsigned_books;
DROP FUNCTION tarebook_newest_booking();
DROP FUNCTION tarebook_unsigned();
DROP POLICY by_name ON organisations;
DROP POLICY by_email ON sign_ins;
DROP POLICY by_secret ON tokens;
DROP POLICY by_secret ON sessions;

DO $$
DECLARE
    name text;
BEGIN
    FOREACH name IN ARRAY ARRAY[
        'organisations', 'heads', 'entries', 'attachments', 'disclosures', 'movements', 'balances',
        'registers', 'subjects', 'corrections', 'links', 'findings', 'standings', 'adopted', 'tiles',
        'checkpoints', 'imports', 'import_ids', 'sign_ins', 'sessions', 'tokens', 'known_devices',
        'access_records']
    LOOP
        EXECUTE format('DROP POLICY of_operator ON %I', name);
        EXECUTE format('DROP POLICY of_organisation ON %I', name);
        EXECUTE format('ALTER TABLE %I NO FORCE ROW LEVEL SECURITY', name);
        EXECUTE format('ALTER TABLE %I DISABLE ROW LEVEL SECURITY', name);
    END LOOP;
END
$$;

DROP FUNCTION tarebook_asked(text);
DROP FUNCTION tarebook_orgs();
