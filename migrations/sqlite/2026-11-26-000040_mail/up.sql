-- Mail: what each person chose to get, what was made for them and why, and the addresses that stop it.
-- Nothing of this is a fact of the book.

-- What a person gets by mail; no row: nothing.
CREATE TABLE mail_choices (
    org        BIGINT NOT NULL,
    person     BLOB   NOT NULL,
    digest     BIGINT NOT NULL, -- 0: none, 1: every day, 2: every week
    reminders  BIGINT NOT NULL, -- 1: 14 days before, 2: 3 days before, 4: on the day, 8: once when late; added up
    everything BIGINT NOT NULL, -- 1: of the whole organisation; 0: what is assigned to the person
    names      BIGINT NOT NULL, -- 1: names of sites stand in it
    made_at    BIGINT NOT NULL, -- microseconds since 1970, as all moments here
    done_day   BIGINT NOT NULL, -- the last local day that was seen to, days since 1970; 0: none yet
    PRIMARY KEY (org, person)
) WITHOUT ROWID;

-- Why a message was made. A row is added in the transaction that adds its message, so that nothing
-- is made twice and nothing is forgotten.
CREATE TABLE mail_reasons (
    org     BIGINT NOT NULL,
    person  BLOB   NOT NULL,
    kind    BIGINT NOT NULL, -- codes of store/outgoing.rs
    step    BLOB   NOT NULL, -- of the duty; zero for a digest
    day     BIGINT NOT NULL, -- the day it is due; of a digest the day or the Monday it is for
    message BLOB   NOT NULL,
    made_at BIGINT NOT NULL,
    PRIMARY KEY (org, person, kind, step, day)
) WITHOUT ROWID;

-- Messages: waiting, sent, failed for good, or dropped because their person gets nothing any more.
CREATE TABLE outgoing (
    org        BIGINT NOT NULL,
    id         BLOB   NOT NULL,
    person     BLOB   NOT NULL,
    kind       BIGINT NOT NULL,
    subject    TEXT   NOT NULL,
    body       TEXT   NOT NULL, -- empty once it is sent or dropped
    made_at    BIGINT NOT NULL,
    state      BIGINT NOT NULL, -- 0: waiting, 1: sent, 2: failed, 3: dropped
    attempts   BIGINT NOT NULL,
    next_at    BIGINT NOT NULL, -- not tried before
    holder     BLOB  ,          -- who sends it just now
    held_until BIGINT NOT NULL, -- and for how long nobody else does
    ended_at   BIGINT NOT NULL, -- 0: still waiting
    why        TEXT   NOT NULL, -- what the last attempt that failed was told
    PRIMARY KEY (org, id)
) WITHOUT ROWID;
CREATE INDEX outgoing_by_state ON outgoing (org, state, next_at);

-- Addresses in messages that stop all mail to a person. Only the SHA-256 of each stands here.
CREATE TABLE mail_stops (
    org     BIGINT NOT NULL,
    secret  BLOB   NOT NULL,
    person  BLOB   NOT NULL,
    made_at BIGINT NOT NULL,
    PRIMARY KEY (org, secret)
) WITHOUT ROWID;
CREATE UNIQUE INDEX mail_stops_by_secret ON mail_stops (secret);

-- What sends the mail of all books asks by these two (PostgreSQL needs a narrow way for them).
CREATE VIEW mail_books AS
    SELECT org, name, log FROM organisations
    WHERE EXISTS (SELECT 1 FROM mail_choices WHERE mail_choices.org = organisations.org)
       OR EXISTS (SELECT 1 FROM outgoing WHERE outgoing.org = organisations.org AND state = 0);
CREATE VIEW mail_counts AS
    SELECT COALESCE(SUM(CASE WHEN state = 0 THEN 1 ELSE 0 END), 0) AS waiting,
           COALESCE(SUM(CASE WHEN state = 2 THEN 1 ELSE 0 END), 0) AS failed FROM outgoing;
