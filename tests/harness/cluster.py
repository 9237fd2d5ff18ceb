#!/usr/bin/env python3
"""A throw-away PostgreSQL cluster for scripts (Rust tests use database.rs beside this file).

    cluster.py where                     prints the folder of initdb and postgres, or fails
    cluster.py run [--sync] -- COMMAND   starts a cluster, runs COMMAND with PGHOST and
                                         CLUSTER_URL set (postgres://postgres@%2Fdir/NAME: put a
                                         database name after the last slash), stops it again

The cluster listens on a Unix socket only, trusts it, and lies in a temporary folder. It runs
without syncing unless --sync is given, so nothing about durability may be concluded without it.
As root it changes to the user `postgres`, because PostgreSQL refuses to run as root.
"""
import glob
import os
import pwd
import shutil
import signal
import subprocess
import sys
import tempfile
import time


def binaries():
    """The folder of initdb: PG_BINDIR, else the newest of Debian's, else what PATH knows."""
    given = os.environ.get("PG_BINDIR")
    if given:
        return given if os.path.exists(os.path.join(given, "initdb")) else None
    folders = glob.glob("/usr/lib/postgresql/*/bin/initdb")
    if folders:
        newest = max(folders, key=lambda path: float(path.split("/")[4]))
        return os.path.dirname(newest)
    found = shutil.which("initdb")
    return os.path.dirname(os.path.realpath(found)) if found else None


class Cluster:
    """One running cluster; use it in a `with` statement."""

    def __init__(self, sync=False):
        self.sync = sync

    def __enter__(self):
        folder = binaries()
        if folder is None:
            raise SystemExit("No initdb found: install postgresql or set PG_BINDIR.")
        # Socket paths are limited to about 100 bytes, so the system's short temporary folder.
        self.folder = tempfile.mkdtemp(prefix="tarebook-pg-")
        user = {}
        if os.getuid() == 0:
            owner = pwd.getpwnam("postgres")
            os.chown(self.folder, owner.pw_uid, owner.pw_gid)
            user = {"user": owner.pw_uid, "group": owner.pw_gid, "extra_groups": []}
        data = os.path.join(self.folder, "data")
        common = {"cwd": self.folder, "stdout": subprocess.PIPE, "stderr": subprocess.STDOUT, **user}
        command = [f"{folder}/initdb", "-N", "-A", "trust", "-U", "postgres", "-E", "UTF8",
                   "--locale=C", "-D", data]
        made = subprocess.run(command, check=False, **common)
        if made.returncode:
            raise SystemExit(made.stdout.decode())
        options = ["-k", self.folder, "-c", "listen_addresses=", "-c", "max_connections=60"]
        if not self.sync:
            options += ["-c", "fsync=off", "-c", "full_page_writes=off",
                        "-c", "tarebook.unsynced=allowed"]
        with open(os.path.join(self.folder, "log"), "wb") as log:
            common["stdout"] = log
            self.process = subprocess.Popen([f"{folder}/postgres", "-D", data, *options], **common)
        ready = [f"{folder}/pg_isready", "-q", "-h", self.folder]
        for _ in range(600):
            if subprocess.run(ready, check=False).returncode == 0:
                return self
            if self.process.poll() is not None:
                break
            time.sleep(0.05)
        with open(os.path.join(self.folder, "log"), encoding="utf-8") as log:
            text = log.read()
        self.__exit__()
        raise SystemExit("PostgreSQL did not start:\n" + text)

    def __exit__(self, *_):
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)  # Fast shutdown: sessions are cut.
            try:
                self.process.wait(20)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()
        shutil.rmtree(self.folder, ignore_errors=True)

    @property
    def url(self):
        """Everything of the URL but the name of the database."""
        return "postgres://postgres@" + self.folder.replace("/", "%2F") + "/"

    def database(self, name):
        """Makes an empty database and gives its URL."""
        self.psql("postgres", f"CREATE DATABASE {name}")
        return self.url + name

    def psql(self, database, text):
        """Runs SQL text, stops at the first error, gives what was printed."""
        command = [f"{binaries()}/psql", "-X", "-q", "-A", "-t", "-v", "ON_ERROR_STOP=1",
                   "-h", self.folder, "-U", "postgres", "-d", database]
        done = subprocess.run(command, input=text.encode(), capture_output=True, check=False)
        if done.returncode:
            raise RuntimeError(done.stderr.decode())
        return done.stdout.decode()


def main():
    if sys.argv[1:] == ["where"]:
        folder = binaries()
        if folder is None:
            sys.exit("No initdb found: install postgresql or set PG_BINDIR.")
        print(folder)
    elif sys.argv[1:2] == ["run"] and "--" in sys.argv:
        split = sys.argv.index("--")
        with Cluster(sync="--sync" in sys.argv[:split]) as cluster:
            environment = dict(os.environ, PGHOST=cluster.folder, PGUSER="postgres",
                               CLUSTER_URL=cluster.url, PG_BINDIR=binaries())
            code = subprocess.run(sys.argv[split + 1:], env=environment, check=False).returncode
        sys.exit(code)
    else:
        sys.exit(__doc__)


if __name__ == "__main__":
    main()
