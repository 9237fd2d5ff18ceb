// Posting weights: cylinders to press, readings in the boxes, and the entry that they make.
import { boxes, threeForms } from "./boxes.mjs";
import { checked, problems } from "./check.mjs";
import { choices, el } from "./dom.mjs";
import { aboutOf, drive, kept, pathOf, phoneAsks } from "./flow.mjs";
import { note, setNote } from "./store.mjs";

/** Takes the form over. `person`: who may post here. */
export async function posting(form, person) {
  if (form.dataset.appliance === "" && !(await (await import("./unbooked.mjs")).standsFor(form, person))) return null;
  const ways = {
    problems: ({ more }) => problems(form, more),
    entryOf,
    checked,
    begin: async () => {
      await pickCylinder(form);
      return boxes(form);
    },
    begun: ({ elements }) => ["cylinder", "before", "after", "mass"].some((name) => elements[name].value !== ""),
    // Of an appliance that the book does not know it can say nothing.
    tried: form.dataset.unit ? phoneAsks : async (page) => (await import("./what-if.mjs")).tried(page),
    known: async (page) => (await import("./known.mjs")).known(page),
    kept: ({ dataset, elements }) => setNote(`cylinder ${dataset.kind} ${dataset.refrigerant}`, elements.cylinder.value.trim()),
  };
  return drive(form, person, form.dataset.corrects ? (await import("./correct.mjs")).correcting(form, ways) : ways);
}

/** Cylinders to press instead of a tag to type; the one that was used last stands first. */
async function pickCylinder(form) {
  const box = form.elements.cylinder;
  // A form that is kept does not know which cylinder led to it; its address does.
  if (box.value === "") box.value = new URLSearchParams(location.search).get("cylinder") ?? "";
  const offered = [...form.querySelectorAll("#cylinders option")].map(({ value, text }) => ({ value, text: value, books: text }));
  if (offered.length === 0) return;
  const last = await note(`cylinder ${form.dataset.kind} ${form.dataset.refrigerant}`);
  offered.sort((one, other) => (other.value === last) - (one.value === last));
  const shown = offered.slice(0, 6);
  const typed = box.value !== "" && !shown.some(({ value }) => value === box.value);
  const other = { value: "", text: "Another, by its tag" };
  const picks = choices("pick", [...shown, other], typed ? "" : box.value || null);
  const group = box.closest(".field-group");
  const label = group.querySelector("label");
  const question = label.textContent;
  label.textContent = "Its tag, as on the label";
  group.classList.add("picked");
  const set = () => {
    const taken = picks.querySelector(":checked");
    group.classList.toggle("typed", taken?.value === "");
    if (taken?.value) box.value = taken.value;
    else if (taken && shown.some(({ value }) => value === box.value)) box.value = "";
  };
  picks.addEventListener("change", (event) => { set(); event.stopPropagation(); box.dispatchEvent(new Event("input", { bubbles: true })); });
  // The choice writes into the box, so it has no name of its own in the form.
  for (const radio of picks.querySelectorAll("input")) radio.setAttribute("form", "none");
  group.before(el("fieldset", { class: "stack", id: "cylinder-picks" }, el("legend", {}, question), picks));
  box.required = false;
  box.removeAttribute("list");
  set();
}

/** The entry of the form: the request for the book, and what this phone shows of it. */
function entryOf(page) {
  const { form, more: mass } = page;
  const value = (name) => form.elements[name]?.value.trim() ?? "";
  const given = (names) => Object.fromEntries(names.map((name) => [name, value(name)]).filter(([, text]) => text !== ""));
  const charging = form.dataset.kind === "charge";
  const [appliance, cylinder] = [`appliance:${form.dataset.appliance}`, `cylinder:${value("cylinder")}`];
  const body = charging ? { from: cylinder, to: appliance } : { from: appliance, to: cylinder };
  if (value("before") !== "" || value("after") !== "") {
    body.readings = { before: value("before"), after: value("after"), ...given(["unit", "scale"]) };
  } else body.mass = { text: value("mass"), unit: value("unit") };
  Object.assign(body, given(["refrigerant"]), given(charging ? ["reason", "process_shutdown"] : ["reason", "class", "what"]));
  if (charging && value("full") !== "") body.returned_to_full_charge = value("full") === "yes";
  const answers = Object.fromEntries([...form.querySelectorAll("#echo input:checked")].map((it) => [it.name.replace("answer.", ""), it.value]));
  const request = { kind: form.dataset.kind, happened: given(["day", "time"]), ...given(["visit", "note"]), answers, body };
  const weighed = mass.weighed();
  return kept(page, request, {
    about: { ...aboutOf(form), ...(value("refrigerant") ? { refrigerant: value("refrigerant") } : {}), cylinder: value("cylinder"), path: pathOf(form) },
    steps: String(weighed.mass),
    shown: threeForms(weighed.mass).querySelector("b").textContent,
  });
}
