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

/** What an answer asks or refuses, as a caution, and kept with the page; none: it would be booked. */
export function foreseen(page, told) {
  const { stops = [], questions = [], status, detail, errors } = told;
  const texts = [...stops, ...questions].map(({ text }) => text);
  const refused = status === 422 && texts.length === 0;
  if (texts.length === 0 && !refused) return null;
  page.asks = refused ? { refused: told } : { stops, questions };
  const says = refused ? "The book would not book this: " : "The book will ask before it books this: ";
  return el("p", { class: "caution" }, el("b", {}, says), (refused ? [errors?.[0]?.detail ?? detail] : texts).join(" "));
}

/** Asks for a form that has nothing else to try; gives whether the book was heard. */
export async function asksFirst(page) {
  const told = await tell(page.person, page.entry.request).catch(() => null);
  const says = told && foreseen(page, told);
  if (says) document.querySelector("#instead")?.append(says);
  return Boolean(told);
}
