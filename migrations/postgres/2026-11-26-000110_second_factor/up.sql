-- A second factor: the seed of a person's one-time codes, the codes for the day on which the phone is
-- lost, sign-ins that wait for their code, and of whom an organisation asks one. Nothing of this is a
-- fact of the book.

-- The seed is sealed with a key that lies outside of the database.
CREATE TABLE factors (
    org          BIGINT NOT NULL,
    person       BYTEA  NOT NULL,
    sealed       BYTEA  NOT NULL,
    made_at      BIGINT NOT NULL, -- microseconds since 1970, as all moments here
    confirmed_at BIGINT NOT NULL, -- a code was right; 0: none yet, it does not hold
    last_step    BIGINT NOT NULL, -- the newest step whose code was taken: none is taken twice
    PRIMARY KEY (org, person)
);

-- Codes that work once. Only a hash of each stands here.
CREATE TABLE recovery_codes (
    org     BIGINT NOT NULL,
    person  BYTEA  NOT NULL,
    hash    BYTEA  NOT NULL,
    used_at BIGINT NOT NULL, -- 0: not used
    PRIMARY KEY (org, person, hash)
);

-- Somebody whose password was right and whose code is waited for.
CREATE TABLE half_sign_ins (
    org        BIGINT NOT NULL,
    secret     BYTEA  NOT NULL, -- SHA-256 of what the browser shows
    person     BYTEA  NOT NULL,
    version    BIGINT NOT NULL, -- of the sign-in: another password or reset ends it
    expires_at BIGINT NOT NULL,
    failures   BIGINT NOT NULL, -- wrong codes
    last_at    BIGINT NOT NULL, -- the last of them
    PRIMARY KEY (org, secret)
);
CREATE UNIQUE INDEX half_sign_ins_by_secret ON half_sign_ins (secret);

-- Of whom an organisation asks a second factor; no row: of nobody.
CREATE TABLE factor_policies (
    org      BIGINT NOT NULL PRIMARY KEY,
    required BIGINT NOT NULL -- 0: nobody, 1: managers and administrators, 2: everyone
);

DO $$
DECLARE
    name text;
BEGIN
    FOREACH name IN ARRAY ARRAY['factors', 'recovery_codes', 'half_sign_ins', 'factor_policies']
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

-- A sign-in that waits for its code is found by its secret; that only reads.
CREATE POLICY by_secret ON half_sign_ins FOR SELECT
    USING (secret = (SELECT tarebook_asked('secret')));
