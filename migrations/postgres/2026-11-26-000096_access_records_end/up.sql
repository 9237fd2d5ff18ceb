-- An access record goes away after its time, which the settings of the service say; never within
-- its first thirty days by the clock of the server, whatever they say. Changing one is kept from the
-- service by grants. (SQLite has a trigger for both.)
CREATE FUNCTION refuse_to_remove_young_records() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.at > (extract(epoch FROM now()) - 30 * 86400) * 1000000 THEN
        RAISE EXCEPTION 'an access record is never removed within its first 30 days';
    END IF;
    RETURN OLD;
END
$$;
CREATE TRIGGER access_records_never_removed BEFORE DELETE ON access_records
    FOR EACH ROW EXECUTE FUNCTION refuse_to_remove_young_records();

-- What removes them asks by this only: which books have records, and since when. As the functions for
-- checkpoints it runs as the owner.
CREATE FUNCTION tarebook_access_books() RETURNS TABLE (org BIGINT, name TEXT, log TEXT, oldest BIGINT)
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp
AS $$
DECLARE
    said text := COALESCE(current_setting('tarebook.orgs', true), '');
BEGIN
    PERFORM set_config('tarebook.orgs', '*', true);
    RETURN QUERY SELECT o.org, o.name, o.log,
        (SELECT MIN(a.at) FROM access_records a WHERE a.org = o.org) FROM organisations o;
    PERFORM set_config('tarebook.orgs', said, true);
END
$$;
REVOKE EXECUTE ON FUNCTION tarebook_access_books() FROM PUBLIC;
CREATE VIEW access_books AS SELECT org, name, log, oldest FROM tarebook_access_books();
