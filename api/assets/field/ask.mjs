// What the book will ask before it books an entry, asked of it while the entry is still being checked:
// so no press says *Book* where the answer would be *Not booked yet*.
import { el } from "./dom.mjs";

const PATIENCE = 8_000;

/** What the book says to an entry, of which nothing is booked; throws where it is not heard. */
export async function tell(person, request) {
  const answer = await fetch("/api/v1/entries/what-if", {
    method: "POST",
    headers: { "Content-Type": "application/json", "Tarebook-Person": person },
    body: JSON.stringify(request),
    signal: AbortSignal.timeout(PATIENCE),
  });
  return answer.json();
}

/**
 * What an answer asks or refuses, as a caution, and kept with the page; none: it would be booked.
 * `entry`: what was asked about; of one that was changed meanwhile nothing is kept.
 */
export function foreseen(page, entry, told) {
  const { stops = [], questions = [], status, detail, errors } = told;
  const texts = [...stops, ...questions].map(({ text }) => text);
  const refused = [400, 422].includes(status) && texts.length === 0;
  if (texts.length === 0 && !refused) return null;
  if (page.entry === entry) page.asks = refused ? { refused: told } : { stops, questions };
  const says = refused ? "The book would not book this: " : "The book will ask before it books this: ";
  return el("p", { class: "caution" }, el("b", {}, says), (refused ? [errors?.[0]?.detail ?? detail] : texts).join(" "));
}

/** Asks for a form that has nothing else to try; gives whether the book was heard. */
export async function asksFirst(page) {
  const { entry, person } = page;
  const told = await tell(person, entry.request).catch(() => null);
  const says = told && foreseen(page, entry, told);
  if (says && page.entry === entry) document.querySelector("#instead")?.append(says);
  return Boolean(told);
}
