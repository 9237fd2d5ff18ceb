-- An access record goes away after its time, which the settings of the service say; never within
-- its first thirty days by the clock of this machine, whatever they say. It is never changed. (On
-- PostgreSQL a trigger, too, and the service may remove by a grant.)
DROP TRIGGER access_records_never_removed;
CREATE TRIGGER access_records_never_removed BEFORE DELETE ON access_records
WHEN OLD.at > (CAST(strftime('%s', 'now') AS INTEGER) - 30 * 86400) * 1000000
BEGIN
    SELECT RAISE(ABORT, 'an access record is never removed within its first 30 days');
END;

-- What removes them asks by this which books have records, and since when (PostgreSQL needs a narrow
-- way for it).
CREATE VIEW access_books AS
    SELECT org, name, log,
           (SELECT MIN(at) FROM access_records WHERE access_records.org = organisations.org) AS oldest
    FROM organisations;
