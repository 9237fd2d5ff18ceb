// Posting with script: what is typed is a draft on this phone, checking shows one sentence, booking
// keeps the entry first and sends it then. What the book asks is answered on the same page.
import { boxes, threeForms } from "./boxes.mjs";
import { checked, asked as askedPart, problems } from "./check.mjs";
import { choices, el } from "./dom.mjs";
import { send } from "./send.mjs";
import { dropNote, entry, keep, newId, note, setNote } from "./store.mjs";

const localDay = () => new Date(Date.now() - new Date().getTimezoneOffset() * 60_000).toISOString().slice(0, 10);

/** Takes the form over. `person`: who may post here. */
export async function posting(form, person) {
  const draftKey = `draft ${person} ${form.dataset.kind} ${form.dataset.appliance}`;
  const own = await toCorrect(person);
  const draft = own ? own.fields : (await note(draftKey))?.fields;
  const made = Date.parse(document.documentElement.dataset.made);
  // A page that was kept may be of yesterday; the day of the phone is nearer.
  if (!draft && Math.abs(Date.now() - made) > 600_000) form.elements.day.value = localDay();
  if (draft) fill(form, draft);
  await pickCylinder(form);
  const mass = boxes(form);
  if (draft && !own) notFinished(form, draftKey);
  const begun = () => ["cylinder", "before", "after", "mass"].some((name) => form.elements[name].value !== "");
  const save = () => begun() && setNote(draftKey, { fields: fieldsOf(form), at: new Date().toISOString(), about: aboutOf(form) });
  if (!own) form.addEventListener("input", save);
  if (!own) form.addEventListener("change", save);
  const id = own?.id ?? newId();
  const page = { form, person, mass, id, draftKey, own };
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    check(page);
  });
  addEventListener("popstate", () => toForm(form));
  form.addEventListener("focusin", () => navigator.wakeLock?.request("screen").catch(() => {}), { once: true });
  if (own?.problem) answer(page, own);
}

/** An entry that needs its person, named behind the # of the address. */
async function toCorrect(person) {
  const named = location.hash.slice(1);
  const one = named ? await entry(named) : null;
  return one?.person === person && one.state === "asks" ? one : null;
}

const fieldsOf = (form) => Object.fromEntries([...new FormData(form)].filter(([name]) => !["form", "entry_id"].includes(name)));

function fill(form, fields) {
  for (const [name, value] of Object.entries(fields)) {
    if (form.elements[name] && name !== "form" && name !== "entry_id") form.elements[name].value = value;
  }
  for (const folded of form.querySelectorAll("details")) {
    folded.open ||= [...folded.querySelectorAll("input, textarea")].some((box) => box.value !== "");
  }
}

const aboutOf = ({ dataset: { kind, tag, place, site, refrigerant } }) => ({ kind, tag, place, site, refrigerant });

function notFinished(form, key) {
  const begin = el("button", { type: "button", class: "btn second", onclick: async () => { await dropNote(key); location.reload(); } }, "Begin anew");
  form.insertAdjacentElement("beforebegin", el("div", { class: "query", role: "status" }, el("p", {}, el("b", {}, "Not finished."), " This is what you wrote before; nothing of it is booked."), begin));
}

/** Cylinders to press instead of a tag to type; the one that was used last stands first. */
async function pickCylinder(form) {
  const box = form.elements.cylinder;
  const offered = [...form.querySelectorAll("#cylinders option")].map(({ value, text }) => ({ value, text: value, books: text }));
  if (offered.length === 0) return;
  const last = await note(`cylinder ${form.dataset.kind} ${form.dataset.refrigerant}`);
  offered.sort((one, other) => (other.value === last) - (one.value === last));
  const shown = offered.slice(0, 6);
  const typed = box.value !== "" && !shown.some(({ value }) => value === box.value);
  const other = { value: "", text: "Another, by its tag" };
  const picks = choices("pick", [...shown, other], typed ? "" : box.value || null);
  const group = box.closest(".field-group");
  const label = group.querySelector("label");
  const question = label.textContent;
  label.textContent = "Its tag, as on the label";
  group.classList.add("picked");
  const set = () => {
    const taken = picks.querySelector(":checked");
    group.classList.toggle("typed", taken?.value === "");
    if (taken?.value) box.value = taken.value;
    else if (taken && shown.some(({ value }) => value === box.value)) box.value = "";
  };
  picks.addEventListener("change", (event) => { set(); event.stopPropagation(); box.dispatchEvent(new Event("input", { bubbles: true })); });
  // The choice writes into the box, so it has no name of its own in the form.
  for (const radio of picks.querySelectorAll("input")) radio.setAttribute("form", "none");
  group.before(el("fieldset", { class: "stack", id: "cylinder-picks" }, el("legend", {}, question), picks));
  box.required = false;
  box.removeAttribute("list");
  set();
}

/** The first press: what is missing, or one sentence to check. */
function check(page) {
  const { form, mass } = page;
  const wrong = problems(form, mass);
  if (wrong.length > 0) return summary(form, wrong);
  clearSummary();
  page.entry = entryOf(page);
  return toCheck(page);
}

async function toCheck(page) {
  document.title = document.title.replace(/^(Error: |Check: )*/, "Check: ");
  history.pushState({ check: true }, "");
  const part = await checked(page);
  showInstead(page.form, part, [
    el("button", { class: "btn", type: "button", onclick: () => book(page) }, `Book ${page.entry.shown}`),
    el("button", { class: "btn second", type: "button", onclick: () => history.back() }, "Change"),
  ]);
}

/** Shows a part in the place of the form, with its actions at the bottom. */
function showInstead(form, part, actions) {
  document.querySelector("#instead")?.remove();
  form.hidden = true;
  for (const beside of document.querySelectorAll("main > .caution, main > .query, main > .errors")) beside.hidden = true;
  form.insertAdjacentElement("afterend", el("div", { id: "instead", class: "stack", tabindex: "-1" }, part));
  const foot = document.querySelector(".foot");
  foot.querySelectorAll(".instead").forEach((one) => one.remove());
  for (const one of foot.children) one.hidden = true;
  for (const action of actions) action.classList.add("instead");
  foot.append(...actions);
  document.querySelector("#instead").focus();
  scrollTo(0, 0);
}

function toForm(form) {
  document.title = document.title.replace(/^(Error: |Check: |Not booked yet: )*/, "");
  document.querySelector("#instead")?.remove();
  document.querySelectorAll(".foot .instead").forEach((one) => one.remove());
  for (const one of [form, ...document.querySelectorAll("main > .caution, main > .query"), ...document.querySelector(".foot").children]) one.hidden = false;
}

/** The second press: kept first, sent then. */
async function book(page) {
  if (page.busy) return;
  page.busy = true;
  try {
    page.entry = await keep({ ...page.entry, state: "waiting", problem: null });
  } catch {
    page.busy = false;
    return say("This phone keeps nothing: its storage is full or closed. Make room, or write the weights down. Nothing is booked.");
  }
  await after(page);
  say("Kept on this phone. Sending…");
  await send(page.person, page.id);
  page.busy = false;
  const now = await entry(page.id);
  if (now.state === "posted") location.assign(`/entries/${page.id}?posted=now`);
  else if (now.state === "asks") answer(page, now);
  else location.assign("/field/outbox");
}

/** What is remembered once an entry is kept: the draft is done, the visit goes on. */
async function after({ form, draftKey, entry: kept }) {
  await dropNote(draftKey);
  await setNote(`visit ${form.dataset.appliance}`, { id: kept.request.visit, day: form.elements.day.value });
  await setNote(`cylinder ${form.dataset.kind} ${form.dataset.refrigerant}`, form.elements.cylinder.value.trim());
  navigator.storage?.persist?.().catch(() => {});
}

function say(text) {
  const line = document.querySelector("#said") ?? el("p", { id: "said", role: "status", class: "standing" });
  line.textContent = text;
  document.querySelector("#instead").prepend(line);
}

/** Shows what the book asks or refuses; answers go into the same entry. */
function answer(page, one) {
  const wrong = askedPart(one.problem, one.request.answers);
  page.entry = one;
  if (!wrong.part) {
    toForm(page.form);
    return summary(page.form, wrong.problems);
  }
  document.title = document.title.replace(/^(Error: |Check: |Not booked yet: )*/, "Not booked yet: ");
  const goOn = () => {
    const given = Object.fromEntries([...wrong.part.querySelectorAll("input:checked")].map((it) => [it.name.replace("answer.", ""), it.value]));
    const open = wrong.codes.some((code) => !given[code]);
    if (open) return history.state?.check ? history.back() : toForm(page.form);
    page.entry = { ...one, request: { ...one.request, answers: { ...one.request.answers, ...given } } };
    return book(page);
  };
  if (!history.state?.check) history.pushState({ check: true }, "");
  showInstead(page.form, wrong.part, [
    el("button", { class: "btn", type: "button", onclick: goOn }, "Go on"),
    el("a", { class: "btn second", href: "/field/outbox" }, "Later"),
  ]);
}

function clearSummary() {
  document.querySelectorAll("main > .errors, .err.local").forEach((one) => one.remove());
  document.querySelectorAll("[aria-invalid]").forEach((one) => one.removeAttribute("aria-invalid"));
}

function summary(form, wrong) {
  clearSummary();
  const links = wrong.map(({ box, text }) => el("li", {}, el("a", { href: `#${box}` }, text)));
  const top = el("div", { class: "errors", role: "alert", tabindex: "-1", "aria-labelledby": "problem" }, el("h2", { id: "problem" }, "There is a problem"), el("ul", {}, links));
  form.insertAdjacentElement("beforebegin", top);
  for (const { box, text } of wrong) {
    const at = document.getElementById(box);
    at?.setAttribute("aria-invalid", "true");
    at?.before(el("p", { class: "err local" }, text));
  }
  document.title = `Error: ${document.title.replace(/^(Error: |Check: )*/, "")}`;
  top.focus();
}

/** The entry of the form: the request for the book, and what this phone shows of it. */
function entryOf({ form, person, mass, id, own }) {
  const value = (name) => form.elements[name]?.value.trim() ?? "";
  const given = (names) => Object.fromEntries(names.map((name) => [name, value(name)]).filter(([, text]) => text !== ""));
  const charging = form.dataset.kind === "charge";
  const [appliance, cylinder] = [`appliance:${form.dataset.appliance}`, `cylinder:${value("cylinder")}`];
  const body = charging ? { from: cylinder, to: appliance } : { from: appliance, to: cylinder };
  if (value("before") !== "" || value("after") !== "") {
    body.readings = { before: value("before"), after: value("after"), ...given(["unit", "scale"]) };
  } else body.mass = { text: value("mass"), unit: value("unit") };
  Object.assign(body, given(charging ? ["reason"] : ["reason", "class"]));
  if (charging && value("full") !== "") body.returned_to_full_charge = value("full") === "yes";
  const answers = Object.fromEntries([...form.querySelectorAll("#echo input:checked")].map((it) => [it.name.replace("answer.", ""), it.value]));
  const request = { entry_id: id, kind: form.dataset.kind, happened: given(["day", "time"]), ...given(["visit", "note"]), answers, body };
  const weighed = mass.weighed();
  return {
    ...(own ? { order: own.order } : {}),
    id,
    person,
    state: "waiting",
    written: own?.written ?? new Date().toISOString(),
    request,
    fields: fieldsOf(form),
    about: { ...aboutOf(form), cylinder: value("cylinder"), path: location.pathname },
    steps: String(weighed.mass),
    shown: threeForms(weighed.mass).querySelector("b").textContent,
  };
}
