"""Signs in to a served demo with codes that Python's own hmac works out (RFC 6238 over RFC 4226).

    second_factor.py BASE EMAIL PASSWORD

Nothing of it comes from the program under test: the seed is read from base 32 by Python's base64, a code
is an HMAC-SHA-1 of the count of 30-second steps. The vectors of RFC 4226, appendix D, are tried first, so
that this check is known to be right. Ends with "N passed, M failed".
"""

import base64
import hmac
import http.cookiejar
import json
import struct
import sys
import time
import urllib.error
import urllib.parse
import urllib.request

base, email, password = sys.argv[1:4]
results = []


def check(what, good):
    results.append(bool(good))
    if not good:
        print(f"FAILED: {what}")


def code(seed, step):
    tag = hmac.new(seed, struct.pack(">q", step), "sha1").digest()
    four = struct.unpack(">I", tag[tag[-1] & 15:][:4])[0] & 0x7FFFFFFF
    return f"{four % 10**6:06}"


check("RFC 4226, appendix D",
      [code(b"12345678901234567890", count) for count in range(10)] ==
      "755224 287082 359152 969429 338314 254676 287922 162583 399871 520489".split())


class Browser:
    def __init__(self):
        self.jar = http.cookiejar.CookieJar()
        self.opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(self.jar))

    def ask(self, method, path, body=None):
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(base + path, data=data, method=method, headers={
            "Content-Type": "application/json", "Origin": base})
        try:
            with self.opener.open(request) as answer:
                return answer.status, json.loads(answer.read() or b"null")
        except urllib.error.HTTPError as answer:
            return answer.code, json.loads(answer.read() or b"null")

    def sign_in(self):
        return self.ask("POST", "/api/v1/sessions", {"email": email, "password": password})


def waits(step):
    """Until a step of the clock has come."""
    while time.time() < step * 30 + 1:
        time.sleep(0.2)


first = Browser()
status, _ = first.sign_in()
check("signed in by the password", status == 201)
status, begun = first.ask("POST", "/api/v1/second-factor", {})
check("a seed", status == 201)
asked = urllib.parse.urlsplit(begun["address"])
query = dict(urllib.parse.parse_qsl(asked.query))
check("an address that apps read", (asked.scheme, asked.netloc) == ("otpauth", "totp"))
check("SHA-1, six digits, thirty seconds",
      (query["algorithm"], query["digits"], query["period"]) == ("SHA1", "6", "30"))
check("the same seed as square and as letters", query["secret"] == begun["seed"])
check("the account", urllib.parse.unquote(asked.path).endswith(":" + email))
seed = base64.b32decode(begun["seed"])
check("160 bits", len(seed) == 20)

# Early in a step, so that none of what follows crosses its end.
step = int(time.time()) // 30 + 1
waits(step)
status, _ = first.ask("POST", "/api/v1/second-factor/confirm", {"code": code(seed, step - 2)})
check("two steps back is refused", status == 422)
status, _ = first.ask("POST", "/api/v1/second-factor/confirm", {"code": code(seed, step + 2)})
check("two steps on is refused", status == 422)
status, made = first.ask("POST", "/api/v1/second-factor/confirm", {"code": code(seed, step - 1)})
check("one step back is taken", status == 200 and len(made["recovery_codes"]) == 10)
check("recovery codes of 80 bits at least",
      all(len(it.replace("-", "")) * 5 >= 80 for it in made["recovery_codes"]))

for digits, name in [(code(seed, step), "the code of now"), (code(seed, step + 1), "one step on")]:
    browser = Browser()
    status, problem = browser.sign_in()
    check("the password asks for a code", status == 401 and problem["type"] == "/problems/code-needed")
    status, _ = browser.ask("POST", "/api/v1/sessions/code", {"code": digits})
    check(f"{name} signs in", status == 201)
    again = Browser()
    again.sign_in()
    status, _ = again.ask("POST", "/api/v1/sessions/code", {"code": digits})
    check(f"{name} signs in once only", status == 401)

browser = Browser()
browser.sign_in()
status, _ = browser.ask("POST", "/api/v1/sessions/code", {"code": made["recovery_codes"][0]})
check("a recovery code signs in", status == 201)
browser = Browser()
browser.sign_in()
status, _ = browser.ask("POST", "/api/v1/sessions/code", {"code": made["recovery_codes"][0]})
check("a recovery code signs in once only", status == 401)

failed = results.count(False)
print(f"{len(results) - failed} passed, {failed} failed")
sys.exit(1 if failed else 0)
