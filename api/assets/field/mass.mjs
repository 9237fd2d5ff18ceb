// The mass field: what people type, read exactly as the book reads it (reports/src/mass.rs).
//
// A mass is a BigInt of steps of 10^-11 g. A text that can mean one thing is `{mass}`, one that can
// mean two a `{question, choices, why}`, all else `{refused, why}` with the words the person needs.
// Both readers are held to the same list of texts; the book reads again whatever this one says.

const GRAM = 100_000_000_000n;
const POUND = 45_359_237_000_000n;
const OUNCE = POUND / 16n;
const LARGEST = 2n ** 63n - 1n;
const STEPS = { "lb+oz": POUND, lb: POUND, oz: OUNCE, kg: 1000n * GRAM, g: GRAM, mg: GRAM / 1000n, ug: GRAM / 1_000_000n };
const VULGAR = { "½": [1n, 2n], "¼": [1n, 4n], "¾": [3n, 4n], "⅛": [1n, 8n], "⅜": [3n, 8n], "⅝": [5n, 8n], "⅞": [7n, 8n], "⅓": [1n, 3n], "⅔": [2n, 3n] };
const WORDS = [
  ["lb", /^(#|lbs?|pounds?)$/i],
  ["oz", /^(oz|ounces?)$/i],
  ["kg", /^(kgs?|kilos?|kilogram(me)?s?)$/i],
  ["g", /^(g|gram(me)?s?)$/i],
  // In lower case alone: Mg is a megagram.
  ["mg", /^(mg|milligrams?)$/],
  ["ug", /^([uµμ]g|micrograms?)$/],
];
const BLANKS = /^[ \t\u00a0\u2007\u2009\u202f]+/;
const EDGES = /^\p{White_Space}+|\p{White_Space}+$/gu;

const digits = (text) => /^[0-9]*/.exec(text)[0];
const afterBlanks = (text) => text.replace(BLANKS, "");

/** Reads a mass; `unit` is what the field is set to (`lb+oz`, `lb`, `kg`, ... or nothing). */
export function read(text, unit, answer) {
  const reading = readScale(text, unit, answer);
  return reading.mass === 0n ? refused("zero", text) : reading;
}

/** Reads what a scale shows: as `read`, but a scale set to zero may show zero. */
export function readScale(text, unit, answer) {
  const trimmed = text.replace(EDGES, "");
  try {
    return weigh(trimmed, parse(trimmed), unit, answer);
  } catch (reason) {
    if (typeof reason !== "string") throw reason;
    return refused(reason, trimmed);
  }
}

/** Takes a text apart: one number with or without its unit, pounds and ounces, or two bare numbers. */
function parse(text) {
  if (text === "") throw "empty";
  let [first, rest] = amount(text);
  rest = afterBlanks(rest);
  if (rest === "") return { first };
  if (/^[0-9.]/.test(rest)) {
    const [second, after] = amount(rest);
    if (after !== "") throw "not_a_mass";
    return { first, second };
  }
  let unit;
  [unit, rest] = unitWord(rest);
  if (rest === "") return { first, unit };
  // 7 lb.4 oz: four ounces, or four tenths of one.
  if (rest.startsWith(".")) throw "not_a_mass";
  const [second, after] = amount(afterJoint(rest));
  const [secondUnit, end] = unitWord(afterBlanks(after));
  const comma = second.separator === "," && second.whole === "";
  if (unit !== "lb" || secondUnit !== "oz" || end !== "" || comma) throw "not_a_mass";
  return { first, second, named: true };
}

/** A number at the start of a text (`7`, `7.25`, `4 1/2`, `½`), and what follows. */
function amount(text) {
  const whole = digits(text);
  const rest = text.slice(whole.length);
  const plain = { whole, separator: "", part: "", fraction: null };
  if (/^[.,]/.test(rest)) return decimal(plain, rest);
  if (rest.startsWith("/")) return slash({ ...plain, whole: "" }, text);
  if (rest === "" || /^[ \t\u0080-\u{10ffff}]/u.test(rest)) {
    const next = afterBlanks(rest);
    if (next[0] in VULGAR) return [{ ...plain, fraction: VULGAR[next[0]] }, next.slice(1)];
    if (whole !== "" && /^[0-9]+\//.test(next)) return slash(plain, next);
  }
  if (whole === "") throw "not_a_mass";
  return [plain, rest];
}

function decimal(plain, text) {
  const part = digits(text.slice(1));
  const rest = text.slice(1 + part.length);
  if (part === "" || /^[.,/]/.test(rest)) throw "not_a_mass";
  // A lone 0 before the comma cannot be thousands; any other digits can.
  const thousands = text[0] === "," && part.length === 3 && !["", "0"].includes(plain.whole);
  if (thousands) throw "ambiguous_comma";
  return [{ ...plain, separator: text[0], part }, rest];
}

/** A proper fraction. `7/4` is refused: it may be a slip for 7 lb 4 oz. */
function slash(plain, text) {
  const found = /^([0-9]{1,4})\/([0-9]{1,4})(?![0-9])/.exec(text);
  if (!found) throw "not_a_mass";
  const fraction = [BigInt(found[1]), BigInt(found[2])];
  const rest = text.slice(found[0].length);
  if (fraction[0] === 0n || fraction[0] >= fraction[1] || /^[.,/]/.test(rest)) throw "not_a_mass";
  return [{ ...plain, fraction }, rest];
}

/** A unit word, with the full stop of an abbreviation where no number follows it directly. */
function unitWord(text) {
  const word = text.startsWith("#") ? "#" : /^[A-Za-zµμ]*/.exec(text)[0];
  const known = WORDS.find(([, pattern]) => pattern.test(word));
  if (!known) throw "not_a_mass";
  const rest = text.slice(word.length);
  return [known[0], /^\.(?![0-9])/.test(rest) ? rest.slice(1) : rest];
}

/** What may stand between pounds and ounces: a comma right after the pounds, blanks, `and`. */
function afterJoint(text) {
  const next = afterBlanks(text.replace(/^,/, ""));
  const and = next.startsWith("and") ? next.slice(3) : next;
  return and !== next && BLANKS.test(and) ? afterBlanks(and) : next;
}

/** Puts the unit of the field to what was typed. */
function weigh(text, typed, unit, answer) {
  const { first, second, named } = typed;
  const both = unit === "lb+oz";
  if (second) {
    if (named || both) return poundsAndOunces(text, first, second, answer);
    throw unit ? "not_a_mass" : "unit_missing";
  }
  // 7 1/4 could be 7¼ lb or 7 lb ¼ oz, and 1/2 could be a slip for 1 lb 2 oz.
  if (!typed.unit && both && first.fraction) throw "not_a_mass";
  const own = typed.unit ?? unit;
  if (!own) throw "unit_missing";
  return oneUnit(text, first, own, answer);
}

function poundsAndOunces(text, pounds, ounces, answer) {
  if (pounds.separator || pounds.fraction) throw "not_a_mass";
  const whole = wholeNumber(ounces);
  if (whole === null || whole >= 16n) throw "ounces_not_below_16";
  const value = times(ounces, OUNCE);
  return settle(text, { ...value, below: times(pounds, POUND).below + value.below }, answer);
}

function oneUnit(text, one, unit, answer) {
  const countsPounds = STEPS[unit] === POUND && one.separator !== "";
  if (countsPounds && answer === "as_pounds_and_ounces") return decimalsAsOunces(text, one);
  if (countsPounds && mayBeOunces(one.part, unit) && answer !== "as_pounds") return askPounds(text, one);
  return settle(text, times(one, STEPS[unit]), answer);
}

/** Two decimals from 10 to 15 are the trap; set to pounds and ounces, every decimal that could be is. */
function mayBeOunces(part, unit) {
  const ounces = part.length <= 2 ? Number(part) : 99;
  return unit === "lb+oz" ? ounces >= 1 && ounces < 16 : part.length === 2 && ounces >= 10 && ounces < 16;
}

function decimalsAsOunces(text, one) {
  if (one.part.length > 2) throw "ounces_not_below_16";
  const plain = { separator: "", part: "", fraction: null };
  return poundsAndOunces(text, { ...plain, whole: one.whole }, { ...plain, whole: one.part });
}

function askPounds(text, one) {
  const pounds = settle(text, times(one, POUND));
  const both = decimalsAsOunces(text, one);
  if (pounds.mass === undefined) return pounds;
  if (both.mass === undefined) return both;
  const whole = one.whole || "0";
  const ounces = one.part.replace(/^0+/, "");
  return {
    question: "pounds_or_ounces",
    choices: [
      { answer: "as_pounds", mass: pounds.mass },
      { answer: "as_pounds_and_ounces", mass: both.mass },
    ],
    why: `${whole}.${one.part} lb (${lbOz(pounds.mass, 1)}) or ${whole} lb ${ounces} oz?`,
  };
}

/** The digits before the point; null where there are more than anyone weighs. */
function wholeNumber(one) {
  const significant = one.whole.replace(/^0+/, "");
  return significant.length > 20 ? null : BigInt(significant || 0);
}

/** The value in steps: whole steps below, and whether something is left over. */
function times(one, unit) {
  const whole = wholeNumber(one);
  if (whole === null) throw "too_large";
  let [over, under] = one.fraction ?? [BigInt(one.part || 0), 10n ** BigInt(one.part.length)];
  over *= unit;
  const rest = over % under;
  return { below: whole * unit + over / under, exact: rest === 0n, upperHalf: 2n * rest >= under };
}

/** Whole steps are a mass; anything between two steps is asked about. */
function settle(text, { below, exact, upperHalf }, answer) {
  // One step is left free above, so that the step above exists.
  if (below >= LARGEST) throw "too_large";
  const above = below + 1n;
  if (exact || answer === "step_below") return { mass: below };
  if (answer === "step_above") return { mass: above };
  if (answer === "nearest_step") return { mass: upperHalf ? above : below };
  const choices = [{ answer: "step_below", mass: below }, { answer: "step_above", mass: above }];
  if (below === 0n) choices.shift();
  const either = choices.map(({ mass }) => `${grams(mass)} g`).join(" or ");
  return { question: "finer_than_a_step", choices, why: `${quoted(text)} is finer than any scale shows: take ${either}?` };
}

const ANSWERS = { pounds_or_ounces: ["as_pounds", "as_pounds_and_ounces"], finer_than_a_step: ["step_below", "step_above"] };

/** The mass that two readings say. `leaving`: out of the cylinder on the scale, which became lighter. */
export function weighing(before, after, unit, leaving, answer) {
  const readings = [readScale(before, unit, answer), readScale(after, unit, answer)];
  const wrong = readings.findIndex((reading) => reading.refused);
  if (wrong >= 0) return { ...readings[wrong], at: ["before", "after"][wrong] };
  const asked = readings.find((reading) => reading.question);
  if (asked) {
    const answered = ANSWERS[asked.question].map((choice) => ({
      answer: choice,
      mass: weighing(before, after, unit, leaving, choice).mass,
    }));
    return { ...asked, choices: answered.filter(({ mass }) => mass !== undefined) };
  }
  const [first, second] = readings.map((reading) => reading.mass);
  const mass = leaving ? first - second : second - first;
  const [from, to] = [before.replace(EDGES, ""), after.replace(EDGES, "")];
  if (mass === 0n) return refused("zero", `${from} to ${to}`);
  if (mass > 0n) return { mass };
  return {
    question: "swapped",
    choices: [{ answer: "exchange", mass: -mass }],
    why:
      `The cylinder should have become ${leaving ? "lighter" : "heavier"}, but it went from ${from} to ${to}. ` +
      "Are the two readings exchanged?",
  };
}

/** A text as a sentence can quote it: short, and without characters that cannot be seen. */
function quoted(text) {
  const letters = [...text];
  const short = letters.slice(0, 40).map((letter) => (/\p{Cc}/u.test(letter) ? "?" : letter));
  return short.join("") + (letters.length > 40 ? "…" : "");
}

function refused(reason, typed) {
  const text = quoted(typed.replace(EDGES, ""));
  const sentences = {
    empty: "Write the mass, for example 7 lb 4 oz or 3.29 kg.",
    zero: `${text} is nothing. Was nothing added? Then there is nothing to book.`,
    unit_missing: `Say the unit of ${text}: lb, oz, kg or g.`,
    ounces_not_below_16: `In ${text} the ounces must be below 16: 16 oz are a pound.`,
    ambiguous_comma: commas(text),
    too_large: `${text} is more than one appliance or cylinder can be booked with (92 t). Book its circuits.`,
    not_a_mass: `${text} is not a mass. Write for example 7 lb 4 oz, 7.25 lb, 116 oz or 3.29 kg.`,
  };
  return { refused: reason, why: sentences[reason] };
}

function commas(text) {
  const at = text.indexOf(",");
  if (at < 0) return `The comma in ${text} can be read in two ways. Write a point.`;
  const after = digits(text.slice(at + 1));
  const decimals = after.replace(/0+$/, "");
  const short = text.slice(0, at) + (decimals && ".") + decimals;
  const long = text.slice(0, at) + after;
  return `Is this ${short} or ${long}? Write ${short} or ${long}.`;
}

/** `whole.part` of a count of `10^-places`, without trailing zeros. */
function decimalText(count, places) {
  const text = String(count).padStart(places + 1, "0");
  const part = text.slice(text.length - places).replace(/0+$/, "");
  return text.slice(0, text.length - places) + (part && `.${part}`);
}

/** `mass / size` with so many decimals, half away from zero, for a mass that is not negative. */
const rounded = (mass, size, places) => (2n * mass * 10n ** BigInt(places) + size) / (2n * size);

/** Exact grams, as an entry keeps them. */
export const grams = (mass) => decimalText(mass, 11);

/** `7 lb 4 oz`; ounces with at most four decimals. */
export function lbOz(mass, places = 4) {
  const scale = 16n * 10n ** BigInt(places);
  const ounces = rounded(mass, OUNCE, places);
  return `${ounces / scale} lb ${decimalText(ounces % scale, places)} oz`;
}

/** `7.25 lb`. */
export const lb = (mass) => `${decimalText(rounded(mass, POUND, 6), 6)} lb`;

/** `3.289 kg`: whole grams, below one kilogram whole milligrams, below that exactly. */
export function kg(mass) {
  const places = mass < 1000n * GRAM ? 6 : 3;
  const text = decimalText(rounded(mass, 1000n * GRAM, places), places);
  return `${text === "0" && mass > 0n ? decimalText(mass, 14) : text} kg`;
}
