// The weights of the posting form: what the scale shows is remembered on this phone, pounds and
// ounces have a box each, and what was typed is echoed in three forms before anything is booked.
//
// The boxes of the form stay as they are and hold the whole text; where two boxes stand for one,
// they write into it. So the form can be sent with or without this script.
import { choices, el, sign } from "./dom.mjs";
import { kg, lb, lbOz, read, readScale, weighing } from "./mass.mjs";

const REMEMBERED = "tarebook.unit";

/** Remembering is a kindness: a browser that keeps nothing is asked again each time. */
const storage = {
  get: () => {
    try { return localStorage.getItem(REMEMBERED); } catch { return null; }
  },
  set: (unit) => {
    try { localStorage.setItem(REMEMBERED, unit); } catch { /* Nothing is kept here. */ }
  },
};

/** Puts the boxes into the form; `weighed()` says what they say. */
export function boxes(form) {
  const leaving = form.dataset.kind === "charge";
  const unit = () => form.elements.unit.value;
  const boxOf = (name) => form.querySelector(`#${name}`);
  const readings = ["before", "after"].map((name) => reading(boxOf(name)));
  const text = (name) => boxOf(name).value.trim();
  const answered = () => form.querySelector('#echo input[type="radio"]:checked')?.value || undefined;

  function weighed(answer = answered()) {
    const [before, after, net] = ["before", "after", "mass"].map(text);
    if (net !== "" && before === "" && after === "") return read(net, unit(), answer);
    return weighing(before, after, unit(), leaving, answer);
  }

  function setUnit() {
    const both = unit() === "lb+oz";
    form.querySelector(".readings").classList.toggle("both", both);
    for (const one of readings) one.set(unit());
  }

  form.querySelector("#reading-hint").textContent = "The cylinder on the scale, before and after.";
  const echo = form.querySelector("#echo");
  const show = (saysWhy) => {
    const typed = ["before", "after", "mass"].map(text);
    echo.replaceChildren(...echoed(typed, unit(), leaving, weighed(), weighed(null), saysWhy));
    echo.hidden = echo.childNodes.length === 0;
  };
  const empty = () => ["before", "after", "mass"].every((name) => text(name) === "");
  if (empty() && storage.get()) {
    const kept = [...form.elements.unit].find((choice) => choice.value === storage.get());
    if (kept) kept.checked = true;
  }
  form.addEventListener("change", (event) => {
    if (event.target.name === "unit") {
      storage.set(unit());
      setUnit();
    }
    show(true);
  });
  form.addEventListener("input", (event) => event.target.type !== "radio" && show(false));
  setUnit();
  show(true);
  return { weighed, unit, refresh: () => { setUnit(); show(true); } };
}

/** A reading that can be one box or a box of pounds beside a box of ounces. */
function reading(box) {
  const whole = box.parentElement;
  const label = whole.querySelector("label");
  const name = label.textContent;
  const halves = ["lb", "oz"].map((part) => {
    const inputMode = part === "lb" ? "numeric" : "decimal";
    const half = el("input", { id: `${box.id}-${part}`, type: "text", inputMode, autocomplete: "off", spellcheck: false });
    whole.append(el("div", { class: "half" }, el("label", { htmlFor: half.id }, `${name}, ${part}`), half));
    return half;
  });
  for (const part of [label, box]) part.classList.add("one");
  const [pounds, ounces] = halves;
  const join = () => {
    const [big, small] = halves.map((half) => half.value.trim());
    const named = /[a-z#]/i;
    if (small === "") box.value = big;
    else if (big === "") box.value = named.test(small) ? small : `${small} oz`;
    else box.value = named.test(big + small) ? `${big} ${small}` : `${big} lb ${small} oz`;
  };
  for (const half of halves) half.addEventListener("input", join);
  return {
    set(unit) {
      const both = unit === "lb+oz";
      whole.classList.toggle("both", both);
      label.textContent = both ? name : `${name}, ${unit}`;
      box.inputMode = "decimal";
      if (!both) return;
      const apart = /^(\d+)\s*lb\s*([\d.,/ ½¼¾⅛⅜⅝⅞]+)\s*oz$/.exec(box.value.trim());
      [pounds.value, ounces.value] = apart ? apart.slice(1) : [box.value, ""];
    },
  };
}

/** What stands under the boxes: the sum, the mass in three forms, a question or a refusal. */
function echoed([before, after, net], unit, leaving, weighed, unanswered, saysWhy) {
  const one = net !== "" && before === "" && after === "";
  const typed = [before, after].filter((text) => text !== "");
  if (!one && typed.length === 0) return [];
  if (!one && typed.length === 1) return single(typed[0], unit, saysWhy);
  const shown = (text) => {
    const { mass } = readScale(text, unit);
    return mass === undefined ? text : lbOz(mass);
  };
  const parts = [];
  if (unanswered.question) parts.push(question(unanswered, weighed));
  if (weighed.refused && saysWhy) parts.push(el("span", { class: "why" }, sign("barred"), " ", weighed.why));
  if (weighed.mass !== undefined) {
    const [larger, smaller] = leaving ? [before, after] : [after, before];
    if (!one && !unanswered.question) parts.push(el("span", { class: "sum" }, `${shown(larger)} − ${shown(smaller)} =`), " ");
    parts.push(threeForms(weighed.mass));
  }
  return parts;
}

function single(text, unit, saysWhy) {
  const alone = readScale(text, unit);
  if (alone.mass !== undefined) return [el("span", { class: "sum" }, `${lbOz(alone.mass)} = ${lb(alone.mass)} = ${kg(alone.mass)}`)];
  return saysWhy ? [el("span", { class: "why" }, sign("asks"), " ", alone.why)] : [];
}

/** The one mass of the page, large, with its other two forms beneath. */
export function threeForms(mass) {
  return el("span", { class: "mass big" }, el("b", {}, lbOz(mass)), " ", el("small", {}, `${lb(mass)} = ${kg(mass)}`));
}

const MEANS = {
  as_pounds: "Decimal pounds.",
  as_pounds_and_ounces: "Pounds and ounces.",
  step_below: "The step below.",
  step_above: "The step above.",
  exchange: "Yes, before and after stand in each other's place.",
};

function question({ question: code, choices: offered, why }, weighed) {
  const taken = offered.find(({ mass }) => mass === weighed.mass)?.answer;
  const each = offered.map(({ answer, mass }) => ({
    value: answer,
    text: MEANS[answer],
    books: `Books ${lbOz(mass)}`,
  }));
  return el(
    "div",
    { class: "query" },
    el("fieldset", { class: "stack" }, el("legend", {}, sign("asks"), " ", why), choices(`answer.${code}`, each, taken)),
  );
}
