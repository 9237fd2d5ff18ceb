DROP TABLE access_records;
DROP TABLE sign_in_failures;
DROP TABLE known_devices;
DROP TABLE tokens;
DROP TABLE sessions;
DROP INDEX sign_ins_of_email;
ALTER TABLE sign_ins DROP COLUMN forgiven;
ALTER TABLE sign_ins DROP COLUMN version;
ALTER TABLE sign_ins DROP COLUMN disabled_at;
