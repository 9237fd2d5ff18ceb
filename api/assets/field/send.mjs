// Sends what waits: in order, the same id as often as it takes, and only what its own person wrote.
//
// An answer that got lost costs nothing: the same entry is sent again and the book answers with the
// first booking. An entry that needs its person holds up later ones about the same appliance or
// cylinder, and no others. States: waiting, sending, posted, asks (needs you), withdrawn.
import { entries, entry, keep } from "./store.mjs";

const AT_ONCE = 50;
const PATIENCE = 20_000;

/** The appliance and the cylinder an entry is about; of a correction, of what it puts in place. */
export const placesOf = ({ request: { kind, body } }) => {
  const registers = { [kind]: body.subject };
  const { from, to, appliance = registers.appliance, cylinder = registers.cylinder } = body.replace?.body ?? body;
  return [from, to, appliance && `appliance:${appliance}`, cylinder && `cylinder:${cylinder}`].filter(Boolean);
};
const isWaiting = ({ state }) => state === "waiting" || state === "sending";

/**
 * Sends what waits and is this person's. `asked` is the id of an entry whose person stands at the
 * unit and can answer; of all others the book asks nothing and leaves findings instead.
 * Gives why it ended: "" (nothing is left to send), "signal", "sign-in", "other", "later", "busy"
 * (another page of this phone sends at this moment, such as the one that is being left).
 */
export async function send(person, asked) {
  if (!navigator.locks) return work(person, asked);
  // One page of this phone sends at a time. Whoever stands at the unit waits for the turn.
  const options = asked ? {} : { ifAvailable: true };
  return navigator.locks.request("tarebook-send", options, (turn) => (turn ? work(person, asked) : "busy"));
}

async function work(person, asked) {
  for (;;) {
    const batch = await next(person);
    if (batch.length === 0) return "";
    for (const one of batch) await keep(Object.assign(one, { state: "sending", tried: true }));
    const told = await post(person, batch, asked);
    if (told.ended) {
      for (const one of batch) await keep({ ...one, state: "waiting" });
      return told.ended;
    }
    let progress = false;
    for (const [at, one] of batch.entries()) {
      const after = outcome(one, told.results[at]);
      await keep(after);
      progress ||= after.state !== "waiting";
    }
    if (!progress) return "later";
  }
}

/** Withdraws an entry that the book refused, or that never left this phone. What may be booked stays. */
export async function withdraw(id, reason) {
  const change = async () => {
    const one = await entry(id);
    const may = one?.state === "asks" || (one?.state === "waiting" && !one.tried);
    if (may) await keep({ ...one, state: "withdrawn", withdrawn: { reason, at: new Date().toISOString() } });
    return may;
  };
  return navigator.locks ? navigator.locks.request("tarebook-send", change) : change();
}

/** The next entries that may go: none behind one that needs its person. */
async function next(person) {
  const held = new Set();
  const batch = [];
  for (const one of await entries()) {
    const places = placesOf(one);
    const behind = places.some((place) => held.has(place));
    if (one.person !== person) continue;
    if (one.state === "asks" || (isWaiting(one) && behind)) places.forEach((place) => held.add(place));
    else if (isWaiting(one) && batch.length < AT_ONCE) {
      batch.push(one);
      // What is about a new appliance goes once the book knows it.
      if (one.request.kind === "appliance") places.forEach((place) => held.add(place));
    }
  }
  return batch;
}

async function post(person, batch, asked) {
  const list = batch.map(({ id, request }) => (id === asked ? request : { ...request, captured_offline: true }));
  const body = JSON.stringify({ atomic: false, device_now: new Date().toISOString(), entries: list });
  let answer;
  try {
    answer = await fetch("/api/v1/entries", {
      method: "POST",
      // The service books nothing of one person under the sign-in of another.
      headers: { "Content-Type": "application/json", "Tarebook-Person": person },
      body,
      signal: AbortSignal.timeout(PATIENCE),
    });
    const told = await answer.json();
    if (answer.status === 207 && told.results?.length === batch.length) return told;
    if (answer.status === 401) return { ended: "sign-in" };
    if (answer.status === 403) return { ended: "other" };
    // What the service cannot read at all is shown to its person, one entry at a time.
    const alone = [400, 413, 422].includes(answer.status) && batch.length === 1;
    return alone ? { results: [{ status: answer.status, problem: told }] } : { ended: "later" };
  } catch {
    return { ended: answer ? "later" : "signal" };
  }
}

/** What an answer makes of an entry. */
function outcome(one, { status, entry: booked, problem }) {
  if (booked && (status === 200 || status === 201)) {
    const { seq, booked_at, leaf_hash } = booked;
    return { ...one, state: "posted", problem: null, receipt: { seq, booked_at, leaf_hash } };
  }
  const later = status >= 500 || [401, 408, 409, 424, 429].includes(status);
  return later ? { ...one, state: "waiting" } : { ...one, state: "asks", problem };
}
