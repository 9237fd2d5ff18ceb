// Findings on the manager's pages: a cylinder without a label is checked, under quarantine, weighed,
// named and released; what was booked without signal is answered afterwards; a page that is older
// than the book settles nothing.
//
// 40 lb on the scale less 27.5 lb of tare is 12 lb 8 oz. A gauge of 195.3 psig at 68 degF fits
// several refrigerants, R-410A and the flammable R-32 among them: nothing is identified by it.
import { randomUUID } from "node:crypto";

const own = { "Sec-Fetch-Site": "same-origin" };

export async function findings(tools) {
  const { base, check, same, holds, open, signIn } = tools;
  const desk = await open({ viewport: { width: 1280, height: 900 } });
  await signIn(desk, "osric@tamarack.example", "/findings");
  const phone = await open({ viewport: { width: 360, height: 740 } });
  await signIn(phone, "dov@tamarack.example", "/today");

  /** Books an entry as whoever signed in on a page. */
  async function book(page, entry) {
    const data = { entry_id: randomUUID(), ...entry };
    const answer = await page.context().request.post(`${base}/api/v1/entries`, { headers: own, data });
    if (answer.status() !== 201) throw new Error(`not booked: ${await answer.text()}`);
    return answer.json();
  }
  const text = (page = desk) => page.innerText("main");
  const facts = { use: "recovery", tare: "27.5 lb", water_capacity: "47.7 lb", retest_on: "2028-03-31" };

  await check("an unlabelled cylinder is checked, under quarantine, and resolved by the manager on the page", async () => {
    await book(desk, { kind: "cylinder", body: { facts: { tag: "TR-0433", ...facts } } });
    await book(phone, {
      kind: "observation",
      body: {
        cylinder: "TR-0433", pressure: "195.3", pressure_unit: "psig", gauge: "sealed", accuracy_percent: "1",
        full_scale: "800", wall_temperature: "68", temperature_unit: "[degF]", rested: "yes", gross: "40 lb",
      },
    });
    await phone.goto(`${base}/findings?thing=TR-0433`);
    await phone.click("main table a:has-text('TR-0433')");
    holds(await text(phone), "A compliance manager settles this", "a technician");
    same(await phone.locator("button:text-is('Settle')").count(), 0, "buttons of a technician");

    await desk.goto(`${base}/cylinders/TR-0433`);
    holds(await text(), "Under quarantine", "the cylinder");
    await desk.click("a:text-is('Look at the finding and settle it')");
    holds(await desk.title(), "TR-0433: what is in the cylinder is not known", "title");
    await desk.click("summary:text-is('Weigh TR-0433')");
    await desk.fill("#gross", "40 lb 0 oz");
    await desk.click("button:text-is('Book the weight')");
    await desk.check("input[name='answer.count_differs'][value=as_stated]");
    await desk.click("button:text-is('Book the weight')");
    holds(await text(), "TR-0433 holds 12 lb 8 oz of what is not known; under quarantine", "weighed");
    await desk.click("summary:text-is('Name what is in TR-0433')");
    await desk.fill("#becomes", "R-410A");
    await desk.selectOption("#class", "suspect");
    await desk.fill("#note", "laboratory sheet L-2026-1102");
    await desk.click("button:text-is('Name it')");
    await desk.check("input[name='answer.content_renamed'][value=analysed]");
    await desk.click("button:text-is('Name it')");
    holds(await text(), "TR-0433 holds 12 lb 8 oz of R-410A; under quarantine", "named");
    await desk.check("input[name=reason][value=analysed]");
    await desk.fill("#says", "laboratory names R-410A, label is on");
    await desk.click("button:text-is('Settle')");
    holds(await text(), "TR-0433 is no longer under quarantine", "what changed");
    holds(await text(), "“laboratory names R-410A, label is on”", "why");
    await desk.goto(`${base}/cylinders/TR-0433`);
    same((await text()).includes("Under quarantine"), false, "quarantine");
    await desk.goto(`${base}/findings?thing=TR-0433`);
    // A count far from the book and another name are looked at by themselves.
    for (const code of ["content_renamed", "count_differs"]) {
      await desk.click(`main table a[href$='/${code}']`);
      await desk.check("input[name=reason] >> nth=0");
      await desk.fill("#says", "sheet and label seen");
      await desk.click("button:text-is('Settle')");
      await desk.goto(`${base}/findings?thing=TR-0433`);
    }
    holds(await text(), "Nothing here is to be looked at.", "the list");
  });

  await check("a finding of an entry without signal says what nobody answered, and is answered now", async () => {
    const booked = await book(phone, {
      kind: "recover", captured_offline: true, happened: { day: "2026-11-20", time: "10:15" },
      body: { from: "appliance:HG-RACK-B", to: "cylinder:SUP-88231", refrigerant: "R-448A", mass: "1 lb", class: "clean" },
    });
    await desk.goto(`${base}/findings/${booked.seq}`);
    const page = await text();
    holds(page, "The question that nobody has answered: The cylinder may not be filled. May it go in?", "question");
    holds(page, "Dov Haldane booked it without signal, so that nobody could be stopped.", "who");
    holds(page, "Answer now", "form");
    // Filled in without a reason in words, as a script would: said in title and summary.
    const form = { step: "settle", reason: "checked", says: "" };
    for (const name of ["form", "version", "entry_id"]) {
      form[name] = await desk.locator(`#settle input[name=${name}]`).getAttribute("value");
    }
    const address = desk.url();
    const send = (fields) => desk.context().request.post(address, { headers: own, form: { ...form, ...fields } });
    const without = await send({});
    same(without.status(), 422, "status without words");
    holds(await without.text(), "<title>Error: ", "title");
    // Something is booked about the cylinder meanwhile.
    await book(phone, {
      kind: "recover", captured_offline: true, happened: { day: "2026-11-20", time: "10:20" },
      body: { from: "appliance:HG-RACK-B", to: "cylinder:SUP-88231", refrigerant: "R-448A", mass: "2 lb", class: "clean" },
    });
    const stale = await send({ says: "emptied" });
    same(stale.status(), 412, "status of an old page");
    holds(await stale.text(), "something changed meanwhile", "an old page");
    await desk.goto(address);
    await desk.check("input[name=reason][value=checked]");
    await desk.fill("#says", "emptied into TR-0424, taken out of use");
    await desk.click("button:text-is('Settle')");
    // The second one put it under quarantine, too.
    holds(await text(), "SUP-88231 stays under quarantine because of no. ", "what changed");
  });

  await check("a receipt has the layout of who reads it, and offers its proof only where it works", async () => {
    const all = await (await desk.context().request.get(`${base}/api/v1/entries?limit=500`)).json();
    const charge = all.items.find(({ kind, did, by }) => kind === "charge" && did === undefined && by !== undefined);
    const auditor = await open({ viewport: { width: 360, height: 740 } });
    await signIn(auditor, "signe@aldworth.example", `/entries/${charge.seq}`);
    same(await auditor.locator("nav.thumb").count(), 1, "the index of an auditor");
    same(await auditor.locator(".foot").count(), 0, "the bar of the field");
    await auditor.click("summary:text-is('Prove it later')");
    const proof = await auditor.getAttribute("a:text-is('Proof as a file')", "href");
    same((await auditor.context().request.get(base + proof)).status(), 200, "the proof of an auditor");
    await auditor.context().close();
    // Of two technicians one booked it: that one has the proof, the other a sentence.
    const other = await open({ viewport: { width: 360, height: 740 } });
    await signIn(other, "ines@tamarack.example", `/entries/${charge.seq}`);
    const counts = [];
    for (const page of [phone, other]) {
      await page.goto(`${base}/entries/${charge.seq}`);
      same(await page.locator("nav.thumb").count(), 0, "a technician's layout");
      const links = await page.locator("a:text-is('Proof as a file')").count();
      const status = (await page.context().request.get(base + proof)).status();
      same(links === 1, status === 200, `proof of ${charge.seq}: link ${links}, status ${status}`);
      counts.push(links);
    }
    same(counts.sort().join(), "0,1", "who is offered the proof");
    await other.context().close();
    // What came from appliances that are not registered is corrected with their number beside it.
    const entry = await book(phone, {
      kind: "recover",
      body: { from: "unregistered", number: 2, to: "cylinder:TR-0433", refrigerant: "R-410A", mass: "1 lb", class: "suspect" },
    });
    await phone.goto(`${base}/entries/${entry.seq}`);
    await phone.click("a:text-is('Correct this entry')");
    same(await phone.inputValue("#number"), "2", "how many");
    same(await phone.inputValue("#refrigerant"), "R-410A", "what came out");
    same(await phone.inputValue("#class"), "suspect", "its condition");
    await phone.selectOption("#why", "misread");
    await phone.fill("#number", "3");
    await phone.fill("#mass", "1 lb 8 oz");
    await phone.click("button:text-is('Check')");
    await phone.click("button:text-is('Book 1 lb 8 oz')");
    holds(await text(phone), `Corrects no. ${entry.seq}`, "the correction");
    holds(await text(phone), "1 lb 8 oz", "what stands instead");
  });

  await check("a second test is offered where a rule set takes it", async () => {
    await phone.goto(`${base}/appliances/HG-RTU-07/service`);
    for (const [kind, count] of [["verification_test", 1], ["pressure_test", 0], ["vacuum_test", 0]]) {
      const form = phone.locator(`form:has(input[name=kind][value=${kind}])`);
      same(await form.count(), 1, kind);
      same(await form.locator("input[name=stage][value=follow_up]").count(), count, `second tests of ${kind}`);
    }
  });

  await check("findings are asked for by site and kind, in the address", async () => {
    await desk.goto(`${base}/findings`);
    await desk.fill("#site", "Alder Street");
    await desk.selectOption("#kind", "rate_jump");
    await desk.click("button:text-is('Show')");
    holds(desk.url(), "site=Alder+Street", "address");
    const rows = await desk.locator("main tbody tr").allInnerTexts();
    same(rows.length > 0 && rows.every((row) => row.includes("Alder Street") && row.includes("leak rate jumped")), true, rows.join());
    await desk.goto(`${base}/findings?site=No+such+site`);
    holds(await text(), "No such site", "an unknown site");
  });
}
