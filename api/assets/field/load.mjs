// A file of waiting entries, saved on a phone that could not send them: shown, then booked. Each
// keeps its id, so what the phone sends later all the same is answered with the first booking.
import { capital } from "./check.mjs";
import { el, sign } from "./dom.mjs";

const AT_ONCE = 50;

/** Takes the page over. `person`: who books. */
export function loading(place, person) {
  // What a phone posts; a file with anything else was not saved by one.
  const kinds = place.dataset.kinds.split(" ");
  const file = el("input", { type: "file", accept: "application/json,.json", id: "file", class: "full" });
  const said = el("div", { role: "status", class: "stack", id: "loaded" });
  file.addEventListener("change", async () => {
    const list = await read(file.files[0], kinds);
    said.replaceChildren(...(typeof list === "string" ? [el("p", { class: "err" }, sign("barred"), el("span", {}, list))] : shown(list, said, person)));
  });
  place.replaceChildren(el("div", { class: "field-group" }, el("label", { htmlFor: "file" }, "The file that was saved on the phone"), file), said);
}

/** The entries of a file, or why there are none. */
async function read(file, kinds) {
  const not = "This is no file of waiting entries. On the phone press “Save waiting entries to a file” and take that one.";
  try {
    const { entries } = JSON.parse(await file.text());
    const whole = Array.isArray(entries) && entries.length > 0 && entries.every(({ entry_id, kind }) => typeof entry_id === "string" && typeof kind === "string");
    const other = whole && entries.find(({ kind }) => !kinds.includes(kind));
    if (other) return `This file holds an entry of the kind “${other.kind.slice(0, 40)}”, which no phone posts. Nothing of it is booked; ask where the file comes from.`;
    return whole ? entries : not;
  } catch {
    return not;
  }
}

function shown(list, said, person) {
  const line = ({ kind, happened, body }) => `${capital(kind.replaceAll("_", " "))}, ${happened?.day ?? "today"}: ${[body?.from, body?.to, body?.appliance].filter(Boolean).join(" to ")}`;
  const rows = list.map((one) => el("li", {}, el("div", {}, el("span", {}, line(one)), el("ul", { class: "note" }, everything(one).map((text) => el("li", {}, text))), el("span", { class: "note outcome" }, "Not booked yet"))));
  const press = el("button", { class: "btn full", type: "button", onclick: () => book(list, rows, press, person) }, `Book ${list.length === 1 ? "1 entry" : `${list.length} entries`}`);
  return [el("ul", { class: "lines" }, rows), press];
}

/** Everything an entry says besides its ids, a member a line: nobody books in their own name what they did not see. */
function everything({ entry_id, kind, ...rest }) {
  const lines = [];
  const walk = (name, value) => {
    if (value !== null && typeof value === "object") Object.entries(value).forEach(([member, inner]) => walk([...name, member], inner));
    else lines.push(`${name.filter((part) => part !== "body").join(" ").replaceAll("_", " ")}: ${value}`);
  };
  Object.entries(rest).forEach(([member, value]) => walk([member], value));
  return lines;
}

async function book(list, rows, press, person) {
  press.disabled = true;
  for (let at = 0; at < list.length; at += AT_ONCE) {
    const part = list.slice(at, at + AT_ONCE);
    const results = await post(part, person);
    part.forEach((_, i) => rows[at + i].querySelector(".outcome").replaceChildren(outcome(results[i])));
  }
  press.disabled = false;
  press.textContent = "Book again what is missing";
}

async function post(entries, person) {
  try {
    const answer = await fetch("/api/v1/entries", {
      method: "POST",
      headers: { "Content-Type": "application/json", "Tarebook-Person": person },
      body: JSON.stringify({ atomic: false, entries }),
    });
    return (await answer.json()).results ?? [];
  } catch {
    return [];
  }
}

function outcome({ status, entry, problem } = {}) {
  if (entry) return el("a", { href: `/entries/${entry.entry_id}` }, `${status === 200 ? "Was booked already" : "Booked"}, no. ${entry.seq}`);
  const told = [...(problem?.stops ?? []), ...(problem?.questions ?? [])].map(({ text }) => text).join(" ");
  return `Not booked: ${told || problem?.detail || "no answer; press once more"}`;
}
