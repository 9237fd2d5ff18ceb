// Steps of the service record: each form of the page goes the way of a posting, without a weight.
import { capital, visitLine, visitOf, when } from "./check.mjs";
import { el } from "./dom.mjs";
import { drive, fieldsOf, kept } from "./flow.mjs";

const AROUND = ["day", "time", "visit", "note"];

/** Takes the forms over; the one that was begun, or is named behind the #, is unfolded. */
export async function steps(forms, person) {
  for (const form of forms) {
    const step = form.closest("details");
    form.noValidate = true;
    form.querySelector("button").textContent = "Check";
    const ways = {
      problems: () => problems(form),
      entryOf,
      checked,
      known: async (page) => (await import("./known.mjs")).known(page),
      begun: () => Object.entries(fieldsOf(form)).some(([name, text]) => name !== "day" && text !== ""),
      shell: document.querySelector("#steps"),
      boxOf: (pointer) => `${form.dataset.kind}-${pointer.split("/").pop()}`,
    };
    const draft = await drive(form, person, form.dataset.corrects ? (await import("./correct.mjs")).correcting(form, ways) : ways);
    step.open ||= Boolean(draft) || location.hash === `#${step.id}`;
    step.addEventListener("toggle", () => step.open && step.scrollIntoView({ block: "nearest" }));
  }
}

const labelOf = (box) => (box.type === "radio" ? box.closest("fieldset").querySelector("legend") : box.labels[0]).textContent;

function problems(form) {
  const given = fieldsOf(form);
  const names = new Set([...form.elements].filter(({ required }) => required).map(({ name }) => name));
  return [...names].filter((name) => !given[name]).map((name) => ({ box: `${form.dataset.kind}-${name}`, text: `${labelOf([...form.elements].find((box) => box.name === name)).replace("?", "")}: say it.` }));
}

function entryOf(page) {
  const { form, id } = page;
  const given = Object.entries(fieldsOf(form)).map(([name, text]) => [name, text.trim()]).filter(([, text]) => text !== "");
  const { day, time, visit, note, ...said } = Object.fromEntries(given);
  const body = { appliance: form.dataset.appliance, ...Object.fromEntries(Object.entries(said).filter(([name]) => !/^(answer\..*|why|instead)$/.test(name))) };
  // A leak has the name of the entry that told of it.
  if (form.dataset.kind === "leak_found") body.leak = id;
  return kept(page, { kind: form.dataset.kind, happened: { day, time }, visit, note, answers: {}, body });
}

async function checked({ form, entry }) {
  const { tag, place, site, title, appliance } = form.dataset;
  const { happened: { day }, body } = entry.request;
  if (!form.dataset.corrects) entry.request.visit ??= await visitOf(appliance, day);
  const said = Object.keys(body).filter((name) => form.elements[name] && !AROUND.includes(name));
  const words = (name) => {
    const box = [...form.elements].find((one) => one.name === name && (one.type !== "radio" || one.checked));
    return [el("dt", {}, labelOf(box)), el("dd", {}, (box.type === "radio" ? box.parentElement : box.selectedOptions?.[0])?.textContent ?? box.value)];
  };
  return [
    el("p", { class: "note" }, "Not booked yet. Is this what happened?"),
    el("p", { class: "says" }, el("b", {}, title), " at ", el("b", {}, [tag, place || site].filter(Boolean).join(", ")), `, ${when(day)}.`),
    said.length > 0 && el("dl", { class: "facts" }, said.flatMap(words)),
    entry.request.note && el("p", {}, capital(entry.request.note)),
    await visitLine(entry),
  ];
}
