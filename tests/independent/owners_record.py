"""Reads the owner's record as a PDF with a library that is not ours, and compares it with the page.

    python owners_record.py BASE EMAIL PASSWORD

Every field and cell of the page must stand in the text of the PDF; twice fetched the bytes are the
same. Letters that the standard fonts lack (ISO 32000-1 annex D, WinAnsi) stand as their numbers, and
the attached text has them as they are.
"""

import html.parser
import io
import json
import re
import sys
import urllib.error
import urllib.request
import uuid

import pypdf

passed = failed = 0


def check(what, holds, came=""):
    global passed, failed
    if holds:
        passed += 1
        print("ok     ", what)
    else:
        failed += 1
        print("FAILED ", what, str(came)[:400])


def ask(path, cookie="", body=None):
    headers = {"Sec-Fetch-Site": "same-origin"}
    if cookie:
        headers["Cookie"] = cookie
    if body is not None:
        headers["Content-Type"] = "application/json"
        body = json.dumps(body).encode()
    request = urllib.request.Request(base + path, body, headers)
    try:
        with urllib.request.urlopen(request) as answer:
            return answer.status, answer.headers, answer.read()
    except urllib.error.HTTPError as error:
        return error.code, error.headers, error.read()


class Fields(html.parser.HTMLParser):
    """The texts of the page's names, values and cells."""

    def __init__(self):
        super().__init__()
        self.inside, self.texts = 0, []

    def handle_starttag(self, tag, attrs):
        if tag in ("dt", "dd", "td", "th"):
            self.inside += 1
            self.texts.append("")

    def handle_endtag(self, tag):
        if tag in ("dt", "dd", "td", "th"):
            self.inside -= 1

    def handle_data(self, data):
        if self.inside:
            self.texts[-1] += data


def bare(text):
    """Without spaces and line ends, which depend on where a line breaks."""
    return re.sub(r"\s", "", text).replace("\N{MINUS SIGN}", "\N{EN DASH}")


def fields(entry):
    parser = Fields()
    parser.feed(ask(f"/r/{entry}", cookie)[2].decode())
    return [text for text in parser.texts if text.strip()]


def record(entry, paper="letter"):
    status, headers, data = ask(f"/r/{entry}/pdf?paper={paper}", cookie)
    assert status == 200, (status, data[:300])
    return headers, data, pypdf.PdfReader(io.BytesIO(data))


def lowest(page):
    """Where each text of a page begins, in points from its bottom."""
    found = []
    page.extract_text(visitor_text=lambda text, cm, tm, font, size: text.strip() and found.append(tm[5]))
    return found


base, email, password = sys.argv[1:4]
_, headers, _ = ask("/api/v1/sessions", body={"email": email, "password": password})
cookie = headers["Set-Cookie"].split(";")[0]

entries, path = [], "/api/v1/entries?limit=500"
while path:
    page = json.loads(ask(path, cookie)[2])
    entries += page["items"]
    path = page.get("next")
visits = {}
for entry in entries:
    if entry.get("visit"):
        visits.setdefault(entry["visit"], []).append(entry)
fullest = max(visits.values(), key=lambda all: len({entry["kind"] for entry in all}))
booked = fullest[-1]["seq"]

headers, data, read = record(booked)
check("the file is a PDF of its own type", headers["Content-Type"] == "application/pdf" and data[:5] == b"%PDF-")
text = bare("".join(page.extract_text() for page in read.pages))
missing = [field for field in fields(booked) if bare(field) not in text]
check(f"all {len(fields(booked))} fields and cells of the page stand in it", not missing, missing)
for part in ["Verificationcode", "Whatyouowenext", "Refrigerantaddedandremoved", "Leakrate"]:
    check(f"it holds {part}", part in text, text)
check("twice the same bytes", data == record(booked)[1])
check("no hour is kept in it", not read.metadata.get("/CreationDate") and not read.metadata.get("/ModDate"))
boxes = [tuple(round(float(side)) for side in record(booked, paper)[2].pages[0].mediabox[2:]) for paper in ("letter", "a4")]
check("Letter is 8.5 x 11 in and A4 210 x 297 mm in points", boxes == [(612, 792), (595, 842)], boxes)
check("the fullest visit fits on one page", len(read.pages) == 1, len(read.pages))
check("it says which page of how many", "page1of1" in text, text)
for who in ["Technician:name,signature,date", "Owner,orwhostandsfortheowner:name,signature,date"]:
    check(f"there is a place for {who}", who in text, text)

# A visit with so many steps that they take more than a page: every page says which it is.
visit, long = str(uuid.uuid4()), 40
for step in range(long):
    status, _, answer = ask("/api/v1/entries", cookie, {
        "entry_id": str(uuid.uuid4()), "kind": "leak_found", "visit": visit,
        "body": {"appliance": "HG-RTU-07", "found_by": "technician", "place": f"joint {step}, by name"}})
    assert status == 201, answer
_, _, read = record(json.loads(answer)["seq"])
pages = [bare(page.extract_text()) for page in read.pages]
check(f"a visit of {long} steps takes more than one page", len(pages) > 1, len(pages))
wrong = [at for at, text in enumerate(pages) if f"page{at + 1}of{len(pages)}" not in text]
check("each of its pages says which it is of how many", not wrong, pages)
lost = [step for step in range(long) if f"joint{step},byname" not in "".join(pages)]
check("no step is lost between the pages", not lost, lost)
low = [round(y) for page in read.pages for y in lowest(page)]
check("nothing stands below the margin but the number of the page", min(low) >= 20, low)

# What the fonts lack: Chinese, Cyrillic; what WinAnsi has: French, Czech.
place = "клапан 中 à Žižkov"
status, _, answer = ask("/api/v1/entries", cookie, {
    "entry_id": str(uuid.uuid4()), "kind": "leak_found",
    "body": {"appliance": "HG-RTU-07", "found_by": "technician", "place": place}})
check("a leak with letters of other alphabets is booked", status == 201, answer)
_, _, read = record(json.loads(answer)["seq"])
text = "".join(page.extract_text() for page in read.pages)
check("letters that the fonts have stand in it", "à Žižkov" in text, text)
check("those that they lack stand as their numbers", "[U+4E2D]" in text and "[U+043A]" in text, text)
check("and that is said", "record.txt" in text, text)
kept = read.attachments["record.txt"][0].decode()
check("the attached text has them as they are", place in kept, kept)
print(f"\n{passed} passed, {failed} failed")
sys.exit(1 if failed else 0)
