// A cylinder and a scale in a technician's hands, without script: custody by the label, a known weight,
// a content check, a count; and readings that cannot be, refused by name on the pages. Steps and weights are
// those of the invented firm.
import { examine } from "./looks.mjs";

export async function cylinders(tools) {
  const { base, check, same, holds, open, signIn } = tools;
  const phone = await open({ viewport: { width: 360, height: 740 } });
  const text = (where = "main") => phone.innerText(where);
  await signIn(phone, "ines@tamarack.example", "/field/me");

  await check("a known weight is put on a scale, and the scale says when the next is due", async () => {
    await phone.goto(`${base}/field/me`);
    await phone.click("main ul.lines a >> nth=0");
    await phone.fill("#nominal", "10");
    await phone.fill("#shown", "10 lb");
    await phone.click("button:text-is('Book the check')");
    holds(await phone.title(), "Error: ", "title");
    holds(await phone.innerText("#nominal-problem"), "unit", "at the box");
    await phone.fill("#nominal", "10 lb");
    await phone.fill("#shown", "10 lb 1 oz");
    await phone.click("button:text-is('Book the check')");
    holds(await text(), "10 lb 0 oz shown as 10 lb 1 oz: 1 oz too much", "the check");
    holds(await text(), "due again", "the next");
    await phone.goto(`${base}/field/me`);
    holds(await text(), "due again", "my scales");
  });

  await check("whoever holds the label has the cylinder with one press", async () => {
    await phone.goto(`${base}/labels?of=cylinders&ids=TR-0417`);
    const code = (await text(".label .code")).replaceAll("-", "");
    await phone.goto(`${base}/q/${code}`);
    await phone.click("button:text-is('I have it now')");
    same(new URL(phone.url()).pathname, "/field/cylinders/TR-0417", "where");
    holds(await text(), "with you", "custody");
  });

  await check("a count below the tare is refused by its box, and one above it is booked", async () => {
    await phone.goto(`${base}/cylinders/TR-0417/check`);
    await phone.click("#count summary");
    await phone.fill("#count-gross", "20 lb");
    await phone.click("#count button");
    holds(await phone.innerText("#count-gross-problem"), "tare", "at the box");
    await phone.fill("#count-gross", "sixty");
    await phone.click("#count button");
    holds(await phone.innerText("#count-gross-problem"), "sixty", "at the box");
  });

  await check("a content check without the full scale of the gauge says so and names nothing", async () => {
    await phone.goto(`${base}/cylinders/TR-0417/check`);
    await phone.click("#observation summary");
    await phone.fill("#observation-pressure", "195.3");
    for (const [box, value] of [["gauge", "sealed"], ["rested", "yes"], ["temperature_unit", "[degF]"]]) {
      await phone.check(`#observation input[name=${box}][value="${value}"]`);
    }
    await phone.selectOption("#observation-pressure_unit", "psig");
    await phone.fill("#observation-accuracy_percent", "1");
    await phone.fill("#observation-wall_temperature", "68");
    await phone.click("#observation button");
    same(new URL(phone.url()).pathname, "/cylinders/TR-0417", "where");
    holds(await text(), "Could not be judged", "the check");
  });

  const bad = [
    ["saturation?refrigerant=R-410A&pressure=-20&pressure_unit=psig&gauge=sealed", "below"],
    ["saturation?refrigerant=R-410A&temperature=90&temperature_unit=Cel", "[degF]"],
    ["saturation?refrigerant=R-410A&temperature=-80&temperature_unit=Cel", "-40"],
    ["saturation?refrigerant=R-401A&temperature=5&temperature_unit=Cel", "manufacturer's table"],
    ["saturation?refrigerant=R-410A&pressure=100&pressure_unit=psig&gauge=vented&altitude=9000&altitude_unit=m", "[ft_i]"],
    ["saturation?refrigerant=R-410A&pressure=100&pressure_unit=psig&gauge=vented", "altitude"],
  ];
  const test = (changes) => {
    const asked = {
      start_pressure: "150", end_pressure: "146.5", pressure_unit: "psig", start_temperature: "70", end_temperature: "60",
      temperature_unit: "[degF]", pressure_accuracy: "0.5", temperature_accuracy: "1", design_pressure: "450",
      minutes: "60", criterion_minutes: "60", gauge: "sealed", ...changes,
    };
    return `pressure-test?${new URLSearchParams(asked)}`;
  };
  bad.push(
    [test({ end_pressure: "-20" }), "below"],
    [test({ minutes: "20" }), "60"],
    [test({ same_place: "no" }), "place"],
    [test({ end_pressure: "152" }), "gain"],
    [test({ design_pressure: "149" }), "above the nameplate", "main"],
  );
  await check("readings that cannot be are refused by name on the tools", async () => {
    for (const [query, says, where = "#answer"] of bad) {
      await phone.goto(`${base}/tools/${query}`);
      holds((await text(where)).toLowerCase(), says.toLowerCase(), query);
    }
  });

  await check("the forms read well on a telephone", async () => {
    for (const width of [320, 390]) {
      const page = await open({ viewport: { width, height: 740 }, javaScriptEnabled: true });
      await page.route("**/*.mjs", (route) => route.fulfill({ contentType: "text/javascript", body: "" }));
      await signIn(page, "ines@tamarack.example", "/field/me");
      const scale = await page.getAttribute("main ul.lines a >> nth=0", "href");
      for (const path of ["/field/me", scale, "/cylinders/TR-0417/check"]) {
        await page.goto(`${base}${path}`);
        await examine(page, false, same);
      }
      await page.context().close();
    }
  });
}
