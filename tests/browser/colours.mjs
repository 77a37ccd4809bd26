// Colours that the system forces, and what of a state is left without any.
import { expect, open, picture } from "./browser.mjs";
import { pages } from "./pages.mjs";

export const forcedColours = async (browser) => {
  const page = await open(browser, { forced: true });
  for (const name of ["step", "joint", "entry-filled", "find"]) {
    await page.goto(pages.find(([known]) => known === name)[1]);
    expect(await page.evaluate(() => matchMedia("(forced-colors: active)").matches), "colours are forced");
    await picture(page, `${name}-forced-colours`);
    const borders = await page.$$eval("button, .act a, .button", (all) =>
      all.filter((one) => one.checkVisibility()).map((one) => parseFloat(getComputedStyle(one).borderTopWidth)));
    expect(borders.length > 0 && borders.every((width) => width >= 2), `${name}: every control has an edge of its own`);
  }
  await page.goto(pages.find(([known]) => known === "step")[1]);
  const done = await page.locator("#drawing .done:not([display])").count();
  const now = await page.locator("#drawing .now:not([display])").count();
  expect(now === 1 && done >= 1, `ring and ticks tell the state by shape: ${now}, ${done}`);
  await page.context().close();
};
