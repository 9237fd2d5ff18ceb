// Who has a cylinder: one press, kept on this phone first and sent then, as weights are.
import { localDay } from "./check.mjs";
import { send } from "./send.mjs";
import { entry, keep, newId } from "./store.mjs";

/** Takes the forms over. `person`: who says so. */
export function custody(forms, person) {
  for (const form of forms) {
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      form.querySelector("button").disabled = true;
      give(form, person);
    });
  }
}

async function give({ dataset: { tag, own }, elements: { to } }, person) {
  const name = !to ? own : (to.selectedOptions?.[0] ?? to).value === "shop" ? "shop" : to.selectedOptions[0].text;
  const id = newId();
  const request = { entry_id: id, kind: "cylinder", happened: { day: localDay() }, answers: {}, body: { subject: tag, facts: { held_by: name } } };
  const about = { kind: "cylinder", done: `Now with ${name === "shop" ? "the shop" : name}`, tag, path: location.pathname };
  await keep({ id, person, state: "waiting", written: new Date().toISOString(), request, fields: {}, about, steps: "0", shown: "it" });
  await send(person, id);
  const { state } = await entry(id);
  return state === "posted" ? location.replace(location.pathname) : location.assign("/field/outbox");
}
