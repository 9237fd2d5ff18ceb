// The pages of the office: nothing of the demo is empty, thirteen weeks can be read on every width, the
// chain is worked out in this browser and a wrong byte is named, a register is completed, mail that
// failed is seen, and the owner's record is signed and numbered on paper.
import { createHash } from "node:crypto";
import { execFileSync } from "node:child_process";
import { mkdtempSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

/** Lists and pictures of the demo, and what a row of each is. */
const LISTS = [
  ["/today", ".ruled tbody tr"],
  ["/findings", ".ruled tbody tr"],
  ["/duties", ".ruled tbody tr"],
  ["/duties?view=weeks", ".weeks .chip"],
  ["/appliances", ".ruled tbody tr"],
  ["/appliances/HG-RACK-A", ".ruled tbody tr"],
  ["/cylinders", ".ruled tbody tr"],
  ["/cylinders/TR-0431", ".ruled tbody tr"],
  ["/labels?of=cylinders&stock=letter-30", ".label"],
  ["/labels?of=appliances&stock=letter-30", ".label"],
  ["/year", ".ruled tbody tr"],
  ["/rules", ".ruled tbody tr"],
  ["/rules/us-federal-hfc", ".ruled tbody tr"],
  ["/book", ".ruled tbody tr"],
  ["/book", "#chain svg rect"],
  ["/cylinders", ".pic svg path"],
  ["/year?year=2026", ".pic svg path"],
  ["/people", ".ruled tbody tr"],
  ["/records", ".ruled tbody tr"],
  ["/me", ".ruled tbody tr"],
];

/** What the demo leaves out on purpose: its numbers are those of the laws alone. */
const WITHOUT = [["/rules", "No layer lies over a set."]];

export async function office(tools) {
  const { open, signIn } = tools;
  const page = await open({ viewport: { width: 1280, height: 900 }, javaScriptEnabled: true });
  await signIn(page, "osric@tamarack.example");
  await nothingIsEmpty(tools, page);
  await weeks(tools, page);
  await chain(tools, page);
  await register(tools, page);
  await byMail(tools, page);
  await sealOnPaper(tools, page);
  await onPaper(tools, page);
  await page.context().close();
}

async function nothingIsEmpty({ base, check, same }, page) {
  await check("E45 every list and picture of the demo has a row", async () => {
    const bare = [];
    for (const [path, row] of LISTS) {
      await page.goto(`${base}${path}`);
      const rows = await page.locator(row).count();
      const left = WITHOUT.filter(([of]) => of === path).map(([, text]) => text);
      const empty = (await page.locator(".empty").allInnerTexts()).filter((text) => !left.some((part) => text.startsWith(part)));
      if (rows === 0 || empty.length > 0) bare.push(`${path}: ${rows} of ${row}, ${empty.join("; ")}`);
    }
    same(bare.join("\n"), "", "pages without a row");
  });
}

async function weeks({ base, check, same, holds }, page) {
  await check("thirteen weeks: the last one can be read at 1280, 1024 and 390 pixels, its site beside it", async () => {
    for (const [width, height] of [[1280, 900], [1024, 800], [390, 844]]) {
      await page.setViewportSize({ width, height });
      await page.goto(`${base}/duties?view=weeks`);
      // As if every week had a step: a table with room to spare proves nothing.
      await page.evaluate(() => {
        const chip = document.querySelector(".weeks .chip");
        for (const cell of document.querySelectorAll(".weeks tbody td")) cell.append(chip.cloneNode(true));
      });
      const region = page.locator("[aria-label='Thirteen weeks by site']");
      const [seen, whole] = await region.evaluate((it) => [it.clientWidth, it.scrollWidth]);
      if (width === 1280) same(whole, seen, "all weeks fit at 1280");
      else if (whole > seen) holds(await page.innerText("main"), "the table moves sideways", `said at ${width}`);
      await region.evaluate((it) => it.scrollTo(it.scrollWidth, 0));
      const [last, site, box] = await Promise.all([page.locator(".weeks thead th >> nth=-1").boundingBox(), page.locator(".weeks tbody th >> nth=0").boundingBox(), region.boundingBox()]);
      if (last.x + last.width > box.x + box.width + 1) throw new Error(`at ${width} the last week ends at ${last.x + last.width}, its region at ${box.x + box.width}`);
      if (site.x < box.x - 1 || site.x > box.x + 24) throw new Error(`at ${width} the site stands at ${site.x}, its region at ${box.x}`);
    }
    await page.setViewportSize({ width: 1280, height: 900 });
  });
}

/** The root of leaves by RFC 6962, section 2.1, as it is defined: by halves. */
function rootOf(leaves) {
  const sha = (...parts) => createHash("sha256").update(Buffer.concat(parts)).digest();
  const root = (from, to) => {
    if (to - from === 1) return sha(Buffer.of(0), leaves[from]);
    let half = 1;
    while (half * 2 < to - from) half *= 2;
    return sha(Buffer.of(1), root(from, from + half), root(from + half, to));
  };
  return root(0, leaves.length);
}

/** The leaves of a bundle as the C2SP layout writes them: each after its length, two bytes. */
function leavesOf(bytes) {
  const leaves = [];
  for (let at = 0; at < bytes.length; ) {
    const length = bytes.readUInt16BE(at);
    leaves.push(bytes.subarray(at + 2, at + 2 + length));
    at += 2 + length;
  }
  return leaves;
}

async function chain({ base, check, same, holds }, page) {
  const bundle = "**/api/v1/log/tile/entries/**";
  const works = async () => {
    await page.evaluate(() => { document.getElementById("chain-says").textContent = ""; });
    await page.click("#chain-check");
    await page.waitForSelector("#chain-says:not([data-state='runs']):not(:empty)");
    return page.innerText("#chain-says");
  };
  const states = async () => [...new Set(await page.locator("[data-block-state]").allTextContents())].sort().join(", ");
  await check("P7 the chain is worked out in this browser, up to the root that another program finds", async () => {
    await page.goto(`${base}/book`);
    same(await states(), "not checked", "before");
    holds(await works(), "It fits. Entries 0 to ", "said");
    same(await states(), "fits", "after");
    const seal = (await page.innerText("#seal-note")).split("\n");
    const leaves = [];
    for (let index = 0; index * 256 < Number(seal[1]); index += 1) {
      const width = Math.min(256, Number(seal[1]) - index * 256);
      const answer = await page.request.get(`${base}/api/v1/log/tile/entries/${String(index).padStart(3, "0")}${width < 256 ? `.p/${width}` : ""}`);
      leaves.push(...leavesOf(await answer.body()));
    }
    same(rootOf(leaves).toString("base64"), seal[2], "the root by its definition");
    // An older seal: a tree of 100 entries, whose root is worked out here.
    const older = `${seal[0]}\n100\n${rootOf(leaves.slice(0, 100)).toString("base64")}\n`;
    await page.fill("#kept", older);
    holds(await works(), "Entries 0 to 99 agree with the seal you laid beside it, too.", "an older seal");
    await page.fill("#kept", older.replace("\n100\n", "\n101\n"));
    holds(await works(), "It does not fit: the first 101 entries are not those", "another seal");
    await page.fill("#kept", "keep this");
    holds(await works(), "Not checked. The seal you laid beside it cannot be read", "no seal");
    await page.fill("#kept", "");
  });
  await check("P7 a wrong byte is named in words, its block is crossed", async () => {
    await page.route(bundle, async (route) => {
      const answer = await route.fetch();
      const body = Buffer.from(await answer.body());
      // The last byte of the third entry of the bundle.
      let at = 0;
      for (let entry = 0; entry < 3; entry += 1) at += 2 + body.readUInt16BE(at);
      if (route.request().url().includes("/entries/000")) body[at - 2] ^= 1;
      await route.fulfill({ response: answer, body });
    });
    await page.goto(`${base}/book`);
    holds(await works(), "It does not fit: entry no. 2 is not what was sealed.", "said");
    same(await states(), "does not fit, fits", "states");
    await page.unroute(bundle);
  });
  await check("P7 hashes that do not add up to the root are no proof", async () => {
    const hashes = "**/api/v1/log/tile/0/**";
    await page.route(hashes, async (route) => {
      const answer = await route.fetch();
      const body = Buffer.from(await answer.body());
      body[5] ^= 1;
      await route.fulfill({ response: answer, body });
    });
    await page.goto(`${base}/book`);
    holds(await works(), "It does not fit", "said");
    await page.unroute(hashes);
  });
}

async function register({ base, check, holds }, page) {
  await check("a finding about an appliance leads to the form that completes its register", async () => {
    await page.goto(`${base}/appliances/PINE-AHU-2`);
    await page.click("a:text-is('Complete the register')");
    holds(await page.innerText("main"), "Full charge", "a form");
    await page.click("button:text-is('Book it')");
    holds(await page.innerText(".errors"), "Nothing is filled in", "nothing");
    await page.fill("#full_charge", "much");
    await page.click("button:text-is('Book it')");
    holds(await page.title(), "Error: ", "a mass that is none");
    await page.fill("#full_charge", "");
    await page.fill("#serial", "PR-77-0192");
    await page.fill("#from", "2024-01-01");
    await page.click("button:text-is('Book it')");
    holds(await page.innerText(".errors"), "Serial number: the book has a value since", "a day before the known one");
    await page.fill("#from", "2026-11-02");
    await page.click("button:text-is('Book it')");
    await page.waitForURL("**/entries/**");
    await page.goto(`${base}/appliances/PINE-AHU-2`);
    holds(await page.innerText("main"), "PR-77-0192", "booked");
  });
}

async function byMail({ base, check, same }, page) {
  await check("mail: who answers for the whole begins with the whole, and may choose their own", async () => {
    await page.goto(`${base}/mail`);
    same(await page.isChecked("input[name=holds][value=everything]"), true, "before anything was chosen");
    await page.check("input[name=digest][value=daily]");
    await page.check("input[name=holds][value=own]");
    await page.click("button:text-is('Keep this')");
    await page.goto(`${base}/mail`);
    same(await page.isChecked("input[name=holds][value=own]"), true, "what was chosen stays");
    await page.check("input[name=digest][value=none]");
    await page.click("button:text-is('Keep this')");
  });
}

/** The words of each page of a PDF, read by a program that did not write it. */
function wordsOf(pdf) {
  const file = join(mkdtempSync(join(tmpdir(), "paper-")), "record.pdf");
  writeFileSync(file, pdf);
  const code = "import sys, pypdf\nfor page in pypdf.PdfReader(sys.argv[1]).pages: print(page.extract_text().replace('\\n', ' '), end='\\f')";
  if (!process.env.PYTHON) throw new Error("set PYTHON to an interpreter that has pypdf (tests/independent/requirements.txt)");
  return execFileSync(process.env.PYTHON, ["-c", code, file]).toString().split("\f").slice(0, -1);
}

async function sealOnPaper({ base, check, same, holds }, page) {
  await check("a checkpoint stays in its box, on every width and on paper, so that it can be typed back", async () => {
    for (const [media, width] of [["screen", 1280], ["screen", 390], ["print", 720]]) {
      await page.emulateMedia({ media });
      await page.setViewportSize({ width, height: 900 });
      await page.goto(`${base}/book`);
      const [seen, whole] = await page.locator("#seal-note").evaluate((box) => [box.clientWidth, box.scrollWidth]);
      same(whole, seen, `${media}, ${width}: as wide as its box`);
    }
    await page.emulateMedia({ media: "screen" });
    await page.setViewportSize({ width: 1280, height: 900 });
    const note = (await page.textContent("#seal-note")).replaceAll(/\s/g, "");
    const paper = wordsOf(await page.pdf({ format: "Letter" })).join("").replaceAll(/\s/g, "");
    holds(paper, note.slice(note.indexOf("\u2014") + 1), "the signature on paper");
  });
}

async function onPaper({ base, check, same, holds }, page) {
  await check("E17 the owner's record is signed and numbered; a very long one says which page of how many", async () => {
    await page.goto(`${base}/r/262`);
    const [one, ...none] = wordsOf(await page.pdf({ format: "Letter" }));
    same(none.length, 0, "more pages");
    for (const part of ["Technician: name, signature, date", "Owner, or who stands for the owner", "Page 1 of 1"]) holds(one, part, "on paper");
    // As if the visit had seventy more steps.
    await page.evaluate(() => { const row = document.querySelector(".sheet tbody tr"); for (let at = 0; at < 70; at += 1) row.after(row.cloneNode(true)); });
    const pages = wordsOf(await page.pdf({ format: "A4" }));
    if (pages.length < 2) throw new Error("it is still one page");
    pages.forEach((words, at) => holds(words, `Page ${at + 1} of ${pages.length}`, "numbered"));
  });
}
