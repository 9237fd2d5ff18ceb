// The tools of the field on a phone without signal, beside vectors that were worked out elsewhere;
// and labels read with the camera, where the browser can.
import { readFileSync } from "node:fs";

const DATA = new URL("../../reports/tests/data/physics/", import.meta.url);
const PHONE = { viewport: { width: 390, height: 844 }, javaScriptEnabled: true, hasTouch: true };

/** Rows of a file of vectors; the first columns hold no comma. */
function rowsOf(name) {
  const [head, ...lines] = readFileSync(new URL(name, DATA), "utf8").trim().split(/\r?\n/);
  return lines.map((line) => Object.fromEntries(head.split(",").map((column, at) => [column, line.split(",")[at]])));
}

export async function fieldTools(tools) {
  await offline(tools);
  await scanned(tools);
}

async function offline({ base, check, same, holds, open, signIn }) {
  const page = await open(PHONE);
  await signIn(page, "dov@tamarack.example", "/field");
  await page.waitForFunction(() => navigator.serviceWorker.controller);
  const kept = () => page.evaluate(async () => Boolean(await (await caches.open("tarebook-pages")).match("/field/tools")));
  for (let tries = 0; tries < 100 && !(await kept()); tries += 1) await page.waitForTimeout(200);
  await page.context().setOffline(true);

  await check("without signal the phone has every saturation pressure that was computed elsewhere, to a tenth of a percent", async () => {
    await page.goto(`${base}/field/tools`);
    await page.waitForSelector("#tools", { state: "visible" });
    const rows = rowsOf("saturation-points.csv").map(({ refrigerant, cel, bubble_kpa: bubble, dew_kpa: dew }) => ({ refrigerant, cel: Number(cel), bubble, dew }));
    const found = await page.evaluate(async (rows) => {
      const script = (name) => document.querySelector("script[type=module]").src.replace("field.mjs", name);
      const { pressuresAt, temperaturesAt, kelvinOf } = await import(script("physics.mjs"));
      const table = await (await fetch(script("saturation.json"))).json();
      return rows.map(({ refrigerant, cel, bubble }) => {
        const kelvin = kelvinOf(cel, "Cel");
        const at = pressuresAt(table[refrigerant], kelvin);
        return at && [at.bubble, at.dew, temperaturesAt(table[refrigerant], Number(bubble))?.bubble - kelvin];
      });
    }, rows);
    let compared = 0;
    for (const [at, { refrigerant, cel, bubble, dew }] of rows.entries()) {
      if (bubble === "") same(found[at], null, `${refrigerant} at ${cel} is refused`);
      else {
        for (const [is, should] of [[found[at][0], bubble], [found[at][1], dew]]) if (Math.abs(is / Number(should) - 1) > 0.001) throw new Error(`${refrigerant} at ${cel}: ${is}, expected ${should}`);
        // Back from the printed pressure: a tenth of a percent of it is less than a tenth of a kelvin. At an
        // end of the table the printed digits may lie outside of it, which is refused.
        if (Number.isFinite(found[at][2]) && Math.abs(found[at][2]) > 0.1) throw new Error(`${refrigerant} at ${cel}: off by ${found[at][2]} K`);
        compared += 1;
      }
    }
    same(compared > 1_000, true, `points: ${compared}`);
  });

  await check("between the points the phone says what the service says", async () => {
    await page.context().setOffline(false);
    for (const [refrigerant, cel] of [["R-410A", 7.3], ["R-454B", 21.7], ["R-290", -12.4], ["R-407C", 33.3], ["R-134a", 61.9]]) {
      const asked = await page.context().request.get(`${base}/tools/saturation?refrigerant=${refrigerant}&temperature=${cel}&temperature_unit=Cel`);
      const said = [...(await asked.text()).matchAll(/<dd>([\d.]+) kPa absolute/g)].map(([, kpa]) => Number(kpa));
      const found = await page.evaluate(async ({ refrigerant, cel }) => {
        const script = (name) => document.querySelector("script[type=module]").src.replace("field.mjs", name);
        const { pressuresAt, kelvinOf } = await import(script("physics.mjs"));
        const table = await (await fetch(script("saturation.json"))).json();
        const { bubble, dew } = pressuresAt(table[refrigerant], kelvinOf(cel, "Cel"));
        return [bubble, dew];
      }, { refrigerant, cel });
      same(said.length, 2, `${refrigerant}: answers of the service`);
      // The service prints tenths of a kilopascal.
      for (const at of [0, 1]) if (Math.abs(said[at] - found[at]) > 0.051) throw new Error(`${refrigerant}: ${found[at]}, the service says ${said[at]}`);
    }
    await page.context().setOffline(true);
  });

  await check("without signal nitrogen that cools has the pressure that was computed elsewhere", async () => {
    const rows = rowsOf("pressure-test.csv").filter(({ kind, output }) => kind === "n2_expected" && output.startsWith("expected_"));
    const asked = rows.map(({ inputs, output }) => ({ ...Object.fromEntries(inputs.split(";").map((part) => part.split("=")).map(([name, value]) => [name, Number(value)])), output }));
    const found = await page.evaluate(async (asked) => {
      const script = (name) => document.querySelector("script[type=module]").src.replace("field.mjs", name);
      const { kelvinOf, nitrogen, PRESSURES } = await import(script("physics.mjs"));
      const psi = PRESSURES.psig.kpa;
      return asked.map(({ p1_psig: psig, t1_f: first, t2_f: second, atm_kpa: air, output }) => {
        const [from, to] = [kelvinOf(first, "[degF]"), kelvinOf(second, "[degF]")];
        const kpa = psig * psi + air;
        return ((output === "expected_ideal" ? (kpa * to) / from : nitrogen(kpa, from, to)) - air) / psi;
      });
    }, asked);
    for (const [at, { case: name, expected, tolerance_abs: tolerance }] of rows.entries()) {
      if (Math.abs(found[at] - Number(expected)) > Number(tolerance)) throw new Error(`${name}: ${found[at]}, expected ${expected} ± ${tolerance}`);
    }
    same(rows.length > 20, true, `rows: ${rows.length}`);
  });

  await check("without signal loss, uncertainty and verdict of a pressure test are those that were worked out elsewhere", async () => {
    const rows = rowsOf("pressure-test.csv").filter(({ kind }) => kind === "n2_judge");
    const asked = rows.map(({ inputs }) => Object.fromEntries(inputs.split(";").map((part) => part.split("=")).map(([name, value]) => [name, Number(value)])));
    const found = await page.evaluate(async (asked) => {
      const script = document.querySelector("script[type=module]").src.replace("field.mjs", "physics.mjs");
      const { kelvinOf, pressureTest, PRESSURES } = await import(script);
      const psi = PRESSURES.psig.kpa;
      return asked.map((test) => {
        const at = (name) => ({ kpa: test[`p${name}_psig`] * psi + test.atm_kpa, kelvin: kelvinOf(test[`t${name}_f`], "[degF]") });
        const { loss, uncertainty, verdict } = pressureTest({ start: at(1), end: at(2), accuracy: test.u_p_psi * psi, degrees: test.u_t_f / 1.8 });
        return { loss: loss / psi, U_k2: uncertainty / psi, verdict };
      });
    }, asked);
    const words = { loss: "loss_beyond_uncertainty", gain: "gain_beyond_uncertainty_test_invalid", none: "no_loss_beyond_uncertainty" };
    for (const [at, { case: name, output, expected, tolerance_abs: tolerance }] of rows.entries()) {
      const is = found[at][output];
      if (output === "verdict") same(words[is] ?? is, expected, name);
      else if (!(Math.abs(is - Number(expected)) <= Number(tolerance))) throw new Error(`${name}, ${output}: ${is}, expected ${expected} ± ${tolerance}`);
    }
    same(rows.length >= 10, true, `rows: ${rows.length}`);
  });

  await check("both tools answer without signal, say where the numbers come from, and what is wrong at its box", async () => {
    await page.selectOption("#s-refrigerant", "R-410A");
    await page.fill("#s-temperature", "45");
    await page.selectOption("#s-gauge", "sealed");
    await page.tap("#saturation button");
    // 130.6 psi on a gauge at 45 °F: a public table naming NIST REFPROP, to a tenth of a psi.
    holds(await page.innerText("#saturation output"), "130.6 psi on the gauge", "bubble");
    holds(await page.innerText("#saturation"), "CoolProp 8.0.0", "source");
    await page.fill("#s-temperature", "900");
    await page.tap("#saturation button");
    holds(await page.innerText("#saturation .err"), "does not reach this temperature", "at the box");
    same(await page.evaluate(() => document.activeElement.id), "s-temperature", "focus");
    await page.tap("#pressure-test > summary");
    await page.selectOption("#t-gauge", "sealed");
    // 150 psi at 70 °F are 146.8 psi at 60 °F (P002 of the vectors); 0.5 psi and 1 °F leave 0.95 psi.
    for (const [box, text] of [["start_pressure", "150"], ["start_temperature", "70"], ["end_pressure", "146.8"], ["end_temperature", "60"], ["pressure_accuracy", "0.5"], ["design_pressure", "300"], ["minutes", "60"]]) await page.fill(`#t-${box}`, text);
    await page.tap("#pressure-test button");
    holds(await page.innerText("#pressure-test output"), "No loss beyond uncertainty; the smallest it can see is 0.95 psi", "verdict");
    await page.fill("#t-end_pressure", "140");
    await page.tap("#pressure-test button");
    holds(await page.innerText("#pressure-test output"), "Not decided until the following is answered", "a loss is asked about");
    for (const name of ["in_shade", "on_tested_part", "same_place", "settled_after_filling"]) await page.selectOption(`#t-${name}`, "yes");
    await page.tap("#pressure-test button");
    holds(await page.innerText("#pressure-test output"), "Loss beyond uncertainty", "verdict");
  });
  await page.context().close();
}

/** A camera and a detector of squares that are none, so that the page's own part is what is seen. */
function stubbed({ text, allowed }) {
  globalThis.BarcodeDetector = class {
    static async getSupportedFormats() { return ["qr_code"]; }
    async detect() { return globalThis.looks ? [{ rawValue: text }] : []; }
  };
  navigator.mediaDevices.getUserMedia = async () => {
    globalThis.asked = (globalThis.asked ?? 0) + 1;
    if (!allowed) throw new DOMException("no", "NotAllowedError");
    return document.createElement("canvas").captureStream();
  };
}

async function scanned({ base, check, same, holds, open, signIn }) {
  await check("a browser that reads no squares is offered no camera, and no page but the one with the box for tags may open it", async () => {
    const page = await open(PHONE);
    await signIn(page, "dov@tamarack.example", "/field");
    await page.waitForSelector("#outbox .sign");
    same(await page.locator("#scan").count(), 0, "presses");
    const policy = async (path) => (await page.context().request.get(`${base}${path}`)).headers()["permissions-policy"];
    holds(await policy("/field"), "camera=(self)", "today");
    for (const path of ["/field/outbox", "/today", "/appliances/HG-RACK-A/charge"]) holds(await policy(path), "camera=(),", path);
    await page.context().close();
  });

  await check("the camera is asked for when it is pressed; a label of ours leads to its thing, no camera back to the typed code", async () => {
    const office = await open();
    await signIn(office, "osric@tamarack.example", "/labels?of=appliances&stock=roll&ids=HG-RACK-A");
    const code = (await office.innerText(".code")).replaceAll("-", "");
    for (const [text, allowed] of [[`${base}/q/${code}`, true], [`https://elsewhere.example/q/${code}`, true], [code, false]]) {
      const page = await open(PHONE);
      await page.addInitScript(stubbed, { text, allowed });
      await signIn(page, "dov@tamarack.example", "/field");
      await page.waitForSelector("#scan");
      same(await page.evaluate(() => globalThis.asked ?? 0), 0, "asked before the press");
      await page.tap("#scan");
      if (allowed) {
        await page.waitForSelector("video", { state: "visible" });
        await page.evaluate(() => { globalThis.looks = true; });
        await page.waitForURL("**/field/appliances/HG-RACK-A");
      } else {
        await page.waitForSelector(":text('Type the code that stands beside the square.')");
        same(await page.evaluate(() => document.activeElement.id), "find", "focus");
      }
      await page.context().close();
    }
    await office.context().close();
  });
}
