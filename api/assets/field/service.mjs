// Steps of the service record: each form of the page goes the way of a posting, without a weight.
import { asksFirst } from "./ask.mjs";
import { capital, visitLine, visitOf, when } from "./check.mjs";
import { el } from "./dom.mjs";
import { drive, fieldsOf, kept, phoneAsks } from "./flow.mjs";

const AROUND = ["day", "time", "visit", "note"];
const TESTS = { pressure_test: "pressure-test", vacuum_test: "vacuum-test" };
const VERDICTS = {
  loss_beyond_uncertainty: "Failed: loss beyond uncertainty.",
  no_loss_beyond_uncertainty: "Passed: no loss beyond uncertainty.",
  gain_beyond_uncertainty_test_invalid: "Invalid: more pressure than the gas can have. Read all again.",
  not_decided: "Not decided yet.",
  pass: "Passed.",
  fail: "Failed.",
};

/** Takes the forms over; the one that was begun, or is named behind the #, is unfolded. */
export async function steps(forms, person) {
  for (const form of forms) {
    standsFor(form);
    const step = form.closest("details");
    form.noValidate = true;
    form.querySelector("button").textContent = "Check";
    const ways = {
      problems: () => problems(form),
      entryOf,
      checked,
      tried: TESTS[form.dataset.kind] && tried,
      named: ({ box, text }) => ({ box, text: document.getElementById(box) ? `${labelOf(document.getElementById(box))}: ${text}` : text }),
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

/** One kept page stands for every cylinder: the address says which. */
function standsFor({ dataset }) {
  const tag = decodeURIComponent(location.pathname.split("/").at(-2));
  if (dataset.cylinder === undefined || document.documentElement.dataset.kept === undefined || dataset.cylinder === tag) return;
  dataset.cylinder = dataset.tag = tag;
  document.querySelector("main .place").textContent = tag;
  document.querySelector("main > p .linkrow").replaceWith(el("a", { class: "linkrow", href: `/field/cylinders/${encodeURIComponent(tag)}` }, el("span", {}, `Back to ${tag}`)));
}

const labelOf = (box) => (box.labels?.[0] && box.type !== "radio" ? box.labels[0] : box.closest("fieldset").querySelector("legend")).textContent.replace(/ \((optional|needed).*/, "");

function problems(form) {
  const given = fieldsOf(form);
  const names = new Set([...form.elements].filter(({ required }) => required).map(({ name }) => name));
  const wrong = (name, text) => ({ box: `${form.dataset.kind}-${name}`, text: `${labelOf([...form.elements].find((box) => box.name === name)).replace("?", "")}: ${text}` });
  const missing = [...names].filter((name) => !given[name]).map((name) => wrong(name, "say it."));
  const unitless = ["altitude", "barometer", "volume"].filter((name) => given[name] && form.elements[`${name}_unit`] && !given[`${name}_unit`]);
  missing.push(...unitless.map((name) => wrong(`${name}_unit`, "choose the unit.")));
  // A vented gauge reads against the air of the place; an absolute one does not.
  if (given.gauge === "vented" && !given.altitude && !given.barometer && !["[psi]", "kPa", "bar"].includes(given.pressure_unit)) missing.push(wrong("altitude", "say it, or what a barometer shows there."));
  return missing;
}

/** What a test shows, before it is booked; without signal, what this phone knows. */
async function tried(page) {
  const { kind, body: { appliance, stage, all_leaks, place, work_done, parts, document: paper, ...said } } = page.entry.request;
  const at = el("div", { role: "status" });
  document.querySelector("#instead").append(at);
  try {
    const answer = await fetch(`/api/v1/physics/${TESTS[kind]}?${new URLSearchParams(said)}`, { signal: AbortSignal.timeout(8_000) });
    const told = await answer.json();
    const open = told.open?.map(({ expected, came, to_do }) => el("li", {}, capital(`${expected}: ${came}. ${to_do}`)));
    at.append(el("p", {}, el("b", {}, VERDICTS[told.verdict] ?? told.detail)), ...(open?.length ? [el("ul", {}, open)] : []));
    return asksFirst(page);
  } catch {
    await phoneAsks(page);
    return false;
  }
}

function entryOf(page) {
  const { form, id } = page;
  const given = Object.entries(fieldsOf(form)).map(([name, text]) => [name, text.trim()]).filter(([, text]) => text !== "");
  const { day, time, visit, note, ...said } = Object.fromEntries(given);
  const { appliance, cylinder } = form.dataset;
  const body = { ...(cylinder ? { cylinder } : { appliance }), ...Object.fromEntries(Object.entries(said).filter(([name]) => !/^(answer\..*|why|instead)$/.test(name))) };
  // A leak has the name of the entry that told of it.
  if (form.dataset.kind === "leak_found") body.leak = id;
  return kept(page, { kind: form.dataset.kind, happened: { day, time }, visit, note, answers: {}, body });
}

async function checked({ form, entry }) {
  const { tag, place, site, title, appliance } = form.dataset;
  const { happened: { day }, body } = entry.request;
  if (!form.dataset.corrects && appliance) entry.request.visit ??= await visitOf(appliance, day);
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
    appliance && (await visitLine(entry)),
  ];
}
