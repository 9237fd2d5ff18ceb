// The outbox for real: without signal, killed, with answers lost on purpose, on a shared phone. What
// counts is the book, read by somebody else: every entry once, in the order of the work.
import { Phone, booked } from "./field-phone.mjs";

const [INES, DOV, OSRIC] = ["ines", "dov", "osric"].map((name) => `${name}@tamarack.example`);

export async function outbox(tools) {
  const { base, check, same, holds, open, signIn } = tools;
  const office = await open();
  await signIn(office, OSRIC);
  const reader = office.context().request;
  const head = async () => {
    const entries = await booked(reader, base, await number(reader, base));
    return entries.at(-1)?.seq ?? (await number(reader, base));
  };
  const phone = new Phone(tools);
  await phone.start();
  await phone.signIn(INES);
  let from = await head();

  await check("E1 a standard posting takes three screens and at most twelve taps after the card", async () => {
    const { taps, says } = await phone.post(
      { unit: "HG-RACK-A", cylinder: "SUP-90010", before: "82 8", after: "81 8", full: "no" },
      "**/entries/*",
    );
    if (taps > 12) throw new Error(`${taps} taps`);
    holds(says, "Charge 1 lb 0 oz R-448A into HG-RACK-A, machine room behind the bakery, from cylinder SUP-90010, today.", "one sentence");
    holds(await phone.page.innerText(".receipt"), "Booked as", "receipt");
    from = await head();
  });

  const ids = [];
  await check("E2 E46 three visits are posted without signal; the page says so and nets each visit", async () => {
    await phone.goto("/field");
    await phone.kept();
    await phone.context.setOffline(true);
    await phone.post({ unit: "HG-RTU-07", deed: "Recover", cylinder: "TR-0424", before: "27 8", after: "48 2" });
    // Recovered 48 lb 2 oz - 27 lb 8 oz = 20 lb 10 oz; charged 22 lb; 22 lb - 20 lb 10 oz = 1 lb 6 oz.
    const { says } = await phone.post({ unit: "HG-RTU-07", cylinder: "SUP-88113", before: "30 12", after: "8 12", full: "yes" });
    holds(says, "This visit: recovered 20 lb 10 oz, charged 22 lb 0 oz, net 1 lb 6 oz.", "the visit");
    await phone.post({ unit: "HG-RACK-A", cylinder: "SUP-90010", before: "81 8", after: "80 0" });
    await phone.post({ unit: "HG-RACK-C", cylinder: "SUP-86051", before: "100 0", after: "98 4" });
    await phone.says("Waiting for signal: 4 entries");
    same((await booked(reader, base, from)).length, 0, "entries in the book");
  });

  await check("E2 they survive reload, a killed page, a dead battery, and a start without signal", async () => {
    await phone.page.reload();
    await phone.says("Waiting for signal: 4 entries");
    await phone.die();
    await phone.start({ signal: false });
    await phone.goto("/field");
    await phone.says("Waiting for signal: 4 entries");
    await phone.goto("/field/outbox");
    const shown = phone.page.locator("h2:text-is('Waiting') + ul .what");
    await shown.first().waitFor();
    const lines = await shown.allInnerTexts();
    same(lines.map((line) => line.replace(/\s+/g, " ")).join(" | "), "Recovered 20 lb 10 oz R-410A | Charged 22 lb 0 oz R-410A | Charged 1 lb 8 oz R-448A | Charged 1 lb 12 oz R-22", "what waits");
  });

  await check("E2 with signal they are booked by themselves: each once, in the order of the work", async () => {
    await phone.context.setOffline(false);
    await phone.says("Outbox: 0 waiting");
    const entries = await booked(reader, base, from);
    ids.push(...entries.map(({ entry_id }) => entry_id));
    same(new Set(ids).size, 4, "entries");
    const masses = entries.map(({ body }) => body.movements.map(({ g }) => g).join());
    // 20 lb 10 oz = 330 oz, 22 lb = 352 oz, 24 oz and 28 oz, of 28.349523125 g each.
    same(masses.join(" "), "9355.34263125 9979.03214 680.388555 793.7866475", "masses in order");
    same(new Set(entries.slice(0, 2).map(({ visit }) => visit)).size, 1, "one visit at the roof unit");
    same(entries.every(({ captured_offline }) => captured_offline === true), true, "marked as written without signal");
    from = await head();
  });

  await check("E3 an answer that is lost costs nothing: the same entry is sent again and booked once", async () => {
    let lost = 0;
    await phone.page.route("**/api/v1/entries", async (route) => {
      if (lost > 0) return route.continue();
      lost += 1;
      await route.fetch();
      return route.abort("connectionreset");
    });
    await phone.post({ unit: "HG-RACK-A", cylinder: "SUP-90010", before: "80 0", after: "79 4" });
    same(lost, 1, "answers lost");
    await phone.says("Outbox: 0 waiting");
    const entries = await booked(reader, base, from);
    same(entries.length, 1, "entries");
    holds(await phone.page.innerText("#kept"), `no. ${entries[0].seq}`, "the receipt of the first booking");
    await phone.page.unroute("**/api/v1/entries");
    from = await head();
  });

  await check("what the book answers with 500, 503 or after too long waits, and nothing is lost", async () => {
    const answers = [500, 503];
    await phone.page.route("**/api/v1/entries", (route) => {
      const status = answers.shift();
      return status ? route.fulfill({ status, contentType: "text/plain", body: "no" }) : route.continue();
    });
    await phone.post({ unit: "HG-RACK-A", cylinder: "SUP-90010", before: "79 4", after: "78 8" });
    // The page of the outbox asks once more by itself, and is told 503.
    await phone.says("1 entry");
    same((await booked(reader, base, from)).length, 0, "entries in the book");
    await phone.page.click("button:text-is('Send now')");
    await phone.says("Outbox: 0 waiting");
    same((await booked(reader, base, from)).length, 1, "entries in the book");
    await phone.page.unroute("**/api/v1/entries");
    from = await head();
  });

  await needsYou({ ...tools, phone, reader });
  await shared({ ...tools, phone, reader });
  await phone.end();
}

async function number(reader, base) {
  const note = await (await reader.get(`${base}/api/v1/log/checkpoint`)).text();
  return Number(note.split("\n")[1]) - 1;
}

async function needsYou({ base, check, same, holds, phone, reader }) {
  const { page } = phone;
  let from = await number(reader, base);

  await check("E43 a question at the unit is answered on the page, and the answer stands in the entry", async () => {
    // SUP-90010 holds less than 60 lb: the book asks whether that can be.
    const filled = await phone.fill({ unit: "HG-RACK-A", cylinder: "SUP-90010", before: "130 0", after: "70 0" });
    // The book is heard while it is checked: no press says Book where the answer is Not booked yet.
    await page.waitForSelector(".foot button.instead:not(.second):text-is('Go on')");
    await filled.tap(".foot button.instead:not(.second)");
    await page.waitForSelector("#instead .query");
    holds(await page.title(), "Not booked yet: ", "title");
    const asked = await page.locator("#instead .query input:not([value=''])").evaluateAll((all) => all.map(({ name, value }) => [name, value]));
    for (const name of new Set(asked.map(([name]) => name))) {
      const [, value] = asked.find(([other]) => other === name);
      await page.check(`#instead input[name='${name}'][value='${value}']`);
    }
    await page.click("button:text-is('Go on')");
    await page.waitForURL("**/entries/*");
    const [entry] = (await booked(reader, base, from)).slice(-1);
    const codes = [...new Set(asked.map(([name]) => name.replace("answer.", "")))];
    same(codes.every((code) => code in entry.answers), true, `answers ${codes} in ${JSON.stringify(entry.answers)}`);
  });

  await check("a stop says what to do; what has happened is booked and closes the cylinder", async () => {
    const filled = await phone.fill({ unit: "HG-RACK-A", deed: "Recover", cylinder: "SUP-88232", before: "20 0", after: "21 0" });
    await filled.tap(".foot button.instead:not(.second)");
    await page.waitForSelector("#instead .stop");
    holds(await page.innerText("#instead .stop"), "disposable", "why");
    await page.check("#instead .stop input[value=already_happened]");
    await page.click("button:text-is('Go on')");
    // Earlier parts of the walk may have booked the like of it; then the book asks that, too.
    await page.waitForSelector("#instead .query, .receipt");
    await answerAll(page);
    await page.waitForURL("**/entries/*");
    holds(await page.innerText("main"), "a disposable cylinder was refilled", "finding");
    from = await number(reader, base);
  });

  await check("an entry the book refuses needs its person, holds up its own cylinder, and nothing else", async () => {
    await phone.goto("/field");
    await phone.kept();
    await phone.context.setOffline(true);
    await phone.post({ unit: "HG-RACK-A", cylinder: "NO-SUCH-1", before: "20 0", after: "19 0" });
    await phone.post({ unit: "HG-RACK-A", cylinder: "SUP-90010", before: "70 0", after: "69 8" });
    await phone.post({ unit: "HG-RACK-C", cylinder: "SUP-86051", before: "98 4", after: "97 4" });
    await phone.context.setOffline(false);
    await phone.says("Needs you: 1 entry");
    await phone.says("1 entry waiting");
    const first = await booked(reader, base, from);
    same(first.map(({ body }) => body.movements[0].g).join(), "453.59237", "only the other appliance's");
    holds(await page.innerText("#kept"), "NO-SUCH-1", "what it needs");
    await page.click("a.btn:text-is('Put it right')");
    await page.waitForSelector(".errors");
    holds(await page.title(), "Error: ", "title");
    await page.fill("#cylinder", "SUP-87410");
    await page.click("button:text-is('Check')");
    await page.click(".foot button.instead:not(.second)");
    await page.waitForSelector("#instead .query, .receipt");
    await answerAll(page);
    await page.waitForURL("**/entries/*");
    await phone.says("Outbox: 0 waiting");
    const all = await booked(reader, base, from);
    same(all.slice(1).map(({ body }) => body.movements[0].g).join(), "453.59237,226.796185", "1 lb, then 8 oz");
  });

  await check("waiting entries are saved to a file that the interface takes", async () => {
    await phone.context.setOffline(true);
    await phone.post({ unit: "HG-RACK-C", cylinder: "SUP-86051", before: "97 4", after: "96 4" });
    const saving = page.waitForEvent("download");
    await page.click("button:text-is('Save waiting entries to a file')");
    let text = "";
    for await (const part of await (await saving).createReadStream()) text += part;
    const answer = await reader.post(`${base}/api/v1/entries`, { headers: { "Sec-Fetch-Site": "same-origin" }, data: JSON.parse(text) });
    const [{ status, entry }] = (await answer.json()).results;
    same(status, 201, "loaded in the office");
    await phone.context.setOffline(false);
    await phone.says("Outbox: 0 waiting");
    holds(await page.innerText("#kept"), `no. ${entry.seq}`, "the phone hears that it is booked already");
  });
}

async function answerAll(page) {
  const names = await page.locator("#instead .query input:not([value=''])").evaluateAll((all) => all.map(({ name, value }) => [name, value]));
  for (const [name, value] of new Map(names.reverse())) await page.check(`#instead input[name='${name}'][value='${value}']`);
  if (names.length > 0) await page.click("button:text-is('Go on')");
}

async function shared({ base, check, same, holds, phone, reader }) {
  const { page } = phone;
  const from = await number(reader, base);

  await check("a sign-in that ended harms nothing: the entry waits and says for whom", async () => {
    await phone.goto("/field/appliances/HG-RACK-C");
    await page.click("a.btn:text-is('Charge')");
    await phone.context.clearCookies({ name: "tarebook" });
    await page.waitForSelector("#cylinder-picks");
    await page.click("#cylinder-picks label:has-text('SUP-86051')");
    for (const [box, value] of [["#before-lb", "96"], ["#before-oz", "4"], ["#after-lb", "95"], ["#after-oz", "12"]]) await page.fill(box, value);
    await page.click("button:text-is('Check')");
    await page.click(".foot button.instead:not(.second)");
    // The outbox asks for the sign-in, because there is signal.
    await page.waitForURL("**/sign-in?next=*");
    same((await booked(reader, base, from)).length, 0, "entries in the book");
  });

  await check("another person on the same phone cannot send it, and does not see it", async () => {
    await phone.signIn(DOV);
    await phone.says("Outbox: 0 waiting");
    await phone.goto("/field/outbox");
    await page.waitForSelector("#kept .note");
    holds(await page.innerText("#kept"), "One entry of another person waits on this phone", "words");
    same(await page.locator("#kept .lines").count(), 0, "nothing of it is shown");
    const session = await (await phone.context.request.get(`${base}/api/v1/sessions/current`)).json();
    const other = await page.evaluate(async () => {
      const body = JSON.stringify({ entries: [] });
      const headers = { "Content-Type": "application/json", "Tarebook-Person": "00000000-0000-7000-8000-000000000000" };
      return (await fetch("/api/v1/entries", { method: "POST", headers, body })).status;
    });
    same(other, 403, `under the sign-in of ${session.person}`);
    same((await booked(reader, base, from)).length, 0, "entries in the book");
  });

  await check("when its person signs in again it is booked, under their name", async () => {
    await phone.signIn(INES);
    await phone.says("Outbox: 0 waiting");
    const entries = await booked(reader, base, from);
    same(entries.length, 1, "entries");
    await phone.goto(`/entries/${entries[0].seq}`);
    holds(await page.innerText(".receipt"), "by Ines Vallory", "who");
  });

  await check("while another signs in, a tab that asks without pause leaves no page of the one before", async () => {
    await phone.goto("/field");
    await phone.kept();
    const persons = () => page.evaluate(async () => {
      const kept = await caches.open("tarebook-pages");
      const told = (await kept.keys()).map(async (asked) => /data-person="([^"]*)"|"name":"([^"]*)"/.exec(await (await kept.match(asked)).text())?.slice(1).join(""));
      return [...new Set(await Promise.all(told))].filter(Boolean);
    });
    const before = await persons();
    same(before.length, 2, `her id and her name in what is kept: ${before}`);
    const other = await phone.context.newPage();
    await other.goto(`${base}/field`);
    await page.goto(`${base}/sign-in?next=%2Ffield`);
    await page.fill("#email", DOV);
    await page.fill("#password", phone.tools.passwords.get(DOV));
    // A page at a time, each asked for once: what is asked for later does not hide what came before.
    await other.evaluate(async () => {
      const { units } = await (await (await caches.open("tarebook-pages")).match("/field/cylinders")).json();
      const ask = () => units.length > 0 && navigator.serviceWorker.controller.postMessage({ anew: [`/field/appliances/${encodeURIComponent(units.shift())}`] });
      setInterval(ask, 25);
    });
    await page.click("button");
    await page.waitForURL(`${base}/field`);
    await other.close();
    await phone.kept();
    const after = await persons();
    same(after.filter((one) => before.includes(one)).join(), "", "of the one before");
    same(after.length, 2, `of Dov alone: ${after}`);
  });
}
