// The tools of the field: saturation and the pressure test with nitrogen, worked out on this phone
// from a table that it keeps. They book nothing.
import { el, sign } from "./dom.mjs";
import { airAt, bothDegrees, kelvinOf, PRESSURES, pressuresAt, pressureTest, SEA_LEVEL, temperaturesAt } from "./physics.mjs";

/** Takes both forms over. */
export async function tools(place) {
  const table = await (await fetch(new URL("./saturation.json", import.meta.url))).json();
  const [saturation, test] = place.querySelectorAll("form");
  saturation.elements.refrigerant.append(...Object.keys(table).map((name) => new Option(name, name)));
  answering(saturation, (form) => saturated(form, table));
  answering(test, tested);
  place.hidden = false;
}

/** Works a form out when it is pressed; what is wrong is said at its box. */
function answering(form, work) {
  form.noValidate = true;
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    form.querySelectorAll(".err").forEach((one) => one.remove());
    form.querySelectorAll("[aria-invalid]").forEach((one) => one.removeAttribute("aria-invalid"));
    const said = form.querySelector("output");
    try {
      const { answer, figures, open = [] } = work(form);
      said.replaceChildren(
        el("p", {}, el("b", {}, answer)),
        el("dl", { class: "facts" }, figures.flatMap(([name, value]) => [el("dt", {}, name), el("dd", {}, value)])),
        ...open.map((text) => el("p", { class: "caution" }, text)),
      );
    } catch ({ box, message }) {
      const at = form.elements[box];
      at.setAttribute("aria-invalid", "true");
      at.before(el("p", { class: "err" }, sign("barred"), el("span", {}, message)));
      said.replaceChildren();
      at.focus();
    }
  });
}

const wrong = (box, message) => Object.assign(new Error(message), { box });

/** A number from a box; `least` and `most` say what it may be. */
function number(form, box, { least = -Infinity, most = Infinity, above } = {}) {
  const text = form.elements[box].value.trim().replace(",", ".").replace("−", "-");
  const label = form.elements[box].labels[0].textContent;
  if (!/^-?\d+(\.\d+)?$/.test(text)) throw wrong(box, `${label}: write a number, such as 12.5.`);
  const value = Number(text);
  if (above !== undefined && value <= above) throw wrong(box, `${label}: a number above ${above}.`);
  if (value < least || value > most) throw wrong(box, `${label}: from ${least} to ${most}.`);
  return value;
}

/** Pressure unit, and the absolute pressure at which the gauge shows nothing. */
function gaugeOf(form) {
  const { kpa, says } = PRESSURES[form.elements.pressure_unit.value];
  if (form.elements.gauge.value === "sealed") return { kpa, says, zero: SEA_LEVEL };
  const feet = form.elements.altitude_unit.value === "[ft_i]";
  const altitude = number(form, "altitude", feet ? { least: -1476, most: 17060 } : { least: -450, most: 5200 });
  return { kpa, says, zero: airAt(feet ? altitude * 0.3048 : altitude) };
}

function absolute(form, box, gauge) {
  const value = number(form, box) * gauge.kpa + gauge.zero;
  if (value < 0) throw wrong(box, "This is below vacuum. Check the sign and the unit.");
  return value;
}

function saturated(form, table) {
  const { refrigerant, temperature, pressure } = form.elements;
  const fluid = table[refrigerant.value];
  if (!fluid) throw wrong("refrigerant", "Choose the refrigerant of the nameplate or label.");
  if ((temperature.value.trim() === "") === (pressure.value.trim() === "")) throw wrong("temperature", "Fill in the temperature or the pressure, one of them.");
  const gauge = gaugeOf(form);
  const shown = (kpa) => `${((kpa - gauge.zero) / gauge.kpa).toFixed(gauge.kpa > 50 ? 2 : 1)} ${gauge.says} on the gauge, ${kpa.toFixed(1)} kPa absolute`;
  const doubt = ["To be doubted by", `${fluid.doubt} % of the pressure`];
  if (pressure.value.trim() !== "") {
    const found = temperaturesAt(fluid, absolute(form, "pressure", gauge));
    if (!found) throw wrong("pressure", `The table of ${refrigerant.value} does not reach this pressure. Check the unit.`);
    return { answer: `${refrigerant.value} at ${pressure.value.trim()} ${gauge.says} on the gauge`, figures: [["Bubble, liquid line or resting cylinder", bothDegrees(found.bubble)], ["Dew, suction line", bothDegrees(found.dew)], doubt] };
  }
  const kelvin = kelvinOf(number(form, "temperature"), form.elements.temperature_unit.value);
  const found = pressuresAt(fluid, kelvin);
  if (!found) throw wrong("temperature", `The table of ${refrigerant.value} does not reach this temperature. Check the unit.`);
  return { answer: `${refrigerant.value} at ${bothDegrees(kelvin)}`, figures: [["Bubble, over resting liquid", shown(found.bubble)], ["Dew, in a vapour line", shown(found.dew)], doubt] };
}

const SENSORS = [
  ["in_shade", "Shade the sensor, wait until it has settled and read again: 15 °F of sun looks like a loss of 5 psi."],
  ["on_tested_part", "Strap the sensor to the tested part and read again."],
  ["same_place", "Measure again where the first temperature was taken."],
  ["settled_after_filling", "Gas warms when it is compressed: take a new start reading and let it stand again."],
];
const VERDICTS = { loss: "Loss beyond uncertainty", gain: "Invalid: more pressure than the gas can have" };

/** A reading of gauge and thermometer, inside of what the correction for nitrogen is known for. */
function reading(form, name, gauge) {
  const kpa = absolute(form, `${name}_pressure`, gauge);
  if (kpa > 4_300) throw wrong(`${name}_pressure`, "At most 609 psi on the gauge: above it the gas is not known well enough. Check the unit.");
  const kelvin = kelvinOf(number(form, `${name}_temperature`), form.elements.temperature_unit.value);
  if (kelvin < 243 || kelvin > 338.15) throw wrong(`${name}_temperature`, "From -30 to 65 °C (-22 to 149 °F). Check the unit.");
  return { kpa, kelvin };
}

function tested(form) {
  const gauge = gaugeOf(form);
  const [start, end] = ["start", "end"].map((name) => reading(form, name, gauge));
  const accuracy = number(form, "pressure_accuracy", { above: 0 }) * gauge.kpa;
  const degrees = number(form, "temperature_accuracy", { above: 0 }) / (form.elements.temperature_unit.value === "Cel" ? 1 : 1.8);
  const [minutes, needed] = [number(form, "minutes", { above: 0 }), number(form, "criterion_minutes", { above: 0 })];
  const design = number(form, "design_pressure");
  const result = pressureTest({ start, end, accuracy, degrees });
  const open = openOf(form, result, { minutes, needed });
  if (end.kpa - start.kpa > accuracy && start.kelvin - end.kelvin > degrees && result.verdict !== "gain") open.push("The pressure rose while it cooled: the temperatures are not those of the gas, or the gauge was changed. Read all again.");
  const above = Math.max(number(form, "start_pressure"), number(form, "end_pressure")) > design;
  const shown = (kpa) => `${(kpa / gauge.kpa).toFixed(2)} ${gauge.says}`;
  const smallest = shown(result.uncertainty);
  return {
    answer: open.length > 0 ? "Not decided until the following is answered" : VERDICTS[result.verdict] ?? `No loss beyond uncertainty; the smallest it can see is ${smallest}`,
    figures: [["Expected at the end", shown(result.expected - gauge.zero)], ["By an ideal gas", shown(result.ideal - gauge.zero)], ["Read at the end", shown(end.kpa - gauge.zero)], ["Loss (below zero: gain)", shown(result.loss)], ["Smallest loss it can see", smallest]],
    open: [...(above ? ["The test pressure is above the nameplate. Let pressure off at the regulator; never test above the nameplate."] : []), ...open],
  };
}

/** What was answered with no stays open whatever was found; what nobody answered, when there is a loss. */
function openOf(form, { verdict }, { minutes, needed }) {
  const answered = (name) => form.elements[name].value;
  const open = SENSORS.filter(([name]) => answered(name) === "no" || (answered(name) === "" && verdict === "loss")).map(([name, says]) => `${form.elements[name].labels[0].textContent} ${answered(name) || "Not answered"}. ${says}`);
  if (verdict === "none" && minutes < needed) open.push(`It stood for ${minutes} of ${needed} minutes. Let it stand for the rest of the time and read again.`);
  return open;
}
