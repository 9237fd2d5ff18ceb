// What a phone keeps, and what it says of it: as of when, that the rest needs signal, that nothing ends
// under the bar, that tags stay whole. What is expected of times is worked out here from the clock of the browser, what is said by the book is read
// by somebody else.
import { atCylinders, found, hands, leftAndNear, needsSignal, openFindings } from "./field-found.mjs";
import { Phone, booked } from "./field-phone.mjs";

const [INES, OSRIC] = ["ines", "osric"].map((name) => `${name}@tamarack.example`);

export async function kept(tools) {
  const { base, open, signIn } = tools;
  const office = await open();
  await signIn(office, OSRIC);
  const reader = office.context().request;
  const head = async () => {
    let from = Number((await (await reader.get(`${base}/api/v1/log/checkpoint`)).text()).split("\n")[1]) - 1;
    for (;;) {
      const page = await booked(reader, base, from);
      if (page.length === 0) return from;
      from = page.at(-1).seq;
    }
  };
  const phone = new Phone(tools);
  await phone.start();
  await phone.signIn(INES);
  const with_ = { ...tools, office, reader, head, phone };
  await asOf(with_);
  await renewed(with_);
  await drafts(with_);
  await officePages(with_);
  await found(with_);
  await hands(with_);
  await atCylinders(with_);
  await needsSignal(with_);
  await openFindings(with_);
  await leftAndNear(with_);
  await phone.end();
  await sentences(with_);
  await bar(with_);
  await scales(with_);
}

/** Hours and minutes as people write them, of an instant here. */
const clock = (page, instant) => page.evaluate((instant) => { const at = new Date(instant); return [at.getHours(), at.getMinutes()].map((part) => String(part).padStart(2, "0")).join(":"); }, instant);

async function asOf({ base, check, same, holds, phone, open, signIn }) {
  await check("a page from this phone says as of when it speaks; one from the book says nothing of it", async () => {
    const { page, context } = phone;
    await phone.goto("/field/appliances/HG-RACK-A");
    await page.waitForSelector("#outbox .sign");
    same(await page.locator("#as-of").count(), 0, "with signal");
    await phone.goto("/field");
    await phone.kept();
    await context.setOffline(true);
    for (const path of ["/field", "/field/cage", "/field/appliances/HG-RACK-A", "/appliances/HG-RACK-A/charge", "/appliances/HG-RACK-A/service", "/field/new"]) {
      await phone.goto(path);
      const made = await page.evaluate(() => document.documentElement.dataset.made);
      holds(await page.innerText("#as-of"), `Kept on this phone: as of ${await clock(page, made)}.`, path);
    }
    same(await page.evaluate(() => document.querySelector("main").firstElementChild.id), "as-of", "it stands first");
    await context.setOffline(false);
  });

  await check("a page that was kept yesterday or earlier says so", async () => {
    // A clock that is put on counts for a whole browser, so it is one of its own.
    const page = await open(PHONE);
    await signIn(page, INES, "/field");
    await until(page, "the page is kept", async () => (await keptOf(page, "/field")).at > 0);
    await page.context().setOffline(true);
    const day = 86_400_000;
    const { made } = await keptOf(page, "/field");
    const date = new Date(made).toLocaleDateString("en-GB", { weekday: "long", day: "numeric", month: "long" }).replace(",", "");
    for (const [ahead, says] of [[day, "yesterday "], [3 * day, `${date}, `]]) {
      await page.clock.setFixedTime(Date.now() + ahead);
      await page.goto(`${base}/field`);
      holds(await page.innerText("#as-of"), `as of ${says}${await clock(page, made)}.`, `${ahead / day} days later`);
    }
    await page.context().close();
  });
}

/** Lets everything that is kept look as if it had been kept two hours ago. */
const aged = (page) =>
  page.evaluate(async () => {
    const pages = await caches.open("tarebook-pages");
    for (const asked of await pages.keys()) {
      const old = await pages.match(asked);
      const headers = new Headers(old.headers);
      headers.set("kept-at", Date.now() - 7_200_000);
      await pages.put(asked, new Response(await old.text(), { headers }));
    }
  });

export const keptOf = (page, path) =>
  page.evaluate(async (path) => {
    const one = await (await caches.open("tarebook-pages")).match(path);
    const text = await one?.text();
    return { text, at: Number(one?.headers.get("kept-at")), id: /name="entry_id" value="([^"]*)"/.exec(text)?.[1], made: /(?:data-made=|"made":)"([^"]*)"/.exec(text)?.[1] };
  }, path);

export async function until(page, what, is) {
  for (let tries = 0; tries < 300; tries += 1) {
    if (await is()) return;
    await page.waitForTimeout(200);
  }
  throw new Error(`not within a minute: ${what}`);
}

async function renewed({ check, same, phone, reader, base }) {
  const { page } = phone;
  /** Does the kept list have as many grams in it as the interface says? */
  const asTheBook = async (tag) => {
    const shown = await (await reader.get(`${base}/api/v1/cylinders/${tag}`)).json();
    const told = JSON.parse((await keptOf(page, "/field/cylinders")).text).cylinders.find((one) => one.tag === tag);
    return told.holds[0][1] === shown.balances[0].mass.g;
  };
  const FORM = "/appliances/HG-RACK-A/charge";
  await check("what is kept is kept anew by itself when the page opens; what has not changed is not sent again", async () => {
    await phone.goto("/field");
    await phone.kept();
    const [form, list] = [await keptOf(page, FORM), await keptOf(page, "/field/cylinders")];
    await phone.goto("/field");
    await page.waitForTimeout(1_500);
    same((await keptOf(page, FORM)).at, form.at, "young pages are not asked for");
    await aged(page);
    await page.waitForTimeout(1_100);
    await phone.goto("/field");
    await until(page, "the form is renewed", async () => (await keptOf(page, FORM)).at > form.at);
    const again = await keptOf(page, FORM);
    // A page that is sent has a new id for what may be posted from it; one that is not keeps its own.
    same(again.id, form.id, "the same page");
    same(again.made > form.made, true, `as of ${form.made}, then ${again.made}`);
    await until(page, "the cylinders are renewed", async () => (await keptOf(page, "/field/cylinders")).made > list.made);
  });

  await check("when somebody else charges from a cylinder, the kept form and the kept cylinders say so once the page is seen again", async () => {
    const before = await keptOf(page, FORM);
    // One that the form offers: a cylinder that was emptied is not among them, and the form rightly stays.
    const tag = /<option value="([^"]+)">R-448A/.exec(before.text)[1];
    const answer = await reader.post(`${base}/api/v1/entries`, {
      headers: { "Sec-Fetch-Site": "same-origin" },
      data: { entry_id: crypto.randomUUID(), kind: "charge", body: { from: `cylinder:${tag}`, to: "appliance:HG-RACK-A", refrigerant: "R-448A", mass: "1 oz" }, answers: { rate_jump: "as_stated", look_alike: "as_stated", over_content: "as_stated" } },
    });
    same(answer.status(), 201, await answer.text());
    await aged(page);
    await page.evaluate(() => document.dispatchEvent(new Event("visibilitychange")));
    await until(page, "the form is sent anew", async () => (await keptOf(page, FORM)).id !== before.id);
    await until(page, "the cylinders", () => asTheBook(tag));
  });

  await check("what this phone books renews its kept cylinders, card and forms at once", async () => {
    const card = "/field/appliances/HG-RACK-A";
    const before = await keptOf(page, card);
    await phone.post({ unit: "HG-RACK-A", cylinder: "SUP-90010", before: "31 0", after: "29 15" }, "**/entries/*");
    await until(page, "the card", async () => (await keptOf(page, card)).text.includes("Charged 1 lb 1 oz") && (await keptOf(page, card)).made > before.made);
    await until(page, "the cylinders", () => asTheBook("SUP-90010"));
  });
}

async function drafts({ check, holds, phone }) {
  const { page } = phone;
  await check("a form that was left says which reading stands in it", async () => {
    await phone.goto("/appliances/HG-RACK-C/charge");
    await page.waitForSelector("#before-lb");
    for (const [boxes, says] of [
      [{ "before-lb": "29", "before-oz": "4" }, "Charge: before 29 lb 4 oz, after not read yet"],
      [{ "after-lb": "14", "after-oz": "12" }, "Charge: before 29 lb 4 oz, after 14 lb 12 oz"],
      [{ "before-lb": "", "before-oz": "" }, "Charge: before not read yet, after 14 lb 12 oz"],
    ]) {
      await phone.goto("/appliances/HG-RACK-C/charge");
      await page.waitForSelector("#before-lb");
      for (const [box, text] of Object.entries(boxes)) await page.fill(`#${box}`, text);
      await page.waitForTimeout(300);
      await phone.goto("/field/outbox");
      await page.waitForSelector("#kept h2:text-is('Not finished')");
      holds(await page.innerText("#kept"), says, "the line");
    }
    await Promise.all([page.waitForEvent("load"), page.tap("button:text-is('Throw away')")]);
    await page.waitForSelector("#kept > .note");
  });
}

async function officePages({ check, same, holds, phone }) {
  const { page, context } = phone;
  await check("a page of the office without signal is a calm page of ours: what waits, what can be done, the way back", async () => {
    await phone.goto("/field");
    await phone.kept();
    await until(page, "the tools are kept", async () => (await keptOf(page, "/field/tools")).at > 0);
    await context.setOffline(true);
    await phone.post({ unit: "HG-RACK-A", cylinder: "SUP-90010", before: "29 15", after: "29 14" });
    for (const path of ["/today", "/appliances", "/cylinders/TR-0417", "/book", "/entries/12"]) {
      await phone.goto(path);
      same(await page.innerText("h1"), "No signal", path);
      const text = await page.innerText("main");
      for (const part of ["This page is not kept on this phone.", "What you wrote is kept.", "Outbox: 1 entry waiting on this phone.", "Saturation, pressure test", "Cylinders", "Cards kept on this phone", "HG-RACK-A"]) holds(text, part, path);
      same(await page.getAttribute("a:text-is('Try again')", "href"), path, "once more");
    }
    await context.setOffline(false);
    await page.tap("a:text-is('Try again')");
    same((await page.innerText("h1")) === "No signal", false, "with signal it opens");
    await phone.goto("/field/outbox");
    await phone.says("Outbox: 0 waiting");
  });
}

const PHONE = { viewport: { width: 390, height: 844 }, javaScriptEnabled: true, hasTouch: true };

async function filled(page, deed, { day } = {}) {
  await page.waitForSelector("#cylinder-picks");
  await page.click("#cylinder-picks label >> nth=0");
  const readings = deed === "charge" ? ["29", "4", "28", "0"] : ["28", "0", "29", "4"];
  for (const [at, box] of ["before-lb", "before-oz", "after-lb", "after-oz"].entries()) await page.fill(`#${box}`, readings[at]);
  if (day) await page.fill("#day", day);
  await page.click("button:text-is('Check')");
  await page.waitForSelector("#instead .says");
}

async function sentences({ check, holds, open, signIn, base }) {
  await check("the check of a recovery and of a late entry is one plain sentence with unit, place and day", async () => {
    const page = await open(PHONE);
    await signIn(page, "dov@tamarack.example", "/appliances/HG-RACK-B/recover");
    await filled(page, "recover");
    const cylinder = await page.inputValue("#cylinder");
    const { place, site } = await page.evaluate(() => document.querySelector("#post").dataset);
    const where = `HG-RACK-B, ${place || site}`;
    holds(await page.innerText(".says"), `Recover 1 lb 4 oz R-448A from ${where}, into cylinder ${cylinder}, today.`, "a recovery");
    const past = new Date(Date.now() - 12 * 86_400_000);
    const day = new Intl.DateTimeFormat("en-GB", { weekday: "long", day: "numeric", month: "long", year: "numeric", timeZone: "UTC" }).format(past).replace(",", "");
    for (const [deed, says] of [["recover", `Recovered 1 lb 4 oz R-448A from ${where}, into cylinder `], ["charge", `Charged 1 lb 4 oz R-448A into ${where}, from cylinder `]]) {
      await page.goto(`${base}/appliances/HG-RACK-B/${deed}`);
      const anew = page.locator("button:text-is('Begin anew')");
      await page.waitForSelector("#cylinder-picks");
      if (await anew.count()) await anew.click();
      await filled(page, deed, { day: past.toISOString().slice(0, 10) });
      const text = await page.innerText(".says");
      holds(text, says, deed);
      holds(text, `, on ${day}, 12 days ago.`, "the day");
    }
    await page.context().close();
  });
}

/** What the strip of the action covers of a page, wherever it is scrolled to. */
const covered = (page, what) =>
  page.evaluate(async (what) => {
    const under = new Set();
    const look = () => {
      const bar = document.querySelector(".foot").getBoundingClientRect();
      for (const one of document.querySelectorAll(what)) {
        const { top, bottom, height } = one.getBoundingClientRect();
        if (height > 0 && bottom > bar.top + 1 && top < bar.bottom - 1) under.add(one.innerText.slice(0, 60));
      }
    };
    look();
    scrollTo(0, document.documentElement.scrollHeight);
    await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
    look();
    return [...under].join(" | ");
  }, what);

async function bar({ check, same, open, signIn }) {
  for (const [name, viewport, large] of [["320 by 568", { width: 320, height: 568 }], ["320 by 700", { width: 320, height: 700 }], ["390 by 844", { width: 390, height: 844 }], ["text twice as large", { width: 640, height: 1100 }, true]]) {
    await check(`nothing ends under the bar, and no tag breaks at its hyphen: ${name}`, async () => {
      const page = await open({ ...PHONE, viewport });
      await signIn(page, "dov@tamarack.example", "/appliances/HG-RACK-B/recover");
      if (large) await page.addStyleTag({ content: "" }).catch(() => {});
      await page.evaluate((large) => { if (large) document.documentElement.style.fontSize = "200%"; }, large);
      await filled(page, "recover");
      await page.waitForSelector("#what-if > *");
      await page.waitForTimeout(300);
      same(await covered(page, "#instead > *, #instead p, #instead svg"), "", "of the check");
      const broken = await page.evaluate(() => [...document.querySelectorAll("#instead .tag")].filter((one) => { const range = document.createRange(); range.selectNodeContents(one); return one.getBoundingClientRect().width < one.parentElement.getBoundingClientRect().width && new Set([...range.getClientRects()].map(({ top }) => Math.round(top))).size > 1; }).map((one) => one.innerText));
      same(broken.join(" | "), "", "tags that are broken");
      same((await page.locator("#instead .tag").count()) > 1, true, "tags are looked at");
      await page.click("button:text-is('Change')");
      await page.waitForSelector("#post", { state: "visible" });
      // By keyboard through the form: what has the focus is never under the bar (WCAG 2.2, 2.4.11).
      await page.focus("#main");
      for (let at = 0; at < 40; at += 1) {
        await page.keyboard.press("Tab");
        const hidden = await page.evaluate(() => {
          const [one, foot] = [document.activeElement, document.querySelector(".foot")];
          if (!one.closest("#post")) return "";
          const [box, over] = [one.getBoundingClientRect(), foot.getBoundingClientRect()];
          return box.top >= over.top && box.bottom <= over.bottom ? `${one.id || one.name}` : "";
        });
        same(hidden, "", "has the focus under the bar");
      }
      await page.context().close();
    });
  }
}

async function scales({ check, same, holds, open, signIn, base }) {
  await check("a known weight that no scale shows so wrong is asked about; once answered, my scales say that the check failed", async () => {
    const page = await open({ viewport: { width: 390, height: 844 } });
    await signIn(page, INES, "/field/me");
    await page.goto(`${base}/field/me`);
    const scale = await page.getAttribute("main ul.lines a >> nth=-1", "href").catch(() => null);
    await page.goto(`${base}/field/me`);
    const href = await page.locator("main a[href^='/field/scales/']").last().getAttribute("href");
    same(typeof href, "string", `a scale, ${scale}`);
    await page.goto(`${base}${href}`);
    await page.fill("#nominal", "10 kg");
    await page.fill("#shown", "999 lb");
    await page.click("button:text-is('Book the check')");
    holds(await page.title(), "Not booked yet: ", "title");
    // 10 kg are 22 lb 0.74 oz, by 453.59237 g to the pound.
    const asked = await page.innerText(".query");
    for (const part of ["Is that the reading?", "999 lb 0 oz", "10 kg"]) holds(asked, part, "the question");
    await page.fill("#shown", "22 lb 8 oz");
    await page.check("#question-check_weight_far input[value='']");
    await page.click("button:text-is('Go on')");
    // 22 lb 8 oz less 22 lb 0.7396 oz.
    holds(await page.innerText("main"), "7.26", "how far it is off");
    await page.goto(`${base}/field/me`);
    const line = await page.innerText(`main a[href='${href}']`);
    for (const part of ["Its last check failed", "off: adjust it or take another"]) holds(line, part, "my scales");
    await page.context().close();
  });
}
