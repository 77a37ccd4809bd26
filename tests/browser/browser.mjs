// The browser that the checks drive, and what every page must keep: no request leaves the host, nothing fails unseen.
import { createRequire } from "node:module";
import { mkdirSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";

/** Loads a pinned tool from the folder that the script installed it in. */
export const tool = async (name) => {
  const require = createRequire(join(process.env.BROWSER_TOOLS, "here.js"));
  return import(pathToFileURL(require.resolve(name)).href);
};

const FLAGS = [
  "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
  "--disable-component-update", "--disable-sync",
];

export const yard = process.env.BENCH_YARD;
export const slips = process.env.BENCH_SLIPS;
export const pictures = process.env.BENCH_PICTURES;
mkdirSync(pictures, { recursive: true });

const faults = [];
let checks = 0;

/** Notes a fault unless it holds. */
export const expect = (holds, what) => {
  checks += 1;
  if (!holds) {
    faults.push(what);
    console.log(`   FAULT ${what}`);
  }
};

export const equal = (found, wanted, what) => {
  expect(JSON.stringify(found) === JSON.stringify(wanted), `${what}: ${JSON.stringify(found)}, wanted ${JSON.stringify(wanted)}`);
};

/** Starts the browser. */
export const launch = async () => {
  const { chromium } = (await tool("playwright-core")).default ?? (await tool("playwright-core"));
  return chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: FLAGS });
};

const own = new Set([yard, slips].map((base) => new URL(base).host));

/** A window whose requests and errors are watched. */
export const open = async (browser, options = {}) => {
  const { width = 390, height = 844, scheme = "light", script = true, silent = [] } = options;
  const context = await browser.newContext({
    viewport: { width, height }, colorScheme: scheme, javaScriptEnabled: script,
    forcedColors: options.forced ? "active" : "none", hasTouch: width < 900,
  });
  const page = await context.newPage();
  page.on("request", (request) => {
    const url = new URL(request.url());
    const isInside = ["data:", "blob:", "about:", "file:"].includes(url.protocol) || own.has(url.host);
    expect(isInside, `a request leaves the host: ${request.url()}`);
  });
  page.on("pageerror", (error) => expect(false, `a script fails on ${page.url()}: ${error.message}`));
  page.on("console", (message) => {
    if (message.type() !== "error" || silent.some((part) => message.text().includes(part))) return;
    expect(false, `the console of ${page.url()} says: ${message.text()}`);
  });
  return page;
};

export const picture = (page, name, fullPage = false) =>
  page.screenshot({ path: join(pictures, `${name.replace(/[^a-z0-9-]+/gi, "-")}.png`), fullPage });

/** Runs one part of the checks and says how long it took. */
export const part = async (name, run) => {
  const start = Date.now();
  const before = [checks, faults.length];
  try {
    await run();
  } catch (error) {
    expect(false, `${name} breaks off: ${error.stack ?? error}`);
  }
  const seconds = ((Date.now() - start) / 1000).toFixed(1);
  console.log(`   ${name}: ${checks - before[0]} checks, ${faults.length - before[1]} faults, ${seconds} s`);
};

/** Ends with the outcome; a run without checks is a fault too. */
export const finish = () => {
  console.log(`   ${checks} checks, ${faults.length} faults`);
  process.exit(faults.length === 0 && checks > 0 ? 0 : 1);
};
