// Markup as two validators see it, and the weight of what is loaded.
import { execFileSync } from "node:child_process";
import { mkdirSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { createRequire } from "node:module";
import { gzipSync } from "node:zlib";
import { equal, expect, pictures, yard } from "./browser.mjs";
import { files, pages } from "./pages.mjs";

const FIRST_VIEW_MAX = 50 * 1024;

const run = (command, args) => {
  try {
    return { ok: true, text: execFileSync(command, args, { encoding: "utf8", stdio: ["ignore", "pipe", "pipe"] }) };
  } catch (error) {
    return { ok: false, text: `${error.stdout}${error.stderr}` };
  }
};

/** Every page and every file, as it is sent. */
export const markup = async () => {
  const folder = join(pictures, "html");
  mkdirSync(folder, { recursive: true });
  const all = [];
  for (const [name, address] of [...pages, ...files]) {
    const answer = await fetch(address, { headers: { accept: "text/html" } });
    const file = join(folder, `${name}.html`);
    writeFileSync(file, await answer.text());
    all.push(file);
    expect((answer.headers.get("content-security-policy") ?? "").startsWith("default-src 'none'"), `${name} may load only its own files`);
  }
  all.push(process.env.BENCH_CARD_FILE);
  const require = createRequire(join(process.env.BROWSER_TOOLS, "here.js"));
  const vnu = run("java", ["-jar", join(dirname(require.resolve("vnu-jar/package.json")), "build/dist/vnu.jar"), "--also-check-svg", ...all]);
  equal(vnu.text.trim().split("\n").filter(Boolean).slice(0, 8), [], "the validator of the HTML standard");
  const config = join(import.meta.dirname, "htmlvalidate.json");
  const validate = run(join(process.env.BROWSER_TOOLS, "node_modules/.bin/html-validate"), ["--config", config, "--formatter", "text", ...all]);
  equal(validate.text.trim().split("\n").filter(Boolean).slice(0, 8), [], "html-validate");
};

/** The first view: the page and all its own files. */
export const weight = async () => {
  const bytes = async (address) => gzipSync(Buffer.from(await (await fetch(address)).arrayBuffer()), { level: 6 }).length;
  for (const [name, address] of pages.filter(([, address]) => address.startsWith(yard))) {
    const html = await (await fetch(address)).text();
    const own = [...html.matchAll(/(?:href|src)="(\/bench\/assets\/[^"]+)"/g)].map(([, path]) => yard + path);
    expect(own.length >= 1, `${name} has a style`);
    let sum = await bytes(address);
    for (const asset of own) sum += await bytes(asset);
    expect(sum < FIRST_VIEW_MAX, `${name} weighs ${sum} bytes compressed`);
    if (name === "find") console.log(`   first view: ${sum} bytes compressed`);
  }
};
