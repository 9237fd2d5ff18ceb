// From a filled-in form to the book: what is typed is a draft on this phone, checking shows it in
// words, booking keeps the entry first and sends it then. What the book asks is answered on the
// same page, where the book is heard before anything is pressed. What a form is about (weights, steps of the service record) is said by its ways:
// `problems`, `entryOf`, `checked`, `tried`, `known`, `begun`, `begin`, `shell`, `boxOf`, `kept`, `booked`.
import { asked as askedPart, localDay } from "./check.mjs";
import { asksFirst } from "./ask.mjs";
import { el } from "./dom.mjs";
import { send, withdraw } from "./send.mjs";
import { dropNote, entry, keep, newId, note, setNote } from "./store.mjs";

/** Takes a form over. `person`: who may post here. */
export async function drive(form, person, ways) {
  const { kind, appliance, cylinder, scale, corrects } = form.dataset;
  const draftKey = `draft ${person} ${kind} ${corrects ?? appliance ?? cylinder ?? scale}`;
  const own = await toCorrect(form, person);
  const draft = own ? own.fields : (await note(draftKey))?.fields;
  const made = Date.parse(document.documentElement.dataset.made);
  // A page that was kept may be of yesterday; the day of the phone is nearer.
  if (!draft && !corrects && form.elements.day && Math.abs(Date.now() - made) > 600_000) form.elements.day.value = localDay();
  if (draft) fill(form, draft);
  const page = { form, person, id: own?.id ?? newId(), draftKey, own, ways, shell: ways.shell ?? form };
  page.more = await ways.begin?.(form);
  if (draft && !own) notFinished(form, draftKey);
  const save = () => ways.begun(form) && setNote(draftKey, { fields: fieldsOf(form), at: new Date().toISOString(), about: { ...aboutOf(form), path: pathOf(form) } });
  for (const what of own ? [] : ["input", "change"]) form.addEventListener(what, save);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    check(page);
  });
  addEventListener("popstate", () => toForm(page));
  form.addEventListener("focusin", () => navigator.wakeLock?.request("screen").catch(() => {}), { once: true });
  if (own?.problem) answer(page, own);
  return draft;
}

/** An entry that needs its person, named behind the # of the address. */
async function toCorrect(form, person) {
  const named = location.hash.slice(1);
  const one = named ? await entry(named) : null;
  return one?.person === person && one.state === "asks" && one.about.kind === form.dataset.kind ? one : null;
}

export const fieldsOf = (form) => Object.fromEntries([...new FormData(form)].filter(([name]) => !["form", "entry_id", "kind"].includes(name)));

function fill(form, fields) {
  for (const [name, value] of Object.entries(fields)) {
    if (form.elements[name] && !["form", "entry_id", "kind"].includes(name)) form.elements[name].value = value;
  }
  for (const folded of form.querySelectorAll("details")) {
    folded.open ||= [...folded.querySelectorAll("input, textarea")].some((box) => box.value !== "");
  }
}

export const aboutOf = ({ dataset: { kind, tag, place, site, refrigerant, owner, done, unit } }) => ({ kind, tag, place, site, refrigerant, owner, done, unit });

/** Where the form is found again; one that stands for many says which it is. */
export const pathOf = ({ dataset }) => dataset.path ?? location.pathname;

/** What an entry of this phone has beside its request. */
export const kept = ({ form, person, id, own }, request, rest) => ({
  ...(own ? { order: own.order } : {}),
  id,
  person,
  state: "waiting",
  written: own?.written ?? new Date().toISOString(),
  request: { entry_id: id, ...request },
  fields: fieldsOf(form),
  about: { ...aboutOf(form), path: pathOf(form) },
  steps: "0",
  shown: "it",
  ...rest,
});

function notFinished(form, key) {
  const begin = el("button", { type: "button", class: "btn second", onclick: async () => { await dropNote(key); location.reload(); } }, "Begin anew");
  form.insertAdjacentElement("beforebegin", el("div", { class: "query", role: "status" }, el("p", {}, el("b", {}, "Not finished."), " This is what you wrote before; nothing of it is booked."), begin));
}

/** The first press: what is missing, or one sentence to check. */
function check(page) {
  const { form, ways } = page;
  const wrong = ways.problems(page);
  if (wrong.length > 0) return summary(form, wrong);
  clearSummary();
  page.entry = ways.entryOf(page);
  return toCheck(page);
}

async function toCheck(page) {
  document.title = document.title.replace(/^(Error: |Check: )*/, "Check: ");
  history.pushState({ check: true }, "");
  const part = await page.ways.checked(page);
  page.asks = null;
  const press = el("button", { class: "btn", type: "button", onclick: () => book(page) }, page.entry.press ?? `Book ${page.entry.shown}`);
  showInstead(page, part, [
    press,
    el("button", { class: "btn second", type: "button", onclick: () => history.back() }, "Change"),
  ]);
  // A kept page may name a script that this phone has not loaded; the check stands without it.
  page.trying = trying(page).catch(() => {});
  await page.trying;
  // Nothing is booked before it is answered, and the press says so.
  if (page.asks) press.textContent = "Go on";
}

/** What the book says to it before it is booked, and where it is not heard, what this phone knows. */
async function trying(page) {
  const { tried, known } = page.ways;
  if (tried) return tried(page);
  const heard = navigator.onLine && (await asksFirst(page));
  if (!heard && known) await phoneAsks(page);
  return heard;
}

/** What this phone can say where the book cannot be asked. */
export async function phoneAsks(page) {
  const { stops, questions, unknown } = await page.ways.known(page);
  const texts = [...stops, ...questions].map(({ text }) => text).join(" ");
  if (texts) page.asks = { stops, questions };
  const says = [texts && el("p", { class: "caution" }, el("b", {}, "This phone will ask before it books this: "), texts), unknown && el("p", { class: "caution" }, unknown)];
  document.querySelector("#instead")?.append(...says.filter(Boolean));
}

/** What the book was heard to ask; without signal, or with one too weak to hear it, what the phone knows. */
async function askedHere(page) {
  const late = new Promise((done) => setTimeout(done, 2_000));
  const heard = navigator.onLine && (!page.trying || (await Promise.race([page.trying, late])));
  const told = heard ? page.asks : await page.ways.known?.(page).catch(() => null);
  if (!told) return false;
  if (told.refused) {
    answer(page, { ...page.entry, problem: told.refused });
    return true;
  }
  const { answers } = page.entry.request;
  const open = (all, word) => all.filter((one) => !answers[one[word]]);
  const [stops, questions] = [open(told.stops, "stop"), open(told.questions, "code")];
  if (stops.length + questions.length === 0) return false;
  answer(page, { ...page.entry, problem: { stops, questions } });
  return true;
}

/** Shows a part in the place of the form, with its actions at the bottom. */
function showInstead({ shell }, part, actions) {
  document.querySelector("#instead")?.remove();
  shell.hidden = true;
  for (const beside of document.querySelectorAll("main > .caution, main > .query, main > .errors")) beside.hidden = true;
  shell.insertAdjacentElement("afterend", el("div", { id: "instead", class: "stack", tabindex: "-1" }, part));
  const foot = document.querySelector(".foot");
  foot.hidden = false;
  foot.querySelectorAll(".instead").forEach((one) => one.remove());
  for (const one of foot.children) one.hidden = true;
  for (const action of actions) action.classList.add("instead");
  foot.append(...actions);
  document.querySelector("#instead").focus();
  scrollTo(0, 0);
}

function toForm({ shell }) {
  document.title = document.title.replace(/^(Error: |Check: |Not booked yet: )*/, "");
  document.querySelector("#instead")?.remove();
  document.querySelectorAll(".foot .instead").forEach((one) => one.remove());
  const foot = document.querySelector(".foot");
  for (const one of [shell, ...document.querySelectorAll("main > .caution, main > .query"), ...foot.children]) one.hidden = false;
  foot.hidden = foot.children.length === 0;
}

/** The second press: kept first, sent then. */
async function book(page) {
  if (page.busy) return;
  page.busy = true;
  if (await askedHere(page)) {
    page.busy = false;
    return;
  }
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
  if (now.state === "posted") location.assign(page.ways.booked?.() ?? `/entries/${page.id}?posted=now`);
  else if (now.state === "asks") answer(page, now);
  else location.assign("/field/outbox");
}

/** What is remembered once an entry is kept: the draft is done, the visit goes on. */
async function after({ form, draftKey, entry: { request }, ways }) {
  await dropNote(draftKey);
  if (request.visit) await setNote(`visit ${form.dataset.appliance}`, { id: request.visit, day: form.elements.day.value });
  await ways.kept?.(form);
  navigator.storage?.persist?.().catch(() => {});
}

function say(text) {
  const line = document.querySelector("#said") ?? el("p", { id: "said", role: "status", class: "standing" });
  line.textContent = text;
  document.querySelector("#instead").prepend(line);
}

/** Shows what the book asks or refuses; answers go into the same entry. */
function answer(page, one) {
  const wrong = askedPart(one.problem, one.request.answers, page.ways.boxOf);
  page.entry = one;
  // It is on this phone already, or not yet: what is put right keeps its place in the order.
  page.own = one.order ? one : page.own;
  if (!wrong.part) {
    toForm(page);
    return summary(page.form, wrong.problems.map((it) => page.ways.named?.(it) ?? it));
  }
  document.title = document.title.replace(/^(Error: |Check: |Not booked yet: )*/, "Not booked yet: ");
  const goOn = () => {
    const given = Object.fromEntries([...wrong.part.querySelectorAll("input:checked")].map((it) => [it.name.replace("answer.", ""), it.value]));
    if (Object.values(given).includes("withdraw")) return sameJob(page);
    const open = wrong.codes.some((code) => !given[code]);
    if (open) return history.state?.check ? history.back() : toForm(page);
    page.entry = { ...one, request: { ...one.request, answers: { ...one.request.answers, ...given } } };
    return book(page);
  };
  if (!history.state?.check) history.pushState({ check: true }, "");
  showInstead(page, wrong.part, [
    el("button", { class: "btn", type: "button", onclick: goOn }, "Go on"),
    el("a", { class: "btn second", href: "/field/outbox" }, "Later"),
  ]);
}

/** Somebody else booked it already; one that was asked about before it was kept stays readable, too. */
async function sameJob(page) {
  const reason = "the same job as an entry that is booked";
  if (page.own) await withdraw(page.id, reason);
  else await keep({ ...page.entry, state: "withdrawn", problem: null, withdrawn: { reason, at: new Date().toISOString() } });
  await dropNote(page.draftKey);
  location.assign("/field/outbox");
}

function clearSummary() {
  document.querySelectorAll("main .errors, .err.local").forEach((one) => one.remove());
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
    // Over both boxes of a reading, so that neither is pulled out of shape.
    (at?.closest(".reading") ?? at)?.before(el("p", { class: "err local" }, el("span", {}, text)));
  }
  document.title = `Error: ${document.title.replace(/^(Error: |Check: )*/, "")}`;
  top.focus();
}
