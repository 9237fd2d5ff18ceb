// What the technician's pages must hold once their script runs, in each of their states: no
// violation found by axe, nothing sideways at 320 pixels and twice the text size, targets of 48
// pixels (E30, E31); what they load and how much of it; and that they read without script (E32).
import { mkdirSync } from "node:fs";
import { examine } from "./looks.mjs";

const VIEWS = [
  { name: "telephone", viewport: { width: 390, height: 844 } },
  { name: "telephone, dark", viewport: { width: 390, height: 844 }, colorScheme: "dark" },
  { name: "320 pixels", viewport: { width: 320, height: 640 } },
  { name: "more contrast", viewport: { width: 390, height: 844 }, contrast: "more" },
  { name: "text twice as large", viewport: { width: 640, height: 900 }, large: true },
];
const DOV = "dov@tamarack.example";

/** States by name: where, and what is done there first. `without`: the signal goes before. */
const STATES = [
  ["today", "/field"],
  ["appliances by tag", "/field?after="],
  ["tools", "/field/tools", (page) => page.click("#pressure-test > summary")],
  ["nothing found", "/field?find=ZZZ"],
  ["found", "/field?find=TR-04"],
  ["cylinders", "/field/cage"],
  ["cylinder", "/field/cylinders/TR-0424"],
  ["cylinder, no such appliance", "/field/cylinders/SUP-90010?appliance=NO-SUCH-1&deed=charge"],
  ["cylinder, without signal", "/field/cage", without("/field/cylinders/SUP-90010", "#card")],
  ["kept", "/field", without("/field", "#as-of")],
  ["page of the office, without signal", "/field", without("/today", "a:text-is('Try again')")],
  ["card", "/field/appliances/HG-RACK-A"],
  ["card, full charge not known", "/field/appliances/PINE-AHU-2"],
  ["post", "/appliances/HG-RACK-B/charge", typed("29", "4", "28", "0")],
  ["post, a question", "/appliances/HG-RACK-B/charge", decimals],
  ["post, another cylinder", "/appliances/HG-RACK-B/charge", (page) => page.click("label:has-text('Another')")],
  ["post, something is missing", "/appliances/HG-RACK-B/charge", missing],
  ["check", "/appliances/HG-RACK-B/charge", then(typed("29", "4", "28", "0"), press("Check"))],
  ["waiting", "/appliances/PINE-CH-2/charge", then(typed("60", "0", "59", "0"), noSignal, press("Check"), book, shown(".outbox.wait"), shown("#kept .lines"))],
  ["the book asks", "/appliances/HG-RACK-B/charge", then(typed("130", "0", "70", "0"), press("Check"), book, shown("#instead .query"))],
  ["needs you", "/appliances/HG-RACK-B/charge", then(unknown, noSignal, press("Check"), book, shown(".outbox.wait"), signal, shown(".outbox.asks"))],
  ["a unit that waits", "/field/new", waiting],
  ["a unit that waits, its form", "/field/new", then(waiting, unit("Charge it"), shown("#before-lb"))],
  ["stop", "/appliances/HG-RACK-A/recover", then(disposable, press("Check"), book, shown("#instead .stop"))],
];

function then(...deeds) {
  return async (page) => {
    for (const deed of deeds) await deed(page);
  };
}
function press(words) {
  return (page) => page.click(`button:has-text('${words}')`);
}
function unit(words) {
  return (page) => page.click(`#kept a:text-is('${words}')`);
}
/** The press that books, whatever it says. */
async function book(page) {
  await page.click(".foot button.instead:not(.second)");
}
function shown(selector) {
  return (page) => page.waitForSelector(selector);
}
function typed(...weights) {
  return async (page) => {
    await page.click("#cylinder-picks label >> nth=0");
    for (const [at, box] of ["before-lb", "before-oz", "after-lb", "after-oz"].entries()) await page.fill(`#${box}`, weights[at]);
  };
}
async function decimals(page) {
  await page.check("input[name=unit][value=lb]");
  await page.fill("#before", "29.4");
  await page.fill("#after", "14.12");
  await page.waitForSelector("#echo .query");
  await page.evaluate(() => localStorage.removeItem("tarebook.unit"));
}
async function missing(page) {
  await page.fill("#before-lb", "7");
  await page.fill("#before-oz", "16");
  await page.fill("#after-lb", "1");
  await page.click("button:has-text('Check')");
  await page.waitForSelector(".errors");
}
async function disposable(page) {
  await page.click("label:has-text('Another')");
  await page.fill("#cylinder", "SUP-88231");
  for (const [box, text] of [["before-lb", "20"], ["before-oz", "0"], ["after-lb", "23"], ["after-oz", "0"]]) await page.fill(`#${box}`, text);
}
/** Opens a page without signal, once what it is drawn from is kept. */
function without(path, shows) {
  return async (page) => {
    const kept = () => page.evaluate(async () => {
      const pages = await caches.open("tarebook-pages");
      return Boolean((await pages.match("/field")) && (await pages.match("/field/cylinders")));
    });
    for (let tries = 0; tries < 100 && !(await kept()); tries += 1) await page.waitForTimeout(200);
    await page.context().setOffline(true);
    await page.goto(new URL(path, page.url()).href);
    await page.waitForSelector(shows);
  };
}
async function unknown(page) {
  await page.click("label:has-text('Another')");
  await page.fill("#cylinder", "NO-SUCH-2");
  for (const [box, text] of [["before-lb", "20"], ["before-oz", "0"], ["after-lb", "19"], ["after-oz", "0"]]) await page.fill(`#${box}`, text);
}
/** A unit that is registered without signal. */
async function waiting(page) {
  for (let tries = 0; tries < 100 && !(await page.evaluate(async () => (await caches.open("tarebook-pages")).match("/field/new/charge").then(Boolean))); tries += 1) await page.waitForTimeout(200);
  await noSignal(page);
  await page.fill("#tag", `LOOK-${crypto.randomUUID().slice(0, 6)}`);
  await page.fill("#refrigerant", "R-448A");
  await press("Check")(page);
  await book(page);
  await page.waitForSelector("#kept a:text-is('Charge it')");
}
async function signal(page) {
  await page.context().setOffline(false);
}
async function noSignal(page) {
  await page.context().setOffline(true);
}

export async function fieldLooks(tools) {
  const { base, check, same, open, signIn } = tools;
  const shots = process.env.SHOTS;
  if (shots) mkdirSync(shots, { recursive: true });
  for (const { name, large, ...options } of VIEWS) {
    // A phone of its own for each view, so that none finds the drafts of another.
    const page = await open({ ...options, javaScriptEnabled: true });
    await signIn(page, DOV, "/field");
    for (const [what, path, deed] of STATES) {
      await check(`E30 E31 ${name}: ${what}`, async () => {
        await page.context().setOffline(false);
        await page.goto(`${base}${path}`);
        // The second line of the page is there once the script has begun.
        await page.waitForSelector("#outbox .sign");
        if (deed) await deed(page);
        await examine(page, large, same);
        if (shots) await page.screenshot({ path: `${shots}/field, ${what}, ${name}.png`, fullPage: name !== "telephone" });
      });
      await page.context().setOffline(false);
      await drafts(page);
    }
    await page.context().close();
  }
  await weight(tools);
  await reading(tools);
}

/** Throws away what the state before left half written. */
const drafts = (page) =>
  page.evaluate(
    () =>
      new Promise((done) => {
        const asked = indexedDB.open("tarebook");
        asked.onsuccess = () => {
          const change = asked.result.transaction("notes", "readwrite");
          change.objectStore("notes").delete(IDBKeyRange.bound("draft", "drafu"));
          change.oncomplete = done;
        };
      }),
  );

async function weight({ base, check, same, open, signIn }) {
  await check("E30 focus goes to the problem, and the title says so", async () => {
    const page = await open({ viewport: { width: 390, height: 844 }, javaScriptEnabled: true });
    await signIn(page, DOV, "/appliances/HG-RACK-B/charge");
    await page.waitForSelector("#cylinder-picks");
    await missing(page);
    same(await page.evaluate(() => document.activeElement.className), "errors", "focus");
    same((await page.title()).startsWith("Error: "), true, "title");
  });

  await check("the first field page is under 100 kB, its script under 30 kB, all of it ours", async () => {
    const page = await open({ viewport: { width: 390, height: 844 }, javaScriptEnabled: true });
    const loaded = [];
    await signIn(page, DOV, "/appliances/HG-RACK-B/charge");
    await page.waitForSelector("#cylinder-picks");
    const entries = await page.evaluate(() =>
      [...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")].map(
        ({ name, transferSize, initiatorType }) => ({ name, transferSize, initiatorType }),
      ),
    );
    loaded.push(...entries);
    const foreign = loaded.filter(({ name }) => !name.startsWith(base));
    same(JSON.stringify(foreign), "[]", "requests to others");
    const sum = (list) => list.reduce((total, { transferSize }) => total + transferSize, 0);
    const scripts = loaded.filter(({ name }) => /\.(mjs|js)$/.test(name));
    same(scripts.length >= 9, true, `scripts: ${scripts.length}`);
    console.log(`        first page ${sum(loaded)} bytes, script ${sum(scripts)} of them`);
    if (sum(loaded) > 100_000) throw new Error(`${sum(loaded)} bytes`);
    if (sum(scripts) > 30_000) throw new Error(`${sum(scripts)} bytes of script`);
  });
}

async function reading({ base, check, holds, open, signIn }) {
  await check("E32 without script the pages read, and say that nothing is kept", async () => {
    const page = await open({ viewport: { width: 390, height: 844 } });
    await signIn(page, DOV, "/field");
    holds(await page.innerText("main"), "HG-RACK-A", "today");
    await page.click("a:has-text('HG-RACK-A')");
    holds(await page.innerText("main"), "210 lb 0 oz = 95.254 kg", "full charge");
    holds(await page.innerText("header"), "nothing is kept without script", "the second line");
    await page.goto(`${base}/field/outbox`);
    holds(await page.innerText("main"), "this browser runs no script", "outbox");
  });
}
