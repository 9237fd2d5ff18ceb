// Beyond the weights: steps of the service record from the phone, what an entry will make of the
// leak rate, the owner's record and labels on paper, correcting, registering on site. What may go
// wrong with a phone is in field-troubles.mjs.
import { withoutSignal } from "./field-offline.mjs";
import { Phone, booked } from "./field-phone.mjs";
import { looksOf, lookAlike, troubles } from "./field-troubles.mjs";
import { saidWithWeights, unbooked } from "./field-unbooked.mjs";

const [INES, OSRIC] = ["ines", "osric"].map((name) => `${name}@tamarack.example`);

export async function service(tools) {
  const { base, check, same, holds, open, signIn } = tools;
  const office = await open({ viewport: { width: 1100, height: 900 } });
  await signIn(office, OSRIC);
  const reader = office.context().request;
  const head = async () => Number((await (await reader.get(`${base}/api/v1/log/checkpoint`)).text()).split("\n")[1]) - 1;
  const newest = async (from) => booked(reader, base, from);
  const phone = new Phone(tools);
  await phone.start();
  await phone.signIn(INES);
  const with_ = { ...tools, office, reader, head, newest, phone };
  await steps(with_);
  await whatIf(with_);
  await paper(with_);
  await putRight(with_);
  await unbooked(with_);
  await saidWithWeights(with_);
  await withoutSignal(with_);
  await troubles(with_);
  await phone.end();
  await lookAlike(with_);
  await looksOf(with_);
}

/** The number of the newest entry, once all that was booked is signed. */
export async function settled({ reader, base, head }) {
  let from = await head();
  for (;;) {
    const page = await booked(reader, base, from);
    if (page.length === 0) return from;
    from = page.at(-1).seq;
  }
}

export async function step(page, kind, filled, chosen = {}) {
  if (!(await page.locator(`#${kind}`).getAttribute("open")) && (await page.locator(`#${kind}[open]`).count()) === 0) await page.tap(`#${kind} > summary`);
  for (const [name, value] of Object.entries(chosen)) {
    const box = page.locator(`#${kind} select[name=${name}]`);
    if (await box.count()) await box.selectOption(value);
    else await page.check(`#${kind} input[name=${name}][value=${value}]`);
  }
  for (const [name, text] of Object.entries(filled)) await page.fill(`#${kind} [name=${name}]`, text);
  await page.tap(`#${kind} button`);
  await page.waitForSelector("#instead");
}

async function steps(with_) {
  const { check, same, holds, phone, newest, office, base } = with_;
  const { page } = phone;

  await check("E47 a leak is posted without any weight and without signal; leak, repair, test and charge share the visit", async () => {
    const from = await settled(with_);
    await phone.goto("/field/appliances/QK-WIC-1");
    await page.tap("a:has-text('Leak, repair or test')");
    await page.waitForSelector("#outbox .sign");
    await phone.context.setOffline(true);
    await step(page, "leak_found", { place: "suction valve" }, { found_by: "technician" });
    holds(await page.innerText("#instead"), "Leak found at QK-WIC-1", "one sentence");
    holds(await page.innerText("#instead"), "suction valve", "what was typed");
    await page.tap(".foot button.instead:not(.second)");
    await page.waitForURL("**/field/outbox");
    await page.waitForSelector("#kept .lines");
    holds(await page.innerText("#kept"), "A leak was found", "the outbox");
    for (const [kind, text, chosen] of [
      ["repair", { work_done: "stem packed anew", parts: "packing" }, { all_leaks: "yes" }],
      ["verification_test", {}, { stage: "initial", result: "passed" }],
    ]) {
      // The page was kept when it was opened with signal.
      await phone.goto("/appliances/QK-WIC-1/service");
      await page.waitForSelector("#outbox .sign");
      await step(page, kind, text, chosen);
      await page.tap(".foot button.instead:not(.second)");
      await page.waitForURL("**/field/outbox");
    }
    await phone.context.setOffline(false);
    await phone.says("Outbox: 0 waiting");
    const entries = await newest(from);
    same(entries.map(({ kind }) => kind).join(" "), "leak_found repair verification_test", "in the order of the work");
    same(entries.every(({ visit }) => visit && visit === entries[0].visit), true, "one visit");
    same(entries[0].body.words.found_by, "technician", "found by");
    same(entries[0].body.leak, entries[0].entry_id, "a leak has the name of the entry that told of it");
    same(entries[1].texts.work_done, "stem packed anew", "work done");
    same(entries[2].body.words.result, "passed", "result");
  });

  await check("a step without its result is not booked, and says so at the box", async () => {
    await phone.goto("/appliances/QK-WIC-1/service");
    await page.waitForSelector("#outbox .sign");
    await page.tap("#inspection > summary");
    await page.tap("#inspection button");
    await page.waitForSelector(".errors");
    holds(await page.innerText(".errors"), "Result: say it.", "summary");
    same(await page.evaluate(() => document.activeElement.className), "errors", "focus");
  });

  // A gauge of whole pounds cannot show a quarter of 1 psi: by hand. 146.5 psig is what is read.
  await check("a pressure test names all that is missing, and says before booking what keeps it open", async () => {
    await phone.goto("/appliances/QK-WIC-1/service");
    await page.waitForSelector("#outbox .sign");
    await page.tap("#pressure_test > summary");
    await page.tap("#pressure_test button");
    await page.waitForSelector(".errors");
    const missing = await page.innerText(".errors");
    for (const box of ["The gauge may be off by", "Lowest design pressure", "Has to stand for", "Gauge: say it"]) holds(missing, box, "what is missing");
    const boxes = { start_pressure: "150", end_pressure: "146.5", start_temperature: "70", end_temperature: "60", pressure_accuracy: "0.5", temperature_accuracy: "1", design_pressure: "450", minutes: "60", criterion_minutes: "60", acceptance: "1", resolution: "1", altitude: "0" };
    for (const [box, text] of Object.entries(boxes)) await page.fill(`#pressure_test-${box}`, text);
    for (const [box, word] of [["temperature_unit", "[degF]"], ["gauge", "vented"], ["in_shade", "yes"], ["on_tested_part", "yes"], ["same_place", "yes"], ["settled_after_filling", "yes"]]) await page.check(`#pressure_test-${box} input[value="${word}"]`);
    await page.selectOption("#pressure_test-pressure_unit", "psig");
    await page.tap("#pressure_test button");
    await page.waitForSelector(".errors");
    same(await page.locator(".errors li").count(), 1, "only the unit of the altitude is missing");
    await page.check('#pressure_test-altitude_unit input[value="m"]');
    await page.tap("#pressure_test button");
    await page.waitForSelector("#instead b:text-is('Not decided yet.')");
    const says = await page.innerText("#instead");
    holds(says, "Read a finer gauge.", "what is open");
    same(says.includes("Shade the sensor"), false, "what was answered is not asked again");
    await page.tap(".foot button.instead:not(.second)");
    await page.waitForSelector(".receipt");
    holds(await page.innerText("main"), "Read a finer gauge.", "the receipt");
  });

  await check("the manager books a decision by the plain form, without script", async () => {
    const from = await settled(with_);
    await office.goto(`${base}/appliances/HG-RACK-C`);
    await office.click("a:has-text('Leak, repair, test, decision')");
    await office.click("#decision > summary");
    await office.check("#decision input[name=choice][value=replace]");
    await office.fill("#decision-note", "new rack ordered");
    await office.click("#decision button");
    holds(await office.title(), "Booked, no. ", "title");
    const [entry] = await newest(from);
    same(`${entry.kind} ${entry.body.words.choice}`, "decision replace", "entry");
    // A follow-up test without a first one is asked about, on the same page.
    await office.goto(`${base}/appliances/PINE-AHU-2/service`);
    await office.click("#verification_test > summary");
    await office.check("#verification_test input[name=stage][value=follow_up]");
    await office.check("#verification_test input[name=result][value=passed]");
    await office.click("#verification_test button");
    holds(await office.title(), "Not booked yet: ", "title");
    await office.check("#question-out_of_order_step input[value=as_stated]");
    await office.click("#verification_test button");
    holds(await office.title(), "Booked, no. ", "title");
    same((await newest(from)).at(-1).answers.out_of_order_step, "as_stated", "the answer");
  });
}

async function whatIf({ check, same, holds, phone }) {
  const { page } = phone;
  const filled = { unit: "HG-RACK-A", cylinder: "SUP-87410", before: "20 0", after: "19 0" };

  await check("the check says what the entry will make of the leak rate, against the limit, before it is booked", async () => {
    await phone.fill(filled);
    await page.waitForSelector("#what-if svg");
    const says = await page.innerText("#what-if p:not(.caution)");
    // Which rate depends on the day the suite runs; both are rates a year, the limit is 20 % (84.106).
    if (!/^(Under|Over) the limit: [\d.]+ % a year after this entry, [\d.]+ % now; limit 20\.0 %\.$/.test(says)) throw new Error(says);
    const shown = await page.locator("#what-if text").allTextContents();
    same(shown.map((text) => text.split(" ")[0]).join(" "), "now after limit", "three ticks");
  });

  await check("without signal the check says that it will be said once it is booked", async () => {
    await phone.goto("/field");
    await phone.kept();
    await phone.context.setOffline(true);
    await phone.fill(filled);
    await page.waitForSelector("#what-if :text('No signal')");
    await phone.context.setOffline(false);
    await page.tap("button:text-is('Change')");
    await page.waitForSelector("#cylinder-picks", { state: "visible" });
    holds(await page.inputValue("#before-lb"), "20", "what was typed stays");
  });
}

/** Boxes in millimetres as they are printed. */
const millimetres = (page, selector) =>
  page.locator(selector).evaluateAll((all) => all.map((one) => { const { width, height, x, y } = one.getBoundingClientRect(); return [x, y, width, height].map((px) => Math.round((px * 254) / 96) / 10); }));

const pagesOf = (pdf) => (pdf.toString("latin1").match(/\/Type\s*\/Page\b/g) ?? []).length;
const sizesOf = (pdf) => [...new Set(pdf.toString("latin1").match(/MediaBox\s*\[[^\]]*\]/g) ?? [])].map((box) => box.match(/[\d.]+/g).slice(2).map((point) => Math.round((point * 25.4) / 72)).join(" x "));

async function paper(with_) {
  const { base, check, same, holds, office, reader } = with_;

  await check("E17 E34 the owner's record has every field of the law, on one sheet of Letter and of A4, the same bytes each time", async () => {
    const entries = await booked(reader, base, 100);
    const visit = entries.filter(({ kind, visit }) => visit && kind === "charge").find(({ visit }) => entries.some((other) => other.visit === visit && other.kind === "recover"));
    await office.goto(`${base}/entries/${visit.seq}`);
    await office.click("a:text-is('Record for the owner, to print')");
    const text = await office.innerText("main");
    // 40 CFR 82.157(l)(2): identity and location, date, parts and kind of work, person, amount and
    // type of refrigerant, full charge, leak rate and its method.
    for (const part of ["Owner", "Site", "Place", "Appliance", "Refrigerant", "Serviced", "certificate", "Full charge", "Charged R-", "Recovered R-", "Net of this visit", "method", "Verification code", "Checkpoint of"]) holds(text, part, "field");
    const [one, two] = await Promise.all([0, 1].map(async () => (await reader.get(office.url())).text()));
    // A checkpoint may be signed in between; nothing else differs.
    const still = (html) => html.replace(/Checkpoint of .*? (covers them|the next one covers them)\./, "");
    same(still(one), still(two), "the same bytes");
    for (const [format, size] of [["Letter", "216 x 279"], ["A4", "210 x 297"]]) {
      const pdf = await office.pdf({ format });
      same(pagesOf(pdf), 1, `pages on ${format}`);
      same(sizesOf(pdf).join(), size, "paper");
    }
    const [leak] = entries.filter(({ kind }) => kind === "leak_found").slice(-1);
    await office.goto(`${base}/r/${leak.seq}`);
    const steps = await office.innerText("main");
    for (const part of ["suction valve", "stem packed anew", "packing", "First test, right after the repair", "Result: Passed"]) holds(steps, part, "parts, work and tests");
    same(pagesOf(await office.pdf({ format: "Letter" })), 1, "pages");
  });

  await check("E24 labels have the size of their stock in millimetres, squares of 20 mm and more", async () => {
    // Sizes: common practice, no source. 2 5/8 x 1 in, three columns 2.75 in apart, 0.5 in from the top.
    for (const [stock, count, first, second, sheet] of [
      ["letter-30", 30, [4.8, 12.7, 66.7, 25.4], [74.6, 12.7, 66.7, 25.4], "216 x 279"],
      ["a4-24", 24, [0, 0.5, 70, 37], [70, 0.5, 70, 37], "210 x 297"],
      ["roll", 1, [0, 0, 62, 29], null, "62 x 29"],
    ]) {
      await office.goto(`${base}/labels?of=cylinders&stock=${stock}`);
      await office.emulateMedia({ media: "print" });
      const total = await office.locator(".label").count();
      same(await office.locator(".stock >> nth=0").locator(".label").count(), count, `labels of a sheet, ${stock}`);
      const boxes = await millimetres(office, ".stock:first-child > .label");
      same(boxes[0].join(" "), first.join(" "), `first label, ${stock}`);
      if (second) same(boxes[1].join(" "), second.join(" "), `second label, ${stock}`);
      const [[, , side]] = await millimetres(office, ".qr");
      const modules = await office.locator(".qr >> nth=0").evaluate((qr) => qr.viewBox.baseVal.width);
      const dark = (side * (modules - 8)) / modules;
      if (dark < 20) throw new Error(`the dark part has ${dark} mm`);
      const spills = await office.locator(".label").evaluateAll((all) => all.filter((one) => one.scrollHeight > one.clientHeight + 1).length);
      same(spills, 0, `labels that spill over, ${stock}`);
      const cut = await office.locator(".says span:has-text('Gross max')").evaluateAll((all) => [all.length, all.filter((one) => one.scrollWidth > one.clientWidth).length]);
      same(cut[0] > 0 && cut[1], 0, `gross weights that are cut off, of ${cut[0]}, ${stock}`);
      const pdf = await office.pdf({ preferCSSPageSize: true });
      same(sizesOf(pdf).join(), sheet, `paper, ${stock}`);
      same(pagesOf(pdf), Math.ceil(total / count), `sheets, ${stock}`);
      await office.emulateMedia({ media: "screen" });
    }
  });

  await check("E25 a code leads to its thing, a slip and a foreign code say so, a serial number is an alias", async () => {
    await office.goto(`${base}/labels?of=appliances&stock=roll&ids=HG-RACK-A`);
    const code = await office.innerText(".code");
    await office.goto(`${base}/q/${code.replaceAll("-", "").toLowerCase()}`);
    same(new URL(office.url()).pathname, "/field/appliances/HG-RACK-A", "where");
    const wrong = code.slice(0, -1) + (code.endsWith("0") ? "1" : "0");
    const answer = await office.goto(`${base}/q/${encodeURIComponent(wrong)}`);
    same(answer.status(), 404, "status");
    holds(await office.innerText("main"), "One character at least is wrong", "a slip");
    await office.goto(`${base}/q/A0000R7W`);
    holds(await office.innerText("main"), "not one of ours", "foreign");
    holds(await office.innerText("main"), "A0000R7W", "what was typed");
    for (const typed of [code, "MR-19-3301"]) {
      await office.goto(`${base}/field?find=${encodeURIComponent(typed)}`);
      same(new URL(office.url()).pathname, "/field/appliances/HG-RACK-A", `found by ${typed}`);
    }
    await office.goto(`${base}/q/K-7701`);
    holds(await office.innerText("main"), "TR-0417", "a cylinder by its serial number");
  });
}

async function putRight(with_) {
  const { base, check, same, holds, phone, newest } = with_;
  const { page } = phone;

  await check("E15 an own entry is corrected: struck through, both name each other, changed results listed", async () => {
    const from = await settled(with_);
    await phone.fill({ unit: "HG-RACK-B", cylinder: "SUP-90010", before: "60 0", after: "58 0" });
    await page.tap(".foot button.instead:not(.second)");
    await page.waitForSelector("#instead .query, .receipt");
    await answerAll(page);
    await page.waitForURL("**/entries/*");
    await page.tap("a:text-is('Correct this entry')");
    same(await page.inputValue("#before"), "60 lb 0 oz", "the old reading");
    await page.selectOption("#why", "misread");
    await page.fill("#after-lb", "59");
    await page.tap("button:text-is('Check')");
    holds(await page.innerText("#instead"), "stays readable, struck through. What was wrong: ", "what it does");
    holds(await page.innerText("#instead .echo"), "1 lb 0 oz", "the new mass");
    // The signal goes while the correction is on the screen: it waits, and is booked by itself.
    await phone.context.setOffline(true);
    await page.tap(".foot button.instead:not(.second)");
    await page.waitForURL("**/field/outbox");
    await phone.says("Waiting for signal: 1 entry");
    holds(await page.innerText("#kept"), "Correction of no. ", "what waits");
    await phone.context.setOffline(false);
    await phone.says("Outbox: 0 waiting");
    await page.tap("#kept a:has-text('Correction of no. ')");
    holds(await page.innerText("main"), "What this changed", "changed");
    holds(await page.innerText("main"), "2 lb 0 oz added", "old");
    holds(await page.innerText("main"), "→ 1 lb 0 oz added", "new");
    const [old, correction] = await newest(from);
    same(correction.body.corrects.seq, old.seq, "corrects");
    same(`${correction.body.reason} ${correction.body.replace.body.movements[0].g}`, "misread 453.59237", "what stands instead");
    await phone.goto("/field/appliances/HG-RACK-B");
    holds(await page.innerText(".lines del"), "Charged 2 lb 0 oz", "struck through");
    holds(await page.innerText(".lines"), `Replaced by no. ${correction.seq}`, "words");
    await phone.goto(`/entries/${old.seq}/correct`);
    holds(await page.innerText("body"), "is corrected already", "once");
  });

  await check("an appliance is registered on site in a minute: it stands at once, with a finding for the office", async () => {
    await phone.goto("/field?find=HG-RTU-99");
    await page.tap("a:text-is('An appliance not yet in the book')");
    same(await page.inputValue("#tag"), "HG-RTU-99", "the tag that was looked for");
    await page.fill("#refrigerant", "R-999Z");
    await page.waitForSelector("#outbox .sign");
    await page.tap("button:text-is('Check')");
    await page.tap(".foot button.instead:not(.second)");
    await page.waitForSelector(".errors");
    holds(await page.innerText(".errors"), "R-410A", "what a designation looks like");
    await page.fill("#refrigerant", "R-410A");
    await page.selectOption("#site", { label: "Alder Street" });
    await page.fill("#full_charge", "11 lb 14 oz");
    await page.tap("button:text-is('Check')");
    holds(await page.innerText("#instead"), "11 lb 14 oz", "what was typed");
    // The signal goes before the press: nothing typed is lost.
    await phone.context.setOffline(true);
    await page.tap("button:text-is('Register it')");
    await page.waitForURL("**/field/outbox");
    await phone.says("Waiting for signal: 1 entry");
    await phone.context.setOffline(false);
    await phone.says("Outbox: 0 waiting");
    await page.tap("#kept a:has-text('HG-RTU-99')");
    holds(await page.innerText("main"), "registered on site; complete what the office knows", "finding");
    await phone.goto("/field/appliances/HG-RTU-99");
    holds(await page.innerText("main"), "11 lb 14 oz = 5.386 kg", "full charge");
  });

  await check("what is a technician's own: entries, certificate, scales", async () => {
    await phone.goto("/field/me");
    const text = await page.innerText("main");
    for (const part of ["Ines Vallory", "Certificate TS-40117, universal", "Scales", "Registered or changed", "HG-RACK-B"]) holds(text, part, "own");
  });
}

export async function answerAll(page) {
  const names = await page.locator("#instead .query input:not([value='']):not([value=withdraw])").evaluateAll((all) => all.map(({ name, value }) => [name, value]));
  for (const [name, value] of new Map(names.reverse())) await page.check(`#instead input[name='${name}'][value='${value}']`);
  if (names.length > 0) await page.click("button:text-is('Go on')");
}
