//! The statements of the store, each written once for both engines.

use super::statement::statement;
use diesel::sql_types::{BigInt, Binary, Nullable, Text};

statement! {
    /// Narrow: see below.
    OrganisationNamed: "SELECT org, log FROM organisations WHERE name = ?" => (BigInt, Text);
    Organisations: "SELECT org, name, log FROM organisations ORDER BY org" => (BigInt, Text, Text);
    NewestOrganisation: "SELECT COALESCE(MAX(org), 0) FROM organisations" => BigInt;
    AddOrganisation: "INSERT INTO organisations (org, name, log) VALUES (?, ?, ?)";
    AddHead: "INSERT INTO heads (org, next_seq, engine, format, booked_at, judged_by, frontier) \
              VALUES (?, 0, ?, ?, 0, 0, ?)";
    Head: "SELECT next_seq, engine, format, booked_at, judged_by, frontier \
           FROM heads WHERE org = ?" => (BigInt, BigInt, BigInt, BigInt, BigInt, Binary);
    LockHeads: "SELECT org, next_seq, (extract(epoch FROM clock_timestamp()) * 1000000)::bigint \
                FROM heads WHERE org = ANY(?) ORDER BY org FOR UPDATE" => (BigInt, BigInt, BigInt);
    SetHead: "UPDATE heads SET next_seq = ?, engine = ?, format = ?, booked_at = ?, \
              judged_by = ?, frontier = ? WHERE org = ?";
    NextSeq: "SELECT next_seq FROM heads WHERE org = ?" => BigInt;
}

// Entries and what stands beside them.
statement! {
    AddEntry: "INSERT INTO entries (org, seq, entry_id, kind, day, booked_at, leaf, hash) \
               VALUES (?, ?, ?, ?, ?, ?, ?, ?)";
    AddEntries: "INSERT INTO entries (org, seq, entry_id, kind, day, booked_at, leaf, hash) \
                 SELECT * FROM unnest(?::bigint[], ?::bigint[], ?::bytea[], ?::bigint[], \
                 ?::bigint[], ?::bigint[], ?::bytea[], ?::bytea[])";
    EntryById: "SELECT seq FROM entries WHERE org = ? AND entry_id = ?" => BigInt;
    EntryIds: "SELECT entry_id, seq FROM entries WHERE org = ?" => (Binary, BigInt);
    EntriesByIds: "SELECT entries.org, entries.entry_id, entries.seq FROM entries JOIN \
                   unnest(?::bigint[], ?::bytea[]) AS asked (org, id) \
                   ON entries.org = asked.org AND entries.entry_id = asked.id"
                  => (BigInt, Binary, BigInt);
    EntryLeaf: "SELECT leaf, hash FROM entries WHERE org = ? AND seq = ?" => (Binary, Binary);
    Hashes: "SELECT hash FROM entries WHERE org = ? AND seq >= ? AND seq < ? ORDER BY seq" => Binary;
    SeqBookedAt: "SELECT COALESCE(MAX(seq), -1) FROM entries WHERE org = ? AND booked_at <= ?"
                 => BigInt;
    AddDisclosure: "INSERT INTO disclosures (org, seq, field, salt, value) VALUES (?, ?, ?, ?, ?)";
    AddDisclosures: "INSERT INTO disclosures (org, seq, field, salt, value) SELECT * FROM \
                     unnest(?::bigint[], ?::bigint[], ?::text[], ?::bytea[], ?::text[])";
    DisclosuresOf: "SELECT field, salt, value FROM disclosures WHERE org = ? AND seq = ? \
                    ORDER BY field" => (Text, Binary, Text);
    AddAttachment: "INSERT INTO attachments (org, sha256, bytes) VALUES (?, ?, ?) \
                    ON CONFLICT (org, sha256) DO NOTHING";
    AttachmentBytes: "SELECT bytes FROM attachments WHERE org = ? AND sha256 = ?" => Binary;
}

// Movements and the balances they leave.
statement! {
    AddMovement: "INSERT INTO movements (org, seq, n, src, dst, mass, appliance, day, what, \
                  id_high, ties) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)";
    AddMovements: "INSERT INTO movements (org, seq, n, src, dst, mass, appliance, day, what, \
                   id_high, ties) SELECT * FROM unnest(?::bigint[], ?::bigint[], ?::bigint[], \
                   ?::bigint[], ?::bigint[], ?::bigint[], ?::bigint[], ?::bigint[], ?::bigint[], \
                   ?::bigint[], ?::bytea[])";
    EventOfDays: "SELECT seq FROM movements WHERE org = ? AND appliance IS NOT NULL \
                  AND day >= ? AND day < ? LIMIT 1" => BigInt;
    MovementsOfEntry: "SELECT n, src, dst, mass, appliance, day, what, id_high, ties \
                       FROM movements WHERE org = ? AND seq = ? ORDER BY n"
                      => (BigInt, BigInt, BigInt, BigInt, BigInt, BigInt, BigInt, BigInt,
                          Nullable<Binary>);
    /// The sign keeps SQLite from walking the book by number.
    MovementsOfAppliance: "SELECT day, seq, what, mass, id_high, ties FROM movements \
                           WHERE org = ? AND appliance = ? AND +seq <= ? ORDER BY day, seq, n"
                          => (BigInt, BigInt, BigInt, BigInt, BigInt, Nullable<Binary>);
    MovementsByAppliance: "SELECT appliance, day, seq, what, mass, id_high, ties FROM movements \
                           WHERE org = ? AND appliance > 0 ORDER BY appliance, day, seq, n"
                          => (BigInt, BigInt, BigInt, BigInt, BigInt, BigInt, Nullable<Binary>);
    MovementsElsewhere: "SELECT day, seq, src, dst, mass, what, ties FROM movements \
                         WHERE org = ? AND appliance = 0 AND day >= ? AND day <= ? AND seq <= ? \
                         ORDER BY day, seq, n"
                        => (BigInt, BigInt, BigInt, BigInt, BigInt, BigInt, Nullable<Binary>);
    MovementsUntil: "SELECT seq, src, dst, mass, day, what FROM movements \
                     WHERE org = ? AND day <= ? AND seq <= ? ORDER BY seq, n"
                    => (BigInt, BigInt, BigInt, BigInt, BigInt, BigInt);
    BalancesOfPlace: "SELECT refrigerant, mass FROM balances WHERE org = ? AND place = ?"
                     => (BigInt, Text);
    Balances: "SELECT place, refrigerant, mass FROM balances WHERE org = ? \
               ORDER BY place, refrigerant" => (BigInt, BigInt, Text);
    SetBalance: "INSERT INTO balances (org, place, refrigerant, mass) VALUES (?, ?, ?, ?) \
                 ON CONFLICT (org, place, refrigerant) DO UPDATE SET mass = excluded.mass";
    SetBalances: "INSERT INTO balances (org, place, refrigerant, mass) SELECT * FROM \
                  unnest(?::bigint[], ?::bigint[], ?::bigint[], ?::text[]) \
                  ON CONFLICT (org, place, refrigerant) DO UPDATE SET mass = excluded.mass";
    DropBalances: "DELETE FROM balances WHERE org = ?";
}

// Registers.
statement! {
    RegisterByPlace: "SELECT place, uuid, tag, facts FROM registers WHERE org = ? AND place = ?"
                     => (BigInt, Binary, Nullable<Text>, Text);
    RegisterByUuid: "SELECT place, uuid, tag, facts FROM registers WHERE org = ? AND uuid = ?"
                    => (BigInt, Binary, Nullable<Text>, Text);
    RegisterByTag: "SELECT place, uuid, tag, facts FROM registers \
                    WHERE org = ? AND sort = ? AND tag = ?"
                   => (BigInt, Binary, Nullable<Text>, Text);
    Registers: "SELECT place, uuid, tag, facts FROM registers WHERE org = ? AND sort = ? \
                ORDER BY place" => (BigInt, Binary, Nullable<Text>, Text);
    TagsOfSort: "SELECT place, tag FROM registers WHERE org = ? AND sort = ? AND tag IS NOT NULL"
                => (BigInt, Text);
    NewestPlace: "SELECT COALESCE(MAX(place), 0) FROM registers WHERE org = ? AND place > ? \
                  AND place < ?" => BigInt;
    SetRegister: "INSERT INTO registers (org, place, sort, uuid, tag, facts) \
                  VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (org, place) \
                  DO UPDATE SET tag = excluded.tag, facts = excluded.facts";
    SetRegisters: "INSERT INTO registers (org, place, sort, uuid, tag, facts) SELECT * FROM \
                   unnest(?::bigint[], ?::bigint[], ?::bigint[], ?::bytea[], ?::text[], ?::text[]) \
                   ON CONFLICT (org, place) DO UPDATE SET tag = excluded.tag, \
                   facts = excluded.facts";
    DropRegisters: "DELETE FROM registers WHERE org = ?";
    SubjectOf: "SELECT nth, quarantine, owners, class, newest, moved FROM subjects \
                WHERE org = ? AND place = ?" => (BigInt, BigInt, Text, BigInt, BigInt, BigInt);
    Subjects: "SELECT place, nth, quarantine, owners, class, newest, moved FROM subjects \
               WHERE org = ? ORDER BY place"
              => (BigInt, BigInt, BigInt, Text, BigInt, BigInt, BigInt);
    SetSubject: "INSERT INTO subjects (org, place, nth, quarantine, owners, class, newest, moved) \
                 VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (org, place) DO UPDATE SET \
                 nth = excluded.nth, quarantine = excluded.quarantine, owners = excluded.owners, \
                 class = excluded.class, newest = excluded.newest, moved = excluded.moved";
    HoldSubject: "UPDATE subjects SET quarantine = ? WHERE org = ? AND place = ?";
    SetSubjects: "INSERT INTO subjects (org, place, nth, quarantine, owners, class, newest, moved) \
                  SELECT * FROM unnest(?::bigint[], ?::bigint[], ?::bigint[], ?::bigint[], \
                  ?::text[], ?::bigint[], ?::bigint[], ?::bigint[]) ON CONFLICT (org, place) \
                  DO UPDATE SET nth = excluded.nth, quarantine = excluded.quarantine, \
                  owners = excluded.owners, class = excluded.class, newest = excluded.newest, \
                  moved = excluded.moved";
    DropSubjects: "DELETE FROM subjects WHERE org = ?";
}

// What is worked out, and what points from entry to entry.
statement! {
    CorrectedBy: "SELECT seq FROM corrections WHERE org = ? AND corrects = ?" => BigInt;
    CorrectionAt: "SELECT corrects, first FROM corrections WHERE org = ? AND seq = ?"
                  => (BigInt, BigInt);
    AddCorrection: "INSERT INTO corrections (org, corrects, seq, first) VALUES (?, ?, ?, ?)";
    Corrections: "SELECT corrects, seq, first FROM corrections WHERE org = ? ORDER BY corrects"
                 => (BigInt, BigInt, BigInt);
    DropCorrections: "DELETE FROM corrections WHERE org = ?";
    AddLink: "INSERT INTO links (org, seq, entry, place, relation) VALUES (?, ?, ?, ?, ?)";
    /// SQLite would begin with all entries for IN, and with all movements for UNION, which wants them
    /// sorted: so each row stands as often as the entry speaks of the appliance.
    BookedOf: "SELECT entries.seq, booked_at FROM ( \
               SELECT seq FROM movements WHERE org = ? AND appliance = ? \
               UNION ALL SELECT seq FROM links WHERE org = ? AND place = ?) AS own CROSS JOIN entries \
               WHERE entries.org = ? AND entries.seq = own.seq ORDER BY entries.seq"
              => (BigInt, BigInt);
    LinksOf: "SELECT seq, entry, relation FROM links WHERE org = ? AND place = ? AND seq <= ? \
              ORDER BY seq, entry" => (BigInt, BigInt, Text);
    Links: "SELECT place, seq, entry, relation FROM links WHERE org = ? ORDER BY place, seq, entry"
           => (BigInt, BigInt, BigInt, Text);
    DropLinks: "DELETE FROM links WHERE org = ?";
    AddFinding: "INSERT INTO findings (org, seq, code, place, grade, settled) \
                 VALUES (?, ?, ?, ?, ?, -1)";
    SettleFinding: "UPDATE findings SET settled = ? WHERE org = ? AND seq = ? AND code = ? \
                    AND settled = -1";
    FindingsOfEntry: "SELECT code, place, grade, settled FROM findings WHERE org = ? AND seq = ? \
                      ORDER BY code, place" => (Text, BigInt, Text, BigInt);
    AllFindings: "SELECT seq, code, place, grade, settled FROM findings WHERE org = ? \
                  ORDER BY seq, place, code" => (BigInt, Text, BigInt, Text, BigInt);
    OpenFindingsOfPlace: "SELECT seq, code FROM findings WHERE org = ? AND place = ? \
                          AND settled = -1 ORDER BY seq, code" => (BigInt, Text);
    AddAdopted: "INSERT INTO adopted (org, seq, kind, name, since, value) \
                 VALUES (?, ?, ?, ?, ?, ?)";
    Adopted: "SELECT seq, kind, name, since, value FROM adopted WHERE org = ? ORDER BY seq"
             => (BigInt, BigInt, Text, BigInt, Text);
    AdoptedAndCorrected: "SELECT adopted.seq, kind, name, since, value, \
                          COALESCE(corrections.seq, -1) FROM adopted LEFT JOIN corrections \
                          ON corrections.org = adopted.org AND corrections.corrects = adopted.seq \
                          WHERE adopted.org = ? ORDER BY adopted.seq"
                         => (BigInt, BigInt, Text, BigInt, Text, BigInt);
    DropAdopted: "DELETE FROM adopted WHERE org = ?";
}

// What `assess` said last.
statement! {
    SetStanding: "INSERT INTO standings (org, place, nth, judged_by, day, over_limit, exceedances, \
                  exceeded_on, due, share, percent) \
                  VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) \
                  ON CONFLICT (org, place) DO UPDATE SET nth = excluded.nth, \
                  judged_by = excluded.judged_by, day = excluded.day, \
                  over_limit = excluded.over_limit, exceedances = excluded.exceedances, \
                  exceeded_on = excluded.exceeded_on, due = excluded.due, \
                  share = excluded.share, percent = excluded.percent";
    SetStandings: "INSERT INTO standings (org, place, nth, judged_by, day, over_limit, \
                   exceedances, exceeded_on, due, share, percent) \
                   SELECT * FROM unnest(?::bigint[], ?::bigint[], ?::bigint[], ?::bigint[], \
                   ?::bigint[], ?::bigint[], ?::bigint[], ?::bigint[], ?::bigint[], ?::bigint[], \
                   ?::text[]) \
                   ON CONFLICT (org, place) DO UPDATE SET nth = excluded.nth, \
                   judged_by = excluded.judged_by, day = excluded.day, \
                   over_limit = excluded.over_limit, exceedances = excluded.exceedances, \
                   exceeded_on = excluded.exceeded_on, due = excluded.due, \
                   share = excluded.share, percent = excluded.percent";
    Standings: "SELECT standings.place, subjects.nth, standings.nth, judged_by, day, over_limit, \
                exceedances, exceeded_on, due, share, percent FROM standings JOIN subjects \
                ON subjects.org = standings.org AND subjects.place = standings.place \
                WHERE standings.org = ? ORDER BY standings.place"
               => (BigInt, BigInt, BigInt, BigInt, BigInt, BigInt, BigInt, BigInt, BigInt, BigInt, Text);
    Counts: "SELECT registers.place, COALESCE(nth, 0) FROM registers LEFT JOIN subjects \
             ON subjects.org = registers.org AND subjects.place = registers.place \
             WHERE registers.org = ? AND sort = ? ORDER BY registers.place" => (BigInt, BigInt);
    DropStandings: "DELETE FROM standings WHERE org = ?";
}

// The log, imports and sign-ins.
statement! {
    SetTile: "INSERT INTO tiles (org, level, idx, hashes) VALUES (?, ?, ?, ?) \
              ON CONFLICT (org, level, idx) DO UPDATE SET hashes = excluded.hashes";
    Tile: "SELECT hashes FROM tiles WHERE org = ? AND level = ? AND idx = ?" => Binary;
    Tiles: "SELECT level, idx, hashes FROM tiles WHERE org = ? ORDER BY level, idx"
           => (BigInt, BigInt, Binary);
    DropTiles: "DELETE FROM tiles WHERE org = ?";
    NewestCheckpoint: "SELECT size, note FROM checkpoints WHERE org = ? \
                       ORDER BY size DESC LIMIT 1" => (BigInt, Text);
    AddCheckpoint: "INSERT INTO checkpoints (org, size, note) VALUES (?, ?, ?)";
    ImportOf: "SELECT seq, entry_id, rows, done FROM imports WHERE org = ? AND kind = ? \
               AND sha256 = ?" => (BigInt, Binary, BigInt, BigInt);
    UnfinishedImports: "SELECT seq, kind, rows, done FROM imports WHERE org = ? \
                        AND done < rows + 1 ORDER BY seq" => (BigInt, Text, BigInt, BigInt);
    SetImport: "INSERT INTO imports (org, seq, entry_id, kind, sha256, rows, done) \
                VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT (org, kind, sha256) \
                DO UPDATE SET done = excluded.done";
    ImportIdOf: "SELECT seq FROM import_ids WHERE org = ? AND movement_id = ?" => BigInt;
    ImportIds: "SELECT movement_id, seq FROM import_ids WHERE org = ?" => (Text, BigInt);
    AddImportId: "INSERT INTO import_ids (org, movement_id, seq) VALUES (?, ?, ?)";
    BookedAt: "SELECT booked_at FROM entries WHERE org = ? AND seq = ?" => BigInt;
    NewestSeq: "SELECT COALESCE(MAX(seq), -1) FROM entries WHERE org = ?" => BigInt;
    EntriesOfBlock: "SELECT seq, entry_id, kind, day, booked_at, leaf, hash FROM entries \
                     WHERE org = ? AND seq >= ? AND seq < ? ORDER BY seq"
                    => (BigInt, Binary, BigInt, BigInt, BigInt, Binary, Binary);
    MovementsOfBlock: "SELECT seq, src, dst, mass, appliance, day, what, id_high, ties \
                       FROM movements WHERE org = ? AND seq >= ? AND seq < ? ORDER BY seq, n"
                      => (BigInt, BigInt, BigInt, BigInt, BigInt, BigInt, BigInt, BigInt,
                          Nullable<Binary>);
    DisclosuresOfBlock: "SELECT seq, field, salt, value FROM disclosures \
                         WHERE org = ? AND seq >= ? AND seq < ? ORDER BY seq, field"
                        => (BigInt, Text, Binary, Text);
    CheckpointsAbove: "SELECT size, note FROM checkpoints WHERE org = ? AND size > ? \
                       ORDER BY size LIMIT ?" => (BigInt, Text);
    AttachmentHashes: "SELECT sha256 FROM attachments WHERE org = ? ORDER BY sha256" => Binary;
    RegisterIds: "SELECT place, uuid FROM registers WHERE org = ? AND sort = ? ORDER BY place"
                 => (BigInt, Binary);
    LockHead: "SELECT next_seq FROM heads WHERE org = ? FOR UPDATE" => BigInt;
    AddSignIn: "INSERT INTO sign_ins (org, person, email, password_hash, roles) \
                VALUES (?, ?, ?, ?, ?)";
}

// Who may ask. Only those marked "narrow" are not by organisation: they look for one secret or one
// address, and row security lets them see no other row.
statement! {
    /// Narrow.
    OrganisationsOfEmail: "SELECT org FROM sign_ins WHERE email = ? ORDER BY org" => BigInt;
    SignInOfEmail: "SELECT name, log, person, email, password_hash, roles, disabled_at, version, \
                    forgiven FROM sign_ins \
                    JOIN organisations ON organisations.org = sign_ins.org \
                    WHERE sign_ins.org = ? AND email = ?"
                   => (Text, Text, Binary, Text, Text, Text, BigInt, BigInt, BigInt);
    SignInOfPerson: "SELECT name, log, person, email, password_hash, roles, disabled_at, version, \
                     forgiven FROM sign_ins \
                     JOIN organisations ON organisations.org = sign_ins.org \
                     WHERE sign_ins.org = ? AND person = ?"
                    => (Text, Text, Binary, Text, Text, Text, BigInt, BigInt, BigInt);
    SignIns: "SELECT person, email, sign_ins.roles, disabled_at, version, \
              CAST(LENGTH(password_hash) AS BIGINT), tag, facts FROM sign_ins \
              LEFT JOIN registers ON registers.org = sign_ins.org AND registers.uuid = person \
              WHERE sign_ins.org = ? ORDER BY email"
             => (Binary, Text, Text, BigInt, BigInt, BigInt, Nullable<Text>, Nullable<Text>);
    SetPassword: "UPDATE sign_ins SET password_hash = ?, version = version + 1 \
                  WHERE org = ? AND person = ?";
    SetRehashed: "UPDATE sign_ins SET password_hash = ? \
                  WHERE org = ? AND person = ? AND password_hash = ?";
    SetRoles: "UPDATE sign_ins SET roles = ?, version = version + 1 WHERE org = ? AND person = ?";
    SetDisabled: "UPDATE sign_ins SET disabled_at = ?, version = version + 1 \
                  WHERE org = ? AND person = ?";

    Forgive: "UPDATE sign_ins SET forgiven = ? WHERE org = ? AND person = ? AND forgiven <> ?";

    FailuresOf: "SELECT failures, last_at FROM sign_in_failures WHERE account = ?"
                => (BigInt, BigInt);
    LockFailures: "SELECT failures, last_at FROM sign_in_failures WHERE account = ? FOR UPDATE"
                  => (BigInt, BigInt);
    CountFailure: "INSERT INTO sign_in_failures (account, failures, last_at) VALUES (?, ?, ?) \
                   ON CONFLICT (account) DO UPDATE SET failures = sign_in_failures.failures + 1, \
                   last_at = excluded.last_at";
    DateFailure: "UPDATE sign_in_failures SET last_at = ? WHERE account = ?";
    ForgetFailures: "DELETE FROM sign_in_failures WHERE account = ?";
    ForgetLeastFailures: "DELETE FROM sign_in_failures WHERE account IN (SELECT account \
                          FROM sign_in_failures ORDER BY failures DESC, last_at DESC \
                          LIMIT 1000000 OFFSET ?)";
    FailuresOfDevice: "SELECT failures FROM known_devices WHERE org = ? AND person = ? \
                       AND secret = ?" => BigInt;
    CountDeviceFailure: "UPDATE known_devices SET failures = failures + 1 WHERE org = ? \
                         AND person = ? AND secret = ?";
    TrustDevice: "UPDATE known_devices SET failures = 0 WHERE org = ? AND person = ? \
                  AND secret = ?";
    AddKnownDevice: "INSERT INTO known_devices (org, person, secret, made_at, failures) \
                     VALUES (?, ?, ?, ?, 0)";
    ForgetOldDevices: "DELETE FROM known_devices WHERE org = ? AND person = ? AND secret NOT IN \
                       (SELECT secret FROM known_devices WHERE org = ? AND person = ? \
                       ORDER BY made_at DESC, secret LIMIT ?)";

    AddSession: "INSERT INTO sessions (org, id, secret, person, source, signed_in_at, seen_at, \
                 expires_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?)";
    /// Narrow.
    SessionBySecret: "SELECT org, id, person, signed_in_at, seen_at, expires_at FROM sessions \
                      WHERE secret = ?" => (BigInt, Binary, Binary, BigInt, BigInt, BigInt);
    SessionsOfPerson: "SELECT id, source, signed_in_at, seen_at, expires_at FROM sessions \
                       WHERE org = ? AND person = ? ORDER BY seen_at DESC, id"
                      => (Binary, Text, BigInt, BigInt, BigInt);
    SetSeen: "UPDATE sessions SET seen_at = ? WHERE org = ? AND id = ? AND seen_at < ?";
    EndSession: "DELETE FROM sessions WHERE org = ? AND id = ?";
    EndSessionsOfPerson: "DELETE FROM sessions WHERE org = ? AND person = ? AND id <> ?";
    EndSurplusSessions: "DELETE FROM sessions WHERE org = ? AND person = ? AND id NOT IN \
                         (SELECT id FROM sessions WHERE org = ? AND person = ? \
                         ORDER BY seen_at DESC, id LIMIT ?)";
    EndOldSessions: "DELETE FROM sessions WHERE org = ? AND expires_at <= ?";

    AddToken: "INSERT INTO tokens (org, id, word, secret, name, person, role, scopes, made_at, \
               expires_at, used_at, revoked_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, 0, 0)";
    /// Narrow.
    TokenBySecret: "SELECT org, id, person, role, scopes, expires_at, used_at, revoked_at \
                    FROM tokens WHERE secret = ?"
                   => (BigInt, Binary, Nullable<Binary>, Text, Text, BigInt, BigInt, BigInt);
    Tokens: "SELECT id, word, name, person, role, scopes, made_at, expires_at, used_at, \
             revoked_at FROM tokens WHERE org = ? ORDER BY made_at, id"
            => (Binary, Text, Text, Nullable<Binary>, Text, Text, BigInt, BigInt, BigInt, BigInt);
    SetUsed: "UPDATE tokens SET used_at = ? WHERE org = ? AND id = ? AND used_at < ?";
    RevokeToken: "UPDATE tokens SET revoked_at = ? WHERE org = ? AND id = ? AND revoked_at = 0";
    RevokeTokensOfPerson: "UPDATE tokens SET revoked_at = ? WHERE org = ? AND person = ? \
                           AND revoked_at = 0";
    IsUnguarded: "SELECT CAST(COUNT(*) AS BIGINT) FROM pg_roles WHERE rolname = current_user \
                  AND (rolsuper OR rolbypassrls)" => BigInt;
    IsReadOnly: "SELECT CASE WHEN pg_is_in_recovery() \
                 OR current_setting('default_transaction_read_only')::boolean \
                 THEN 1::BIGINT ELSE 0::BIGINT END" => BigInt;
    AppliedMigrations: "SELECT version FROM __diesel_schema_migrations" => Text;
    HasMigrationsOnSqlite: "SELECT COUNT(*) FROM sqlite_master \
                            WHERE name = '__diesel_schema_migrations'" => BigInt;
    HasMigrationsOnPostgres: "SELECT COUNT(to_regclass('__diesel_schema_migrations'))" => BigInt;
    OrganisationNumbered: "SELECT name, log FROM organisations WHERE org = ?" => (Text, Text);

    AddAccessRecord: "INSERT INTO access_records (org, at, id, person, device, role, what, about, \
                      source) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)";
    AccessRecords: "SELECT at, id, person, device, role, what, about, source FROM access_records \
                    WHERE org = ? AND (at, id) < (?, ?) ORDER BY at DESC, id DESC LIMIT ?"
                   => (BigInt, Binary, Nullable<Binary>, Nullable<Binary>, Text, Text, Text, Text);
    AccessRecordsOfPerson: "SELECT at, id, person, device, role, what, about, source FROM access_records \
                    WHERE org = ? AND person = ? AND (at, id) < (?, ?) ORDER BY at DESC, id DESC LIMIT ?"
                   => (BigInt, Binary, Nullable<Binary>, Nullable<Binary>, Text, Text, Text, Text);
    SecurityRecords: "SELECT at, id, person, device, role, what, about, source FROM access_records \
                    WHERE org = ? AND what IN ('sign_in', \
                      'sign_in_failed', 'sign_out', 'person_added', 'roles_set', 'person_disabled', \
                      'person_enabled', 'password_set', 'sessions_ended', 'token_issued', \
                      'token_revoked', 'access_records_cleaned', 'calendar_made', 'calendar_revoked') AND (at, id) < (?, ?) ORDER BY at DESC, id DESC LIMIT ?"
                   => (BigInt, Binary, Nullable<Binary>, Nullable<Binary>, Text, Text, Text, Text);
}
