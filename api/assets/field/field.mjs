// What every field page starts with: the outbox line, sending whatever waits, keeping pages for the
// machine room. Then what the page itself needs.
import { el, sign } from "./dom.mjs";
import { send } from "./send.mjs";
import { clear, entries, note, onChange, ready, setNote } from "./store.mjs";

const { person } = document.documentElement.dataset;
const strip = document.querySelector("#outbox");
const form = document.querySelector("#post, #correct");
let why = "";
let gap = 60_000;
let timer;

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
  const { age, drawKept } = await import("./outbox.mjs");
  const own = (await entries()).filter((one) => one.person === person);
  const of = (...states) => own.filter(({ state }) => states.includes(state));
  const [asks, waiting, posted] = [of("asks"), of("waiting", "sending"), of("posted").pop()];
  const sending = waiting.some(({ state }) => state === "sending");
  const lines = {
    asks: ["asks", "asks", `Needs you: ${counted(asks.length)}`, waiting.length ? `${counted(waiting.length)} waiting` : "kept on this phone"],
    wait: ["wait", "waits", sending ? "Sending…" : `${HEAD[why] ?? "Waiting for signal"}: ${counted(waiting.length)}`, `kept on this phone; oldest ${age(waiting[0]?.written)}`],
    clear: ["clear", "fits", "Outbox: 0 waiting", posted ? `last posted no. ${posted.receipt.seq}` : "nothing waits on this phone"],
  };
  const [state, drawn, head, below] = lines[asks.length ? "asks" : waiting.length ? "wait" : "clear"];
  const place = document.querySelector("#kept");
  if (place) await drawKept(place, person, why, () => go(true));
  strip.className = `outbox ${state}`;
  strip.replaceChildren(sign(drawn), el("span", { role: "status" }, el("b", {}, head), el("br"), below));
}

/** What this phone booked changed the cylinders: their kept list is fetched anew, and kept. */
async function anewCylinders() {
  const kept = await (await caches.open("tarebook-pages")).match("/field/cylinders");
  const told = await kept?.json();
  const newer = ({ state, receipt }) => state === "posted" && receipt?.booked_at > told.made;
  if (told && (await entries()).some(newer)) await fetch("/field/cylinders");
}

/** Sends what waits; tries again later, with a growing gap. */
async function go(fresh) {
  if (fresh) gap = 60_000;
  clearTimeout(timer);
  why = navigator.onLine ? await send(person) : "signal";
  await show();
  if (why === "") anewCylinders().catch(() => {});
  gap = why === "" ? 60_000 : Math.min(gap * 2, 900_000);
  timer = setTimeout(go, gap * (0.8 + 0.4 * Math.random()));
}

/** Keeps this page and those it leads to, for where there is no signal. */
async function keepPages() {
  if (!navigator.serviceWorker) return;
  await navigator.serviceWorker.register("/field-worker.js", { scope: "/" });
  const worker = (await navigator.serviceWorker.ready).active;
  const links = [...document.querySelectorAll("a.keep")].map(({ pathname }) => pathname);
  worker?.postMessage({ keep: [location.pathname, "/field", "/field/outbox", "/field/cylinders", "/field/new", "/field/tools", ...links] });
}

/** How old the page is, where it is older than it looks. */
function sayAge({ age, clock }) {
  const { made } = document.documentElement.dataset;
  if (Date.now() - Date.parse(made) < 300_000) return;
  document.querySelector("main").append(el("p", { class: "note" }, `Kept on this phone, as of ${clock(made)}, ${age(made)} ago.`));
}

async function begin() {
  // First, because a page that is left at once is kept all the same.
  keepPages().catch(() => {});
  await ready();
  if ((await note("person")) !== person) await setNote("person", person);
  if (form) {
    const { posting } = await import("./post.mjs");
    await posting(form, person);
  }
  const place = document.querySelector("#tools");
  if (place) await (await import("./tools.mjs")).tools(place);
  const find = document.querySelector("#find");
  if (find && "BarcodeDetector" in globalThis) await (await import("./scan.mjs")).scanning(find);
  const load = document.querySelector("#load");
  if (load) (await import("./load.mjs")).loading(load, person);
  const anew = document.querySelector("form.register");
  if (anew) await (await import("./register.mjs")).registering(anew, person);
  const forms = document.querySelectorAll("form.event, form.anew");
  if (forms.length > 0) await (await import("./service.mjs")).steps(forms, person);
  sayAge(await import("./outbox.mjs"));
  onChange(show);
  await clear();
  addEventListener("online", () => go(true));
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && go(true));
  await show();
  await go();
}

begin().catch((error) => {
  // Nothing can be kept here: the form is sent as it is, and says so itself if there is no signal.
  console.warn(String(error));
  strip.replaceChildren(sign("barred"), el("span", {}, el("b", {}, "This phone keeps nothing"), el("br"), "post while there is signal"));
});
