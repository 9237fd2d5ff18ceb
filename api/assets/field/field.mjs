// What every field page starts with: the outbox line, sending whatever waits, keeping pages for the
// machine room. Then what the page itself needs.
import { age, asOf } from "./age.mjs";
import { el, sign } from "./dom.mjs";
import { send } from "./send.mjs";
import { clear, entries, note, notesOf, onChange, ready, setNote } from "./store.mjs";

const { person } = document.documentElement.dataset;
const [CYLINDERS, CAGE] = ["/field/cylinders", "/field/cage"];
const opened = Date.now();
const strip = document.querySelector("#outbox");
const form = document.querySelector("#post, #correct");
let why = "";
let gap = 60_000;
let timer;

const unfinished = (count) => (count === 1 ? "1 form not finished" : `${count} forms not finished`);
const counted = (count) => (count === 1 ? "1 entry" : `${count} entries`);
const HEAD = { "sign-in": "Waiting for you to sign in", other: "Waiting for you to sign in" };

let drawing = Promise.resolve();
let queued = null;
/** Shows how things stand, once for all changes that come together, the newest last. */
function show() {
  queued ??= drawing.then(() => {
    queued = null;
    return draw();
  });
  drawing = queued.catch(() => {});
  return queued;
}

/** The second line of every field page, and the page of the outbox. */
async function draw() {
  const own = (await entries()).filter((one) => one.person === person);
  const of = (...states) => own.filter(({ state }) => states.includes(state));
  const [asks, waiting, posted] = [of("asks"), of("waiting", "sending"), of("posted").pop()];
  // The form of this page shows by itself how far it is.
  const drafts = (await notesOf(`draft ${person} `)).filter(([, { about }]) => ![location.pathname, location.pathname + location.search].includes(about?.path)).length;
  const besides = drafts > 0 ? `; ${unfinished(drafts)}` : "";
  const sending = waiting.some(({ state }) => state === "sending");
  const lines = {
    asks: ["asks", "asks", `Needs you: ${counted(asks.length)}`, (waiting.length ? `${counted(waiting.length)} waiting` : "kept on this phone") + besides],
    wait: ["wait", "waits", sending ? "Sending…" : `${HEAD[why] ?? "Waiting for signal"}: ${counted(waiting.length)}`, `kept on this phone; oldest ${age(waiting[0]?.written)}${besides}`],
    drafts: ["wait", "waits", unfinished(drafts), "Outbox: 0 waiting"],
    clear: ["clear", "fits", "Outbox: 0 waiting", posted ? `last posted no. ${posted.receipt.seq}` : "nothing waits on this phone"],
  };
  const [state, drawn, head, below] = lines[asks.length ? "asks" : waiting.length ? "wait" : drafts ? "drafts" : "clear"];
  const place = document.querySelector("#kept");
  if (place) await (await import("./outbox.mjs")).drawKept(place, person, why, () => go(true));
  strip.className = `outbox ${state}`;
  strip.replaceChildren(sign(drawn), el("span", { role: "status" }, el("b", {}, head), el("br"), below));
}

/** What this phone booked changed the cylinders and the pages of its appliance: they are kept anew. */
async function keepAnew() {
  const kept = await (await caches.open("tarebook-pages")).match(CYLINDERS);
  const told = await kept?.json();
  const newer = ({ state, receipt }) => state === "posted" && receipt?.booked_at > told.made;
  const booked = told ? (await entries()).filter(newer) : [];
  if (booked.length === 0) return;
  const pathTo = ({ unit, tag, path = "" }) => (unit ? `/appliances/${encodeURIComponent(tag)}` : /^\/appliances\/[^/]+/.exec(path)?.[0]);
  const cards = booked.map(({ about }) => pathTo(about)).filter(Boolean);
  const scales = booked.filter(({ about }) => about.kind === "scale").map(({ about }) => about.path);
  await keepPages([...cards.map((path) => `/field${path}`), ...scales, CAGE, CYLINDERS]);
}

/** Sends what waits; tries again later, with a growing gap. */
async function go(fresh) {
  if (fresh) gap = 60_000;
  clearTimeout(timer);
  const told = navigator.onLine ? await send(person) : "signal";
  if (told === "busy") {
    timer = setTimeout(go, 2_000);
    return show();
  }
  why = told;
  await show();
  if (why === "") keepAnew().catch(() => {});
  gap = why === "" ? 60_000 : Math.min(gap * 2, 900_000);
  timer = setTimeout(go, gap * (0.8 + 0.4 * Math.random()));
}

/** Keeps this page and those it leads to, for where there is no signal; `anew`: whatever their age. */
async function keepPages(anew = []) {
  if (!navigator.serviceWorker) return;
  await navigator.serviceWorker.register("/field-worker.js", { scope: "/" });
  const worker = (await navigator.serviceWorker.ready).active;
  const links = [...document.querySelectorAll("a.keep")].map(({ pathname }) => pathname);
  worker?.postMessage({ anew, keep: [location.pathname, "/field", "/field/outbox", CYLINDERS, CAGE, "/field/me", "/field/new", "/field/new/charge", "/field/new/recover", "/field/tools", ...links] });
}

/** As of when the page speaks, where it is a kept one or was opened a while ago. */
function sayAge() {
  const { kept, made } = document.documentElement.dataset;
  const old = kept !== undefined ? "Kept on this phone" : Date.now() - opened > 1_800_000 && "Opened a while ago";
  if (!old || document.querySelector("#kept, #tools, #as-of")) return;
  document.querySelector("main").prepend(el("p", { id: "as-of", role: "status" }, sign("waits"), el("span", {}, `${old}: `, el("b", {}, `as of ${asOf(made)}`), ".")));
}

async function begin() {
  // First, because a page that is left at once is kept all the same.
  keepPages().catch(() => {});
  sayAge();
  await ready();
  if ((await note("person")) !== person) await setNote("person", person);
  if (form) {
    const { posting } = await import("./post.mjs");
    await posting(form, person);
  }
  const { kept } = document.documentElement.dataset;
  const { pathname, search } = location;
  // A kept page that stands for what is looked for, or for the card of a cylinder.
  const stands = /[?&]find=./.test(search) || /^\/q\/|^\/field\/cylinders\//.test(pathname);
  if (kept !== undefined && stands) await (await import("./find.mjs")).found(document.querySelector("main"));
  const place = document.querySelector("#tools");
  if (place) await (await import("./tools.mjs")).tools(place);
  const find = document.querySelector("#find");
  if (find && "BarcodeDetector" in globalThis) await (await import("./scan.mjs")).scanning(find);
  const load = document.querySelector("#load");
  if (load) (await import("./load.mjs")).loading(load, person);
  const anew = document.querySelector("form.register");
  if (anew) await (await import("./register.mjs")).registering(anew, person);
  const weight = document.querySelector("form.weight");
  if (weight) await (await import("./weight.mjs")).weights(weight, person);
  const hands = document.querySelectorAll("form.custody");
  if (hands.length > 0) (await import("./custody.mjs")).custody(hands, person);
  const forms = document.querySelectorAll("form.event, form.anew");
  if (forms.length > 0) await (await import("./service.mjs")).steps(forms, person);
  onChange(show);
  await clear();
  const again = () => {
    sayAge();
    keepPages().catch(() => {});
    return go(true);
  };
  addEventListener("online", again);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && again());
  await show();
  await go();
}

/** What no script takes over needs signal; without it the form stays as it is. */
document.addEventListener("submit", (event) => {
  const { target: left, defaultPrevented: taken } = event;
  if (taken || navigator.onLine || left.method !== "post") return;
  event.preventDefault();
  left.querySelector(".err.signal")?.remove();
  left.prepend(el("p", { class: "err signal", role: "alert" }, sign("barred"), el("span", {}, "This needs signal. What you typed stays on this page.")));
});

begin().catch((error) => {
  // Nothing can be kept here: the form is sent as it is, and says so itself if there is no signal.
  console.warn(String(error));
  strip.replaceChildren(sign("barred"), el("span", {}, el("b", {}, "This phone keeps nothing"), el("br"), "post while there is signal"));
});
