// Rules without script: the manager lowers a number for a county from next month on, sees who would
// cross, adopts it with a reason; the auditor reads it and cannot adopt. Figures are those of the
// invented firm, places and ordinances are invented, too.


export async function rules(tools) {
  const { base, check, same, holds, open, signIn } = tools;
  const desk = await open({ viewport: { width: 1280, height: 900 } });
  const text = () => desk.innerText("main");

  await check("the rules of the book are listed with what comes with the program", async () => {
    await signIn(desk, "osric@tamarack.example", "/rules");
    holds(await text(), "rule sets judge this book side by side", "lede");
    holds(await text(), "us-federal-hfc", "adopted");
    holds(await text(), "in force since", "status");
    await desk.click("a[href='/rules/us-federal-hfc']");
    holds(await text(), "40 CFR 84.106", "clause");
    holds(await text(), "20\u202f% a year", "number");
  });

  await check("a number that loosens is refused with what it would have to be", async () => {
    await desk.click("a.btn:text-is('Change a number for a place')");
    await desk.selectOption("#value", "trigger");
    await desk.check("input[name=for][value=commercial]");
    await desk.fill("#is", "25");
    await desk.fill("#clause", "ordinance 12 s. 3 (invented)");
    await desk.fill("#region", "US-CO-901");
    await desk.fill("#title", "Lower rate for shops (invented)");
    await desk.fill("#id", "county-901");
    await desk.fill("#reason", "county ordinance 12 (invented)");
    await desk.click("button:text-is('Preview on the fleet')");
    holds(await desk.title(), "Error: ", "title");
    holds(await text(), "25 from", "what came");
    holds(await text(), "is looser than 20 of us-federal-hfc", "what was expected");
    holds(await text(), "Nothing was booked", "booked");
    same(await desk.locator("button:text-is('Adopt')").count(), 0, "a button to adopt");
  });

  await check("a lower number from next month on shows who would have crossed, and is adopted", async () => {
    await desk.fill("#is", "3");
    await desk.click("button:text-is('Preview on the fleet')");
    holds(await text(), "The day is still to come", "preview");
    holds(await text(), "Would have crossed", "preview");
    // Of 210 lb 9.25 lb are 4.4 %; of 165 lb 6.5 lb are 3.9 %; 3 lb of 84 lb are 3.6 %.
    const crossed = desk.locator("#preview tbody th");
    same((await crossed.allInnerTexts()).join(" "), "HG-RACK-A HG-RACK-B HG-RACK-D", "who crosses");
    holds(await text(), "3 appliances would have crossed a limit", "preview");
    holds(await text(), "[ordinance 12 s. 3 (invented), local layer 'county-901', in force from", "clause");
    holds(await text(), "nothing was booked", "booked");
    await desk.click("button:text-is('Adopt')");
    same(new URL(desk.url()).pathname, "/rules/county-901", "where");
    holds(await text(), "Booked as no. ", "adopted");
    holds(await text(), "county ordinance 12 (invented)", "reason");
    await desk.goto(`${base}/appliances/HG-RACK-D`);
    holds(await text(), "on the limit is 3\u202f% a year [ordinance 12 s. 3 (invented)]", "what is to come");
  });

  await check("a layer is ended with a reason, and judges no more from its day on", async () => {
    await desk.goto(`${base}/rules/county-901`);
    await desk.fill("#from", "2027-06-01");
    await desk.click("button:text-is('End it')");
    holds(await text(), "expected why it ends", "reason");
    await desk.fill("#reason", "the ordinance was repealed (invented)");
    await desk.click("button:text-is('End it')");
    holds(await text(), "Ends with 31 May 2027", "the end");
    holds(await text(), "the ordinance was repealed (invented)", "reason");
  });

  await check("a text with a misspelt word is shown with line, column and the allowed words", async () => {
    await desk.goto(`${base}/rules/halfmoon-house-rule/text`);
    const toml = await desk.inputValue("#toml");
    await desk.fill("#toml", toml.replace("[leak_rate]", "[leak_rate]\nneting = \"visit\""));
    await desk.click("button:text-is('Check only')");
    holds(await text(), "unknown word 'neting'; allowed: ", "problem");
    holds(await text(), ", column 1", "problem");
    await desk.fill("#toml", toml);
    await desk.click("button:text-is('Check only')");
    holds(await text(), "Good as it stands", "check");
  });

  await check("what was not looked at is not adopted, and a past day asks for a reason", async () => {
    await desk.fill("#from", "2026-02-01");
    await desk.click("button:text-is('Preview on the fleet')");
    holds(await text(), "The day is past", "preview");
    await desk.fill("#from", "2026-03-01");
    await desk.click("button:text-is('Adopt')");
    holds(await text(), "expected why the rules change", "reason");
    await desk.fill("#reason", "the house rule began late (invented)");
    await desk.fill("#from", "2026-04-01");
    await desk.click("button:text-is('Adopt')");
    holds(await text(), "What it would change", "another day is shown first");
    same(new URL(desk.url()).pathname, "/rules/halfmoon-house-rule/text", "where");
  });

  await check("an auditor reads and tries rules and cannot adopt them", async () => {
    const auditor = await open({ viewport: { width: 360, height: 740 } });
    await signIn(auditor, "signe@aldworth.example", "/rules/county-901");
    holds(await auditor.innerText("main"), "ordinance 12 s. 3 (invented)", "read");
    await auditor.goto(`${base}/rules/county-901/text`);
    await auditor.click("button:text-is('Preview on the fleet')");
    holds(await auditor.innerText("main"), "What it would change", "tried");
    same(await auditor.locator("button:text-is('Adopt')").count(), 0, "a button to adopt");
    const form = await auditor.evaluate(() => Object.fromEntries(new FormData(document.forms[1])));
    const answer = await auditor.context().request.post(`${base}/rules/county-901/text`, {
      headers: { "Sec-Fetch-Site": "same-origin" },
      form: { ...form, reason: "an auditor's wish", step: "adopt" },
    });
    same(answer.status(), 403, "an auditor's press");
    await auditor.context().close();
  });
  await desk.context().close();
}
