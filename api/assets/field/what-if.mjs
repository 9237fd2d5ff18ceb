// What an entry will make of the leak rate, asked of the book before anything is booked: one
// sentence, and one bar with now, after this entry and the limit that says the same.
import { foreseen, tell } from "./ask.mjs";
import { el } from "./dom.mjs";
import { phoneAsks } from "./flow.mjs";

const shown = (number) => `${number.toFixed(1)} %`;

/** Fills a place on the check with the answer; without signal it says that it comes later, and what
 * this phone knows. Gives whether the book was heard. */
export async function tried(page) {
  const place = el("div", { id: "what-if", role: "status" }, el("p", { class: "note" }, "Asking what it will make of the leak rate…"));
  document.querySelector("#instead").append(place);
  const told = await asked(page);
  place.replaceChildren(...(told ?? [el("p", { class: "note" }, "No signal: what it makes of the leak rate is said once it is booked.")]));
  if (!told) await phoneAsks(page);
  return Boolean(told);
}

async function asked(page) {
  const { person, entry } = page;
  const { request } = entry;
  try {
    const told = await tell(person, request);
    const says = foreseen(page, entry, told);
    if (!says) return told.standing ? compared(told) : [];
    // What is asked at the booking does not hide the rate: without questions it is worked out all the same.
    const { before, standing } = await tell(person, { ...request, captured_offline: true });
    const rate = standing && request.kind === "charge" ? compared({ before, standing }) : [];
    return [says, ...rate];
  } catch {
    return null;
  }
}

/** The rate of the newest addition that counts, and its limit. */
function rateOf(standing) {
  const newest = standing?.additions?.at(-1);
  const rate = newest?.rates?.[newest.method];
  return rate && { percent: Number(rate.percent), limit: rate.threshold == null ? null : Number(rate.threshold), over: rate.over };
}

function compared({ before, standing }) {
  const [now, then] = [rateOf(before), rateOf(standing)];
  if (!then) {
    if (!standing.additions?.length) return [];
    const why = standing.missing?.includes("full_charge") ? "the full charge is not known" : "something it needs is not known";
    return [el("p", {}, el("b", {}, "No rate: "), `${why}.`)];
  }
  const a = standing.additions.at(-1).method === "rolling" ? "in a rolling year" : "a year";
  const limit = then.limit === null ? "no limit applies" : `limit ${shown(then.limit)}`;
  const word = then.over ? "Over the limit: " : then.limit === null ? "" : "Under the limit: ";
  const says = el("p", {}, el("b", {}, word), `${shown(then.percent)} ${a} after this entry, ${now ? `${shown(now.percent)} now` : "no rate now"}; ${limit}.`);
  return [says, bar(now?.percent ?? 0, then.percent, then.limit)];
}

/** A lying bar; the sentence beside it says the same, so readers skip it. Only numbers go into it. */
function bar(now, then, limit) {
  const most = Math.max(now, then, limit ?? 0, 1) * 1.15;
  const at = (percent) => (1 + (278 * percent) / most).toFixed(1);
  const end = (percent) => (percent > most / 2 ? ["end", -4] : ["start", 4]);
  const tick = (percent, y, words, bold) => {
    const [anchor, beside] = end(percent);
    return `<path d="M${at(percent)} ${y < 44 ? y - 10 : 58}V${y < 44 ? 44 : y + 2}" stroke="currentColor" stroke-width="2"/><text x="${(Number(at(percent)) + beside).toFixed(1)}" y="${y}" text-anchor="${anchor}" fill="currentColor"${bold}>${words} ${shown(percent)}</text>`;
  };
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  for (const [name, value] of Object.entries({ viewBox: "0 0 280 80", width: "280", height: "80", "aria-hidden": "true", "font-size": "14", class: "bar" })) svg.setAttribute(name, value);
  const limited = limit === null ? "" : `<path d="M${at(limit)} 38V64" stroke="currentColor" stroke-width="4"/>${tick(limit, 74, "limit", ' font-weight="700"')}`;
  svg.innerHTML = `<path d="M1 44H279V58H1Z" fill="none" stroke="currentColor"/><path d="M1 47H${at(then)}V55H1Z" fill="none" stroke="currentColor" stroke-width="2" stroke-dasharray="3 2"/><path d="M1 44H${at(now)}V58H1Z" fill="currentColor"/>${tick(now, 36, "now", "")}${tick(then, 16, "after this", ' font-weight="700"')}${limited}`;
  return svg;
}
