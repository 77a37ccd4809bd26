// Every page at phone and tablet widths, light and dark: the rules of WCAG, the sizes of text and controls, no sideways
// scrolling; a picture of each is kept.
import { equal, expect, open, picture, tool } from "./browser.mjs";
import { files, pages } from "./pages.mjs";

const WIDTHS = [320, 390, 820];
const TEXT_MIN = 18;
const CONTROL_MIN = 64;

/** Texts that are smaller than they may be, as they are drawn. */
const smallTexts = (least) => {
  const small = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const element = node.parentElement;
    if (!node.textContent.trim() || element.closest("script, style, title, desc, symbol, option, .unseen, .skip")) continue;
    if (!element.checkVisibility({ visibilityProperty: true })) continue;
    const scale = element.ownerSVGElement ? element.getScreenCTM().a : 1;
    // A letter inside a small head is part of its shape.
    if (element.closest("svg.head, g[data-n]")) continue;
    const size = parseFloat(getComputedStyle(element).fontSize) * scale;
    if (size < least - 0.05) small.push(`${size.toFixed(1)} px: ${node.textContent.trim().slice(0, 40)}`);
  }
  return [...new Set(small)].slice(0, 5);
};

/** Controls that are smaller than a glove needs; links within a sentence are text. */
const smallControls = (least) => {
  const small = [];
  for (const control of document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary")) {
    if (!control.checkVisibility() || control.classList.contains("skip")) continue;
    // A box to tick is as large as its label.
    const box = (control.type === "checkbox" ? control.closest("label") : control).getBoundingClientRect();
    if (box.width < least - 0.5 || box.height < least - 0.5) {
      small.push(`${Math.round(box.width)} × ${Math.round(box.height)}: ${(control.textContent || control.name).trim().slice(0, 40)}`);
    }
  }
  return small.slice(0, 5);
};

/** One page at one width and in one scheme. */
const readOne = async (AxeBuilder, page, name, address, width, scheme) => {
  const where = `${name} at ${width} px, ${scheme}`;
  await page.goto(address);
  const isOwnFile = files.some(([known]) => known === name);
  const axe = new AxeBuilder({ page }).options({ resultTypes: ["violations"], rules: { "color-contrast-enhanced": { enabled: true } } });
  const { violations } = await axe.analyze();
  equal(violations.map(({ id, nodes }) => `${id}: ${nodes[0].html.slice(0, 90)}`), [], `axe, ${where}`);
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  expect(wide <= 0, `sideways scrolling by ${wide} px, ${where}`);
  if (!isOwnFile && scheme === "light") {
    equal(await page.evaluate(smallTexts, TEXT_MIN), [], `texts of ${TEXT_MIN} px, ${where}`);
    equal(await page.evaluate(smallControls, CONTROL_MIN), [], `controls of ${CONTROL_MIN} px, ${where}`);
  }
  await picture(page, `${name}-${width}-${scheme}`);
};

/** Light and dark side by side: a browser window each. */
export const reading = async (browser) => {
  const { AxeBuilder } = await tool("@axe-core/playwright");
  await Promise.all(["light", "dark"].map(async (scheme) => {
    for (const width of WIDTHS) {
      const page = await open(browser, { width, scheme, silent: ["404"] });
      for (const [name, address] of [...pages, ...files]) await readOne(AxeBuilder, page, name, address, width, scheme);
      await page.context().close();
    }
  }));
};

/** The sizes that the step page promises: the value, stage and position, the main action. */
export const stepSizes = async (browser) => {
  for (const width of WIDTHS) {
    const page = await open(browser, { width });
    await page.goto(pages.find(([name]) => name === "step")[1]);
    const size = (selector) => page.$eval(selector, (element) => parseFloat(getComputedStyle(element).fontSize));
    expect((await size("#value b")) >= 64, `the value has 64 px at ${width} px`);
    expect((await size("#position")) >= 32 && (await size("#pass")) >= 32, `pass and position have 32 px at ${width} px`);
    const box = await page.locator("#next").boundingBox();
    expect(box.height >= 96, `the main action is ${box.height} px high at ${width} px`);
    expect(box.y >= (844 * 2) / 3 - 1, `the main action lies in the lower third at ${width} px: ${box.y}`);
    const undo = await page.locator("#undo").boundingBox();
    expect(undo.height >= 64 && undo.width >= 64 && Math.abs(undo.y - box.y) < 1, `undo stands beside it at ${width} px`);
    expect(undo.width + box.width > (Math.min(width, 960) - 24) * 0.95, `they take the full width at ${width} px`);
    const value = await page.locator("#value").boundingBox();
    const position = await page.locator("#position").boundingBox();
    expect(value.y < position.y && value.y + value.height < 844, `the value stands first and in view at ${width} px`);
    await page.context().close();
  }
};
