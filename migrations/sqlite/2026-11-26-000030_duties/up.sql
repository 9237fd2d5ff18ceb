-- Whose duties are, and the calendars people follow. Nothing of this is a fact of the book: the
-- duties themselves follow from the entries and are kept nowhere.

-- Who does what is owed at an appliance or at every appliance of a site. A row stays when nobody is
-- named any more, so that its version is never given twice.
CREATE TABLE assignments (
    org     BIGINT NOT NULL,
    thing   BLOB   NOT NULL, -- an appliance or a site
    person  BLOB  ,          -- none: nobody in particular
    version BIGINT NOT NULL, -- one more at every change
    made_by BLOB  ,          -- none: on the host
    made_at BIGINT NOT NULL, -- microseconds since 1970, as all moments here
    PRIMARY KEY (org, thing)
) WITHOUT ROWID;

-- Calendars that a program fetches without signing in: the address holds the secret, and only its
-- SHA-256 stands here.
CREATE TABLE calendars (
    org        BIGINT NOT NULL,
    id         BLOB   NOT NULL,
    secret     BLOB   NOT NULL,
    person     BLOB   NOT NULL,
    names      BIGINT NOT NULL, -- 1: names of sites stand in it
    everything BIGINT NOT NULL, -- 1: of the whole organisation; 0: what is assigned to the person
    made_at    BIGINT NOT NULL,
    read_at    BIGINT NOT NULL, -- 0: never
    revoked_at BIGINT NOT NULL, -- 0: not revoked
    PRIMARY KEY (org, id)
) WITHOUT ROWID;
CREATE UNIQUE INDEX calendars_by_secret ON calendars (secret);
CREATE INDEX calendars_of_person ON calendars (org, person);

-- What a calendar said last of each step, so that a change can be told from a repetition and a step
-- that is over is called off for a while.
CREATE TABLE calendar_steps (
    org      BIGINT NOT NULL,
    calendar BLOB   NOT NULL,
    step     BLOB   NOT NULL,
    sequence BIGINT NOT NULL, -- one more at every change
    day      BIGINT NOT NULL, -- days since 1970
    summary  TEXT   NOT NULL,
    details  TEXT   NOT NULL,
    link     TEXT   NOT NULL,
    said_at  BIGINT NOT NULL, -- of the last change
    over_at  BIGINT NOT NULL, -- 0: still owed
    PRIMARY KEY (org, calendar, step)
) WITHOUT ROWID;
