// The outbox as a page: what needs its person, what waits, what is not finished, what was posted.
import { clock } from "./age.mjs";
import { el, sign } from "./dom.mjs";
import { lbOz, readScale } from "./mass.mjs";
import { placesOf, withdraw } from "./send.mjs";
import { pathTo } from "./unbooked.mjs";
import { dropNote, entries, notesOf } from "./store.mjs";

const DONE = { charge: ["Charged", "into", "from"], recover: ["Recovered", "from", "into"] };
/** Draws the page; `why` is why the last sending ended. */
export async function drawKept(place, person, why, sendNow) {
  const all = await entries();
  const own = all.filter((one) => one.person === person);
  const of = (...states) => own.filter(({ state }) => states.includes(state));
  const [asks, waiting, posted, gone] = [of("asks"), of("waiting", "sending"), of("posted").reverse(), of("withdrawn").reverse()];
  // What the book refused holds up later entries about the same appliance or cylinder.
  const held = new Set(asks.flatMap(placesOf));
  const behind = (one) => placesOf(one).some((place) => held.has(place));
  const drafts = await notesOf(`draft ${person} `);
  const others = all.filter((one) => one.person !== person && !["posted", "withdrawn"].includes(one.state)).length;
  place.replaceChildren(
    ...part("Needs you", asks.map((one) => needing(one, own))),
    ...part("Waiting", waiting.map((one) => line(one, behind(one) ? "Waits behind what needs you" : waits(one, why), null, atNew(one)))),
    ...(waiting.length + asks.length > 0 ? actions([...asks, ...waiting], sendNow) : []),
    ...part("Not finished", drafts.map(unfinished)),
    ...part("Posted from this phone", posted.slice(0, 50).map((one) => line(one, `Posted, no. ${one.receipt.seq}, ${clock(one.receipt.booked_at)}`, `/entries/${one.id}`))),
    ...part("Withdrawn", gone.slice(0, 20).map((one) => line(one, `Withdrawn: ${one.withdrawn.reason}`))),
    ...(own.length + drafts.length === 0 ? [el("div", { class: "empty" }, el("p", {}, "Nothing waits on this phone."), el("p", {}, "What you post without signal is kept here until it is booked."))] : []),
    ...(others > 0 ? [el("p", { class: "note" }, `${others === 1 ? "One entry" : `${others} entries`} of another person ${others === 1 ? "waits" : "wait"} on this phone, and will be sent when that person signs in.`)] : []),
    el("p", { class: "note" }, await keeping()),
  );
}

const part = (name, lines) => (lines.length === 0 ? [] : [el("h2", {}, name), el("ul", { class: "lines" }, lines)]);

const WAITS = { signal: "Waiting for signal", "sign-in": "Waiting for you to sign in", other: "Waiting for you to sign in", later: "Waiting for the book" };
const waits = (one, why) => (one.state === "sending" ? "Sending…" : `${WAITS[why] ?? "Waiting"}, written ${clock(one.written)}`);

function words({ about, shown }) {
  if (about.done) return [el("span", { class: "what" }, el("span", {}, about.done)), el("span", { class: "place" }, about.tag)];
  const [done, there, back] = DONE[about.kind];
  return [
    el("span", { class: "what" }, el("span", {}, `${done} ${shown ?? ""}`), el("span", {}, about.refrigerant)),
    el("span", { class: "place" }, `${there} ${about.tag}${about.cylinder ? ` ${back} ${about.cylinder}` : ""}`),
  ];
}

function line(one, says, href, beside) {
  const inside = [...words(one), el("br"), el("span", { class: "note" }, says)];
  return el("li", {}, href ? el("a", { href }, inside) : el("div", {}, inside), beside);
}

/** What can be done at an appliance that waits here to be registered; it goes after the registration. */
function atNew({ request: { kind, body } }) {
  if (kind !== "appliance") return null;
  const way = (deed, words) => el("a", { class: "btn second", href: pathTo(body.subject, deed) }, words);
  return el("p", { class: "twin" }, way("charge", "Charge it"), way("recover", "Recover from it"));
}

/** What waits for an appliance that the book was never told of. */
const restsOn = ({ id, request: { kind, body } }, all) => (kind !== "appliance" ? [] : all.filter((one) => one.id !== id && one.about.unit === body.subject && !["posted", "withdrawn"].includes(one.state)));

function needing(one, all) {
  const told = one.problem ?? {};
  const says = [...(told.stops ?? []), ...(told.questions ?? [])].map(({ text }) => text).join(" ") || told.detail || told.title;
  const box = el("input", { class: "full", type: "text", autocomplete: "off", id: `why-${one.id}` });
  const resting = restsOn(one, all);
  const giveUp = el("button", { class: "btn second", type: "button", onclick: async () => {
    if (box.value.trim() === "") return box.focus();
    // What is about it could never be booked: it goes with it, and stays readable.
    for (const { id } of resting) await withdraw(id, box.value.trim());
    return withdraw(one.id, box.value.trim());
  } }, "Withdraw it");
  const withIt = resting.length > 0 && el("p", { class: "caution" }, `${resting.length === 1 ? "One entry" : `${resting.length} entries`} about ${one.about.tag} ${resting.length === 1 ? "waits" : "wait"} for it and would be withdrawn with it.`);
  return el("li", {}, el("div", { class: "stack" }, words(one), el("p", { class: "err" }, sign("asks"), el("span", {}, `Needs you: ${says}`)),
    el("a", { class: "btn full", href: `${one.about.path}#${one.id}` }, "Put it right"),
    el("details", {}, el("summary", {}, "It was not so"), el("div", { class: "field-group" }, el("label", { htmlFor: box.id }, "Why is it withdrawn?"), box), withIt, giveUp)));
}

const DOES = { charge: "Charge", recover: "Recover" };

/** What stands in a form that was left: which reading it is, as the scale showed it. */
function typed({ before = "", after = "", mass = "", unit }) {
  const shown = (text) => {
    const read = readScale(text, unit);
    if (unit === "lb+oz" && read.mass !== undefined) return lbOz(read.mass);
    return /[a-z#]/i.test(text) ? text : `${text} ${unit}`;
  };
  if (before === "" && after === "") return mass === "" ? "no weight yet" : `net ${shown(mass)}`;
  return [["before", before], ["after", after]].map(([name, text]) => `${name} ${text === "" ? "not read yet" : shown(text)}`).join(", ");
}

function unfinished([key, { about, at, fields }]) {
  const done = DOES[about.kind] ?? about.done;
  const path = about.path ?? `/appliances/${encodeURIComponent(about.tag)}/${about.done ? "service" : about.kind}`;
  const href = about.done && /\/(service|check)$/.test(path) ? `${path}#${about.kind}` : path;
  const drop = el("button", { class: "btn second", type: "button", onclick: async () => { await dropNote(key); location.reload(); } }, "Throw away");
  const words = [el("span", { class: "what" }, el("span", {}, about.tag), el("span", {}, about.refrigerant)), el("span", { class: "place" }, `${done}: ${about.done ? "not finished" : typed(fields)}, begun ${clock(at)}`)];
  return el("li", {}, el("a", { href }, words), drop);
}

function actions(kept, sendNow) {
  const file = el("button", { class: "btn second full", type: "button", onclick: () => save(kept) }, "Save waiting entries to a file");
  return [el("p", { class: "acts" }, el("button", { class: "btn full", type: "button", onclick: sendNow }, "Send now"), file)];
}

/** The last resort: the entries as the book's interface takes them, for the office to load. */
function save(kept) {
  const list = { atomic: false, entries: kept.map(({ person, request }) => ({ did: person, ...request, captured_offline: true })) };
  const href = URL.createObjectURL(new Blob([JSON.stringify(list, null, 1)], { type: "application/json" }));
  el("a", { href, download: `tarebook-waiting-${new Date().toISOString().slice(0, 10)}.json` }).click();
  setTimeout(() => URL.revokeObjectURL(href), 60_000);
}

async function keeping() {
  const promised = await navigator.storage?.persisted?.().catch(() => false);
  if (promised) return "This browser has promised to keep what waits here.";
  return "This browser may clear what waits here when its space runs short. Before days without signal, save the waiting entries to a file.";
}
