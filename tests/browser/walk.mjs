// Drives the pages of a served book in Chromium. run.sh starts everything; see there.
//
// Kinds of checks: a walk through the job without script (deeds.mjs, findings.mjs, cylinders.mjs, shipments.mjs), the
// pages of the office (office.mjs), what every page must hold on a telephone, a desk, in the dark, with large text and
// on paper (looks.mjs), pictures (pictures.mjs), what must be refused
// (refusals.mjs), and the technician's pages with their script (field.mjs, field-service.mjs). It closes with "N passed, N failed".
import { readFileSync } from "node:fs";
import { chromium } from "playwright-core";
import { cylinders } from "./cylinders.mjs";
import { deeds } from "./deeds.mjs";
import { field } from "./field.mjs";
import { kept } from "./field-kept.mjs";
import { findings } from "./findings.mjs";
import { looks } from "./looks.mjs";
import { office } from "./office.mjs";
import { pictures } from "./pictures.mjs";
import { refusals } from "./refusals.mjs";
import { rules } from "./rules.mjs";
import { service } from "./field-service.mjs";
import { shipments } from "./shipments.mjs";

const base = process.env.BASE;
// What the demo printed: a line `role e-mail password` for each person.
const lines = readFileSync(process.env.SIGN_INS, "utf8").split("\n");
const passwords = new Map(lines.map((line) => line.split(" ").slice(1)));

let passed = 0;
let failed = 0;

/** Runs one check; what it throws is its failure. */
async function check(name, body) {
  try {
    await body();
    passed += 1;
    console.log(`ok      ${name}`);
  } catch (error) {
    failed += 1;
    console.log(`FAILED  ${name}\n        ${String(error?.message ?? error).split("\n").join("\n        ")}`);
  }
}

/** Throws unless both are the same. */
function same(found, expected, what) {
  if (found !== expected) throw new Error(`${what}: expected ${expected}, found ${found}`);
}

/** Throws unless the text holds what is expected. */
function holds(text, expected, what) {
  if (!text.includes(expected)) {
    throw new Error(`${what}: expected "${expected}" in "${text.slice(0, 400).replaceAll("\n", " ")}"`);
  }
}

const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM,
  // A container's root has no sandbox; nothing but our own pages on this machine is opened.
  args: ["--no-sandbox"],
});

const complaints = [];

/** A page in a fresh browser; whatever it complains about is kept. */
async function open(options = {}) {
  const context = await browser.newContext({ javaScriptEnabled: false, ...options });
  const page = await context.newPage();
  page.setDefaultTimeout(20_000);
  // A page that was left may still be fetching its icon; the empty page it became is none of ours.
  page.on("console", (message) => page.url() === "about:blank" || complaints.push(`${page.url()}: ${message.text()}`));
  page.on("pageerror", (error) => complaints.push(`${page.url()}: ${error.message}`));
  page.on("dialog", (dialog) => {
    complaints.push(`${page.url()}: a dialog: ${dialog.message()}`);
    dialog.dismiss();
  });
  return page;
}

/** Signs somebody in and stands at the page asked for. */
async function signIn(page, email, path = "/today") {
  await page.goto(`${base}/sign-in?next=${encodeURIComponent(path)}`);
  await page.fill("#email", email);
  await page.fill("#password", passwords.get(email));
  await page.click("button");
}

const tools = { base, passwords, check, same, holds, open, signIn, complaints };
const parts = {
  pictures, deeds, findings, cylinders, kept, shipments, rules, refusals, office, looks, field, service,
};
for (const name of process.env.PARTS?.split(",") ?? Object.keys(parts)) await parts[name](tools);
await check("no page complained: console and policy reports are empty", async () => {
  // A status that is not 2xx is told on the console by the browser; it is what was asked for.
  // So is what was asked for without signal, or broken off on purpose.
  const told = /Failed to load resource: (the server responded with a status of [45]\d\d|net::ERR_)/;
  const others = complaints.filter((line) => !told.test(line));
  same(others.join("\n"), "", "complaints");
});
await browser.close();
console.log(`\n${passed} passed, ${failed} failed`);
process.exit(failed === 0 && passed > 0 ? 0 : 1);
