// A mechanic's way: find, joint, steps through every pass with undo, with and without script, by touch and by keys.
import { equal, expect, open, picture, yard } from "./browser.mjs";

const JOINT = "skua.diesel.cylinder-head";
const STEPS = 72;

const where = async (page) => ({
  count: (await page.textContent("#count")).trim(),
  position: (await page.textContent("#position")).trim(),
  asks: await page.$eval("#step", (step) => step.classList.contains("asks")),
});

/** What the book says is done, pass by pass: from the API, not from the page. */
const planned = async (page) => {
  const answer = await page.request.get(`${yard}/v1/joints/${JOINT}/fasteners`);
  equal(answer.status(), 200, "the API lists what closes the joint");
  return answer.json();
};

/** From words typed to the first step. */
export const findAndStart = async (browser) => {
  const page = await open(browser);
  const asked = [];
  page.on("request", (request) => { if (request.resourceType() === "fetch") asked.push(new URL(request.url()).pathname); });
  await page.goto(`${yard}/bench/`);
  await page.fill("#q", "cylinder head to");
  await page.waitForSelector(`#results a[href="/bench/joints/${JOINT}"]`);
  expect(asked.length > 0 && asked.every((path) => path.startsWith("/v1/")), `found through the API: ${asked}`);
  await picture(page, "walk-found");
  await page.click(`#results a[href="/bench/joints/${JOINT}"]`);
  equal(await page.textContent("h1"), "Cylinder head to block", "the joint");
  await page.click("nav.act a.main");
  const start = await page.textContent("main");
  for (const said of ["always renew", "oiled", "Cylinder head gasket", "Blow the bolt holes dry"]) {
    expect(start.toLowerCase().includes(said.toLowerCase()), `before the first stage stands: ${said}`);
  }
  await page.click("nav.act a.main");
  equal((await where(page)).count, `Step 1 of ${STEPS}`, "the first step");
  await page.context().close();
};

/** Every step by touch, with an undo now and then; the page never loads again. */
export const everyStep = async (browser) => {
  const page = await open(browser);
  await page.goto(`${yard}/bench/joints/${JOINT}/start`);
  const plan = await planned(page);
  await page.tap("nav.act a.main");
  await page.waitForSelector("#next");
  let loads = 0;
  page.on("request", (request) => { if (request.isNavigationRequest()) loads += 1; });
  const seen = [];
  let heads = 0;
  for (let n = 1; n <= STEPS; n += 1) {
    const now = await where(page);
    equal(now.count, `Step ${n} of ${STEPS}`, "the step");
    if (now.asks) {
      heads += 1;
      expect(!(await page.isVisible("#value")), `step ${n}: the value is not shown before the head was looked at`);
      expect(await page.isVisible("#picture svg"), `step ${n}: the head is drawn`);
      expect((await page.textContent("#head")).includes("head"), `step ${n}: the head is named`);
      await page.tap("#next");
    }
    expect(await page.isVisible("#value b"), `step ${n}: the value is shown`);
    const values = (await page.locator("#value b").allTextContents()).join(", ");
    seen.push(`${await page.textContent("#pass")} ${now.position} ${values}`);
    const said = await page.textContent("#said");
    expect(said.includes(values) && said.includes(`Step ${n} of ${STEPS}`), `step ${n} is announced: ${said}`);
    if (n % 25 === 0) {
      await page.tap("#undo");
      equal((await where(page)).count, `Step ${n - 1} of ${STEPS}`, "one step back");
      expect(await page.isVisible("#value b"), "what was taken back shows its value");
      await page.tap("#next");
      if ((await where(page)).asks) await page.tap("#next");
    }
    if (n < STEPS) await page.tap("#next");
  }
  equal(loads, 0, "no page was loaded on the way");
  expect(heads >= 2, `two kinds of head asked ${heads} times`);
  const wanted = plan.passes.flatMap((pass) =>
    pass.steps.map((step) => `Pass ${pass.number} of ${plan.passes.length} Position ${step.position}`));
  equal(seen.map((step) => step.split(" ").slice(0, 6).join(" ")), wanted, "the steps that the API lists, in its order");
  equal(new Set(seen).size, STEPS, "every step is another one");
  for (const stated of ["Pass 2 of 7 Position 3 40 N·m", "Pass 4 of 7 Position 10 + 90°", "Pass 7 of 7 Position 16 42 N·m"]) {
    expect(seen.includes(stated), `somewhere stands: ${stated}`);
  }
  await page.tap("#next");
  await page.waitForSelector("h1:has-text('All passes done')");
  await page.context().close();
};

/** The same keys as a pedal sends; a step counts when the key is let go. */
export const byKeys = async (browser) => {
  const page = await open(browser, { width: 1280, height: 800 });
  await page.goto(`${yard}/bench/joints/${JOINT}/steps/20?seen=1`);
  const count = async () => (await where(page)).count;
  for (const key of [" ", "Enter", "PageDown"]) {
    const before = await count();
    await page.keyboard.down(key);
    equal(await count(), before, `${JSON.stringify(key)} does not count while it is pressed`);
    await page.keyboard.up(key);
    expect((await count()) !== before, `${JSON.stringify(key)} counts when it is let go`);
  }
  equal(await count(), `Step 23 of ${STEPS}`, "three steps on");
  await page.keyboard.press("Backspace");
  equal(await count(), `Step 22 of ${STEPS}`, "Backspace takes one back");
  // A key pressed on one page and let go on the next is no step.
  await page.evaluate(() => document.dispatchEvent(new KeyboardEvent("keyup", { key: " ", bubbles: true })));
  equal(await count(), `Step 22 of ${STEPS}`, "a key that was not pressed here");
  await page.reload();
  equal(await count(), `Step 22 of ${STEPS}`, "the step is kept when the page is loaded again");
  // From the first page to the steps by keys alone.
  await page.goto(`${yard}/bench/`);
  await page.keyboard.press("Tab");
  equal(await page.evaluate(() => document.activeElement.textContent), "To the content", "the first stop leads to the content");
  const reach = async (wanted, most = 60) => {
    for (let i = 0; i < most; i += 1) {
      await page.keyboard.press("Tab");
      if (await page.evaluate((text) => (document.activeElement.textContent || "").includes(text), wanted)) return;
    }
    expect(false, `${wanted} is reached by Tab`);
  };
  await page.focus("#q");
  await page.keyboard.type("cylinder head to");
  await page.waitForSelector(`#results a[href="/bench/joints/${JOINT}"]`);
  await reach("Cylinder head to block");
  const outline = await page.evaluate(() => getComputedStyle(document.activeElement).outlineWidth);
  expect(parseFloat(outline) >= 3, `what has the focus shows it: ${outline}`);
  await page.keyboard.press("Enter");
  await page.waitForSelector("h1:has-text('Cylinder head to block')");
  await reach("Start tightening");
  await page.keyboard.press("Enter");
  await page.waitForSelector("h1:has-text('Before you start')");
  await reach("Begin pass 1");
  await page.keyboard.press("Enter");
  await page.waitForSelector("#step.asks");
  equal(await count(), `Step 1 of ${STEPS}`, "at the first step by keys alone");
  await page.context().close();
};

/** Two kinds of head and a machine to choose, all without script. */
export const withoutScript = async (browser) => {
  const page = await open(browser, { script: false });
  await page.goto(`${yard}/bench/`);
  await page.fill("#q", "pump cover");
  await page.click("button:has-text('Find')");
  await page.click("#results a:has-text('Raw-water pump cover')");
  await page.click("nav.act a.main");
  const asks = await page.textContent("main");
  expect(asks.includes("Which machine is it?") && !asks.includes("5.5 N·m"), "the machine is asked for before any value");
  await page.goto(page.url().replace("/start", "/steps/1"));
  expect((await page.textContent("main")).includes("Which machine is it?"), "a step asks for the machine too");
  await page.click("a.row:has-text('bronze-housing')");
  await page.click("nav.act a.main");
  let asked = 0;
  for (let n = 1; n <= 18; n += 1) {
    equal((await where(page)).count, `Step ${n} of 18`, "the step without script");
    if ((await where(page)).asks) {
      asked += 1;
      expect(!(await page.isVisible("#value")), "the value waits for the head");
      await page.click("#next");
    }
    expect(await page.isVisible("#value b"), "the value is shown");
    if (n === 9) {
      await page.click("#undo");
      equal((await where(page)).count, "Step 8 of 18", "undo without script");
      await page.click("#next");
      if ((await where(page)).asks) await page.click("#next");
    }
    await page.click("#next");
  }
  expect(asked >= 2, `the head is asked for at each change: ${asked}`);
  expect((await page.textContent("h1")).includes("All passes done"), "the end without script");
  await page.context().close();
};

/** A kit for several joints, made with boxes to tick and without script; then its way and its label. */
export const kitByBoxes = async (browser) => {
  const page = await open(browser, { script: false });
  await page.goto(`${yard}/bench/kit`);
  await page.fill("#find", "pump");
  await page.click("button:has-text('Look')");
  const boxes = page.locator('.picks input[name="joint"]');
  expect((await boxes.count()) >= 2, `joints to choose from: ${await boxes.count()}`);
  const wanted = await boxes.evaluateAll((all) => all.slice(0, 2).map((one) => one.value));
  for (const id of wanted) await page.check(`.picks input[value="${id}"]`);
  await page.click("button:has-text('Make the kit')");
  const chosen = await page.$$eval("main .pair .id", (all) => all.map((one) => one.textContent));
  equal(chosen, wanted, "the kit is for what was ticked");
  expect((await page.textContent("main")).includes("Torque wrenches"), "and says what to lay out");
  await page.click("a:has-text('The way in')");
  expect((await page.locator(".count-up li").count()) >= 2, "the way to both");
  await page.click("a:has-text('Label')");
  await page.fill("#reading", "1240 h");
  await page.fill("#date", "");
  await page.click("button:has-text('Write it on')");
  const label = (await page.textContent(".sticker")).replace(/\s+/g, " ");
  expect(label.includes("1240 h") && label.includes("Dateto be written in"), `the label: ${label}`);
  await page.click("a:has-text('To print')");
  equal(await page.locator(".blank").count(), 2, "a line for the day and for when it is next due");
  await page.context().close();
};

/** The largest turn in one go, chosen without script: other steps, the same sum, on the page, in the steps and on paper. */
export const turnsInSteps = async (browser) => {
  const page = await open(browser, { script: false, silent: ["400"] });
  const sums = {};
  for (const degrees of ["30°", "90°"]) {
    await page.goto(`${yard}/bench/joints/${JOINT}`);
    await page.selectOption("#step", degrees);
    await page.click('form:has(#step) button:has-text("Show")');
    const asides = await page.$$eval(".action small", (all) => all.map((one) => one.textContent).filter((text) => text.startsWith("as ")));
    sums[degrees] = asides;
    const steps = asides.flatMap((text) => text.slice(3).split(" + ").map((step) => Number.parseFloat(step)));
    expect(steps.every((step) => step <= Number.parseFloat(degrees)), `no step beyond ${degrees}: ${asides}`);
    await page.click("a:has-text('Card to print or keep')");
    expect((await page.textContent("body")).includes(asides[0] ?? "+ 90°"), "the card has the same steps");
  }
  equal(sums["30°"][0], "as 30° + 30° + 30°", "a quarter turn in three steps");
  equal(sums["90°"].length, 0, "a quarter turn by hand in one");
  await page.goto(`${yard}/bench/joints/${JOINT}?step=much`);
  expect((await page.textContent("main")).includes("Write an angle such as 60°"), "a turn that is none is refused in words");
  await page.context().close();
};
