// The bench page in a real browser. `tests/outside/browser.sh` starts it with two services to look at.
import { finish, launch, part } from "./browser.mjs";
import { forcedColours } from "./colours.mjs";
import * as entry from "./entry.mjs";
import { markup, weight } from "./markup.mjs";
import * as paper from "./paper.mjs";
import { reading, stepSizes } from "./reading.mjs";
import * as walk from "./walk.mjs";

const browser = await launch();
console.log(`   browser ${browser.version()}`);
await part("finds and starts", () => walk.findAndStart(browser));
await part("steps through every pass with undo", () => walk.everyStep(browser));
await part("by keys and pedal", () => walk.byKeys(browser));
await part("without script", () => walk.withoutScript(browser));
await part("a kit by boxes to tick", () => walk.kitByBoxes(browser));
await part("turns in steps", () => walk.turnsInSteps(browser));
await part("sizes of the step page", () => stepSizes(browser));
await part("forced colours", () => forcedColours(browser));
await part("one joint a page", () => paper.oneJointAPage(browser));
await part("what a card says", () => paper.whatACardSays(browser));
await part("the joint page on paper", () => paper.thePagePrints(browser));
await part("the whole way on paper", () => paper.theWholeWay(browser));
await part("a card from storage", () => paper.opensFromStorage(browser));
await part("weight", weight);
await part("markup", markup);
await part("WCAG, sizes, widths, light and dark", () => reading(browser));
// Last: these write into the book.
await part("an entry is refused and explained", () => entry.refusesAndExplains(browser));
await part("a correction and its history", () => entry.correctsAndKeepsHistory(browser));
await part("an entry without script", () => entry.worksWithoutScript(browser));
await browser.close();
finish();
