// The mass field's own reader (api/assets/field/mass.mjs) against the list of texts that the book's
// reader is held to, reports/tests/data/mass-text.json, and by the same rules.
//
//     node tests/browser/field-mass.mjs [target/debug/tarebook]
//
// With the program named, both readers are also given texts made at random from the letters of the
// grammar: whatever they disagree about is shown. It closes with "N passed, N failed".
import { spawnSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { grams, kg, lb, lbOz, read, readScale, weighing } from "../../api/assets/field/mass.mjs";

const fixture = new URL("../../reports/tests/data/mass-text.json", import.meta.url);
const { cases } = JSON.parse(readFileSync(fixture, "utf8"));
let passed = 0;
const wrong = [];
const same = (found, expected, what) => {
  const written = (value) => JSON.stringify(value, (_, it) => (typeof it === "bigint" ? String(it) : it));
  const [one, other] = [written(found), written(expected)];
  if (one === other) passed += 1;
  else wrong.push(`${what}: expected ${other}, found ${one}`);
};

/** What a reading is, in the words of `tarebook mass --json`. */
function said({ mass, refused, choices = [], why = "" }) {
  const none = { outcome: refused ? "refused" : "question", g: "", choices_g: [], lb_oz: "", lb: "", kg: "", why };
  if (mass === undefined) return { ...none, choices_g: choices.map((choice) => grams(choice.mass)) };
  return { ...none, outcome: "mass", g: grams(mass), lb_oz: lbOz(mass), lb: lb(mass), kg: kg(mass) };
}

// Words of a refusal that a person needs; of others any refusal is right.
const NEEDED = ["zero", "unit_missing", "ounces_not_below_16", "ambiguous_comma"];

function agrees(entry, reading) {
  if (entry.level === "open") {
    return reading.mass === undefined || (entry.id === "M146" && grams(reading.mass) === "250") || grams(reading.mass) === entry.g;
  }
  if (entry.expect === "mass") return reading.mass !== undefined && grams(reading.mass) === entry.g;
  if (entry.expect === "question") {
    const choices = reading.choices?.map(({ mass }) => grams(mass)).join();
    return reading.question === entry.reason && (!entry.choices_g || choices === entry.choices_g.join());
  }
  const free = !NEEDED.includes(entry.reason) || entry.note?.includes("any refusal is right");
  return reading.refused !== undefined && (free || reading.refused === entry.reason);
}

if (cases.length <= 100) wrong.push("the fixture has lost its cases");
for (const entry of cases) {
  const reading = read(entry.text, entry.default_unit);
  if (agrees(entry, reading)) passed += 1;
  else wrong.push(`${entry.id} ${JSON.stringify(entry.text.slice(0, 60))}: ${JSON.stringify(said(reading))}`);
}

// The echo: 7.25 lb is 3288.5446825 g, rounded by hand (NIST SP 811, appendix B: the pound).
const echo = ({ mass }) => `${lbOz(mass)} = ${lb(mass)} = ${kg(mass)}`;
same(echo(read("7 lb 4 oz")), "7 lb 4 oz = 7.25 lb = 3.289 kg", "echo");
same(lb(read("7 lb 4.5 oz").mass), "7.28125 lb", "eighths of an ounce");
same(lbOz(read("8 lb").mass - 1n), "8 lb 0 oz", "sixteen ounces are carried");
same(kg(read("1 oz").mass), "0.02835 kg", "whole milligrams below one kilogram");
same(kg(read("0.1 mg").mass), "0.0000001 kg", "never a zero for something");
// 29 lb 4 oz less 14 lb 12 oz is 14 lb 8 oz, 232 oz of 28.349523125 g each.
same(said(weighing("29 lb 4 oz", "14 lb 12 oz", "lb+oz", true)).g, "6577.089365", "two readings");
same(weighing("14 lb 12 oz", "29 lb 4 oz", "lb", true).question, "swapped", "exchanged readings");
same(weighing("14 lb 12 oz", "29 lb 4 oz", "lb", false).mass, 657_708_936_500_000n, "into");
same(weighing("14.5", "14 lb 8 oz", "lb", false).refused, "zero", "nothing moved");
// 29.4 and 14.12: decimals (15.28 lb), or 29 lb 4 oz and 14 lb 12 oz.
const trap = said(weighing("29.4", "14.12", "lb", true));
same(trap.choices_g, ["6930.8914136", "6577.089365"], "the trap of two decimals");
same(readScale("0", "lb").mass, 0n, "a scale may show nothing");

if (process.argv[2]) beside(process.argv[2]);

/** The program and the script read the same texts, each by a run of `tarebook mass`. */
function beside(program) {
  const letters = [..."0123456789 .,/#½", " lb", " oz", "kg", "g", "and", "-", "7 lb ", "12", "é", "\u00a0"];
  let state = 20_260_714;
  const next = (below) => {
    // Any full-period generator does; this one is Numerical Recipes' (1992), 32 bits.
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return Math.floor((state / 2 ** 32) * below);
  };
  const typed = cases.map(({ text }) => text).filter((text) => !text.includes("\0"));
  const units = ["lb+oz", "lb", "kg", ""];
  for (let at = 0; at < 400; at += 1) {
    typed.push(Array.from({ length: 1 + next(8) }, () => letters[next(letters.length)]).join(""));
  }
  typed.forEach((text, at) => {
    const unit = units[at % units.length];
    const options = ["mass", "--json", ...(unit ? ["--unit", unit] : []), "--", text];
    const { stdout, stderr } = spawnSync(program, options, { encoding: "utf8" });
    const heard = stdout ? JSON.parse(stdout) : stderr;
    same(said(read(text, unit)), heard, `${unit} ${JSON.stringify(text.slice(0, 60))}`);
  });
}

for (const line of wrong.slice(0, 20)) console.log(`FAILED  ${line}`);
console.log(`\n${passed} passed, ${wrong.length} failed`);
process.exit(wrong.length === 0 ? 0 : 1);
