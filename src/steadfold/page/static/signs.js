// Small drawings that say a verdict or a severity without colour: a beam that holds, gives, or breaks.

import { draw } from "./make.js";

/** @type {Record<string, string[]>} */
const BEAM = {
  enough: ["M3 9H37"],
  tight: ["M3 9Q20 13.5 37 9"],
  "not enough": ["M3 9Q20 25 37 9"],
  unproven: ["M3 9H9M14 9H20M25 9H31M35 9H37"],
  stop: ["M3 9L19 15M37 9L22 15", "M17 4l3 4l-3 2l3 4"],
};

/** @param {string} verdict */
export function beam(verdict) {
  const lines = (BEAM[verdict] ?? []).map((d) => draw("path", { d, class: "bar" }));
  const feet = ["M3 12l-2.6 6h5.2z", "M37 12l-2.6 6h5.2z"].map((d) => draw("path", { d, class: "foot" }));
  return draw("svg", { viewBox: "0 0 40 24", class: "beam", "aria-hidden": "true" }, ...feet, ...lines);
}

/** @type {Record<string, string>} */
const SIGN = {
  stop: "M6 1.5h4l4.5 4.5v4L10 14.5H6L1.5 10V6zM5 5l6 6M11 5l-6 6",
  unproven: "M8 1.5a6.5 6.5 0 1 0 .01 0M6 6.2a2 2 0 1 1 2.6 1.9q-.6.3-.6 1.3M8 11.4v.6",
  caution: "M8 2L15 14H1zM8 6.5v3.6M8 11.8v.6",
  note: "M8 1.5a6.5 6.5 0 1 0 .01 0M8 7v4.5M8 4.2v.6",
};

/** @param {string} severity */
export function sign(severity) {
  return draw("svg", { viewBox: "0 0 16 16", class: "sign", "aria-hidden": "true" }, draw("path", { d: SIGN[severity] ?? SIGN.note }));
}
