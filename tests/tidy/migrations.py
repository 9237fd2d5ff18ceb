#!/usr/bin/env python3
"""Migrations up, down and up again, on SQLite and PostgreSQL, with software that is not ours.

    migrations.py sqlite postgres

For each engine: every pair goes up, down and up once more before the next one is tried, and what
the database then holds must be the same as after the first way up. At the end all go down in
reverse and nothing may be left. The statements are run by Python's sqlite3 and by psql.
"""
import os
import sqlite3
import sys

TESTS = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
sys.path.insert(0, os.path.join(TESTS, "harness"))
import cluster  # noqa: E402

FOLDER = os.path.join(os.path.dirname(TESTS), "migrations")

# Everything a migration can make, one line each, in a fixed order.
POSTGRES_CONTENT = """
SELECT 'column', table_name, column_name, data_type, is_nullable, coalesce(column_default, '')
  FROM information_schema.columns WHERE table_schema = 'public'
UNION ALL SELECT 'index', tablename, indexname, indexdef, '', '' FROM pg_indexes
  WHERE schemaname = 'public'
UNION ALL SELECT 'trigger', event_object_table, trigger_name, event_manipulation,
  action_statement, '' FROM information_schema.triggers
UNION ALL SELECT 'routine', routine_name, coalesce(routine_definition, ''), '', '', ''
  FROM information_schema.routines WHERE specific_schema = 'public'
UNION ALL SELECT 'constraint', conrelid::regclass::text, conname, pg_get_constraintdef(oid), '', ''
  FROM pg_constraint WHERE connamespace = 'public'::regnamespace
UNION ALL SELECT 'policy', tablename, policyname, coalesce(qual, ''), coalesce(with_check, ''), ''
  FROM pg_policies
UNION ALL SELECT 'grant', table_name, grantee, privilege_type, '', ''
  FROM information_schema.role_table_grants WHERE table_schema = 'public'
UNION ALL SELECT 'secured', relname, relrowsecurity::text, relforcerowsecurity::text, '', ''
  FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind = 'r'
ORDER BY 1, 2, 3, 4, 5, 6"""


class Sqlite:
    """An empty database in memory."""

    def __init__(self):
        self.connection = sqlite3.connect(":memory:")

    def run(self, text):
        self.connection.executescript(text)

    def content(self):
        query = "SELECT type, name, tbl_name, coalesce(sql, '') FROM sqlite_master ORDER BY 1, 2"
        rows = self.connection.execute(query).fetchall()
        return [row for row in rows if row[1] != "sqlite_sequence"]


class Postgres:
    """An empty database of a running cluster."""

    def __init__(self, running):
        self.running = running
        running.database("migrations")

    def run(self, text):
        self.running.psql("migrations", "BEGIN;\n" + text + "\nCOMMIT;")

    def content(self):
        return self.running.psql("migrations", POSTGRES_CONTENT).splitlines()


def text_of(engine, name, way):
    with open(os.path.join(FOLDER, engine, name, way), encoding="utf-8") as file:
        return file.read()


def up_down_up(engine, database):
    names = sorted(os.listdir(os.path.join(FOLDER, engine)))
    if not names:
        sys.exit(f"migrations/{engine} holds no migration")
    assert database.content() == [], "the database was not empty to begin with"
    for name in names:
        before = database.content()
        database.run(text_of(engine, name, "up.sql"))
        once = database.content()
        if once == before:
            sys.exit(f"{engine}: {name}/up.sql changed nothing")
        database.run(text_of(engine, name, "down.sql"))
        same(engine, f"{name}/down.sql", before, database.content())
        database.run(text_of(engine, name, "up.sql"))
        same(engine, f"{name}/up.sql, second time", once, database.content())
    for name in reversed(names):
        database.run(text_of(engine, name, "down.sql"))
    same(engine, "all the way down", [], database.content())
    print(f"{engine}: {len(names)} migrations up, down, up and all down; "
          f"{len(once)} columns, indexes, triggers and rights compared")
    return len(names)


def same(engine, what, expected, found):
    if expected != found:
        lost = [str(line) for line in expected if line not in found]
        left = [str(line) for line in found if line not in expected]
        sys.exit(f"{engine}: {what}: missing {lost[:5]}, left over {left[:5]}")


def main():
    passed = 0
    for engine in sys.argv[1:] or ["sqlite", "postgres"]:
        if engine == "sqlite":
            passed += up_down_up(engine, Sqlite())
        else:
            with cluster.Cluster() as running:
                passed += up_down_up(engine, Postgres(running))
    print(f"{passed} passed, 0 failed")


if __name__ == "__main__":
    main()
