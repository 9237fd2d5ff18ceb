// What is looked for without signal: by tag, code of a label or serial number, among the cards and the
// cylinders that this phone keeps. The service looks through the whole book in the same order.
import { asOf } from "./age.mjs";
import { el, sign } from "./dom.mjs";
import { capital } from "./check.mjs";
import { cut, limitOf, outboxed, steps } from "./known.mjs";
import { kg, lbOz } from "./mass.mjs";
import { entries } from "./store.mjs";
import { pathTo } from "./unbooked.mjs";

const PAGES = "tarebook-pages";
const CARDS = "/field/appliances/";
const UNFIT = ["suspect", "unknown", "burn_out", "mixed"];
const CLOSED = [
  ["Under quarantine: to reclaim or destruction only", ({ quarantine }) => quarantine != null],
  ["Disposable: never refilled", ({ use }) => use === "disposable"],
  ["Condemned: never filled again", ({ condition }) => condition === "condemned"],
  ["Retired", ({ condition }) => condition === "retired"],
  ["Test overdue: not to be filled", ({ retest_on: due }) => due < new Date().toISOString().slice(0, 10)],
];

/** A code as it is read: case, spaces and hyphens do not matter, O is 0, I and L are 1. */
const plain = (text) => text.toUpperCase().replace(/[\s-]/g, "").replaceAll("O", "0").replace(/[IL]/g, "1");
const last = (path) => decodeURIComponent(path.split("/").pop());

/** Shows what the address asks for in the place of the page that was kept. */
export async function found(main) {
  const { pathname, search } = location;
  const asked = new URLSearchParams(search);
  if (asked.get("appliance")) return location.replace(`/appliances/${encodeURIComponent(asked.get("appliance").trim())}/${asked.get("deed") === "recover" ? "recover" : "charge"}?cylinder=${encodeURIComponent(last(pathname))}`);
  const typed = (asked.get("find") ?? last(pathname)).trim();
  const kept = await caches.open(PAGES);
  const list = await kept.match("/field/cylinders");
  const told = (await list?.json()) ?? { cylinders: [] };
  const [cylinders, cards] = [matching(told.cylinders, typed), matching(await cardsOf(kept), typed)];
  const exact = [...cards, ...cylinders].filter((one) => isExactly(one, typed));
  if (exact.length === 1 && exact[0].path) return location.replace(exact[0].path);
  const shown = exact.length === 1 ? await card(exact[0], told) : (exact.length === 0 && (await registering(typed))) || several(typed, exact.length > 0 ? exact : [...cards, ...cylinders], told.units);
  const age = document.querySelector("#as-of");
  main.replaceChildren(...(age ? [age] : []), ...shown, el("p", {}, el("a", { class: "linkrow", href: "/field/cage" }, "Cylinders")), el("p", {}, el("a", { class: "linkrow", href: "/field" }, "Today")));
  if (list && age) age.querySelector("b").textContent = `as of ${asOf(told.made)}`;
  document.title = `${main.querySelector("h1").textContent} – tarebook`;
}

/** Cards of appliances, with the code and the serial number that stand in them. */
async function cardsOf(kept) {
  const paths = (await kept.keys()).map(({ url }) => new URL(url).pathname).filter((path) => path.startsWith(CARDS));
  const read = async (path) => {
    const text = await (await kept.match(path)).text();
    const said = (name) => new RegExp(` data-${name}="([^"]*)"`).exec(text)?.[1] || undefined;
    return { path, tag: last(path), code: said("code"), serial: said("serial") };
  };
  return Promise.all(paths.map(read));
}

const same = (one, other) => one?.toLowerCase() === other.toLowerCase();
const isExactly = ({ tag, code, serial }, typed) => same(tag, typed) || code === plain(typed) || serial === typed;
const matching = (all, typed) => all.filter((one) => isExactly(one, typed) || one.tag.toLowerCase().startsWith(typed.toLowerCase()));

/** A unit that waits on this phone to be registered. */
async function registering(typed) {
  const { person } = document.documentElement.dataset;
  const waits = (await entries()).find((one) => one.person === person && one.request.kind === "appliance" && ["waiting", "sending", "asks"].includes(one.state) && same(one.about.tag, typed));
  if (!waits) return null;
  const way = (deed, words) => el("p", {}, el("a", { class: "btn second full", href: pathTo(waits.request.body.subject, deed) }, words));
  return [el("h1", {}, waits.about.tag), el("p", {}, "It waits on this phone to be registered. What you post about it goes after that."), way("charge", "Charge it"), way("recover", "Recover from it")];
}

function several(typed, all, units = []) {
  if (all.length === 0) {
    const unit = units.find((tag) => same(tag, typed));
    if (unit) return [el("h1", {}, "Not kept on this phone"), el("p", {}, el("b", {}, unit), " is in the book."), el("p", {}, "Open a unit once where there is signal, then it is kept. With signal it opens by itself.")];
    return [el("h1", {}, "Not kept on this phone"), el("p", {}, el("b", {}, typed)), el("p", {}, "Nothing that this phone keeps has this tag, code or serial number. Read the label again. With signal the whole book is looked through.")];
  }
  const row = ({ path, tag, holds }) => el("li", {}, el("a", { href: path ?? `/field/cylinders/${encodeURIComponent(tag)}` }, el("span", { class: "what" }, el("span", {}, tag), el("span", {}, holds ? contentOf(holds) : ""))));
  return [el("h1", {}, `Found: ${typed}`), el("ul", { class: "lines" }, all.map(row))];
}

const NAMES = { unknown: "not identified", mixture: "a mixture" };
// Below nothing: something that went in was not booked, so something may be in it.
const MISSING = "an entry is missing: treat as holding refrigerant";
const isMissing = (holds) => holds.some(([, mass]) => String(mass).startsWith("-"));
const contentOf = (holds) => (isMissing(holds) && MISSING) || holds.filter(([, mass]) => mass !== "0" && mass !== 0n).map(([name]) => NAMES[name] ?? name).join(" and ") || "empty by the book";

/** Who has it: what this phone said last and the book has not heard yet, else what the list says. */
async function handOf({ tag, held_by: said }) {
  const waits = (await entries()).filter(({ state, request: { kind, body } }) => ["waiting", "sending"].includes(state) && kind === "cylinder" && body.subject === tag);
  return waits.at(-1)?.request.body.facts.held_by ?? said;
}

/** Who has it now, as a form that the script of the page takes over. */
const hand = (tag, own, name, words) => el("form", { class: "custody", "data-tag": tag, "data-own": own }, name && el("input", { type: "hidden", name: "to", value: name }), el("button", { class: "btn second full" }, words));

/** What is open about it, in the words of the office. */
const open = ([high, says]) => el("div", { class: "query" }, el("p", {}, high ? el("span", { class: "word over" }, sign("barred"), " High:") : sign("asks"), ` ${capital(says)}`));

const dayOf = (day) => new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "long", year: "numeric", timeZone: "UTC" }).format(new Date(day));

/** The card of a cylinder, as the list on this phone and what waits in its outbox have it. */
async function card(cylinder, { made, name, caution, cautions = {} }) {
  const missing = isMissing(cylinder.holds);
  const counted = await outboxed(cylinder, made, "");
  const { tag, code, holds, owners, whose = [], retest_on: due, use, tare, findings = [] } = cylinder;
  const by = await handOf(cylinder);
  if (counted || by !== cylinder.held_by) document.querySelector("#as-of b")?.after(", with what waits in the outbox");
  const net = holds.reduce((sum, [, mass]) => sum + mass, 0n);
  const only = cylinder.class === "mixed" || owners.length > 1;
  const closed = CLOSED.filter(([, is]) => is(cylinder)).map(([says]) => says);
  const limit = holds.length > 0 ? await limitOf(cylinder, holds.map(([name]) => name)) : null;
  const left = limit && (limit.limit > net ? limit.limit - net : 0n);
  const room = closed.length > 0 ? "none" : missing ? "not known: count it first" : left === null ? "by what goes in" : `${cut(left)} = ${kg(left)}`;
  const facts = [
    ["Content", missing ? MISSING : net > 0n ? `${contentOf(holds)}, ${lbOz(net)} = ${kg(net)}` : "empty by the book"],
    ["Room left", room],
    ...(limit && tare ? [["On the scale never more than", `${cut(limit.limit + steps(tare))} = ${kg(limit.limit + steps(tare))}`]] : []),
    ["Tare", tare ? `${lbOz(steps(tare))} = ${kg(steps(tare))}` : "not known: read TW on the collar, or weigh it empty"],
    ["Test due", due ? dayOf(due) : "not recorded: read the stamp on the collar"],
    ["Content belongs to", whose.join(", ") || (owners.length > 0 ? "an owner whose name is not kept here" : "the firm's own, or none")],
    ["Condition of the content", cylinder.class?.replaceAll("_", " ") ?? "not stated"],
    ["For", use ?? "not stated"],
    ...(only ? [["Goes to", "reclaim or destruction only"]] : []),
  ];
  const [charges, takes] = [(net > 0n || missing) && cylinder.quarantine == null && !only && !UNFIT.includes(cylinder.class), use === "recovery" && closed.length === 0];
  const press = (deed, words) => el("button", { class: "btn second full", name: "deed", value: deed }, words);
  return [
    el("div", { id: "card" }, el("h1", {}, tag), el("p", { class: "place" }, ["Cylinder", code?.replace(/^(.)(...)(...)(.)$/, "$1-$2-$3-$4"), by && `held by ${by === "shop" ? "the shop" : by}`].filter(Boolean).join(", "))),
    [caution, ...holds.map(([name]) => cautions[name])].filter(Boolean).map((text) => el("p", { class: "note caution" }, text)),
    closed.length > 0 && el("p", {}, el("span", { class: "word over" }, sign("barred"), " Closed to filling."), ` ${closed.join("; ")}.`),
    findings.length > 0 && el("h2", { id: "open" }, "Open findings"),
    findings.map(open),
    el("dl", { class: "facts" }, facts.flatMap(([name, value]) => [el("dt", {}, name), el("dd", {}, value)])),
    (charges || takes) && el("form", { action: `/field/cylinders/${encodeURIComponent(tag)}`, method: "get", id: "use" },
      el("div", { class: "field-group" }, el("label", { htmlFor: "appliance" }, "At which appliance?"), el("input", { id: "appliance", class: "full", name: "appliance", type: "text", required: true, autocomplete: "off", autocapitalize: "characters", spellcheck: false })),
      el("div", { class: charges && takes && "twin" }, charges && press("charge", "Charge from it"), takes && press("recover", "Recover into it"))),
    el("h2", {}, "Who has it"),
    name && by !== name && hand(tag, name, "", "I have it now"),
    by !== "shop" && hand(tag, name, "shop", "Back to the shop"),
    el("p", {}, el("a", { class: "linkrow", href: `/cylinders/${encodeURIComponent(tag)}/check` }, "Check its content, or weigh it")),
  ].flat().filter(Boolean);
}
