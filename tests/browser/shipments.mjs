// Shipments and their statements, without script: what waits, a statement with too little, the question about
// a difference that two scales do not make, acceptance that books it, the picture beside its table.
// Figures: the demo's October shipment is 4.5 lb = 72 oz; 4.1 lb stated are 6.4 oz less, 8.9 % (0.4 / 4.5).
import { examine } from "./looks.mjs";

export async function shipments(tools) {
  const { base, check, same, holds, open, signIn } = tools;
  const desk = await open({ viewport: { width: 1280, height: 900 } });
  const text = (where = "main") => desk.innerText(where);
  await signIn(desk, "osric@tamarack.example", "/cylinders");

  await check("the list shows what fits, what is disputed and what waits, and the address filters it", async () => {
    await desk.click("a:text-is('Shipments')");
    holds(await text(), "−1 lb 9.36 oz (2.9 %)", "the disputed one");
    holds(await text("table.cards"), "disputed", "state");
    holds(await text("table.cards"), "fits", "state");
    holds(await text(".pic figcaption"), "one of them is open", "the sentence above the picture");
    await desk.selectOption("#state", "waiting");
    await desk.click("button:text-is('Show')");
    holds(desk.url(), "state=waiting", "the address");
    const states = await desk.locator("td[data-as=state]").allInnerTexts();
    same(states.length > 0 && states.every((state) => state.includes("waits")), true, `waiting: ${states}`);
    same(await desk.locator(".pic").count(), 0, "pictures of nothing stated");
  });

  await check("a statement without a weight and without a decision is told what is missing", async () => {
    await desk.goto(`${base}/shipments?state=waiting&counterparty=Corvane%20Reclaim`);
    await desk.click("table.cards th a >> nth=0");
    await desk.click("button:text-is('Book the statement')");
    holds(await desk.title(), "Error: ", "title");
    holds(await text(".errors"), "Write the weight that the statement says", "the weight");
    holds(await text(".errors"), "accept the weights or dispute them", "the decision");
  });

  await check("a difference is asked about before it is accepted, and booked once it is", async () => {
    const where = new URL(desk.url()).pathname;
    await desk.fill("#document", "CR-S-1012");
    await desk.fill("#mass-0", "4.1 lb");
    await desk.check("input[name=outcome][value=accepted]");
    await desk.click("button:text-is('Book the statement')");
    holds(await desk.title(), "Not booked yet", "title");
    holds(await text(".errors"), "6.4 oz less (8.9 %)", "the difference");
    same(await desk.inputValue("#mass-0"), "4.1 lb", "what was typed");
    await desk.check("input[name='answer.statement_differs'][value=as_stated]");
    await desk.click("button:text-is('Go on')");
    same(new URL(desk.url()).pathname, where, "where");
    holds(await text(), "Booked as", "the receipt");
    holds(await text(), "Difference accepted", "the state");
    await desk.click("a[href^='/entries/'] >> nth=0");
    holds(await text(), "unexplained", "the movement");
  });

  await check("a statement that was misread is taken back, and the shipment waits again", async () => {
    await desk.goto(`${base}/shipments?state=accepted&counterparty=Corvane%20Reclaim`);
    await desk.click("table.cards th a >> nth=0");
    await desk.click("summary:text-is('Take the statement back')");
    await desk.click("button:text-is('Take it back')");
    holds(await text(".errors"), "what was wrong", "the reason");
    await desk.selectOption("#why", "misread");
    await desk.click("button:text-is('Take it back')");
    holds(await text(), "Waits for its statement", "the state");
  });

  await check("an auditor reads and has no form; a technician is not let in", async () => {
    const auditor = await open();
    await signIn(auditor, "signe@aldworth.example", "/shipments");
    await auditor.click("table.cards th a >> nth=0");
    same(await auditor.locator("main form").count(), 0, "forms");
    const phone = await open();
    await signIn(phone, "ines@tamarack.example", "/shipments");
    holds(await phone.innerText("main"), "Not for your role", "what a technician reads");
  });

  await check("list and form read well on a telephone and a desk", async () => {
    for (const width of [320, 390, 1280]) {
      const page = await open({ viewport: { width, height: 844 }, javaScriptEnabled: true });
      await signIn(page, "osric@tamarack.example", "/shipments");
      const one = await page.getAttribute("table.cards th a >> nth=0", "href");
      for (const path of ["/shipments", one]) {
        await page.goto(`${base}${path}`);
        await examine(page, false, same);
      }
      await page.context().close();
    }
  });
}
