// The job, without any script: sign in, find the flagged rack, charge it, answer a question, meet a
// hard stop, look at the receipt, take the year, read the book. Figures are those of the invented
// firm; 29 lb 4 oz less 27 lb 0 oz is 2 lb 4 oz = 2.25 lb = 1.021 kg (453.59237 g to the pound).

export async function deeds(tools) {
  const { base, check, same, holds, open, signIn } = tools;
  const phone = await open({ viewport: { width: 360, height: 740 } });
  const text = (page = phone, where = "main") => page.innerText(where);

  await check("whoever is not signed in is sent to the sign-in and comes back", async () => {
    await phone.goto(`${base}/appliances/HG-RACK-A`);
    same(new URL(phone.url()).pathname, "/sign-in", "where");
    await phone.fill("#email", "ines@tamarack.example");
    await phone.fill("#password", "not this one, surely not");
    await phone.click("button");
    holds(await phone.title(), "Error: Sign in", "title");
    holds(await text(), "Name and password do not fit together", "summary");
    await phone.fill("#password", tools.passwords.get("ines@tamarack.example"));
    await phone.click("button");
    same(new URL(phone.url()).pathname, "/appliances/HG-RACK-A", "where");
  });

  await check("the flagged rack is on the first page and leads to its standing", async () => {
    // The mark leads a technician to the pages of the field.
    await phone.goto(`${base}/today`);
    same(new URL(phone.url()).pathname, "/today", "where");
    await phone.click("a:text-is('HG-RACK-A')");
    const standing = await phone.innerText(".standing");
    holds(standing, "Over the limit.", "standing");
    holds(standing, "26.3\u202f% a year after 14 lb 8 oz on 14 July 2026; limit 20\u202f%", "standing");
    holds(await phone.innerText(".worked"), "26.25\u202f% a year", "worked line");
    holds(await text(), "Find the leaks and repair them", "duty");
  });

  let receipt = "";
  await check("a charge is shown before it is booked, and booked once however often it is sent", async () => {
    await phone.click("a.btn:text-is('Charge')");
    same(await phone.title(), "Charge HG-RACK-A – tarebook", "title");
    holds(await text(), "Follow local codes", "caution");
    await phone.fill("#cylinder", "SUP-88232");
    await phone.fill("#before", "29 lb 4 oz");
    await phone.fill("#after", "27 lb 0 oz");
    await phone.check("input[name=full][value=no]");
    await phone.selectOption("#reason", "leak_top_up");
    await phone.click("button:text-is('Check')");
    holds(await phone.innerText(".echo"), "29 lb 4 oz − 27 lb 0 oz =", "sum");
    holds(await phone.innerText(".echo"), "2.25 lb = 1.021 kg", "other forms");
    const sending = phone.waitForRequest((request) => request.method() === "POST");
    await phone.click("button:text-is('Book 2 lb 4 oz')");
    const sent = await sending;
    holds(await phone.title(), "Booked, no. ", "title");
    receipt = await phone.innerText(".receipt");
    holds(receipt, "Charged 2 lb 4 oz = 2.25 lb = 1.021 kg R-448A into HG-RACK-A from SUP-88232.", "receipt");
    holds(receipt, "by Ines Vallory", "receipt");
    // The same press once more, as a telephone repeats it when the answer got lost.
    const answer = await phone.context().request.post(sent.url(), {
      headers: { "Content-Type": "application/x-www-form-urlencoded", "Sec-Fetch-Site": "same-origin" },
      data: sent.postData(),
    });
    const again = await answer.text();
    holds(again, "Already booked: this is", "second press");
    holds(again, "Nothing was added.", "second press");
    const number = /no\. ([\d\u202f]+)/.exec(receipt)[1];
    holds(again, `<span class="num">no. ${number}</span>`, "number");
  });

  await check("a slip of pounds and ounces is asked about, with what each answer would book", async () => {
    await phone.goto(`${base}/appliances/HG-RACK-B/charge`);
    await phone.fill("#cylinder", "SUP-90010");
    await phone.check("input[name=unit][value=lb]");
    await phone.fill("#before", "29.14");
    await phone.fill("#after", "28.12");
    await phone.click("button:text-is('Check')");
    holds(await phone.title(), "Not booked yet: Charge HG-RACK-B", "title");
    // In pounds 29.14 less 28.12 is 1.02 lb = 1 lb 0.32 oz; 29 lb 14 oz less 28 lb 12 oz 1 lb 2 oz.
    const question = await phone.innerText("#question-pounds_or_ounces");
    holds(question, "1 lb 0.32 oz", "choices");
    holds(question, "1 lb 2 oz", "choices");
    await phone.check("#question-pounds_or_ounces input[value=as_pounds_and_ounces]");
    await phone.click("button:text-is('Go on')");
    // The mass that was meant raises another question; the first answer is kept beside it.
    holds(await phone.innerText("#question-rate_jump"), "more than three times the last", "jump");
    same(await phone.locator("#question-pounds_or_ounces").count(), 0, "asked once");
    await phone.check("#question-rate_jump input[value=as_stated]");
    await phone.click("button:text-is('Go on')");
    holds(await phone.innerText(".receipt"), "Charged 1 lb 2 oz", "receipt");
  });

  await check("what must not be poured stops; what has happened is booked and leaves a finding", async () => {
    await phone.goto(`${base}/appliances/HG-RACK-A/recover`);
    holds(await text(), "Never fill a disposable", "caution");
    await phone.fill("#cylinder", "SUP-88231");
    await phone.fill("#before", "20 lb 0 oz");
    await phone.fill("#after", "21 lb 0 oz");
    await phone.selectOption("#class", "clean");
    await phone.click("button:text-is('Check')");
    await phone.click("button:text-is('Book 1 lb 0 oz')");
    const stop = await phone.innerText(".stop");
    holds(stop, "Not booked", "stop");
    holds(stop, "is disposable and is never refilled", "stop");
    holds(stop, "Nobody lifts this stop.", "stop");
    await phone.check(".stop input[value=already_happened]");
    await phone.click("button:text-is('Go on')");
    const booked = await text();
    holds(booked, "Recovered 1 lb 0 oz", "receipt");
    holds(booked, "a disposable cylinder was refilled", "finding");
  });

  await check("what is missing is said in the title, in the summary and at its box", async () => {
    await phone.goto(`${base}/appliances/HG-RACK-A/charge`);
    await phone.fill("#cylinder", "NO-SUCH-1");
    await phone.fill("#before", "29 lb 4 oz");
    await phone.fill("#after", "27 lb 0 oz");
    await phone.click("button:text-is('Check')");
    await phone.click("button:text-is('Book 2 lb 4 oz')");
    holds(await phone.title(), "Error: Charge HG-RACK-A", "title");
    holds(await phone.innerText(".errors"), "No cylinder \"NO-SUCH-1\" is registered", "summary");
    same(await phone.getAttribute(".errors a", "href"), "#cylinder", "link");
    holds(await phone.innerText("#cylinder-problem"), "Read the label again", "at the box");
    same(await phone.inputValue("#before"), "29 lb 4 oz", "what was typed stays");
  });

  await check("the history shows both new lines, the newest first", async () => {
    await phone.goto(`${base}/appliances/HG-RACK-A`);
    const rows = await phone.locator("table.ruled:visible tbody tr").allInnerTexts();
    holds(rows[0], "Recovered", "newest");
    holds(rows[1], "Charged, top-up after a leak", "second");
  });

  await check("who signed out is asked to sign in again", async () => {
    await phone.click("button:text-is('Sign out')");
    holds(await text(), "You are signed out.", "notice");
    await phone.goto(`${base}/today`);
    same(new URL(phone.url()).pathname, "/sign-in", "where");
  });

  const desk = await open({ viewport: { width: 1280, height: 900 }, acceptDownloads: true });
  await check("the manager takes the year as CSV", async () => {
    await signIn(desk, "osric@tamarack.example", "/year?year=2026&unit=lb");
    const loading = desk.waitForEvent("download");
    await desk.click("a:text-is('appliance-year-2026.csv')");
    const file = await (await loading).createReadStream();
    let csv = "";
    for await (const part of file) csv += part;
    holds(csv.split("\r\n")[0], "full_charge_lb", "heading");
    holds(csv, "\r\nHG-RACK-A,Alder Street,", "the rack");
  });

  await check("the manager gives what is owed to somebody, who finds it first", async () => {
    await desk.goto(`${base}/duties`);
    holds(await text(desk), "Find the leaks and repair them late, was due 9 October 2026", "late");
    await desk.click("[aria-label='Assign HG-RACK-C'] >> nth=0");
    await desk.selectOption("#of-appliance", { label: "Ines Vallory" });
    await desk.click("button:text-is('Assign') >> nth=0");
    same(new URL(desk.url()).pathname, "/duties", "where");
    const ines = await open({ viewport: { width: 360, height: 740 } });
    await signIn(ines, "ines@tamarack.example", "/duties");
    const headings = await ines.locator("main h2").allInnerTexts();
    holds(headings[0], "Yours: ", "her own stands first");
    holds(headings.join(), "Late", "and the others after it");
    await ines.goto(`${base}/duties?person=me&view=weeks`);
    holds(await ines.innerText("table.weeks"), "HG-RACK-C leak inspection", "her weeks");
    await ines.context().close();
  });

  await check("E29 what somebody else changed meanwhile stands in three columns: yours, now, before", async () => {
    const other = await open({ viewport: { width: 320, height: 640 } });
    await signIn(other, "marguerite@tamarack.example", "/appliances/HG-RACK-C/assign");
    await desk.goto(`${base}/appliances/HG-RACK-C/assign`);
    await desk.selectOption("#of-appliance", { label: "Dov Haldane" });
    await desk.click("button:text-is('Assign') >> nth=0");
    same(new URL(desk.url()).pathname, "/duties", "the first change is taken");
    await other.selectOption("#of-appliance", "");
    await other.click("button:text-is('Assign') >> nth=0");
    holds(await text(other), "Somebody else changed it meanwhile", "notice");
    const columns = await other.locator(".three > label").allInnerTexts();
    same(columns.map((one) => one.replace(/\s+/g, " ").trim()).join(" | "), "Yours nobody in particular | Now Dov Haldane | Before Ines Vallory", "columns");
    const boxes = await other.locator(".three > label").evaluateAll((all) => all.map((one) => Math.round(one.getBoundingClientRect().x)));
    same(new Set(boxes).size, 1, "below each other on a phone");
    await other.check(".three input >> nth=2");
    await other.click("button:text-is('Assign') >> nth=0");
    await desk.goto(`${base}/appliances/HG-RACK-C/assign`);
    same(await desk.locator("#of-appliance option:checked").innerText(), "Ines Vallory", "what was chosen holds");
    await other.context().close();
  });

  await check("a calendar opens by its address until it is revoked", async () => {
    await desk.goto(`${base}/calendar`);
    await desk.click("text=What the whole organisation owes");
    await desk.click("button:text-is('Make a calendar')");
    const address = await desk.inputValue("#address");
    const stranger = await open();
    const fetched = await stranger.context().request.get(address);
    holds(await fetched.text(), "SUMMARY:Late: PINE-CH-2: find the leaks and repair them", "calendar");
    await desk.goto(`${base}/calendar`);
    same((await desk.content()).includes(address), false, "the address is shown again");
    await desk.click("[aria-label='Revoke calendar 1']");
    same((await stranger.context().request.get(address)).status(), 404, "status");
    await stranger.context().close();
  });

  await check("the auditor reads the seal and takes the bundle, and posts nothing", async () => {
    const auditor = await open({ viewport: { width: 1280, height: 900 }, acceptDownloads: true });
    await signIn(auditor, "signe@aldworth.example", "/book");
    const page = await text(auditor);
    holds(page, "tarebook verify --bundle", "command");
    const note = await auditor.innerText("pre >> nth=0");
    const served = await auditor.context().request.get(`${base}/api/v1/log/checkpoint`);
    same(note.trim(), (await served.text()).trim(), "the checkpoint");
    await auditor.goto(`${base}/appliances/HG-RACK-A`);
    same(await auditor.locator("a.btn").count(), 0, "buttons to post");
  });
}
