// On paper: one joint a page, on A4 and on Letter, and a box to tick for every position of every pass.
import { readFileSync } from "node:fs";
import { equal, expect, open, picture, pictures, yard } from "./browser.mjs";
import { join } from "node:path";

const PAPERS = ["A4", "Letter"];

/** How many pages a PDF has: this browser writes its page objects uncompressed. */
const pagesOf = (pdf) => (pdf.toString("latin1").match(/\/Type\s*\/Page[^s]/g) ?? []).length;

/** Every joint of the yard on one sheet of either paper. */
export const oneJointAPage = async (browser) => {
  const page = await open(browser);
  const answer = await page.request.get(`${yard}/v1/joints?take=500`);
  const joints = (await answer.json()).items.map((joint) => joint.id);
  expect(joints.length >= 50, `${joints.length} joints`);
  await page.context().close();
  await Promise.all(PAPERS.map(async (format) => {
    const window = await open(browser);
    for (const id of joints) {
      await window.goto(`${yard}/bench/joints/${id}/card`);
      equal(pagesOf(await window.pdf({ format })), 1, `pages of ${id} on ${format}`);
    }
    await window.context().close();
  }));
};

/** The card of a joint as a file: boxes, identity, source, when it was printed. */
export const whatACardSays = async (browser) => {
  const page = await open(browser);
  await page.goto(`${yard}/bench/joints/skua.diesel.cylinder-head/card`);
  await page.emulateMedia({ media: "print" });
  equal(await page.locator(".box").count(), 72, "a box to tick for each position of each pass");
  const text = await page.textContent("body");
  for (const said of ["skua.diesel.cylinder-head", "revision 1", "Checked by a second person", "Skerry Yard workshop book", "page 12"]) {
    expect(text.includes(said), `the card says ${said}`);
  }
  expect(/printed \d{4}-\d\d-\d\d \d\d:\d\d/.test(text), "the card says when it was printed");
  await page.pdf({ format: "A4", path: join(pictures, "card-a4.pdf") });
  await page.setViewportSize({ width: 760, height: 1090 });
  await picture(page, "card-on-paper");
  await page.context().close();
};

/** The joint page prints the card too, without what is only for the screen. */
export const thePagePrints = async (browser) => {
  const page = await open(browser);
  await page.goto(`${yard}/bench/joints/skua.diesel.cylinder-head`);
  await page.emulateMedia({ media: "print" });
  for (const hidden of [".bar", ".act", "#more"]) expect(!(await page.isVisible(hidden)), `${hidden} is not printed`);
  expect(await page.isVisible(".box"), "boxes to tick are printed");
  for (const format of PAPERS) equal(pagesOf(await page.pdf({ format })), 1, `pages of the joint page on ${format}`);
  await page.context().close();
};

/** A whole way: a first page with the kit, then a page for each joint. */
export const theWholeWay = async (browser) => {
  const page = await open(browser);
  await page.goto(`${yard}/bench/way/sheet?joint=skua.diesel.intake-trunk.flange`);
  const sheets = await page.locator(".sheet").count();
  expect(sheets >= 3, `${sheets} joints on the way`);
  for (const format of PAPERS) equal(pagesOf(await page.pdf({ format })), sheets + 1, `pages of the way on ${format}`);
  await page.context().close();
};

/** The one-file card opens from the device's storage. */
export const opensFromStorage = async (browser) => {
  const file = process.env.BENCH_CARD_FILE;
  const page = await open(browser);
  await page.goto(`file://${file}`);
  const content = readFileSync(file, "utf8");
  expect(!/(src|href)="(?!#)/.test(content) && !content.includes("url("), "the file asks for no other file");
  expect((await page.textContent("h1")).includes("Cylinder head"), "the card opens without a server");
  expect(await page.isVisible("figure svg"), "with its drawing");
  await picture(page, "card-from-storage");
  await page.context().close();
};
