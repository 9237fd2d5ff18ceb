// Cylinders in the field, with signal and without: found by tag and by code, chosen for a unit, taken,
// given back, counted and checked. What the book has is read by somebody else.
import { keptOf, until } from "./field-kept.mjs";
import { booked } from "./field-phone.mjs";

export async function found({ check, same, holds, phone, office, base }) {
  const { page, context } = phone;
  const codeOf = async (of, tag) => {
    await office.goto(`${base}/labels?of=${of}&stock=roll&ids=${tag}`);
    return office.innerText(".code");
  };
  await check("a tag or the code of a label finds a cylinder, with signal and without, and the card says what must be known", async () => {
    const [cylinder, unit] = [await codeOf("cylinders", "TR-0417"), await codeOf("appliances", "HG-RACK-A")];
    await phone.goto("/field");
    await phone.kept();
    for (const signal of [true, false]) {
      await context.setOffline(!signal);
      const where = signal ? "with signal" : "without";
      for (const typed of ["TR-0417", "tr-0417", cylinder, cylinder.replaceAll("-", "").toLowerCase()]) {
        await phone.goto(`/field?find=${encodeURIComponent(typed)}`);
        await page.waitForSelector("#card").catch(async () => { throw new Error(`${typed}, ${where}: ${page.url()} says ${await page.innerText("main")}`); });
        same(await page.innerText("h1"), "TR-0417", `${typed}, ${where}`);
        const text = await page.innerText("main");
        for (const part of [cylinder, "Content", "Room left", "Tare", "27 lb 9.6 oz = 12.519 kg", "Test due", "31 May 2027", "Content belongs to", "Condition of the content", "under pressure"]) holds(text, part, `${typed}, ${where}`);
      }
      await phone.goto(`/q/${cylinder.replaceAll("-", "")}`);
      await page.waitForSelector("#card");
      same(await page.innerText("h1"), "TR-0417", `the square, ${where}`);
      await phone.goto(`/field?find=${encodeURIComponent(unit)}`);
      await page.waitForURL("**/field/appliances/HG-RACK-A");
      await phone.goto("/field?find=TR-04");
      await page.waitForSelector("a:has-text('TR-0418')");
      await phone.goto("/field?find=ZZZ-9");
      await page.waitForSelector(`main :text('${signal ? "No tag begins so" : "Nothing that this phone keeps has this tag"}')`);
    }
    await phone.goto("/field/cage");
    holds(await page.innerText("main"), "TR-0418", "the cage, without signal");
  });

  await check("from the card of a cylinder to the form of a unit, without signal, with the cylinder chosen", async () => {
    await phone.goto("/field/cylinders/SUP-90010");
    await page.waitForSelector("#card");
    same(await page.locator("button:text-is('Recover into it')").count(), 0, "a supply cylinder takes nothing");
    await page.fill("#appliance", "HG-RACK-A");
    await page.tap("button:text-is('Charge from it')");
    await page.waitForSelector("#cylinder-picks");
    same(await page.inputValue("#cylinder"), "SUP-90010", "cylinder");
    holds(await page.innerText("#as-of"), "as of", "age");
    await context.setOffline(false);
  });

  await check("a cylinder with less than nothing in it is said to hold something, with signal and without", async () => {
    for (const signal of [true, false]) {
      await context.setOffline(false);
      await phone.goto("/field");
      await phone.kept();
      await context.setOffline(!signal);
      await phone.goto("/field/cylinders/SUP-88700");
      await page.waitForSelector("#card");
      const text = (await page.innerText("main")).toLowerCase();
      holds(text, "an entry is missing: treat as holding refrigerant", signal ? "with signal" : "without");
    }
    await context.setOffline(false);
  });

  await check("the day and the card of a unit lead to the cylinders and the tools", async () => {
    for (const path of ["/field", "/field/appliances/HG-RACK-A"]) {
      await phone.goto(path);
      same(await page.locator("main a[href='/field/cage']").count(), 1, `cylinders, ${path}`);
      same(await page.locator("main a[href='/field/tools']").count(), 1, `tools, ${path}`);
    }
  });
}

export async function hands({ check, same, holds, phone, head, reader, base }) {
  const { page, context } = phone;
  await check("a cylinder is taken without signal, given back with it; each is booked once", async () => {
    const from = await head();
    await phone.goto("/field");
    await phone.kept();
    await context.setOffline(true);
    await phone.goto("/field/cylinders/TR-0418");
    await page.waitForSelector("form.custody");
    await page.tap("button:text-is('I have it now')");
    await page.waitForURL("**/field/outbox");
    await page.waitForSelector("#kept .lines");
    holds(await page.innerText("#kept"), "Now with Ines Vallory", "what waits");
    await phone.goto("/field/cylinders/TR-0418");
    await page.waitForSelector("#card");
    holds(await page.innerText("#card"), "held by Ines Vallory", "what this phone said");
    holds(await page.innerText("#as-of"), ", with what waits in the outbox.", "what is counted in");
    await context.setOffline(false);
    await phone.goto("/field/outbox");
    await phone.says("Outbox: 0 waiting").catch(async (error) => { throw new Error(`${error.message}: ${await page.innerText("#kept")}`); });
    await phone.goto("/field/cage");
    holds(await page.innerText("h2:text-is('With me') + ul"), "TR-0418", "with me");
    await phone.goto("/field/cylinders/TR-0418");
    await page.selectOption("#to", { label: "the shop" });
    await page.tap("button:text-is('Give it')");
    await page.waitForSelector("#card:has-text('held by the shop')");
    const entries = await booked(reader, base, from);
    same(entries.map(({ kind }) => kind).join(" "), "cylinder cylinder", "entries");
    const shown = await (await reader.get(`${base}/api/v1/cylinders/TR-0418`)).json();
    same(shown.facts.held_by.at(-1).is, "shop", "by the book");
  });
}

export async function atCylinders({ check, same, holds, phone, head, reader, base }) {
  const { page, context } = phone;
  await check("a count and a content check wait without signal, at a cylinder whose form was never opened, and are booked by themselves", async () => {
    const from = await head();
    await phone.goto("/field");
    await phone.kept();
    await until(page, "a form at a cylinder is kept", async () => page.evaluate(async () => (await (await caches.open("tarebook-pages")).keys()).some(({ url }) => url.endsWith("/check"))));
    const before = await (await reader.get(`${base}/api/v1/cylinders/TR-0420`)).json();
    const tare = Number(before.facts.tare.at(-1).is.g);
    const net = before.balances.reduce((sum, { mass }) => sum + Number(mass.g), 0);
    // What stands on the scale by the book: tare and content, up to the next gram.
    const gross = `${(Math.ceil(tare + net) / 1000).toFixed(3)} kg`;
    await context.setOffline(true);
    await phone.goto("/cylinders/TR-0420/check");
    await page.waitForSelector("#outbox .sign");
    same(await page.innerText("main .place"), "TR-0420", "which cylinder");
    await page.tap("#count > summary");
    await page.fill("#count-gross", gross);
    await page.tap("#count button");
    await page.waitForSelector("#instead");
    holds(await page.innerText("#instead"), "TR-0420", "one sentence");
    await page.tap(".foot button.instead:not(.second)");
    await page.waitForURL("**/field/outbox");
    await page.waitForSelector("#kept .lines");
    await phone.goto("/cylinders/TR-0420/check");
    await page.waitForSelector("#outbox .sign");
    await page.tap("#observation > summary");
    await page.fill("#observation-pressure", "195.3");
    for (const [box, value] of [["gauge", "sealed"], ["rested", "yes"], ["temperature_unit", "[degF]"]]) await page.check(`#observation input[name=${box}][value="${value}"]`);
    await page.selectOption("#observation-pressure_unit", "psig");
    await page.fill("#observation-accuracy_percent", "1");
    await page.fill("#observation-wall_temperature", "68");
    await page.tap("#observation button");
    await page.waitForSelector("#instead");
    await page.tap(".foot button.instead:not(.second)");
    await page.waitForURL("**/field/outbox");
    await phone.says("Waiting for signal: 2 entries");
    same((await booked(reader, base, from)).length, 0, "entries in the book");
    await context.setOffline(false);
    await phone.says("Outbox: 0 waiting").catch(async (error) => { throw new Error(`${error.message}: ${await page.innerText("#kept")}`); });
    const entries = await booked(reader, base, from);
    same(entries.map(({ kind }) => kind).join(" "), "count observation", "in the order of the work");
    same(entries.every(({ captured_offline }) => captured_offline === true), true, "marked as written without signal");
  });
}

const PRESS = ".foot button.instead:not(.second)";

/** A known weight goes through the outbox; what has none says that it needs signal. */
export async function needsSignal({ check, same, holds, phone, head, reader, base }) {
  const { page, context } = phone;
  await check("a known weight is put on without signal, on a page that was never opened: asked about where it is far off, booked once by itself", async () => {
    const from = await head();
    await phone.goto("/field");
    await phone.kept();
    await until(page, "the scales are kept", async () => page.evaluate(async () => (await (await caches.open("tarebook-pages")).keys()).some(({ url }) => url.includes("/field/scales/"))));
    await context.setOffline(true);
    await phone.goto("/field/me");
    await page.tap("main a[href^='/field/scales/'] >> nth=0");
    await page.waitForSelector("#outbox .sign");
    await page.tap(".foot .btn");
    await page.waitForSelector(".errors");
    holds(await page.innerText(".errors"), "What the scale shows: with its unit, such as 10 lb or 5 kg.", "nothing typed");
    await page.fill("#nominal", "10 kg");
    await page.fill("#shown", "999 lb");
    await page.tap(".foot .btn");
    await page.waitForSelector("#instead .caution");
    same(await page.innerText(PRESS), "Go on", "the press does not say Book");
    await page.tap(PRESS);
    await page.waitForSelector("#instead .query");
    // 10 kg are 22 lb 0.7396 oz, by 453.59237 g to the pound (1959 agreement of the yard and the pound).
    holds(await page.innerText("#instead .query"), "Is that the reading? 999 lb 0 oz (453.139 kg) for a weight of 22 lb 0.7396 oz (10 kg)", "the question");
    await page.check("#instead .query input[value='']");
    await page.tap(PRESS);
    await page.waitForSelector("#shown", { state: "visible" });
    await page.fill("#nominal", "10 lb");
    await page.fill("#shown", "10 lb 0.5 oz");
    await page.tap(".foot .btn");
    await page.waitForSelector("#instead .says");
    holds(await page.innerText("#instead .says"), "10 lb 0 oz on scale S-", "one sentence");
    holds(await page.innerText("#instead .says"), "shown as 10 lb 0.5 oz: 0.5 oz too much, today.", "how far it is off");
    await page.tap(PRESS);
    await page.waitForURL("**/field/outbox");
    await phone.says("Waiting for signal: 1 entry");
    holds(await page.innerText("#kept"), "Known weight", "what waits");
    await context.setOffline(false);
    await phone.says("Outbox: 0 waiting");
    const [entry, ...more] = await booked(reader, base, from);
    same([entry.kind, more.length, entry.captured_offline].join(), "scale,0,true", "booked once, marked as written without signal");
    const { nominal, shown } = entry.body.facts.check_weight[0].is;
    // Half an ounce is 14.1747615625 g.
    same(`${nominal.g} ${shown.g}`, "4535.9237 4550.0984615625", "grams");
    await phone.goto("/field/me");
    await page.tap("main a[href^='/field/scales/'] >> nth=0");
    await page.waitForSelector("li:has-text('10 lb 0 oz shown as 10 lb 0.5 oz: 0.5 oz too much')");
    await page.fill("#nominal", "10 lb");
    await page.fill("#shown", "10 lb");
    await page.tap(".foot .btn");
    await page.tap(PRESS);
    await page.waitForSelector("li:has-text('10 lb 0 oz shown as 10 lb 0 oz: right')");
  });

  await check("what no script takes over says that it needs signal", async () => {
    await phone.goto("/field");
    await page.waitForSelector("#outbox .sign");
    await context.setOffline(true);
    await page.tap("button:text-is('Sign out')");
    holds(await page.innerText(".err.signal"), "This needs signal.", "at the form");
    await context.setOffline(false);
  });
}

/** What is open about a cylinder and an appliance, with signal and without, beside the pages of the office. */
export async function openFindings({ check, same, phone, office, reader, base }) {
  const { page, context } = phone;
  await check("the card of a cylinder and of an appliance say what is open about them as the office says it, with signal and without", async () => {
    const { items } = await (await reader.get(`${base}/api/v1/findings?limit=500`)).json();
    const about = (word) => items.map(({ subjects }) => subjects.find((one) => one.startsWith(`${word}:`))?.slice(word.length + 1)).find(Boolean);
    const [cylinder, unit] = [about("cylinder"), about("appliance")];
    const tagOf = async (list, id) => (await (await reader.get(`${base}/api/v1/${list}/${id}`)).json()).tag;
    const tags = { cylinders: await tagOf("cylinders", cylinder), appliances: await tagOf("appliances", unit) };
    const said = (where) => where.locator("main .query").allInnerTexts();
    const plain = (texts) => texts.map((text) => text.replace("Look at it", "").replace(/\s+/g, " ").trim()).sort().join(" | ");
    await office.goto(`${base}/cylinders/${tags.cylinders}`);
    const expected = plain(await said(office));
    same(expected.includes("(entry no. "), true, `the office says: ${expected}`);
    await phone.goto(`/field/appliances/${tags.appliances}`);
    await phone.goto("/field");
    await phone.kept();
    await until(page, "the card is kept", async () => (await keptOf(page, `/field/appliances/${tags.appliances}`)).at > 0);
    for (const signal of [true, false]) {
      await context.setOffline(!signal);
      await phone.goto(`/field/cylinders/${tags.cylinders}`);
      await page.waitForSelector("#card");
      same(plain(await said(page)), expected, signal ? "with signal" : "without");
      await phone.goto(`/field/appliances/${tags.appliances}`);
      const here = plain(await said(page));
      const texts = items.filter(({ subjects }) => subjects.includes(`appliance:${unit}`)).map(({ text }) => text);
      for (const text of texts) same(here.includes(text.slice(text.indexOf(" "))), true, `${text} in ${here}, ${signal ? "with signal" : "without"}`);
    }
    await context.setOffline(false);
  });
}

/** What the strip says of forms that were left, and of a unit that nobody opened. */
export async function leftAndNear({ check, same, holds, phone }) {
  const { page, context } = phone;
  await check("a form that is half filled stands in the strip of every page but its own, with the sign that waits", async () => {
    const strip = async () => [await page.innerText("#outbox b"), await page.getAttribute("#outbox", "class"), await page.getAttribute("#outbox", "href")].join(" | ");
    await phone.goto("/appliances/HG-RACK-C/charge");
    await page.waitForSelector("#before-lb");
    await page.fill("#before-lb", "29");
    await page.waitForTimeout(300);
    await phone.goto("/field");
    await phone.says("1 form not finished");
    same(await strip(), "1 form not finished | outbox wait | /field/outbox", "the strip of another page");
    await phone.goto("/appliances/HG-RACK-C/charge");
    await phone.says("Outbox: 0 waiting");
    same(await strip(), "Outbox: 0 waiting | outbox clear | /field/outbox", "its own page");
    await phone.goto("/field/outbox");
    await phone.says("1 form not finished");
    await Promise.all([page.waitForEvent("load"), page.tap("button:text-is('Throw away')")]);
    await phone.says("nothing waits on this phone").catch(() => phone.says("last posted"));
    same(await page.innerText("#outbox b"), "Outbox: 0 waiting", "thrown away");
  });

  await check("the other units at the sites of today are kept without being opened; another says what to do, and is not registered again", async () => {
    await phone.goto("/field");
    await phone.kept();
    same(await page.locator("a.keep:has-text('HG-RTU-08')").count(), 0, "it does not stand on the page of today");
    const keeps = (path) => page.evaluate(async (path) => Boolean(await (await caches.open("tarebook-pages")).match(path)), path);
    await until(page, "the forms of a unit at a site of today", () => keeps("/appliances/HG-RTU-08/service"));
    const told = await page.evaluate(async () => (await (await caches.open("tarebook-pages")).match("/field/cylinders")).json());
    const far = [];
    for (const tag of told.units) if (!(await keeps(`/field/appliances/${tag}`))) far.push(tag);
    const [unit] = far;
    if (!unit) throw new Error("every unit of the demo is kept");
    await context.setOffline(true);
    await phone.goto("/field/appliances/HG-RTU-08");
    same(await page.innerText("h1"), "HG-RTU-08", "a card that was never opened");
    for (const path of [`/field/appliances/${unit}`, `/field?find=${unit.toLowerCase()}`]) {
      await phone.goto(path);
      await page.waitForSelector("main :text('is in the book')");
      holds(await page.innerText("main"), `${unit} is in the book.`, path);
      holds(await page.innerText("main"), "Open a unit once where there is signal, then it is kept.", path);
      same(await page.locator("main a[href^='/field/new']").count(), 0, `a way to register it, ${path}`);
    }
    await phone.goto("/field/new");
    await page.waitForSelector("#outbox .sign");
    await page.fill("#tag", unit);
    await page.tap(".foot .btn");
    await page.waitForSelector(`:text('${unit} is in the book already.')`);
    await page.fill("#tag", "");
    await context.setOffline(false);
    await phone.goto("/field/outbox");
    await page.waitForSelector("#kept > .note");
    if (await page.locator("button:text-is('Throw away')").count()) await Promise.all([page.waitForEvent("load"), page.tap("button:text-is('Throw away')")]);
  });
}
