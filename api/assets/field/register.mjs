// Registering an appliance on site: kept on this phone first, as weights are, and sent before
// everything that is posted about it. Its id is made here, so that entries can name it at once.
import { el } from "./dom.mjs";
import { drive, fieldsOf, kept } from "./flow.mjs";
import { read } from "./mass.mjs";
import { newId } from "./store.mjs";

/** Takes the form over. `person`: who registers. */
export const registering = async (form, person) => {
  const list = await (await globalThis.caches?.open("tarebook-pages"))?.match("/field/cylinders");
  const { units = [] } = (await list?.json()) ?? {};
  form.noValidate = true;
  document.querySelector(".foot .btn").textContent = "Check";
  return drive(form, person, {
    problems: () => problems(form, units),
    entryOf,
    checked,
    begun: () => Object.values(facts(form)).length > 0,
    boxOf: (pointer) => pointer.split("/")[3] ?? "tag",
  });
};

const facts = (form) => Object.fromEntries(Object.entries(fieldsOf(form)).map(([name, text]) => [name, text.trim()]).filter(([, text]) => text !== ""));

/** `units`: the tags that the book has, as far as this phone knows. */
function problems(form, units) {
  const { tag, full_charge: full } = facts(form);
  const wrong = tag ? [] : [{ box: "tag", text: "Which tag? As it will stand on its label." }];
  if (units.includes(tag)) wrong.push({ box: "tag", text: `${tag} is in the book already. Open it once where there is signal, then it is kept.` });
  const mass = full ? read(full, "lb") : {};
  return mass.why ? [...wrong, { box: "full_charge", text: mass.why }] : wrong;
}

function entryOf(page) {
  const { form, own } = page;
  const { full_charge: full, ...said } = facts(form);
  const all = { ...said, ...(full ? { full_charge: { mass: { text: full, unit: "lb" } } } : {}) };
  const subject = own?.request.body.subject ?? newId();
  const made = kept(page, { kind: "appliance", answers: {}, body: { subject, facts: all } }, { press: "Register it" });
  const site = said.site ? form.elements.site.selectedOptions[0].text : "";
  made.about = { ...made.about, tag: said.tag, refrigerant: said.refrigerant ?? "", place: said.place ?? "", site };
  return made;
}

function checked({ form }) {
  const words = ([name]) => {
    const box = form.elements[name];
    return [el("dt", {}, box.labels[0].textContent), el("dd", {}, box.selectedOptions?.[0].text ?? box.value)];
  };
  return [el("p", { class: "note" }, "Not registered yet. Is this what the nameplate says?"), el("dl", { class: "facts" }, Object.entries(facts(form)).flatMap(words))];
}
