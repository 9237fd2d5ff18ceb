-- The book. Every key begins with the organisation; every integer is 64 bits wide.
-- What can be worked out from `entries`, `attachments` and `disclosures` is a cache: `tarebook rebuild`.

CREATE TABLE organisations (
    org  BIGINT NOT NULL PRIMARY KEY,
    name TEXT   NOT NULL UNIQUE,
    log  TEXT   NOT NULL UNIQUE
);

-- One row a book. Locked by every write; the book in memory is trusted only while next_seq agrees.
CREATE TABLE heads (
    org       BIGINT NOT NULL PRIMARY KEY,
    next_seq  BIGINT NOT NULL,
    engine    BIGINT NOT NULL, -- lowest engine that may write
    format    BIGINT NOT NULL, -- lowest format that may write
    booked_at BIGINT NOT NULL, -- microseconds since 1970, never decreasing
    judged_by BIGINT NOT NULL, -- newest entry that changes judgements (rules, methods, settings ...)
    frontier  BYTEA   NOT NULL
);

CREATE TABLE entries (
    org       BIGINT NOT NULL,
    seq       BIGINT NOT NULL,
    entry_id  BYTEA   NOT NULL,
    kind      BIGINT NOT NULL,
    day       BIGINT NOT NULL, -- happened, days since 1970
    booked_at BIGINT NOT NULL,
    leaf      BYTEA   NOT NULL, -- the bytes that are hashed
    hash      BYTEA   NOT NULL,
    PRIMARY KEY (org, seq)
);
CREATE UNIQUE INDEX entries_by_id ON entries (org, entry_id);

CREATE TABLE attachments (
    org    BIGINT NOT NULL,
    sha256 BYTEA   NOT NULL,
    bytes  BYTEA   NOT NULL,
    PRIMARY KEY (org, sha256)
);

CREATE TABLE disclosures (
    org         BIGINT NOT NULL,
    seq         BIGINT NOT NULL,
    field       TEXT   NOT NULL,
    salt        BYTEA   NOT NULL,
    value       TEXT   NOT NULL,
    erase_after BIGINT,
    PRIMARY KEY (org, seq, field)
);

-- `what` packs kind, reason, direction, refrigerant and time of day; `ties` the visit, the leak
-- event and the reversed entry, where there are any (api/src/store/columns.rs).
CREATE TABLE movements (
    org       BIGINT NOT NULL,
    seq       BIGINT NOT NULL,
    n         BIGINT NOT NULL,
    src       BIGINT NOT NULL,
    dst       BIGINT NOT NULL,
    mass      BIGINT NOT NULL, -- steps of 10^-11 g
    appliance BIGINT NOT NULL, -- 0: none
    day       BIGINT NOT NULL,
    what      BIGINT NOT NULL,
    id_high   BIGINT NOT NULL, -- first half of the id of the chain's first entry: a key of the order
    ties      BYTEA,
    PRIMARY KEY (org, seq, n)
);
CREATE INDEX movements_by_appliance
    ON movements (org, appliance, day, seq, n, what, mass, id_high, ties);

CREATE TABLE balances (
    org         BIGINT NOT NULL,
    place       BIGINT NOT NULL,
    refrigerant BIGINT NOT NULL,
    mass        TEXT   NOT NULL, -- steps; a sum can pass 64 bits
    PRIMARY KEY (org, place, refrigerant)
);

-- Appliances, cylinders, sites, counterparties, persons and scales with their dated facts.
CREATE TABLE registers (
    org   BIGINT NOT NULL,
    place BIGINT NOT NULL, -- sort x 10^15 + number
    sort  BIGINT NOT NULL,
    uuid  BYTEA   NOT NULL,
    tag   TEXT,
    facts TEXT   NOT NULL,
    PRIMARY KEY (org, place)
);
CREATE UNIQUE INDEX registers_by_uuid ON registers (org, uuid);
CREATE UNIQUE INDEX registers_by_tag ON registers (org, sort, tag);

-- What changes with every entry about an appliance or cylinder.
CREATE TABLE subjects (
    org        BIGINT NOT NULL,
    place      BIGINT NOT NULL,
    nth        BIGINT NOT NULL,
    quarantine BIGINT NOT NULL, -- the entry that caused it, -1: none
    owners     TEXT   NOT NULL, -- owners of a cylinder's recovered content
    PRIMARY KEY (org, place)
);

CREATE TABLE corrections (
    org      BIGINT NOT NULL,
    corrects BIGINT NOT NULL, -- an entry is corrected at most once
    seq      BIGINT NOT NULL,
    first    BIGINT NOT NULL, -- first entry of the chain
    PRIMARY KEY (org, corrects)
);
CREATE UNIQUE INDEX corrections_by_seq ON corrections (org, seq);

CREATE TABLE links (
    org      BIGINT NOT NULL,
    seq      BIGINT NOT NULL,
    entry    BIGINT NOT NULL,
    place    BIGINT NOT NULL,
    relation TEXT   NOT NULL,
    PRIMARY KEY (org, place, seq, entry)
);

CREATE TABLE findings (
    org     BIGINT NOT NULL,
    seq     BIGINT NOT NULL, -- the entry that left it
    code    TEXT   NOT NULL,
    place   BIGINT NOT NULL,
    grade   TEXT   NOT NULL,
    settled BIGINT NOT NULL, -- the entry that settled it, -1: open
    PRIMARY KEY (org, seq, code, place)
);

-- Rule sets, methods and settings as adopted, each from a day on.
CREATE TABLE adopted (
    org   BIGINT NOT NULL,
    seq   BIGINT NOT NULL,
    kind  BIGINT NOT NULL,
    name  TEXT   NOT NULL,
    since BIGINT NOT NULL,
    value TEXT   NOT NULL,
    PRIMARY KEY (org, seq)
);

CREATE TABLE tiles (
    org    BIGINT NOT NULL,
    level  BIGINT NOT NULL,
    idx    BIGINT NOT NULL,
    hashes BYTEA   NOT NULL,
    PRIMARY KEY (org, level, idx)
);

CREATE TABLE checkpoints (
    org  BIGINT NOT NULL,
    size BIGINT NOT NULL,
    note TEXT   NOT NULL,
    PRIMARY KEY (org, size)
);

CREATE TABLE imports (
    org      BIGINT NOT NULL,
    seq      BIGINT NOT NULL, -- the import entry
    entry_id BYTEA   NOT NULL,
    kind     TEXT   NOT NULL,
    sha256   BYTEA   NOT NULL,
    rows     BIGINT NOT NULL,
    done     BIGINT NOT NULL, -- last row of the file that is booked, header = 1
    PRIMARY KEY (org, kind, sha256)
);

-- Ids of imported movements that are no UUID.
CREATE TABLE import_ids (
    org         BIGINT NOT NULL,
    movement_id TEXT   NOT NULL,
    seq         BIGINT NOT NULL,
    PRIMARY KEY (org, movement_id)
);

CREATE TABLE sign_ins (
    org           BIGINT NOT NULL,
    person        BYTEA   NOT NULL,
    email         TEXT   NOT NULL,
    password_hash TEXT   NOT NULL,
    roles         TEXT   NOT NULL,
    PRIMARY KEY (org, person)
);
CREATE UNIQUE INDEX sign_ins_by_email ON sign_ins (org, email);
