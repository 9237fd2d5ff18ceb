// An appliance that is registered without signal, with a recovery and a charge behind it: the book hears
// of the appliance first, and of nothing that is about it before. What the book has is read by somebody else.
import { until } from "./field-kept.mjs";
import { settled } from "./field-service.mjs";

const PRESS = ".foot button.instead:not(.second)";

/** Registers a unit and leaves it in the outbox; without signal. */
async function register(page, phone, tag, refrigerant) {
  await phone.goto("/field/new");
  await page.waitForSelector("#outbox .sign");
  await page.fill("#tag", tag);
  await page.fill("#refrigerant", refrigerant);
  await page.fill("#full_charge", "11 lb 14 oz");
  await page.selectOption("#site", { label: "Alder Street" });
  await page.tap(".foot .btn");
  await page.tap(PRESS);
  await page.waitForURL("**/field/outbox");
  await page.waitForSelector("#kept a:text-is('Charge it')");
}

/** Fills the open form as far as the check; gives what it says. */
async function weigh(page, cylinder, before, after) {
  await page.waitForSelector("#before-lb");
  const offered = page.locator(`#cylinder-picks label:has-text('${cylinder}')`);
  if (await offered.count()) await offered.tap();
  else {
    if (await page.locator("#cylinder-picks").count()) await page.tap("#cylinder-picks label:has-text('Another')");
    await page.fill("#cylinder", cylinder);
  }
  await page.fill("#before-lb", before);
  await page.fill("#after-lb", after);
  await page.tap("button:text-is('Check')");
  await page.waitForSelector("#instead");
  return page.innerText("#instead");
}

async function press(phone, page) {
  await page.tap(PRESS);
  await phone.answered("**/field/outbox");
}

export async function unbooked(with_) {
  const { check, same, holds, phone, newest } = with_;
  const { page, context } = phone;
  const ready = async () => {
    await phone.goto("/field");
    await phone.kept();
    const keeps = () => page.evaluate(async () => Boolean(await (await caches.open("tarebook-pages")).match("/field/new/recover")));
    await until(page, "the forms for what is not in the book", keeps);
    await context.setOffline(true);
  };

  await check("a unit registered without signal takes a recovery and a charge at once: one visit, the registration first, each booked once", async () => {
    const from = await settled(with_);
    await ready();
    await register(page, phone, "HG-RTU-98", "r410a");
    await page.tap("#kept a:text-is('Recover from it')");
    const taken = await weigh(page, "TR-0423", "28", "30");
    holds(taken, "Recover 2 lb 0 oz r410a from HG-RTU-98, Alder Street, into cylinder TR-0423, today.", "one sentence");
    await press(phone, page);
    await phone.goto("/field?find=hg-rtu-98");
    await page.waitForSelector("main :text('waits on this phone to be registered')");
    await page.tap("a:text-is('Charge it')");
    await page.waitForSelector("#before-lb");
    holds(await page.innerText("#about"), "Full charge 11 lb 14 oz = 5.386 kg, as registered.", "what the nameplate says");
    holds(await page.innerText("main"), "treat it as flammable and toxic until you know", "the caution");
    const put = await weigh(page, "SUP-88113", "9", "8");
    holds(put, "This visit: recovered 2 lb 0 oz, charged 1 lb 0 oz, net 1 lb 0 oz out.", "the visit");
    await press(phone, page);
    await phone.says("Waiting for signal: 3 entries");
    same((await newest(from)).length, 0, "entries in the book");
    await context.setOffline(false);
    await phone.says("Outbox: 0 waiting");
    const [unit, out, in_, ...more] = await newest(from);
    same([unit, out, in_].map(({ kind }) => kind).join(" "), "appliance recover charge", "the registration first");
    same(more.length, 0, "each once");
    same(unit.body.subject, out.body.movements[0].from, "about the unit that was registered");
    same(in_.body.movements[0].to, unit.body.subject, "and the charge");
    same(Boolean(out.visit) && out.visit === in_.visit, true, "one visit");
    // 2 lb and 1 lb of 453.59237 g (1959 agreement of the yard and the pound).
    same(`${out.body.movements[0].g} ${in_.body.movements[0].g}`, "907.18474 453.59237", "grams");
    await phone.goto("/field/appliances/HG-RTU-98");
    for (const part of ["Recovered 2 lb 0 oz", "Charged 1 lb 0 oz"]) holds(await page.innerText("main"), part, "its card");
  });

  await check("where the book refuses the registration, what is about it waits; put right, it follows", async () => {
    const from = await settled(with_);
    await ready();
    await register(page, phone, "HG-RTU-97", "R-999Z");
    await page.tap("#kept a:text-is('Charge it')");
    await weigh(page, "SUP-88113", "8", "7");
    await press(phone, page);
    await context.setOffline(false);
    await phone.says("Needs you: 1 entry");
    await phone.says("1 entry waiting");
    same((await newest(from)).length, 0, "nothing half booked");
    await page.tap("a.btn:text-is('Put it right')");
    await page.waitForSelector(".errors");
    await page.fill("#refrigerant", "R-410A");
    await page.tap(".foot .btn:not(.instead)");
    await page.tap(PRESS);
    await page.waitForURL("**/entries/*");
    await phone.says("Outbox: 0 waiting");
    same((await newest(from)).map(({ kind }) => kind).join(" "), "appliance charge", "in order");
  });

  await check("a registration that is withdrawn takes what is about it along, and says so before", async () => {
    const from = await settled(with_);
    await ready();
    await register(page, phone, "HG-RTU-96", "R-999Z");
    await page.tap("#kept a:text-is('Charge it')");
    await weigh(page, "SUP-88113", "7", "6");
    await press(phone, page);
    await context.setOffline(false);
    await phone.says("Needs you: 1 entry");
    await page.tap("summary:text-is('It was not so')");
    holds(await page.innerText("#kept"), "One entry about HG-RTU-96 waits for it and would be withdrawn with it.", "said before");
    await page.fill("#kept details input", "the wrong roof");
    await page.tap("button:text-is('Withdraw it')");
    await phone.says("Outbox: 0 waiting");
    const gone = await page.locator("h2:text-is('Withdrawn') + ul li").allInnerTexts();
    same(gone.filter((text) => text.includes("HG-RTU-96") && text.includes("the wrong roof")).length, 2, "both stay readable");
    same((await newest(from)).length, 0, "entries in the book");
    await phone.goto("/field/new/charge?unit=00000000-0000-7000-8000-000000000000");
    await page.waitForSelector("h1:text-is('Not on this phone')");
  });
}

/** What a weighing says for the rules beside its mass, from the phone. */
export async function saidWithWeights(with_) {
  const { base, check, same, holds, phone, newest, reader } = with_;
  const { page, context } = phone;
  await check("a recovery says that it was all, a charge at an industrial process that it must stop; a correction keeps what it does not change", async () => {
    const from = await settled(with_);
    await phone.goto("/field");
    await phone.kept();
    await phone.goto("/appliances/HG-RACK-A/charge");
    same(await page.locator("input[name=process_shutdown]").count(), 0, "no industrial process");
    await phone.goto("/appliances/SD-PROC-1/charge");
    await page.waitForSelector("#before-lb");
    const holding = await page.getAttribute("#cylinders option >> nth=0", "value");
    await page.check("input[name=process_shutdown][value=yes]");
    await weigh(page, holding, "9", "8");
    await context.setOffline(true);
    await press(phone, page);
    await phone.goto("/appliances/HG-RACK-A/recover");
    await page.waitForSelector("#before-lb");
    await page.selectOption("#class", "clean");
    await page.check("input[name=what][value=all]");
    holds(await weigh(page, "TR-0425", "40", "41"), "All that was in it.", "the check says it");
    await press(phone, page);
    await context.setOffline(false);
    await phone.says("Outbox: 0 waiting");
    const [charge, recover] = await newest(from);
    same(charge.body.words?.process_shutdown, "yes", "the charge");
    same(recover.body.words?.what, "all", "the recovery");
    await phone.goto(`/entries/${recover.seq}`);
    holds(await page.innerText("main"), "Was all that was in it recovered? Yes, all.", "in words");
    await phone.goto(`/entries/${recover.seq}/correct`);
    await page.waitForSelector("#before-lb");
    await page.selectOption("#why", "misread");
    await page.fill("#after-lb", "42");
    await page.tap("button:text-is('Check')");
    await page.waitForSelector("#instead");
    await page.tap(PRESS);
    await page.waitForSelector("#instead .query, #instead .stop, .receipt");
    if (await page.locator("#instead .query, #instead .stop").count()) await phone.answered("**/entries/*");
    await phone.goto("/field/outbox");
    await phone.says("Outbox: 0 waiting");
    const corrected = (await newest(recover.seq)).at(-1);
    same([corrected.kind, corrected.body.replace.body.class, corrected.body.replace.body.words?.what].join(), "correction,clean,all", "what was not changed stands");
    same((await reader.get(`${base}/api/v1/entries/${corrected.seq}`)).status(), 200, "read by somebody else");
  });
}
