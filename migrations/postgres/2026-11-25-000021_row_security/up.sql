-- Row security: a statement sees the rows of the organisations its transaction names, even when the
-- statement itself forgets to (promise S2). Who names none sees none.
--
-- `tarebook.orgs` holds numbers of organisations with commas between, and ends with its transaction.
-- Three narrow ways lead to rows before the organisation is known: a session or a token by the
-- SHA-256 of its secret, the sign-ins of an address by its SHA-256, an organisation by that of its
-- name. They only read. The role that owns the tables is held to the same (FORCE), unless it says by
-- `*` that it is the operator: commands on the host that look after all organisations do.

CREATE FUNCTION tarebook_orgs() RETURNS bigint[] LANGUAGE sql STABLE AS $$
    SELECT string_to_array(NULLIF(NULLIF(current_setting('tarebook.orgs', true), ''), '*'), ',')::bigint[]
$$;

CREATE FUNCTION tarebook_asked(setting text) RETURNS bytea LANGUAGE sql STABLE AS $$
    SELECT decode(NULLIF(current_setting('tarebook.' || setting, true), ''), 'hex')
$$;

-- Calls in a sub-select are made once a statement, not once a row.
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
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', name);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', name);
        EXECUTE format('CREATE POLICY of_organisation ON %I '
                       'USING (org = ANY ((SELECT tarebook_orgs())::bigint[]))', name);
        EXECUTE format('CREATE POLICY of_operator ON %I TO CURRENT_USER '
                       'USING ((SELECT current_setting(''tarebook.orgs'', true)) = ''*'')', name);
    END LOOP;
END
$$;

CREATE POLICY by_secret ON sessions FOR SELECT USING (secret = (SELECT tarebook_asked('secret')));
CREATE POLICY by_secret ON tokens FOR SELECT USING (secret = (SELECT tarebook_asked('secret')));
CREATE POLICY by_email ON sign_ins FOR SELECT
    USING (sha256(convert_to(email, 'UTF8')) = (SELECT tarebook_asked('email')));
CREATE POLICY by_name ON organisations FOR SELECT
    USING (sha256(convert_to(name, 'UTF8')) = (SELECT tarebook_asked('name')));

-- What looks after all books asks by these two only: which have entries that no checkpoint covers,
-- and when anything was booked last. They run as the owner of the tables, say for their one statement
-- that they are the operator, and give back what the transaction had said. (SET beside a function
-- would be shorter; an owner who is no superuser may not attach a setting of this program so.)
CREATE FUNCTION tarebook_unsigned() RETURNS TABLE (org BIGINT, name TEXT, log TEXT)
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp
AS $$
DECLARE
    said text := COALESCE(current_setting('tarebook.orgs', true), '');
BEGIN
    PERFORM set_config('tarebook.orgs', '*', true);
    RETURN QUERY SELECT o.org, o.name, o.log FROM heads JOIN organisations o ON o.org = heads.org
        WHERE next_seq > COALESCE((SELECT MAX(size) FROM checkpoints
                                   WHERE checkpoints.org = heads.org), 0);
    PERFORM set_config('tarebook.orgs', said, true);
END
$$;
CREATE FUNCTION tarebook_newest_booking() RETURNS BIGINT
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp
AS $$
DECLARE
    said text := COALESCE(current_setting('tarebook.orgs', true), '');
    newest BIGINT;
BEGIN
    PERFORM set_config('tarebook.orgs', '*', true);
    SELECT COALESCE(MAX(booked_at), 0) INTO newest FROM heads;
    PERFORM set_config('tarebook.orgs', said, true);
    RETURN newest;
END
$$;
REVOKE EXECUTE ON FUNCTION tarebook_unsigned(), tarebook_newest_booking() FROM PUBLIC;
CREATE VIEW unsigned_books AS SELECT org, name, log FROM tarebook_unsigned();
CREATE VIEW newest_booking AS SELECT tarebook_newest_booking() AS booked_at;
