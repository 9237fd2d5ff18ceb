-- Who may ask: sessions, tokens, known devices, failed sign-ins, and the record of who looked at
-- what. Secrets stand here only as their SHA-256. Nothing of this is a fact of the book.

ALTER TABLE sign_ins ADD COLUMN disabled_at BIGINT NOT NULL DEFAULT 0; -- 0: may sign in
ALTER TABLE sign_ins ADD COLUMN version BIGINT NOT NULL DEFAULT 1;     -- one more at every change
-- How many of the address's failures came before the last good sign-in: they no longer count.
ALTER TABLE sign_ins ADD COLUMN forgiven BIGINT NOT NULL DEFAULT 0;
-- An address is kept in lower case, so that one person has one of them.
UPDATE sign_ins SET email = lower(email);
CREATE INDEX sign_ins_of_email ON sign_ins (email);

CREATE TABLE sessions (
    org          BIGINT NOT NULL,
    id           BYTEA   NOT NULL,
    secret       BYTEA   NOT NULL,
    person       BYTEA   NOT NULL,
    source       TEXT   NOT NULL, -- the address it was opened from
    signed_in_at BIGINT NOT NULL, -- microseconds since 1970, as all moments here
    seen_at      BIGINT NOT NULL,
    expires_at   BIGINT NOT NULL,
    PRIMARY KEY (org, id)
);
CREATE UNIQUE INDEX sessions_by_secret ON sessions (secret);
CREATE INDEX sessions_of_person ON sessions (org, person);

CREATE TABLE tokens (
    org        BIGINT NOT NULL,
    id         BYTEA   NOT NULL,
    word       TEXT   NOT NULL, -- the part of the token that may be shown
    secret     BYTEA   NOT NULL,
    name       TEXT   NOT NULL,
    person     BYTEA,            -- none: it belongs to the organisation
    role       TEXT   NOT NULL,
    scopes     TEXT   NOT NULL, -- JSON
    made_at    BIGINT NOT NULL,
    expires_at BIGINT NOT NULL,
    used_at    BIGINT NOT NULL, -- 0: never
    revoked_at BIGINT NOT NULL, -- 0: not revoked
    PRIMARY KEY (org, id)
);
CREATE UNIQUE INDEX tokens_by_secret ON tokens (secret);
CREATE UNIQUE INDEX tokens_by_word ON tokens (org, word);

-- Browsers in which a person once signed in: attacks on the name do not hold them up.
CREATE TABLE known_devices (
    org      BIGINT NOT NULL,
    person   BYTEA   NOT NULL,
    secret   BYTEA   NOT NULL,
    made_at  BIGINT NOT NULL,
    failures BIGINT NOT NULL, -- since the last success
    PRIMARY KEY (org, person, secret)
);

-- Failed sign-ins with an address. The key is a hash of what was typed, so that an address that
-- nobody has is counted like one that somebody has; the row belongs to no organisation.
CREATE TABLE sign_in_failures (
    account  BYTEA   NOT NULL PRIMARY KEY,
    failures BIGINT NOT NULL,
    last_at  BIGINT NOT NULL
);

-- Who read personal data, exported, signed in or changed who may: written once, never changed.
CREATE TABLE access_records (
    org    BIGINT NOT NULL,
    at     BIGINT NOT NULL,
    id     BYTEA   NOT NULL,
    person BYTEA,            -- none: the operator, or a token of the organisation
    device BYTEA,            -- the session or token
    role   TEXT   NOT NULL,
    what   TEXT   NOT NULL,
    about  TEXT   NOT NULL,
    source TEXT   NOT NULL,
    PRIMARY KEY (org, at, id)
);
