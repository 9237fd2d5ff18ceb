// What must be refused: forms from elsewhere, forms of another session, roles that lack a page, and
// names that would be markup.

export async function refusals(tools) {
  const { base, check, same, holds, open, signIn } = tools;
  const page = await open({ viewport: { width: 1280, height: 900 } });
  await signIn(page, "ines@tamarack.example");
  const session = page.context().request;
  const own = { "Sec-Fetch-Site": "same-origin" };
  const address = `${base}/appliances/HG-RACK-A/charge`;
  const entries = async () => {
    const shown = await (await session.get(`${base}/book`)).text();
    return /<p class="lede">([\d\u202f]+) entries/.exec(shown)[1];
  };
  const token = async () => {
    const shown = await (await session.get(address)).text();
    return /name="form" value="([0-9a-f]{64})"/.exec(shown)[1];
  };
  const filled = {
    entry_id: "019b0c6e-0000-7000-8000-00000000abcd",
    cylinder: "SUP-88232",
    mass: "1 lb",
    unit: "lb",
    checked: "453.59237",
    day: "2026-11-10",
  };

  await check("a form from another site, with another token or without one, books nothing", async () => {
    const before = await entries();
    const form = { ...filled, form: await token() };
    const sent = [
      [{ headers: { "Sec-Fetch-Site": "cross-site" }, form }, 403],
      [{ headers: { Origin: "https://elsewhere.example" }, form }, 403],
      [{ form }, 403],
      [{ headers: own, form: { ...form, form: "0".repeat(64) } }, 403],
      [{ headers: own, form: filled }, 403],
      [{ headers: own, form: { ...form, surprise: "1" } }, 400],
      [{ headers: { ...own, "Content-Type": "application/json" }, data: JSON.stringify(form) }, 415],
      [{ headers: own, form: { ...form, note: "x".repeat(70_000) } }, 413],
    ];
    for (const [options, status] of sent) {
      const answer = await session.post(address, options);
      same(answer.status(), status, JSON.stringify(options).slice(0, 120));
    }
    same(await entries(), before, "entries");
  });

  await check("pages of another role are refused in words", async () => {
    const year = await session.get(`${base}/year`);
    same(year.status(), 403, "a technician at the year");
    holds(await year.text(), "Not for your role", "words");
    const juno = await open();
    await signIn(juno, "juno@tamarack.example");
    holds(await juno.innerText("main"), "Somebody new", "an administrator begins with people");
    await juno.goto(`${base}/appliances`);
    holds(await juno.innerText("main"), "Not for your role", "an administrator at the figures");
    const signe = await open();
    await signIn(signe, "signe@aldworth.example");
    const charge = await signe.context().request.get(address);
    same(charge.status(), 403, "an auditor at a charge");
  });

  await check("what is not there is said in words, with the same answer for every name", async () => {
    for (const path of ["/appliances/NO-SUCH", "/entries/99999999", "/entries/none", "/book?before=x"]) {
      const answer = await session.get(`${base}${path}`);
      same(answer.status(), path.startsWith("/book") ? 422 : 404, path);
      holds(await answer.text(), "<title>Error: ", path);
    }
  });

  const osric = await open({ viewport: { width: 1280, height: 900 } });
  await check("a tag that would be markup is a tag", async () => {
    await signIn(osric, "osric@tamarack.example");
    const tag = "</th><script>alert(1)</script>\"'><b>&";
    const answer = await osric.context().request.post(`${base}/api/v1/entries`, {
      headers: own,
      data: {
        entry_id: crypto.randomUUID(),
        kind: "appliance",
        body: { facts: { tag, refrigerant: "R-454B", site: "Alder Street", place: "<img src=x>" } },
      },
    });
    same(answer.status(), 201, `registering: ${(await answer.text()).slice(0, 300)}`);
    await osric.goto(`${base}/appliances?find=${encodeURIComponent(tag)}`);
    same(await osric.innerText("h1"), tag, "heading");
    same(await osric.locator("main script, main img, main h1 b").count(), 0, "elements made of it");
    holds(await osric.innerText("main"), "burns slowly", "caution of its class");
    holds(await osric.innerText(".standing"), "The full charge of", "what is not known");
    await osric.click("a.btn:text-is('Charge')");
    holds(await osric.innerText("main"), "No flame, no spark", "caution at the form");
  });

  await check("every answer forbids script, foreign content and framing", async () => {
    for (const path of ["/today", "/sign-in", "/appliances/HG-RACK-A", "/assets/tarebook.css", "/no"]) {
      const policy = (await session.get(`${base}${path}`)).headers()["content-security-policy"];
      holds(policy, "default-src 'none'", path);
      holds(policy, "frame-ancestors 'none'", path);
      if (policy.includes("unsafe") || policy.includes("script-src")) throw new Error(`${path}: ${policy}`);
    }
    const shown = await (await session.get(`${base}/appliances/HG-RACK-A`)).text();
    const inline = shown.match(/<script|<style| style=| on[a-z]+=/g);
    same(inline, null, "inline script or style");
  });
}
