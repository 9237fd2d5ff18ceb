// What every page must hold: no violation found by axe (WCAG 2.2 A and AA, and best practice), no
// sideways scroll at 320 pixels and at twice the text size, targets large enough, a title, and
// paper without navigation. axe needs script of its own, put into the page from outside.
import { readFileSync, mkdirSync } from "node:fs";
import { createRequire } from "node:module";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];

const VIEWS = [
  { name: "telephone", viewport: { width: 360, height: 740 } },
  { name: "320 pixels", viewport: { width: 320, height: 640 } },
  { name: "desk", viewport: { width: 1280, height: 900 } },
  { name: "desk, dark", viewport: { width: 1280, height: 900 }, colorScheme: "dark" },
  { name: "desk, more contrast", viewport: { width: 1280, height: 900 }, contrast: "more" },
  { name: "text twice as large", viewport: { width: 640, height: 900 }, large: true },
];

/** Pages by their address, and what is done there first. */
const PAGES = [
  ["/today"],
  ["/findings"],
  ["/findings/262"],
  ["/duties"],
  ["/duties?view=weeks"],
  ["/calendar", (page) => page.click("button:text-is('Make a calendar')"), "made"],
  ["/mail", (page) => page.click("button:text-is('Keep this')"), "kept"],
  ["/appliances/HG-RACK-A/assign"],
  ["/appliances"],
  ["/appliances?find=ZZZ"],
  ["/appliances/HG-RACK-A"],
  ["/appliances/PINE-AHU-2"],
  ["/appliances/HG-RACK-C"],
  ["/fleet"],
  ["/fleet?before=9000&unit=kg"],
  ["/appliances/QK-ICE-1"],
  ["/appliances/HG-RACK-A/charge"],
  ["/appliances/PINE-AHU-2/recover"],
  ["/appliances/HG-RACK-A/charge", charge("29 lb 4 oz", "28 lb 0 oz"), "check"],
  ["/appliances/HG-RACK-A/charge", charge("29.14 lb", "28.12 lb"), "question"],
  ["/appliances/HG-RACK-A/charge", charge("much", "less"), "error"],
  ["/appliances/HG-RACK-A/recover", disposable, "stop"],
  ["/entries/199"],
  ["/entries/0"],
  ["/book"],
  ["/book?before=20"],
  ["/year"],
  ["/year?year=2026&unit=lb&refrigerant=unknown", (page) => page.click("figure.pic summary"), "table"],
  ["/cylinders"],
  ["/cylinders/TR-0424"],
  ["/shipments"],
  ["/tools/pressure-test"],
  ["/appliances/PINE-AHU-2/register"],
  ["/records"],
  ["/people"],
  ["/devices"],
  ["/me"],
  ["/me/factor"],
  ["/rules"],
  ["/rules/us-federal-hfc"],
  ["/rules/us-federal-hfc/change", lower, "preview"],
  ["/rules/halfmoon-house-rule/text", misspelt, "error"],
  ["/entries/none"],
];

function charge(before, after) {
  return async (page) => {
    await page.fill("#cylinder", "SUP-88232");
    await page.fill("#before", before);
    await page.fill("#after", after);
    await page.click("button:text-is('Check')");
  };
}

async function lower(page) {
  await page.selectOption("#value", "trigger");
  await page.fill("#is", "5");
  await page.fill("#clause", "ordinance 12 s. 3 (invented)");
  await page.fill("#title", "Lower rate (invented)");
  await page.fill("#reason", "ordinance 12 (invented)");
  await page.fill("#from", "2026-02-01");
  await page.click("button:text-is('Preview on the fleet')");
  await page.waitForSelector("#preview table");
}

async function misspelt(page) {
  const toml = await page.inputValue("#toml");
  await page.fill("#toml", toml.replace("[leak_rate]", "[leak_rate]\nneting = \"visit\""));
  await page.click("button:text-is('Check only')");
  await page.waitForSelector(".errors");
}

async function disposable(page) {
  await page.fill("#cylinder", "SUP-88231");
  await page.fill("#before", "20 lb 0 oz");
  await page.fill("#after", "23 lb 0 oz");
  await page.click("button:text-is('Check')");
  await page.click("button:text-is('Book 3 lb 0 oz')");
  await page.waitForSelector(".stop");
}

export async function looks(tools) {
  const { base, check, same, open, signIn } = tools;
  const shots = process.env.SHOTS;
  if (shots) mkdirSync(shots, { recursive: true });
  for (const view of VIEWS) {
    const { name, large, ...options } = view;
    const page = await open({ ...options, javaScriptEnabled: true });
    // The pages as they are without script of their own; field.mjs looks at what script makes of them.
    await page.route("**/*.mjs", (route) => route.fulfill({ contentType: "text/javascript", body: "" }));
    await check(`${name}: /sign-in`, async () => {
      await page.goto(`${base}/sign-in`);
      await examine(page, large, same);
      if (shots) await page.screenshot({ path: `${shots}/sign-in, ${name}.png`, fullPage: true });
    });
    await signIn(page, "osric@tamarack.example");
    for (const [path, deed, what] of PAGES) {
      await check(`${name}: ${path}${what ? ` (${what})` : ""}`, async () => {
        await page.goto(`${base}${path}`);
        if (deed) await deed(page);
        await examine(page, large, same);
        const file = `${path.slice(1).replaceAll(/[/?]/g, ".")}${what ? `.${what}` : ""}, ${name}.png`;
        if (shots) await page.screenshot({ path: `${shots}/${file}`, fullPage: true });
      });
    }
    await page.context().close();
  }
  await onPaper(tools);
}

export async function examine(page, large, same) {
  if (large) await page.evaluate(() => (document.documentElement.style.fontSize = "200%"));
  // What is folded away is looked at, too.
  await page.evaluate(() => document.querySelectorAll("details").forEach((it) => (it.open = true)));
  const title = await page.title();
  if (!title.endsWith(" – tarebook")) throw new Error(`title: ${title}`);
  same(await page.locator("h1").count(), 1, "first headings");
  const sideways = await page.evaluate(() => document.scrollingElement.scrollWidth - innerWidth);
  if (sideways > 0) throw new Error(`the page scrolls sideways by ${sideways} pixels`);
  await targets(page);
  await page.evaluate(axe);
  const found = await page.evaluate(
    (tags) => globalThis.axe.run(document, { runOnly: { type: "tag", values: tags } }),
    TAGS,
  );
  if (found.passes.length < 10) throw new Error(`axe looked at ${found.passes.length} rules only`);
  const lines = found.violations.map((violation) => {
    const nodes = violation.nodes.slice(0, 3).map((node) => `  ${node.html.slice(0, 160)}`);
    return `${violation.id}: ${violation.help}\n${nodes.join("\n")}`;
  });
  same(lines.join("\n"), "", "violations");
}

/** Everything that is pressed is 24 pixels high, on field pages 48; links inside sentences excepted. */
async function targets(page) {
  const small = await page.evaluate(() => {
    const least = document.documentElement.classList.contains("field") ? 48 : 24;
    const pressed = [...document.querySelectorAll("a, button, input, select, summary, textarea")];
    const measured = pressed.filter((element) => {
      if (element.type === "hidden" || element.classList.contains("skip")) return false;
      // What is inside a sentence is as high as its line (WCAG 2.5.8, exception inline).
      return !element.closest("p, li:not(.thumb li), dd, .more, td:not(.no)") || element.matches(".btn");
    });
    return measured
      .map((element) => {
        // A choice is pressed anywhere on its label.
        const box = (element.closest(".pick label") ?? element).getBoundingClientRect();
        return { box, text: `${element.tagName} ${element.textContent.trim() || element.name}` };
      })
      .filter(({ box }) => box.height > 0 && box.height < least - 0.5)
      .map(({ box, text }) => `${text}: ${box.height.toFixed(1)} of ${least}`);
  });
  if (small.length > 0) throw new Error(`too small to be pressed:\n${small.join("\n")}`);
}

async function onPaper({ base, check, same, open, signIn }) {
  const page = await open({ viewport: { width: 1280, height: 900 }, javaScriptEnabled: true });
  await signIn(page, "osric@tamarack.example");
  await page.emulateMedia({ media: "print" });
  for (const path of ["/appliances/HG-RACK-A", "/book", "/today"]) {
    await check(`paper: ${path}`, async () => {
      await page.goto(`${base}${path}`);
      const shown = await page.evaluate(() => {
        const seen = (selector) => [...document.querySelectorAll(selector)].filter((it) => it.offsetParent !== null).length;
        const ink = getComputedStyle(document.querySelector("h1")).color;
        return { navigation: seen(".thumb") + seen(".acts") + seen(".filters") + seen("header form"), ink };
      });
      same(shown.navigation, 0, "navigation on paper");
      same(shown.ink, "rgb(0, 0, 0)", "ink");
      const printed = await page.pdf({ format: "A4" });
      same(printed.subarray(0, 5).toString(), "%PDF-", "the file");
    });
  }
}
