// The pages of the bench, each with the book that shows it.
import { slips, yard } from "./browser.mjs";

const head = "skua.diesel.cylinder-head";
const cover = "skua.diesel.raw-water-pump.cover";

export const pages = [
  ["find", `${yard}/bench/`],
  ["found", `${yard}/bench/?q=pump+cover`],
  ["found-by-head", `${yard}/bench/?head=hexagon-flange&thread=M8`],
  ["within", `${yard}/bench/?within=skua.diesel`],
  ["joint", `${yard}/bench/joints/${head}`],
  ["joint-of-variants", `${yard}/bench/joints/${cover}`],
  ["start", `${yard}/bench/joints/${head}/start`],
  ["start-asks", `${yard}/bench/joints/${cover}/start`],
  ["step-asks", `${yard}/bench/joints/${head}/steps/1`],
  ["step", `${yard}/bench/joints/${head}/steps/20?seen=1`],
  ["step-of-30", `${yard}/bench/joints/skua.fuel-tank.manhole/steps/3?seen=1`],
  ["done", `${yard}/bench/joints/${cover}/steps/19?variant=bronze-housing`],
  ["kit-empty", `${yard}/bench/kit`],
  ["kit", `${yard}/bench/kit?joint=${head}&way=on`],
  ["kit-found", `${yard}/bench/kit?joint=${cover}&find=pump`],
  ["way", `${yard}/bench/way?joint=${head}`],
  ["way-empty", `${yard}/bench/way`],
  ["label", `${yard}/bench/label?joint=${head}&reading=1240+h`],
  ["fastener", `${yard}/bench/fasteners/${cover}.flange`],
  ["history", `${yard}/bench/history/${cover}`],
  ["entry", `${yard}/bench/entry`],
  ["entry-filled", `${yard}/bench/entry?id=${cover}.flange`],
  ["rule", `${yard}/bench/rules/torque-beyond-yield`],
  ["sign-in", `${yard}/bench/sign-in`],
  ["not-there", `${yard}/bench/joints/skua.diesel.cylinder-hed`],
  ["audit", `${slips}/bench/audit`],
  ["audit-within", `${slips}/bench/audit?within=skua.training.table-row`],
  ["fastener-with-findings", `${slips}/bench/fasteners/skua.training.digits.m8-rear`],
];

/** Pages that are a file of their own: the card, the whole way, the label. */
export const files = [
  ["card", `${yard}/bench/joints/${head}/card`],
  ["card-of-variants", `${yard}/bench/joints/${cover}/card`],
  ["way-sheet", `${yard}/bench/way/sheet?joint=${head}`],
  ["label-print", `${yard}/bench/label/print?joint=${head}`],
];
