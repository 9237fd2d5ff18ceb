// A telephone for the checks of the field pages: a browser with a folder of its own, that can be
// killed and started again, with what it keeps; and the walk of a thumb through a posting.
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { chromium } from "playwright-core";

const SIZE = { viewport: { width: 390, height: 844 }, hasTouch: true, deviceScaleFactor: 2 };

/** A telephone; `tools` are those of walk.mjs. */
export class Phone {
  constructor(tools) {
    this.tools = tools;
    this.folder = mkdtempSync(join(tmpdir(), "field-"));
  }

  /** Switches it on, with or without signal. */
  async start({ signal = true } = {}) {
    this.context = await chromium.launchPersistentContext(this.folder, {
      executablePath: process.env.CHROMIUM,
      args: ["--no-sandbox"],
      ...SIZE,
    });
    await this.context.setOffline(!signal);
    return this.open();
  }

  async open() {
    this.page = await this.context.newPage();
    this.page.setDefaultTimeout(20_000);
    const { complaints } = this.tools;
    this.page.on("console", (message) => complaints.push(`${this.page.url()}: ${message.text()}`));
    this.page.on("pageerror", (error) => complaints.push(`${this.page.url()}: ${error.message}`));
    return this.page;
  }

  /** The battery ends: no page hears of it. */
  async die() {
    await this.page.goto("chrome://crash").catch(() => {});
    await this.context.close();
  }

  async end() {
    await this.context.close();
    rmSync(this.folder, { recursive: true, force: true });
  }

  /** Signs in and waits until the pages of today are kept for where there is no signal. */
  async signIn(email) {
    const { base } = this.tools;
    await this.page.goto(`${base}/sign-in?next=%2Ffield`);
    await this.page.fill("#email", email);
    await this.page.fill("#password", this.tools.passwords.get(email));
    await this.page.click("button");
    await this.page.waitForURL(`${base}/field`);
    await this.kept();
  }

  /** Waits until every card of the page and its forms are kept. */
  async kept() {
    const all = async () => {
      const kept = await (await caches.open("tarebook-pages")).keys();
      const paths = new Set(kept.map(({ url }) => new URL(url).pathname));
      const cards = [...document.querySelectorAll("a.keep")].map(({ pathname }) => pathname);
      const forms = cards.flatMap((path) => ["charge", "recover"].map((deed) => `${path.replace("/field", "")}/${deed}`));
      return ["/field", "/field/outbox", "/field/cylinders", ...cards, ...forms].filter((path) => !paths.has(path)).join(" ");
    };
    // A promise counts as true where a browser is asked to wait for a function, so it is asked again.
    let missing = "";
    for (let tries = 0; tries < 150; tries += 1) {
      missing = await this.page.evaluate(all);
      if (missing === "") return;
      await this.page.waitForTimeout(200);
    }
    throw new Error(`not kept within 30 seconds: ${missing}`);
  }

  async goto(path) {
    await this.page.goto(`${this.tools.base}${path}`);
  }

  /** Fills the form of a posting as far as the check: a thumb, from the card of the appliance. */
  async fill({ unit, deed = "Charge", cylinder, before, after, full }) {
    const { page } = this;
    let taps = 0;
    const tap = async (selector) => {
      taps += 1;
      await page.tap(selector);
    };
    await this.goto(`/field/appliances/${unit}`);
    await tap(`a.btn:text-is('${deed}')`);
    await page.waitForSelector("#before-lb", { state: "attached" }).catch(async () => {
      throw new Error(`the form of ${unit} did not begin: ${page.url()} says "${(await page.innerText("body")).slice(0, 200)}"`);
    });
    const offered = page.locator(`#cylinder-picks label:has-text('${cylinder}')`);
    if ((await offered.count()) > 0) {
      taps += 1;
      await offered.tap();
    } else {
      if (await page.locator("#cylinder-picks").count()) await tap("#cylinder-picks label:has-text('Another')");
      await tap("#cylinder");
      await page.fill("#cylinder", cylinder);
    }
    for (const [box, text] of [["before", before], ["after", after]]) {
      const [pounds, ounces] = text.split(" ");
      await tap(`#${box}-lb`);
      await page.fill(`#${box}-lb`, pounds);
      await tap(`#${box}-oz`);
      await page.fill(`#${box}-oz`, ounces);
    }
    if (full) await tap(`label:has(input[name=full][value=${full}])`);
    await tap("button:text-is('Check')");
    await page.waitForSelector("#instead");
    return { taps, says: await page.innerText("#instead"), tap, count: () => taps };
  }

  /** Posts; where there is no signal the outbox opens, else the receipt. */
  async post(what, expected = "**/field/outbox") {
    const filled = await this.fill(what);
    await filled.tap(".foot button.instead:not(.second)");
    await this.answered(expected);
    return { ...filled, taps: filled.count() };
  }

  /** Answers what the phone asks of what has happened already, until the page goes on. */
  async answered(expected) {
    const { page } = this;
    const asked = page.locator("#instead .query, #instead .stop");
    await Promise.race([page.waitForURL(expected), asked.first().waitFor().catch(() => {})]);
    if ((await asked.count()) > 0) {
      for (const one of await asked.all()) await one.locator("input[value=as_stated], input[value=already_happened]").check();
      await page.tap("button:text-is('Go on')");
    }
    await page.waitForURL(expected);
  }

  strip() {
    return this.page.innerText("#outbox");
  }

  /** Waits until the second line of the page says this. */
  async says(text) {
    try {
      await this.page.waitForFunction((text) => document.querySelector("#outbox")?.innerText.includes(text), text);
    } catch {
      throw new Error(`the outbox line: expected "${text}", found "${await this.strip()}"`);
    }
  }
}

/** Entries of the book after a number, as an outside program reads them: `[{seq, entry_id, …}]`. */
export async function booked(reader, base, after) {
  const answer = await reader.get(`${base}/api/v1/entries?after=${after}&limit=500`);
  const { items } = await answer.json();
  return items;
}
