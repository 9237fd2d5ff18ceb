// Where there is no signal: what the phone asks by itself before it keeps an entry, in the words of
// the book; what is typed and never lost.
import { booked } from "./field-phone.mjs";
import { settled } from "./field-service.mjs";

export async function withoutSignal(with_) {
  await sameWords(with_);
  await stopped(with_);
  await room(with_);
  await small(with_);
}

/** What this phone knows of an entry at the form that is open, beside what the book says to it. */
const asksOfBoth = (page, { kind, cylinder, mass }) =>
  page.evaluate(async ({ kind, cylinder, mass }) => {
    const form = document.querySelector("#post");
    const script = (name) => document.querySelector("script[type=module]").src.replace("field.mjs", name);
    const [{ known }, { read, lbOz }, { newId }] = await Promise.all(["known.mjs", "mass.mjs", "store.mjs"].map((name) => import(script(name))));
    const [unit, place] = [`appliance:${form.dataset.appliance}`, `cylinder:${cylinder}`];
    const ends = kind === "charge" ? { from: place, to: unit } : { from: unit, to: place };
    const request = { entry_id: newId(), kind, happened: { day: form.elements.day.value }, answers: {}, body: { ...ends, mass: { text: mass, unit: "lb" } } };
    const steps = read(mass, "lb").mass;
    const phone = await known({ form, entry: { id: request.entry_id, request, about: { cylinder }, steps: String(steps), shown: lbOz(steps) } });
    const headers = { "Content-Type": "application/json", "Tarebook-Person": document.documentElement.dataset.person };
    const answer = await fetch("/api/v1/entries/what-if", { method: "POST", headers, body: JSON.stringify(request) });
    const book = await answer.json();
    const said = ({ stops = [], questions = [] }) => [...stops.map(({ stop, text }) => [stop, text]), ...questions.map(({ code, text }) => [code, text])];
    // The book asks no question while something stops; the phone shows both at once.
    const alike = (book.stops ?? []).length > 0 ? { stops: phone.stops } : phone;
    return { all: said(phone), phone: said(alike), book: said(book) };
  }, { kind, cylinder, mass });

/** What a page without signal cannot know: it is asked by the book alone. */
const ONLY_THE_BOOK = ["balance_below_zero", "rate_jump", "look_alike", "same_mass", "old_day"];

async function sameWords({ base, check, same, phone }) {
  const { page } = phone;
  for (const [unit, kind, cylinder, mass, codes] of [
    ["HG-RACK-A", "recover", "TR-0418", "1 lb", "mixing"],
    ["HG-RACK-A", "recover", "TR-0426", "1 lb", "expired"],
    ["HG-RACK-A", "recover", "SUP-88231", "1 lb", "disposable"],
    ["HG-RACK-A", "recover", "SUP-90010", "1 lb", "recovered_into_supply"],
    ["HG-RTU-07", "recover", "TR-0427", "1 lb", "several_owners"],
    ["HG-RACK-A", "recover", "TR-0417", "60 lb", "over_full"],
    ["HG-RACK-A", "recover", "TR-0417", "36 lb", "over_room"],
    ["HG-RACK-A", "charge", "TR-0424", "1 lb", "content_class quarantined"],
    ["HG-RACK-A", "charge", "TR-0427", "1 lb", "other_owner wrong_refrigerant_for_appliance"],
    ["HG-RTU-07", "charge", "SUP-88111", "40 lb", "over_content over_full_charge"],
  ]) {
    await check(`E8 E9 E10 the phone asks what the book asks, in the same words: ${kind} ${mass}, ${cylinder}`, async () => {
      await phone.goto(`/appliances/${unit}/${kind}`);
      await page.waitForSelector("#outbox .sign");
      const { all, phone: own, book } = await asksOfBoth(page, { kind, cylinder, mass });
      const sorted = (list) => JSON.stringify(list.filter(([code]) => !ONLY_THE_BOOK.includes(code)).sort());
      same(all.map(([code]) => code).sort().join(" "), codes, "what the phone asks");
      same(sorted(own), sorted(book), "the words");
    });
  }
  await page.goto(`${base}/field`);
}

async function stopped(with_) {
  const { check, same, holds, phone, newest, base } = with_;
  const { page } = phone;
  await check("E9 E43 without signal an expired cylinder stops before pouring; what has happened is kept, booked and leaves a finding", async () => {
    const from = await settled(with_);
    await phone.goto("/field");
    await phone.kept();
    await phone.context.setOffline(true);
    const filled = await phone.fill({ unit: "HG-RTU-07", deed: "Recover", cylinder: "TR-0426", before: "30 0", after: "31 0" });
    await page.waitForSelector("#instead .caution");
    holds(await page.innerText("#instead .caution"), "The retest of cylinder TR-0426 was due 2026-05-31. It must not be filled.", "before the press");
    await filled.tap(".foot button.instead:not(.second)");
    await page.waitForSelector("#instead .stop");
    same(await page.evaluate(() => document.activeElement.id), "instead", "focus");
    // Nothing was poured: back to the form, and nothing waits.
    await page.check("#instead .stop input[value='']");
    await page.tap("button:text-is('Go on')");
    await page.waitForSelector("#post", { state: "visible" });
    await phone.says("Outbox: 0 waiting");
    await page.tap("button:text-is('Check')");
    await page.tap(".foot button.instead:not(.second)");
    await page.waitForSelector("#instead .stop");
    await page.check("#instead .stop input[value=already_happened]");
    await page.tap("button:text-is('Go on')");
    await page.waitForURL("**/field/outbox");
    await phone.says("Waiting for signal: 1 entry");
    await phone.context.setOffline(false);
    await phone.says("Outbox: 0 waiting");
    const [entry] = await newest(from);
    same(`${entry.kind} ${entry.captured_offline} ${entry.answers.expired}`, "recover true already_happened", "entry");
    await page.goto(`${base}/entries/${entry.seq}`);
    holds(await page.innerText("main"), "filled after its retest was due", "finding");
  });
}

async function room(with_) {
  const { check, same, holds, phone, newest, reader, base } = with_;
  const { page } = phone;
  await check("E9 room on the kept page counts what waits in the outbox", async () => {
    const from = await settled(with_);
    await phone.goto("/field");
    await phone.kept();
    await phone.context.setOffline(true);
    const into = { unit: "HG-RTU-07", deed: "Recover", cylinder: "TR-0419" };
    await phone.post({ ...into, before: "20 0", after: "50 0" });
    const filled = await phone.fill({ ...into, before: "50 0", after: "60 0" });
    await filled.tap(".foot button.instead:not(.second)");
    await page.waitForSelector("#instead .stop");
    // 47.7 lb of water, of which four fifths are 38.16 lb = 38 lb 2.56 oz; less 30 lb, cut to a tenth.
    holds(await page.innerText("#instead .stop"), "Cylinder TR-0419 has room for 8 lb 2.5 oz", "room");
    await page.tap("a:text-is('Later')");
    await page.waitForSelector("#kept h2:text-is('Not finished')");
    await page.tap("button:text-is('Throw away')");
    await phone.context.setOffline(false);
    await phone.says("Outbox: 0 waiting");
    same((await booked(reader, base, from)).length, (await newest(from)).length, "read by somebody else");
    same((await newest(from)).map(({ kind }) => kind).join(), "recover", "the one that was kept");
  });
}

/** A small phone, and one that is put away at once. */
async function small({ base, check, same, holds, open, signIn }) {
  await check("a small phone: the bar hides nothing of the check", async () => {
    const page = await open({ viewport: { width: 320, height: 568 }, javaScriptEnabled: true, hasTouch: true });
    await signIn(page, "dov@tamarack.example", "/appliances/HG-RACK-B/charge");
    await page.waitForSelector("#cylinder-picks");
    await page.tap("#cylinder-picks label >> nth=0");
    for (const [box, text] of [["before-lb", "29"], ["before-oz", "4"], ["after-lb", "28"], ["after-oz", "0"]]) await page.fill(`#${box}`, text);
    await page.tap("button:text-is('Check')");
    await page.waitForSelector("#what-if p");
    const hidden = await page.evaluate(() => {
      const bar = document.querySelector(".foot").getBoundingClientRect();
      const under = (one) => { const { top, bottom } = one.getBoundingClientRect(); return bottom > bar.top && top < bar.bottom; };
      return [...document.querySelectorAll("#instead > *")].filter(under).map((one) => one.innerText);
    });
    same(hidden.join(" | "), "", "under the bar");
    await page.tap("button:text-is('Change')");
    await page.context().close();
  });

  await check("a card that is left at once is kept all the same, with its forms", async () => {
    const page = await open({ viewport: { width: 390, height: 844 }, javaScriptEnabled: true });
    await signIn(page, "dov@tamarack.example", "/field");
    await page.waitForFunction(() => navigator.serviceWorker.controller);
    await page.goto(`${base}/field/appliances/HG-RTU-08`);
    await page.goto("about:blank");
    await page.waitForTimeout(3_000);
    await page.context().setOffline(true);
    await page.goto(`${base}/field/appliances/HG-RTU-08`);
    holds(await page.innerText("h1"), "HG-RTU-08", "the card");
    for (const deed of ["charge", "recover", "service"]) {
      await page.goto(`${base}/appliances/HG-RTU-08/${deed}`);
      holds(await page.innerText("main"), "HG-RTU-08", deed);
      same(await page.locator("h1:text-is('No signal')").count(), 0, deed);
    }
    await page.context().close();
  });
}
