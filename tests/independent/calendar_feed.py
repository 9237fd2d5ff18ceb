"""Reads a calendar of the service back with a library that is not ours.

    python calendar_feed.py BASE EMAIL PASSWORD

Signs in, asks for what is owed, makes a calendar of it, fetches that without signing in, and
compares: the same steps on the same days. What RFC 5545 asks of lines (3.1), of an all-day event
(3.6.1) and of RFC 7986 of the time between fetches (5.7) is looked at in the bytes themselves.
"""

import datetime
import json
import sys
import urllib.error
import urllib.request
import uuid

import icalendar

passed = failed = 0


def check(what, holds, came=""):
    global passed, failed
    if holds:
        passed += 1
        print("ok     ", what)
    else:
        failed += 1
        print("FAILED ", what, came)


def ask(path, cookie="", body=None, method=None):
    headers = {"Sec-Fetch-Site": "same-origin"}
    if cookie:
        headers["Cookie"] = cookie
    if body is not None:
        headers["Content-Type"] = "application/json"
        body = json.dumps(body).encode()
    request = urllib.request.Request(base + path, body, headers, method=method)
    try:
        with urllib.request.urlopen(request) as answer:
            return answer.status, answer.headers, answer.read()
    except urllib.error.HTTPError as error:
        return error.code, error.headers, error.read()


base, email, password = sys.argv[1:4]
_, headers, _ = ask("/api/v1/sessions", body={"email": email, "password": password})
cookie = headers["Set-Cookie"].split(";")[0]

owed, titles, path = {}, {}, "/api/v1/duties?limit=500"
while path:
    page = json.loads(ask(path, cookie)[2])
    for item in page["items"]:
        if item["duty"]["due"]:
            owed[item["step"]] = item["duty"]["due"][:10]
            late = "Late: " if item["stands"] == "late" else ""
            about = f"{item['tag']}, {item['site']['tag']}" if item["site"] else item["tag"]
            about = about or "The whole organisation"
            titles[item["step"]] = f"{late}{about}: {item['duty']['means']}"
    path = page["next"]
check("the demo owes something on a day", len(owed) > 3, str(owed))

_, _, made = ask("/api/v1/calendars", cookie, {"everything": True, "names": True})
made = json.loads(made)
address = made["address"].removeprefix(base)
status, headers, raw = ask(address)
check("it is fetched without signing in", status == 200, str(status))
check("it is a calendar", headers["Content-Type"] == "text/calendar; charset=utf-8")
check("every line ends in CR LF", raw.count(b"\n") == raw.count(b"\r\n") and raw.endswith(b"\r\n"))
longest = max(len(line) for line in raw.split(b"\r\n"))
check("no line is longer than 75 octets", longest <= 75, str(longest))

calendar = icalendar.Calendar.from_ical(raw)
check("the library finds no error", not calendar.errors, str(calendar.errors))
check("version and maker stand in it", calendar["VERSION"] == "2.0" and calendar["PRODID"])
check("fetched every six hours", b"\r\nREFRESH-INTERVAL;VALUE=DURATION:PT6H\r\n" in raw)
events = calendar.walk("VEVENT")
check("no event has an error", not [event.errors for event in events if event.errors])
days = {}
for event in events:
    start, end = event["DTSTART"].dt, event["DTEND"].dt
    whole = type(start) is datetime.date and end - start == datetime.timedelta(days=1)
    stamp = event["DTSTAMP"].dt
    sound = (
        whole
        and stamp.utcoffset() == datetime.timedelta(0)
        and int(event["SEQUENCE"]) == 0
        and event["STATUS"] == "CONFIRMED"
        and str(uuid.UUID(event["UID"])) == event["UID"]
        and event["URL"].startswith(base + "/")
        and ": " in event["SUMMARY"]
    )
    if not sound:
        check("an event of a whole day", False, event.to_ical().decode())
    days[str(event["UID"])] = start.isoformat()
said = {str(event["UID"]): str(event["SUMMARY"]) for event in events}
check("titles come back as they were meant", said == titles, f"{said} and {titles}")
check("each step once", len(days) == len(events))
check("the same steps on the same days", days == owed, f"{days} and {owed}")

again = icalendar.Calendar.from_ical(ask(address)[2])
same = [event.to_ical() for event in again.walk("VEVENT")]
check("asked again it says the same", same == [event.to_ical() for event in events])
status, _, _ = ask("/api/v1/calendars/" + made["id"], cookie, method="DELETE")
check("it is revoked", status == 204, str(status))
check("and gone", ask(address)[0] == 404)
print(f"{passed} passed, {failed} failed")
sys.exit(failed > 0)
