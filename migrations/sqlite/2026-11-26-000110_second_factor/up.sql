-- A second factor: the seed of a person's one-time codes, the codes for the day on which the phone is
-- lost, sign-ins that wait for their code, and of whom an organisation asks one. Nothing of this is a
-- fact of the book.

-- The seed is sealed with a key that lies outside of the database.
CREATE TABLE factors (
    org          BIGINT NOT NULL,
    person       BLOB   NOT NULL,
    sealed       BLOB   NOT NULL,
    made_at      BIGINT NOT NULL, -- microseconds since 1970, as all moments here
    confirmed_at BIGINT NOT NULL, -- a code was right; 0: none yet, it does not hold
    last_step    BIGINT NOT NULL, -- the newest step whose code was taken: none is taken twice
    PRIMARY KEY (org, person)
) WITHOUT ROWID;

-- Codes that work once. Only a hash of each stands here.
CREATE TABLE recovery_codes (
    org     BIGINT NOT NULL,
    person  BLOB   NOT NULL,
    hash    BLOB   NOT NULL,
    used_at BIGINT NOT NULL, -- 0: not used
    PRIMARY KEY (org, person, hash)
) WITHOUT ROWID;

-- Somebody whose password was right and whose code is waited for.
CREATE TABLE half_sign_ins (
    org        BIGINT NOT NULL,
    secret     BLOB   NOT NULL, -- SHA-256 of what the browser shows
    person     BLOB   NOT NULL,
    version    BIGINT NOT NULL, -- of the sign-in: another password or reset ends it
    expires_at BIGINT NOT NULL,
    failures   BIGINT NOT NULL, -- wrong codes
    last_at    BIGINT NOT NULL, -- the last of them
    PRIMARY KEY (org, secret)
) WITHOUT ROWID;
CREATE UNIQUE INDEX half_sign_ins_by_secret ON half_sign_ins (secret);

-- Of whom an organisation asks a second factor; no row: of nobody.
CREATE TABLE factor_policies (
    org      BIGINT NOT NULL PRIMARY KEY,
    required BIGINT NOT NULL -- 0: nobody, 1: managers and administrators, 2: everyone
) WITHOUT ROWID;
