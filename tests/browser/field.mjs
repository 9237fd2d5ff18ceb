// The technician's pages with their script, in a browser of the size of a telephone. Checks carry
// the numbers of the list of what the pages must do (E6: the echo of a weight, and so on).
import { fieldLooks } from "./field-looks.mjs";
import { outbox } from "./field-outbox.mjs";
import { fieldTools } from "./field-tools.mjs";

const PHONE = { viewport: { width: 390, height: 844 }, javaScriptEnabled: true, hasTouch: true };
const INES = "ines@tamarack.example";

export async function field(tools) {
  await masses(tools);
  await outbox(tools);
  await fieldTools(tools);
  await fieldLooks(tools);
}

async function masses({ base, check, same, holds, open, signIn }) {
  const page = await open(PHONE);
  const echo = () => page.innerText("#echo");

  await check("E6 pounds and ounces have a box each and are echoed in three forms as they are typed", async () => {
    await signIn(page, INES, "/appliances/HG-RACK-A/charge");
    await page.fill("#before-lb", "7");
    await page.fill("#before-oz", "4");
    // 7 lb 4 oz = 7.25 lb; 7.25 x 453.59237 g = 3288.5446825 g, rounded by hand.
    same(await echo(), "7 lb 4 oz = 7.25 lb = 3.289 kg", "one reading");
    await page.fill("#before-lb", "67");
    await page.fill("#before-oz", "2");
    await page.fill("#after-lb", "59");
    await page.fill("#after-oz", "14");
    holds(await echo(), "67 lb 2 oz − 59 lb 14 oz =", "the sum");
    holds(await echo(), "7 lb 4 oz", "the mass");
    holds(await echo(), "7.25 lb = 3.289 kg", "its other forms");
    same(await page.inputValue("#before"), "67 lb 2 oz", "what the form sends");
    same(await page.getAttribute("#before-lb", "inputmode"), "numeric", "keys for pounds");
    same(await page.getAttribute("#before-oz", "inputmode"), "decimal", "keys for ounces");
  });

  await check("E6 a whole text in the first box is taken, and what is no mass is said in words", async () => {
    await page.fill("#before-lb", "7 lb 16 oz");
    await page.fill("#before-oz", "");
    await page.locator("#before-oz").blur();
    await page.dispatchEvent("#before-lb", "change");
    holds(await echo(), "the ounces must be below 16", "refusal");
    await page.fill("#before-lb", "116 oz");
    await page.fill("#after-lb", "");
    await page.fill("#after-oz", "");
    holds(await echo(), "7 lb 4 oz = 7.25 lb", "ounces alone");
  });

  await check("two decimals that could be ounces are asked about at once, with what each would book", async () => {
    await page.check("input[name=unit][value=lb]");
    await page.fill("#before", "29.25");
    await page.fill("#after", "14.12");
    // 29.25 less 14.12 is 15.13 lb = 15 lb 2.08 oz. Ounces cannot be 25, so the other reading falls.
    holds(await echo(), "14.12 lb (14 lb 1.9 oz) or 14 lb 12 oz?", "question");
    await page.fill("#before", "29.4");
    // In pounds 15.28 lb = 15 lb 4.48 oz; 29 lb 4 oz less 14 lb 12 oz is 14 lb 8 oz.
    holds(await echo(), "Books 15 lb 4.48 oz", "in pounds");
    holds(await echo(), "Books 14 lb 8 oz", "in ounces");
    same(await page.locator("#echo .mass").count(), 0, "nothing is taken before it is answered");
    await page.check("#echo input[value=as_pounds_and_ounces]");
    same(await page.innerText("#echo .mass b"), "14 lb 8 oz", "the mass that was meant");
  });

  await check("what the scale shows is remembered on this phone", async () => {
    await page.goto(`${base}/appliances/HG-RACK-B/charge`);
    await page.waitForSelector("#before-lb", { state: "attached" });
    same(await page.isChecked("input[name=unit][value=lb]"), true, "pounds");
    same(await page.innerText("label[for=before]"), "Before, lb", "the unit stands in the label");
    await page.check("input[name=unit][value=kg]");
    same(await page.innerText("label[for=after]"), "After, kg", "the unit stands in the label");
    await page.check("input[name=unit][value='lb+oz']");
  });

  await check("field pages load script of ours alone, and nothing inside the page", async () => {
    const shown = await page.context().request.get(`${base}/appliances/HG-RACK-A/charge`);
    const policy = shown.headers()["content-security-policy"];
    for (const part of ["default-src 'none'", "script-src 'self'", "connect-src 'self'", "frame-ancestors 'none'"]) {
      holds(policy, part, "policy");
    }
    if (policy.includes("unsafe")) throw new Error(policy);
    same((await shown.text()).match(/<script(?! type="module" src="\/)|<style| style=| on[a-z]+=/g), null, "inline");
  });
}
