// The form of a charge or a recovery for an appliance that was registered on this phone and that the
// book does not know yet: one kept page stands for all of them, and the registration says what is known.
// What is posted here waits behind it (`send.mjs`), so that the book hears of the appliance first.
import { capital } from "./check.mjs";
import { el } from "./dom.mjs";
import { cut, steps } from "./known.mjs";
import { grams, kg, lbOz, read } from "./mass.mjs";
import { entries } from "./store.mjs";

const DAY = 10;
const none = ({ holds }) => holds.every(([, mass]) => Number(mass) === 0);
const UNFIT = ["suspect", "unknown", "burn_out", "mixed"];

/** Where entries about a registration that waits here are written. */
export const pathTo = (id, deed) => `/field/new/${deed}?unit=${encodeURIComponent(id)}`;

/** Fills the form for the registration that its address or the entry behind the # names; false: none. */
export async function standsFor(form, person) {
  const all = (await entries()).filter((one) => one.person === person);
  const asked = all.find(({ id }) => id === location.hash.slice(1));
  const id = asked?.about.unit ?? new URLSearchParams(location.search).get("unit");
  const made = all.find(({ state, request: { kind, body } }) => kind === "appliance" && body.subject === id && state !== "withdrawn");
  if (!made) return notHere();
  // The book has it: its own form knows more.
  if (made.state === "posted" && navigator.onLine && !asked) {
    location.replace(`/appliances/${encodeURIComponent(id)}/${form.dataset.kind}`);
    return false;
  }
  const { facts } = made.request.body;
  const { tag, place = "", site = "", refrigerant = "" } = made.about;
  const full = facts.full_charge && read(facts.full_charge.mass.text, facts.full_charge.mass.unit).mass;
  Object.assign(form.dataset, { appliance: id, unit: id, tag, place, site, path: pathTo(id, form.dataset.kind), full: full ? grams(full) : "" });
  if (refrigerant) Object.assign(form.dataset, { refrigerant });
  for (const one of document.querySelectorAll("main .unit")) one.textContent = [tag, place || site].filter(Boolean).join(", ");
  if (refrigerant) {
    document.querySelector("h1 .tag").textContent = refrigerant;
    form.querySelector("#refrigerant").closest(".field-group").remove();
  }
  document.querySelector("#about").textContent = full ? `Full charge ${lbOz(full)} = ${kg(full)}, as registered.` : "Full charge not known: read the nameplate.";
  document.title = document.title.replace("an appliance not yet in the book", tag);
  const named = await offer(form, refrigerant);
  form.dataset.runs = named;
  return true;
}

function notHere() {
  document.querySelector("main").replaceChildren(
    el("h1", {}, "Not on this phone"),
    el("p", {}, "This form is for an appliance that was registered on this phone and is not in the book yet. Find the appliance by its tag."),
    el("p", {}, el("a", { class: "linkrow", href: "/field" }, "Today")),
    el("p", {}, el("a", { class: "linkrow", href: "/field/outbox" }, "Outbox")),
  );
  document.querySelector(".foot")?.remove();
  return false;
}

/** How a designation is compared: typed on a roof, R-410A is r410a. */
const plain = (name) => name.toUpperCase().replace(/[^A-Z0-9]/g, "");

/**
 * Cylinders of the kept list that fit, those in the hand of who posts first. Gives the refrigerant as
 * the list names it; "": it does not know it, and the book judges alone.
 */
async function offer(form, typed) {
  const kept = await (await caches.open("tarebook-pages")).match("/field/cylinders");
  const { cylinders = [], name } = (await kept?.json()) ?? {};
  const refrigerant = cylinders.flatMap(({ holds }) => holds).find(([one]) => plain(one) === plain(typed))?.[0] ?? typed;
  const today = new Date().toISOString().slice(0, DAY);
  const one = ({ holds }) => (holds.length === 1 && !String(holds[0][1]).startsWith("-") ? holds[0][0] : "");
  const open = ({ quarantine, condition }) => quarantine == null && !["condemned", "retired"].includes(condition);
  const fits = form.dataset.kind === "charge"
    ? (it) => !none(it) && one(it) !== "" && (!refrigerant || one(it) === refrigerant) && !UNFIT.includes(it.class) && (it.owners ?? []).length === 0
    : (it) => it.use === "recovery" && !(it.retest_on < today) && (none(it) || (refrigerant !== "" && one(it) === refrigerant && !it.owners?.length));
  const says = (it) => (none(it) ? "empty by the book" : `${one(it)}, ${cut(steps(it.holds[0][1]))}`);
  const offered = cylinders.filter((it) => open(it) && fits(it)).sort((a, b) => (b.held_by === name) - (a.held_by === name));
  const option = (it) => el("option", { value: it.tag }, capital(says(it)) + (it.held_by === name ? ", with you" : ""));
  form.querySelector("#cylinders").replaceChildren(...offered.slice(0, 12).map(option));
  return cylinders.some((it) => one(it) === refrigerant) ? refrigerant : "";
}
