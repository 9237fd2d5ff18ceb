// A correction of what was booked: the form with the old values goes the way of a posting. It is
// kept on this phone first, and sent then; taking back and what stands instead are one entry.
import { boxOf } from "./check.mjs";
import { el } from "./dom.mjs";
import { kept } from "./flow.mjs";

/** The ways of a form, for the form that corrects an entry of its kind. */
export function correcting(form, ways) {
  const { corrects, number } = form.dataset;
  form.dataset.done = `Correction of no. ${number}`;
  const nothing = () => form.elements.instead.value === "nothing";
  const missing = () => (form.elements.why.value === "" ? [{ box: "why", text: "What was wrong? Choose one." }] : []);
  return {
    ...ways,
    // The old entry still counts in all that could be asked or tried.
    tried: undefined,
    known: undefined,
    problems: (page) => [...missing(), ...(nothing() ? [] : ways.problems(page))],
    entryOf: (page) => {
      const made = nothing() ? kept(page, { answers: {}, note: form.elements.note.value.trim() || undefined }) : ways.entryOf(page);
      return { ...made, press: nothing() ? "Take it back" : undefined, request: requestOf(made.request, corrects, form.elements.why.value, nothing()) };
    },
    checked: async (page) => {
      const why = el("p", {}, el("b", {}, `No. ${number} stays readable, struck through. `), `What was wrong: ${form.elements.why.selectedOptions[0].text}.`);
      if (nothing()) return [el("p", { class: "note" }, "Not booked yet. Is this so?"), el("p", { class: "says" }, `No. ${number} is taken back: it did not happen.`), why];
      const { replace } = page.entry.request.body;
      const shown = await ways.checked({ ...page, entry: { ...page.entry, request: { ...replace, visit: replace.visit ?? "alone" } } });
      return [...shown, why];
    },
    boxOf: (pointer) => (pointer === "/body/reason" ? "why" : (ways.boxOf ?? boxOf)(pointer.replace("/body/replace", ""))),
    begun: () => true,
    kept: undefined,
  };
}

function requestOf({ entry_id, note, answers, ...stands }, corrects, reason, nothing) {
  const { kind, happened, visit, body } = stands;
  // A leak stays the leak it was.
  if (kind === "leak_found") body.leak = corrects;
  const replace = nothing ? {} : { replace: { kind, happened, visit, body } };
  return { entry_id, kind: "correction", note, answers, body: { corrects, reason, ...replace } };
}
