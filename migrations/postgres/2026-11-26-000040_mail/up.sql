-- Mail: what each person chose to get, what was made for them and why, and the addresses that stop it.
-- Nothing of this is a fact of the book.

-- What a person gets by mail; no row: nothing.
CREATE TABLE mail_choices (
    org        BIGINT NOT NULL,
    person     BYTEA  NOT NULL,
    digest     BIGINT NOT NULL, -- 0: none, 1: every day, 2: every week
    reminders  BIGINT NOT NULL, -- 1: 14 days before, 2: 3 days before, 4: on the day, 8: once when late; added up
    everything BIGINT NOT NULL, -- 1: of the whole organisation; 0: what is assigned to the person
    names      BIGINT NOT NULL, -- 1: names of sites stand in it
    made_at    BIGINT NOT NULL, -- microseconds since 1970, as all moments here
    done_day   BIGINT NOT NULL, -- the last local day that was seen to, days since 1970; 0: none yet
    PRIMARY KEY (org, person)
);

-- Why a message was made. A row is added in the transaction that adds its message, so that nothing
-- is made twice and nothing is forgotten.
CREATE TABLE mail_reasons (
    org     BIGINT NOT NULL,
    person  BYTEA  NOT NULL,
    kind    BIGINT NOT NULL, -- codes of store/outgoing.rs
    step    BYTEA  NOT NULL, -- of the duty; zero for a digest
    day     BIGINT NOT NULL, -- the day it is due; of a digest the day or the Monday it is for
    message BYTEA  NOT NULL,
    made_at BIGINT NOT NULL,
    PRIMARY KEY (org, person, kind, step, day)
);

-- Messages: waiting, sent, failed for good, or dropped because their person gets nothing any more.
CREATE TABLE outgoing (
    org        BIGINT NOT NULL,
    id         BYTEA  NOT NULL,
    person     BYTEA  NOT NULL,
    kind       BIGINT NOT NULL,
    subject    TEXT   NOT NULL,
    body       TEXT   NOT NULL, -- empty once it is sent or dropped
    made_at    BIGINT NOT NULL,
    state      BIGINT NOT NULL, -- 0: waiting, 1: sent, 2: failed, 3: dropped
    attempts   BIGINT NOT NULL,
    next_at    BIGINT NOT NULL, -- not tried before
    holder     BYTEA ,          -- who sends it just now
    held_until BIGINT NOT NULL, -- and for how long nobody else does
    ended_at   BIGINT NOT NULL, -- 0: still waiting
    why        TEXT   NOT NULL, -- what the last attempt that failed was told
    PRIMARY KEY (org, id)
);
CREATE INDEX outgoing_by_state ON outgoing (org, state, next_at);

-- Addresses in messages that stop all mail to a person. Only the SHA-256 of each stands here.
CREATE TABLE mail_stops (
    org     BIGINT NOT NULL,
    secret  BYTEA  NOT NULL,
    person  BYTEA  NOT NULL,
    made_at BIGINT NOT NULL,
    PRIMARY KEY (org, secret)
);
CREATE UNIQUE INDEX mail_stops_by_secret ON mail_stops (secret);

DO $$
DECLARE
    name text;
BEGIN
    FOREACH name IN ARRAY ARRAY['mail_choices', 'mail_reasons', 'outgoing', 'mail_stops']
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

-- A message says how to stop it to whoever does not sign in; that only reads.
CREATE POLICY by_secret ON mail_stops FOR SELECT
    USING (secret = (SELECT tarebook_asked('secret')));

-- What sends the mail of all books asks by these two only: which have something to send or to make,
-- and how many messages wait or failed. As the functions for checkpoints they run as the owner.
CREATE FUNCTION tarebook_mail_books() RETURNS TABLE (org BIGINT, name TEXT, log TEXT)
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp
AS $$
DECLARE
    said text := COALESCE(current_setting('tarebook.orgs', true), '');
BEGIN
    PERFORM set_config('tarebook.orgs', '*', true);
    RETURN QUERY SELECT o.org, o.name, o.log FROM organisations o
        WHERE EXISTS (SELECT 1 FROM mail_choices c WHERE c.org = o.org)
           OR EXISTS (SELECT 1 FROM outgoing g WHERE g.org = o.org AND g.state = 0);
    PERFORM set_config('tarebook.orgs', said, true);
END
$$;
CREATE FUNCTION tarebook_mail_counts() RETURNS TABLE (waiting BIGINT, failed BIGINT)
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp
AS $$
DECLARE
    said text := COALESCE(current_setting('tarebook.orgs', true), '');
BEGIN
    PERFORM set_config('tarebook.orgs', '*', true);
    RETURN QUERY SELECT COUNT(*) FILTER (WHERE g.state = 0), COUNT(*) FILTER (WHERE g.state = 2)
        FROM outgoing g;
    PERFORM set_config('tarebook.orgs', said, true);
END
$$;
REVOKE EXECUTE ON FUNCTION tarebook_mail_books(), tarebook_mail_counts() FROM PUBLIC;
CREATE VIEW mail_books AS SELECT org, name, log FROM tarebook_mail_books();
CREATE VIEW mail_counts AS SELECT waiting, failed FROM tarebook_mail_counts();
