#!/usr/bin/env python3
"""Promises D1 and O1 over HTTP: `serve` is killed with -9 while technicians post.

    kill_served.py TAREBOOK sqlite|postgres [KILLS]

Sixteen threads post charges over HTTP, each with an id of its own made before sending. At random
moments the service is killed and started again on the same book, which it must open without help.
What got no answer is sent again under the same id, as a phone does. At the end the book, read
through the interface, must hold every acknowledged entry under the number and the leaf hash that
were answered, each id once, and nothing that was never sent; the cylinder must have lost exactly
what they say, and `verify` must find the book whole. PostgreSQL syncs here, as in operation.
"""
import atexit
import http.client
import json
import os
import queue
import random
import signal
import subprocess
import sys
import tempfile
import threading
import time
import uuid

THREADS = 16
# Nobody waits longer for one posting: the service was never away for so long.
PATIENCE = 60
FIRM = "Tamarack Ridge Mechanical"
OUNCES = 16


class Service:
    """The service under test, started and killed."""

    def __init__(self, program, place, folder):
        self.command = [program, "serve", *place, "--listen", "127.0.0.1:0", "--quiet"]
        self.log = open(os.path.join(folder, "log"), "ab")
        self.start()
        # Whatever ends this program, the service does not outlive it.
        atexit.register(lambda: self.process.kill())

    def start(self):
        self.process = subprocess.Popen(self.command, stdout=subprocess.PIPE, stderr=self.log)
        line = self.process.stdout.readline().decode()
        if not line.startswith("listening http://"):
            raise SystemExit(f"FAILED: the service did not open the book again; it said {line!r}")
        self.host = line.strip().removeprefix("listening http://")

    def kill(self):
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()


def call(host, token, method, path, body=None):
    """One request on a connection of its own; raises OSError or HTTPException without an answer."""
    connection = http.client.HTTPConnection(host, timeout=20)
    try:
        headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}
        connection.request(method, path, json.dumps(body) if body is not None else None, headers)
        answer = connection.getresponse()
        return answer.status, json.loads(answer.read())
    finally:
        connection.close()


def entry(kind, body, identity=None):
    return {"entry_id": identity or str(uuid.uuid4()), "kind": kind, "body": body}


def charge(identity, ounces):
    # Small, of changing mass and without a return to full charge: nothing to ask about but the
    # look of it, which is answered beforehand.
    sent = entry("charge", {"from": "cylinder:SUP-1", "to": "appliance:HG-RACK-A",
                            "refrigerant": "R-448A", "mass": f"{ounces} oz"}, identity)
    sent["answers"] = {"look_alike": "as_stated", "rate_jump": "as_stated"}
    return sent


def post_for_ever(service, token, waiting, acknowledged, faults, stop):
    rng = random.Random()
    while not stop.is_set() or not waiting.empty():
        try:
            sent, since = waiting.get_nowait()
        except queue.Empty:
            sent, since = charge(str(uuid.uuid4()), rng.randint(1, OUNCES)), time.monotonic()
        if time.monotonic() - since > PATIENCE:
            faults.append(f"no answer but errors for {PATIENCE} s to {sent['entry_id']}")
            return
        try:
            status, answer = call(service.host, token, "POST", "/api/v1/entries", sent)
        except (OSError, http.client.HTTPException, ValueError):
            waiting.put((sent, since))
            time.sleep(0.02)
            continue
        if status in (200, 201):
            acknowledged.append((sent, status, answer["seq"], answer["leaf_hash"]))
        elif status in (409, 503):
            waiting.put((sent, since))
            time.sleep(0.02)
        else:
            faults.append(f"{status} {answer}")
            return


def everything(host, token):
    """All charges of the book, page after page."""
    path, found = "/api/v1/entries?limit=500", []
    while True:
        status, page = call(host, token, "GET", path)
        if status != 200:
            raise SystemExit(f"FAILED: reading the book gave {status} {page}")
        found += [item for item in page["items"] if item["kind"] == "charge"]
        if not page.get("next"):
            return found
        path = page["next"]


def run(program, place, kills):
    rng = random.Random()
    with tempfile.TemporaryDirectory() as folder:
        place = place or ["--data", os.path.join(folder, "book")]
        place = [*place, "--keys", os.path.join(folder, "keys")]
        command = lambda *words: subprocess.run([program, *words], check=True, text=True,
                                                capture_output=True).stdout.strip()
        password = os.path.join(folder, "password")
        with open(password, "w") as file:
            file.write("a sentence that only she would write\n")
        command("init", *place, "--organisation", FIRM, "--zone", "America/Denver",
                "--administrator", "juno@tamarack.example", "--password-file", password)
        token = command("token", "issue", *place, "--organisation", FIRM, "--role",
                        "compliance_manager")
        service = Service(program, place, folder)
        for kind, body in (
            ("appliance", {"facts": {"tag": "HG-RACK-A", "refrigerant": "R-448A",
                                     "full_charge": "210 lb"}}),
            ("cylinder", {"facts": {"tag": "SUP-1", "use": "supply", "refrigerant": "R-448A",
                                    "capacity": "90000 lb"}}),
            ("opening", {"to": "cylinder:SUP-1", "refrigerant": "R-448A", "mass": "80000 lb"}),
        ):
            status, answer = call(service.host, token, "POST", "/api/v1/entries", entry(kind, body))
            if status != 201:
                raise SystemExit(f"FAILED: {kind} was answered {status} {answer}")
        acknowledged, faults, waiting, stop = [], [], queue.Queue(), threading.Event()
        arguments = (service, token, waiting, acknowledged, faults, stop)
        # Daemons: a service that does not open again must end the loop, not leave them asking.
        threads = [threading.Thread(target=post_for_ever, args=arguments, daemon=True)
                   for _ in range(THREADS)]
        for thread in threads:
            thread.start()
        for number in range(1, kills + 1):
            time.sleep(min(rng.expovariate(1 / 0.15), 1.0))
            service.kill()
            service.start()
            if faults:
                break
            if number % 10 == 0:
                print(f"{number} kills, {len(acknowledged)} acknowledged", flush=True)
        stop.set()
        for thread in threads:
            thread.join()
        if faults:
            raise SystemExit(f"FAILED: a posting was refused: {faults[0]}")
        stored = everything(service.host, token)
        status, cylinder = call(service.host, token, "GET", "/api/v1/cylinders/SUP-1")
        service.process.send_signal(signal.SIGTERM)
        if service.process.wait() != 0:
            raise SystemExit("FAILED: the service did not end well after SIGTERM")
        compare(acknowledged, stored, cylinder)
        checked = subprocess.run([program, "verify", *place, "--organisation", FIRM],
                                 capture_output=True, text=True, check=False)
        if checked.returncode:
            raise SystemExit(f"FAILED: verify: {checked.stdout}{checked.stderr}")
        repeats = sum(status == 200 for _, status, _, _ in acknowledged)
        if len(acknowledged) < 10 * kills or not repeats:
            raise SystemExit(f"FAILED: {len(acknowledged)} acknowledged, {repeats} of them repeats "
                             "of what was booked before a kill: too idle to show much")
        print(f"{kills} kills, {len(acknowledged)} acknowledged, {repeats} of them as repeats of "
              "what was booked before the kill; none missing, none twice")


def compare(acknowledged, stored, cylinder):
    by_id = {}
    for item in stored:
        if item["entry_id"] in by_id:
            raise SystemExit(f"FAILED: {item['entry_id']} is booked twice")
        by_id[item["entry_id"]] = item
    ounces = 0
    for sent, _, seq, leaf_hash in acknowledged:
        item = by_id.pop(sent["entry_id"], None)
        if item is None:
            raise SystemExit(f"FAILED: the acknowledged {sent['entry_id']} is missing")
        if (item["seq"], item["leaf_hash"]) != (seq, leaf_hash):
            raise SystemExit(f"FAILED: {sent['entry_id']} was answered no. {seq} {leaf_hash}, and "
                             f"is no. {item['seq']} {item['leaf_hash']}")
        ounces += int(sent["body"]["mass"].split()[0])
    if by_id:
        raise SystemExit(f"FAILED: {len(by_id)} entries that were never acknowledged, though "
                         "everything was sent until it was")
    # The opening's 80 000 lb, in ounces.
    left = 80000 * 16 - ounces
    found = cylinder["balances"][0]["mass"]["lb_oz"]
    if found != f"{left // 16} lb {left % 16} oz":
        raise SystemExit(f"FAILED: the cylinder holds {found}, expected {left // 16} lb {left % 16} oz")


def main():
    program, engine = os.path.realpath(sys.argv[1]), sys.argv[2]
    kills = int(sys.argv[3]) if len(sys.argv) > 3 else 40
    for name in list(os.environ):
        if name.startswith("TAREBOOK_"):
            del os.environ[name]
    os.environ["TAREBOOK_LOG_LEVEL"] = "error"
    place = None
    if engine == "postgres":
        if "CLUSTER_URL" not in os.environ:
            cluster = os.path.join(os.path.dirname(os.path.abspath(__file__)), "../harness/cluster.py")
            os.execvp(sys.executable, [sys.executable, cluster, "run", "--sync", "--",
                                       sys.executable, os.path.abspath(__file__), program, engine,
                                       str(kills)])
        psql = os.path.join(os.environ["PG_BINDIR"], "psql")
        subprocess.run([psql, "-X", "-q", "-d", "postgres", "-c", "CREATE DATABASE served"],
                       check=True)
        place = ["--database-url", os.environ["CLUSTER_URL"] + "served"]
        subprocess.run([program, "migrate", *place, "--quiet"], check=True)
    run(program, place, kills)
    print("1 passed, 0 failed")


if __name__ == "__main__":
    main()
