-- The role the service connects as: it may add to the history and never change it.
--
--     psql "$OWNER_URL" -v role=tarebook_service -f service-role.sql
--
-- Run it with the owner's URL after `tarebook migrate`, and again after every upgrade. The role is
-- made where there is none; give it a password (or peer authentication) yourself:
--     ALTER ROLE tarebook_service PASSWORD '...';

SELECT format('CREATE ROLE %I LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS', :'role')
WHERE NOT EXISTS (SELECT FROM pg_roles WHERE rolname = :'role') \gexec

REVOKE ALL ON ALL TABLES IN SCHEMA public FROM :"role";
GRANT USAGE ON SCHEMA public TO :"role";

-- What is booked: read and add.
GRANT SELECT, INSERT ON entries, movements, attachments, checkpoints, disclosures, organisations
    TO :"role";

-- What can be worked out again, and the head that locks a book: anything.
GRANT SELECT, INSERT, UPDATE, DELETE ON balances, registers, subjects, corrections,
    links, findings, standings, adopted, tiles, imports, import_ids TO :"role";
GRANT SELECT, INSERT, UPDATE ON heads, sign_ins, tokens TO :"role";

-- Who may ask; an access record is written once, and removed after its time (never within 30 days).
GRANT SELECT, INSERT, UPDATE, DELETE ON sessions, known_devices, sign_in_failures TO :"role";
GRANT SELECT, INSERT, DELETE ON access_records TO :"role";

-- Second factors: seeds (sealed), codes that work once, sign-ins that wait for their code.
GRANT SELECT, INSERT, UPDATE, DELETE ON factors, recovery_codes, half_sign_ins, factor_policies
    TO :"role";

-- Whose duties are, and the calendars people follow.
GRANT SELECT, INSERT, UPDATE ON assignments, calendars TO :"role";
GRANT SELECT, INSERT, UPDATE, DELETE ON calendar_steps TO :"role";

-- Mail: what each person chose, what was made for them and why, what stops it.
GRANT SELECT, INSERT, UPDATE, DELETE ON mail_choices, mail_reasons, outgoing, mail_stops TO :"role";

-- Which migrations were run: read.
GRANT SELECT ON __diesel_schema_migrations TO :"role";

-- Which books wait for a checkpoint, and when anything was booked last: of all books, nothing else.
GRANT EXECUTE ON FUNCTION tarebook_unsigned(), tarebook_newest_booking() TO :"role";
GRANT SELECT ON unsigned_books, newest_booking TO :"role";

-- Which books have access records, and since when.
GRANT EXECUTE ON FUNCTION tarebook_access_books() TO :"role";
GRANT SELECT ON access_books TO :"role";

-- Which books have mail to make or to send, and how many messages wait or failed.
GRANT EXECUTE ON FUNCTION tarebook_mail_books(), tarebook_mail_counts() TO :"role";
GRANT SELECT ON mail_books, mail_counts TO :"role";
