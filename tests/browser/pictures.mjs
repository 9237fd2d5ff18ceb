// Pictures as a browser shows them: one of the two drawings, letters of 12 pixels and more, nothing written
// over something else or outside, the drawn numbers in the table below, shades that differ in grey.
// Rates: 14 lb 8 oz of 210 lb in 96 days are 26.25 %, with 9 lb 4 oz before 11.31 % in the rolling year (by hand).

const VIEWS = [
  { name: "telephone", viewport: { width: 390, height: 844 } },
  { name: "320 pixels", viewport: { width: 320, height: 640 } },
  { name: "desk", viewport: { width: 1280, height: 900 } },
  { name: "desk, dark", viewport: { width: 1280, height: 900 }, colorScheme: "dark" },
  { name: "text twice as large", viewport: { width: 640, height: 900 }, large: true },
];

const UNITS = ["HG-RACK-A", "HG-RACK-C", "HG-RACK-E", "HG-RTU-09", "LS-RINK-1", "PINE-AHU-2", "PINE-CH-1", "SD-TANK-1"];

export async function pictures({ base, check, same, holds, open, signIn }) {
  for (const { name, large, ...options } of VIEWS) {
    const page = await open({ ...options, javaScriptEnabled: true });
    await signIn(page, "osric@tamarack.example");
    for (const unit of UNITS) {
      await check(`${name}: picture of ${unit}`, async () => {
        await page.goto(`${base}/appliances/${unit}`);
        if (large) await page.evaluate(() => (document.documentElement.style.fontSize = "200%"));
        const seen = await page.evaluate(measure);
        same(seen.shown, 1, "drawings shown");
        same(seen.wide, name.startsWith("desk"), "the wide one is shown");
        if (seen.least < 11.95) throw new Error(`letters of ${seen.least} pixels`);
        same(seen.faults.join("\n"), "", "words");
        // Where there is little room, ounces stand under their pounds.
        const stands = (text) => seen.table.some((cell) => cell === text || (!seen.wide && cell.endsWith(` lb ${text}`)));
        const missing = seen.drawn.filter((text) => !stands(text));
        same(missing.join(", "), "", "drawn and in no cell");
      });
    }
    await page.context().close();
  }
  const page = await open({ viewport: { width: 1280, height: 900 }, javaScriptEnabled: true });
  await signIn(page, "osric@tamarack.example");
  await check("the rates drawn are the worked ones", async () => {
    await page.goto(`${base}/appliances/HG-RACK-A`);
    const drawing = await page.locator(".pic svg.wide").textContent();
    holds(drawing, "26.3\u202f%", "annualised");
    await page.locator(".pic summary").click();
    const row = await page.locator(".pic tr", { hasText: "14 July 2026" }).filter({ hasText: "14 lb 8 oz" }).textContent();
    holds(row, "11.3\u202f%", "rolling year");
    holds(row, "20\u202f%", "limit");
    const total = await page.locator(".pic tr.total").textContent();
    holds(total, "23 lb 12 oz", "9 lb 4 oz and 14 lb 8 oz");
  });
  for (const colorScheme of ["light", "dark"]) {
    await check(`five shades stay apart in grey, ${colorScheme}`, () => shades({ base, same, open, signIn }, colorScheme));
  }
  await check("the fleet begins with what uses most of its limit, and its months hold its masses", async () => {
    await page.goto(`${base}/fleet`);
    const rows = page.locator(".fleet tbody tr");
    if ((await rows.count()) < 20) throw new Error(`${await rows.count()} rows`);
    const rack = await rows.filter({ hasText: "HG-RACK-A" }).textContent();
    holds(rack, "9.3 under a quarter of the limit", "April: 9 lb 4 oz, 4.4 % of 20 %");
    holds(rack, "14.5 at the limit or over it", "July: 26.25 % of 20 %");
  });
  await check("on paper a shade is as many dots", async () => {
    await page.emulateMedia({ media: "print" });
    await page.goto(`${base}/fleet`);
    const widths = await page.evaluate(() =>
      ["s1", "s2", "s3", "s4", "s5"].map((name) => {
        const cell = document.querySelector(`.shades .${name}`);
        const dots = Number.parseFloat(getComputedStyle(cell, "::after").inlineSize);
        return Math.round((dots / 96) * 25.4 / 1.2) + (getComputedStyle(cell).backgroundColor === "rgba(0, 0, 0, 0)" ? 0 : 100);
      }),
    );
    same(widths.join(" "), "1 2 3 4 5", "dots");
  });
  await page.context().close();
}

/** What is shown of the picture, in pixels of the page. */
function measure() {
  const all = [...document.querySelectorAll(".pic > svg")].filter((svg) => svg.getClientRects().length > 0);
  const svg = all[0];
  const frame = svg.getBoundingClientRect();
  const scale = frame.width / svg.viewBox.baseVal.width;
  const texts = [...svg.querySelectorAll("text")].map((text) => ({ words: text.textContent, box: text.getBoundingClientRect() }));
  const faults = [];
  texts.forEach(({ words, box }, at) => {
    if (box.left < frame.left - 1 || box.right > frame.right + 1 || box.bottom > frame.bottom + 1) faults.push(`${words} leaves the drawing`);
    for (const other of texts.slice(at + 1)) {
      const across = Math.min(box.right, other.box.right) - Math.max(box.left, other.box.left);
      const down = Math.min(box.bottom, other.box.bottom) - Math.max(box.top, other.box.top);
      // Boxes of letters are higher than the letters.
      if (across > 0.5 && down > 4.5 * scale) faults.push(`${words} stands over ${other.words}`);
    }
  });
  const cells = [...document.querySelectorAll(".pic td, .pic del")].map((cell) => cell.textContent.trim());
  const numbers = texts.map(({ words }) => words.replace(/^(first booked as|was|limit|Thin line: (?:rolling year|year since [^,]+), now) /, ""));
  return {
    shown: all.length,
    wide: svg.classList.contains("wide"),
    least: Math.min(...[...svg.querySelectorAll("text")].map((text) => Number.parseFloat(getComputedStyle(text).fontSize) * scale)),
    faults,
    drawn: numbers.filter((words) => /(oz|\u202f%)$/.test(words)),
    table: cells,
  };
}

/** The five shades as a printer without colour sees them. */
async function shades({ base, open, signIn }, colorScheme) {
  const page = await open({ viewport: { width: 1280, height: 900 }, colorScheme });
  await signIn(page, "osric@tamarack.example", "/fleet");
  const blank = await open({ javaScriptEnabled: true });
  const greys = [];
  for (const item of await page.locator(".shades > li").all()) {
    const box = await item.boundingBox();
    const clip = { x: Math.ceil(box.x) + 1, y: Math.ceil(box.y) + 1, width: 2, height: 2 };
    const png = (await page.screenshot({ clip })).toString("base64");
    greys.push(
      await blank.evaluate(async (png) => {
        const image = new Image();
        image.src = `data:image/png;base64,${png}`;
        await image.decode();
        const canvas = new OffscreenCanvas(2, 2).getContext("2d");
        canvas.drawImage(image, 0, 0);
        const [red, green, blue] = canvas.getImageData(0, 0, 1, 1).data;
        return Math.round(0.299 * red + 0.587 * green + 0.114 * blue);
      }, png),
    );
  }
  const sorted = [...greys].sort((one, other) => one - other);
  const apart = sorted.slice(1).map((grey, at) => grey - sorted[at]);
  if (greys.length !== 5 || Math.min(...apart) < 16) throw new Error(`greys of 255: ${greys.join(", ")}`);
  await page.context().close();
  await blank.context().close();
}
