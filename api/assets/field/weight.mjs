// A known weight on a scale goes the way of a posting: kept on this phone first, sent then.
import { capital, when } from "./check.mjs";
import { el } from "./dom.mjs";
import { drive, fieldsOf, kept } from "./flow.mjs";
import { kg, lbOz, read } from "./mass.mjs";

/** A scale that is wrong is wrong by less than this part of the weight (`register/values.rs`). */
const FAR_OFF = 5n;
const NAMES = { nominal: "The known weight", shown: "What the scale shows" };

/** Takes the form over. `person`: who put the weight on. */
export function weights(form, person) {
  form.noValidate = true;
  document.querySelector(".foot .btn").textContent = "Check";
  return drive(form, person, {
    problems: () => problems(form),
    entryOf,
    checked,
    known: async ({ entry }) => ({ stops: [], questions: far(entry), unknown: "" }),
    begun: ({ elements: { nominal, shown } }) => nominal.value + shown.value !== "",
    boxOf: (pointer) => (pointer.startsWith("/happened") ? "day" : pointer.endsWith("/shown") ? "shown" : "nominal"),
    // What it showed stands on the page of the scale.
    booked: () => location.pathname,
  });
}

const both = (form) => Object.fromEntries(Object.keys(NAMES).map((name) => [name, form.elements[name].value.trim()]));

function problems(form) {
  const wrong = [];
  for (const [name, text] of Object.entries(both(form))) {
    const mass = text === "" ? { why: "with its unit, such as 10 lb or 5 kg." } : read(text);
    if (mass.mass === undefined) wrong.push({ box: name, text: `${NAMES[name]}: ${mass.why}` });
  }
  return form.elements.day.value === "" ? [...wrong, { box: "day", text: "On which day was it?" }] : wrong;
}

function entryOf(page) {
  const said = both(page.form);
  const { day } = fieldsOf(page.form);
  const body = { subject: page.form.dataset.scale, facts: { check_weight: said } };
  return kept(page, { kind: "scale", happened: { day }, answers: {}, body }, { press: "Book the check" });
}

const massesOf = ({ request }) => Object.values(request.body.facts.check_weight).map((text) => read(text).mass);
const size = (mass) => (mass < 0n ? -mass : mass);

function far(entry) {
  const [nominal, shown] = massesOf(entry);
  if (size(shown - nominal) * FAR_OFF <= nominal) return [];
  const said = (mass) => `${lbOz(mass)} (${kg(mass)})`;
  const text = `Is that the reading? ${said(shown)} for a weight of ${said(nominal)}: a scale that is wrong is wrong by less. Look at the unit and at what else stands on it.`;
  return [{ code: "check_weight_far", text, choices: [{ choice: "as_stated", text: "it is so", books: "the reading as stated; the scale is off by it" }] }];
}

function checked({ form, entry }) {
  const [nominal, shown] = massesOf(entry);
  const off = shown - nominal;
  const says = off === 0n ? "right" : `${lbOz(size(off)).replace(/^0 lb /, "")} too ${off > 0n ? "much" : "little"}`;
  return [
    el("p", { class: "note" }, "Not booked yet. Is this what it showed?"),
    el("p", { class: "says" }, `${capital(lbOz(nominal))} on scale `, el("b", {}, form.dataset.tag), ` shown as ${lbOz(shown)}: `, el("b", {}, says), `, ${when(entry.request.happened.day)}.`),
  ];
}
