// The entry form: refuses and explains while one types, judges through the API, draws the range, stores, keeps history.
import { equal, expect, open, picture, yard } from "./browser.mjs";

const JOINT = "skua.diesel.raw-water-pump.cover";
const ID = `${JOINT}.spare`;

const said = (page, name) => page.textContent(`[id="e-${name}"]`);

const verdict = async (page, wanted) => {
  await page.waitForFunction((text) => document.getElementById("verdict").textContent.includes(text), wanted, { timeout: 5000 })
    .catch(() => expect(false, `the verdict says ${wanted}`));
};

/** A wrong unit, then a torque ten times too high, then one that the bolt takes. */
export const refusesAndExplains = async (browser) => {
  const page = await open(browser, { silent: ["422"] });
  const asked = [];
  page.on("request", (request) => { if (request.resourceType() === "fetch") asked.push(`${request.method()} ${new URL(request.url()).pathname}`); });
  await page.goto(`${yard}/bench/entry?joint=${JOINT}`);
  const fill = (name, value) => page.fill(`[name="${name}"]`, value);
  const pick = (name, value) => page.selectOption(`[name="${name}"]`, value);
  await fill("id", ID);
  await fill("positions", "1-6");
  await pick("head", "hexagon-flange");
  await fill("thread", "M6");
  await fill("property_class", "8.8");
  await fill("friction", "0.10-0.16");
  await fill("stages", "hand\n95");
  await page.waitForFunction(() => document.getElementById("e-stages").textContent.includes("unit of torque"))
    .catch(async () => expect(false, `the field says what is wrong: ${await said(page, "stages")}`));
  await verdict(page, "Cannot be stored like this");
  equal(await page.getAttribute('[name="stages"]', "aria-invalid"), "true", "the field is marked for those who do not see it");
  expect(!(await page.isVisible("#store")), "what cannot be read cannot be stored");
  await picture(page, "entry-refused");

  await fill("stages", "hand\n95 N·m");
  await verdict(page, "error");
  equal(await said(page, "stages"), "", "the fault is gone");
  const findings = await page.textContent("#findings");
  expect(/95 N·m/.test(findings) && /9[.,]5 N·m/.test(findings), `says what was probably meant: ${findings.slice(0, 300)}`);
  const bar = page.locator("#range svg");
  expect((await bar.textContent()).includes("95 N·m"), "the entered torque stands on the range bar");
  expect((await page.textContent("#range-words")).includes("Entered: 95 N·m"), "the bar in words");
  await page.locator("#live").scrollIntoViewIfNeeded();
  await picture(page, "entry-judged");

  await fill("stages", "hand\n9.5 N·m");
  await page.waitForFunction(() => document.querySelector("#range svg")?.textContent.includes("9.5 N·m"));
  expect(!(await page.textContent("#verdict")).includes("error"), `no error is left: ${await page.textContent("#verdict")}`);
  expect(asked.length > 0 && asked.every((one) => one.includes(" /v1/")), `judged through the API only: ${[...new Set(asked)]}`);
  expect(asked.includes("POST /v1/audits"), "audited while typing");
  await page.click("#store");
  await page.waitForURL(`**/bench/fasteners/${ID}`);
  expect((await page.textContent("main")).includes("9.5 N·m"), "what was stored is shown");
  await page.context().close();
};

/** A correction shows what it changed; one made from a stale page is refused. */
export const correctsAndKeepsHistory = async (browser) => {
  const page = await open(browser, { silent: ["412"] });
  await page.goto(`${yard}/bench/entry?id=${ID}`);
  const stale = await open(browser, { silent: ["412"] });
  await stale.goto(`${yard}/bench/entry?id=${ID}`);
  await page.fill('[name="stages"]', "hand\n9 N·m");
  await page.waitForFunction(() => document.querySelector("#range svg")?.textContent.includes("9 N·m"));
  await page.click("#store");
  await page.waitForURL(`**/bench/fasteners/${ID}`);
  await page.click("a:has-text('History')");
  const history = (await page.textContent("main")).replace(/\s+/g, " ");
  expect(history.includes("Revision 2") && history.includes("9.5 N·m → 9 N·m"), `what changed: ${history}`);
  await picture(page, "history-changed");
  await stale.fill('[name="stages"]', "hand\n8 N·m");
  await stale.waitForSelector("#store:visible");
  await stale.click("#store");
  await verdict(stale, "Nothing was stored");
  await page.context().close();
  await stale.context().close();
};

/** The same form without script: the page comes back with the faults at their fields, or with the findings. */
export const worksWithoutScript = async (browser) => {
  const page = await open(browser, { script: false, silent: ["422"] });
  await page.goto(`${yard}/bench/entry?joint=${JOINT}`);
  await page.fill('[name="id"]', `${JOINT}.other`);
  await page.fill('[name="thread"]', "M6");
  await page.fill('[name="property_class"]', "8.8");
  await page.fill('[name="stages"]', "hand\n95");
  await page.click("button:has-text('Check')");
  expect((await said(page, "stages")).includes("unit of torque"), "the fault stands at its field");
  equal(await page.inputValue('[name="stages"]'), "hand\n95", "what was typed is kept");
  await page.click("button:has-text('Store')");
  expect((await page.textContent("#outcome")).includes("Nothing was stored"), "what cannot be read is not stored");
  equal(await page.inputValue('[name="stages"]'), "hand\n95", "what was typed is still there");
  await page.fill('[name="stages"]', "hand\n95 N·m");
  await page.click("button:has-text('Check')");
  const judged = (await page.textContent("#outcome")).toLowerCase();
  expect(judged.includes("error") && judged.includes("perhaps meant"), "the findings stand above the form");
  expect((await page.textContent("#outcome figure")).includes("95 N·m"), "the range with the torque on it");
  // The same chances in words as the page with script gives.
  const scripted = await open(browser);
  await scripted.goto(`${yard}/bench/entry?joint=${JOINT}`);
  for (const [name, value] of [["id", `${JOINT}.other`], ["thread", "M6"], ["property_class", "8.8"], ["stages", "hand\n95 N·m"]]) {
    await scripted.fill(`[name="${name}"]`, value);
  }
  await scripted.waitForSelector("#findings .meant");
  const chances = (of, list) => of.$$eval(`${list} .meant li`, (all) =>
    all.map((one) => `${one.querySelector("b").textContent} ${one.querySelector(".under").textContent.split(",")[0]}`));
  equal(await chances(page, "#outcome"), await chances(scripted, "#findings"), "what was perhaps meant, with and without script");
  await scripted.context().close();
  await page.fill('[name="stages"]', "hand\n9.5 N·m");
  await page.click("button:has-text('Store')");
  await page.waitForURL(`**/bench/fasteners/${JOINT}.other`);
  expect((await page.textContent("main")).includes("9.5 N·m"), "stored without script");
  await page.context().close();
};
