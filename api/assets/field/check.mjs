// The words of checking: what is missing, the one sentence before booking, what the book asks.
import { threeForms } from "./boxes.mjs";
import { choices, el, sign } from "./dom.mjs";
import { lbOz, readScale } from "./mass.mjs";
import { entries, newId, note } from "./store.mjs";

const VERBS = { charge: ["Charge", "Charged", "into", "from"], recover: ["Recover", "Recovered", "from", "into"] };

/** What is missing in the form, each `{box, text}` in plain words. */
export function problems(form, mass) {
  const wrong = [];
  if (form.elements.cylinder.value.trim() === "") {
    const box = document.querySelector("#cylinder-picks:not(:has(~ .typed))") ? "cylinder-picks" : "cylinder";
    wrong.push({ box, text: "Which cylinder? Take one, or write the tag on its label." });
  }
  // Into an empty cylinder goes what it is called here; a charge has the name of what the cylinder holds.
  if (form.dataset.kind === "recover" && form.elements.refrigerant?.value.trim() === "") wrong.push({ box: "refrigerant", text: "Which refrigerant? From the nameplate, such as R-410A. Where nobody knows, write unknown." });
  const weighed = mass.weighed();
  const at = weighed.at ?? "before";
  const reading = form.querySelector(".reading.both") ? `${at}-lb` : at;
  if (weighed.refused) wrong.push({ box: form.elements.mass.value === "" ? reading : "mass", text: weighed.why });
  if (weighed.question) wrong.push({ box: "echo", text: weighed.why });
  if (form.elements.day.value === "") wrong.push({ box: "day", text: "On which day was it?" });
  return wrong;
}

const DAY = 86_400_000;
export const localDay = () => new Date(Date.now() - new Date().getTimezoneOffset() * 60_000).toISOString().slice(0, 10);

/** The day in words: `today`, else `on Tuesday 14 July 2026`, and how long ago where that is some days. */
export function when(day) {
  const at = Date.parse(`${day}T12:00:00Z`);
  const ago = Math.round((Date.parse(`${localDay()}T12:00:00Z`) - at) / DAY);
  if (ago === 0) return "today";
  const date = new Intl.DateTimeFormat("en-GB", { weekday: "long", day: "numeric", month: "long", year: "numeric", timeZone: "UTC" }).format(at).replace(",", "");
  return `on ${date}${ago > 0 ? `, ${ago === 1 ? "yesterday" : `${ago} days ago`}` : ", still to come"}`;
}

/** One sentence naming unit and place, the weighing, and what the visit comes to. */
export async function checked(page) {
  const { form, entry } = page;
  const { tag, place, site, kind } = form.dataset;
  const refrigerant = form.elements.refrigerant?.value.trim() || form.dataset.refrigerant;
  const [does, did, there, back] = VERBS[kind];
  const where = [tag, place || site].filter(Boolean).join(", ");
  const { day } = entry.request.happened;
  if (!form.dataset.corrects) entry.request.visit ??= await visitOf(form.dataset.appliance, day);
  const full = { yes: "Back to full charge.", no: "Not back to full charge." }[form.elements.full?.value] ?? "";
  const all = form.elements.what?.value === "all" ? "All that was in it." : "";
  const why = form.elements.reason.value && `${capital(form.elements.reason.selectedOptions[0].text)}.`;
  return [
    el("p", { class: "note" }, "Not booked yet. Is this what happened?"),
    el("p", { class: "says" }, `${day < localDay() ? did : does} `, el("b", {}, entry.shown), ` ${refrigerant} ${there} `, el("b", {}, where), `, ${back} cylinder `, el("b", {}, entry.about.cylinder), `, ${when(day)}.`),
    el("div", { class: "echo" }, el("span", { class: "sum" }, sum(form)), threeForms(BigInt(entry.steps))),
    (full || all || why) && el("p", {}, [full, all, why].filter(Boolean).join(" ")),
    await quarantined(entry),
    await visitLine(entry),
  ];
}

/** Who fills a cylinder under quarantine reads of it first, as the list on this phone has it. */
async function quarantined({ about: { kind, cylinder } }) {
  if (kind !== "recover") return null;
  const kept = await (await globalThis.caches?.open("tarebook-pages"))?.match("/field/cylinders");
  const known = (await kept?.json())?.cylinders.find(({ tag }) => tag.toLowerCase() === cylinder.toLowerCase());
  if (known?.quarantine == null) return null;
  return el("p", { class: "caution" }, el("b", {}, `Cylinder ${known.tag} is under quarantine since entry no. ${known.quarantine}. `), "What goes in stays in until that finding is settled: take another cylinder if there is one.");
}

function sum({ elements: { before, after, unit }, dataset: { kind } }) {
  if (before.value === "") return "Net weight, by one reading";
  const shown = [before, after].map(({ value }) => {
    const { mass } = readScale(value, unit.value);
    return mass === undefined ? value : lbOz(mass);
  });
  const [larger, smaller] = kind === "charge" ? shown : shown.reverse();
  return `${larger} − ${smaller} =`;
}

/** Entries at one appliance on one day are one visit. */
export async function visitOf(appliance, day) {
  const last = await note(`visit ${appliance}`);
  return last?.day === day ? last.id : newId();
}

const standing = (one) => (one.request.body.replace ? { ...one, request: { ...one.request.body.replace } } : one);

export async function visitLine(entry) {
  const every = await entries();
  // What was corrected on this phone counts no more; what stands in its place does.
  const corrected = new Set(every.filter(({ state }) => state !== "withdrawn").concat(entry).map(({ request }) => request.body.corrects).filter(Boolean));
  const others = every.map(standing).filter((one) => one.request.visit === entry.request.visit && one.id !== entry.id && !["withdrawn", "asks"].includes(one.state) && !corrected.has(one.id));
  const all = [...others, entry];
  const total = (kind) => all.filter((one) => one.request.kind === kind).reduce((sum, one) => sum + BigInt(one.steps), 0n);
  const [charged, recovered] = [total("charge"), total("recover")];
  if (others.length === 0 || (charged === 0n && recovered === 0n)) return null;
  const net = charged - recovered;
  const words = [recovered > 0n && `recovered ${lbOz(recovered)}`, charged > 0n && `charged ${lbOz(charged)}`].filter(Boolean).join(", ");
  const came = net < 0n ? `net ${lbOz(-net)} out` : `net ${lbOz(net)}`;
  return el("p", { id: "visit" }, "This visit: ", words, ", ", el("b", {}, came), ".");
}

const BOXES = [
  [/^\/body\/(from|to)/, "cylinder"],
  [/^\/body\/refrigerant/, "refrigerant"],
  [/^\/body\/mass/, "mass"],
  [/^\/body\/readings\/after/, "after"],
  [/^\/body/, "before"],
  [/^\/happened\/time/, "time"],
  [/^\/happened/, "day"],
  [/^\/note/, "note"],
];

export function boxOf(pointer) {
  const box = BOXES.find(([start]) => start.test(pointer))?.[1] ?? "post";
  // Where it is known what the appliance runs on, it is the cylinder that does not fit.
  return box === "refrigerant" && !document.getElementById(box) ? "cylinder" : box;
}

/** What the book said instead of booking: questions and stops to answer, or boxes to put right. */
export function asked(problem, answers, box = boxOf) {
  const { questions = [], stops = [] } = problem;
  if (questions.length + stops.length === 0) {
    const told = problem.errors?.length ? problem.errors : [{ pointer: "", detail: problem.detail ?? problem.title }];
    return { problems: told.map(({ pointer, detail }) => ({ box: box(pointer), text: detail })) };
  }
  const part = el("div", { class: "stack" }, el("h2", {}, "Not booked yet"), stops.map(stopped), questions.map((one) => question(one, answers)));
  return { part, codes: [...stops.map(({ stop }) => stop), ...questions.map(({ code }) => code)] };
}

export const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);
const CHANGE = { value: "", text: "Something is not right.", books: "I change it; nothing is booked until then." };

const SAME_JOB = { value: "withdraw", text: "The same job.", books: "Mine is withdrawn; nothing is booked twice." };

function question({ code, text, choices: offered }, answers = {}) {
  const each = offered.map(({ choice, text: says, books }) => ({ value: choice, text: `${capital(says)}.`, books: `Books ${books}` }));
  // What looks like an entry of somebody else may be the same job.
  if (code === "look_alike" || code === "same_mass") each.push(SAME_JOB);
  return el("div", { class: "query" }, el("fieldset", { class: "stack" }, el("legend", {}, sign("asks"), " ", text), choices(`answer.${code}`, [...each, CHANGE], answers[code])));
}

function stopped({ stop, text, already_happened: may, instead = [] }) {
  const happened = { value: "already_happened", text: "It has already happened.", books: "Books it, closes the cylinder until the compliance manager has looked at it." };
  const better = instead.length > 0 && el("p", {}, `These may be used instead: ${instead.join(", ")}.`);
  const offered = [{ ...CHANGE, text: "Not done yet." }, ...(may === false ? [] : [happened])];
  return el("div", { class: "stop" }, el("h2", {}, sign("barred"), " Not booked"), el("p", {}, text), better, el("fieldset", { class: "stack" }, el("legend", {}, "What is true?"), choices(`answer.${stop}`, offered, "")));
}
