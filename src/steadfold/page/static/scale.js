// How hard the metal works, as colour: the scale of the printed pictures, its legend, and its stripes beyond 1.

import { ask } from "./talk.js";
import { draw, make } from "./make.js";

/** @type {Promise<number[][]> | null} */
let asked = null;

/** @returns {Promise<number[][]>} 256 colours from 0 to 1, each red, green, blue to 255 */
export function colours() {
  asked ??= ask("/api/scale").then((told) => told.colours);
  return asked;
}

/** @param {number[][]} table @param {number} share */
export function colourOf(table, share) {
  const at = Math.min(table.length - 1, Math.max(0, Math.round(share * (table.length - 1))));
  return table[at];
}

const BAR = 256, BEYOND = 52, HIGH = 14;

/**
 * The legend: a bar from 0 to 1, striped beyond, a pointer at the greatest share.
 * @param {number[][]} table @param {number} greatest
 */
export function legend(table, greatest) {
  const label = `Share of its limit, from 0 to 1 and beyond; the greatest on this part is ${greatest.toFixed(2)}.`;
  const drawing = draw("svg", { viewBox: `-4 0 ${BAR + BEYOND + 8} 46`, class: "legend", role: "img", "aria-label": label });
  table.forEach((colour, index) => {
    const x = (index / table.length) * BAR;
    drawing.append(draw("rect", { x, y: 13, width: BAR / table.length + 0.4, height: HIGH, fill: css(colour), "data-share": (index / (table.length - 1)).toFixed(4) }));
  });
  drawing.append(draw("rect", { x: BAR, y: 13, width: BEYOND, height: HIGH, fill: css(table[table.length - 1]) }));
  for (let x = BAR + 3; x < BAR + BEYOND - 6; x += 7) {
    drawing.append(draw("path", { d: `M${x} ${12 + HIGH}L${x + 9} 14`, class: "stripe" }));
  }
  drawing.append(draw("path", { d: `M${BAR} 10v${HIGH + 6}`, class: "limit" }));
  for (const at of [0, 0.25, 0.5, 0.75, 1]) {
    drawing.append(draw("text", { x: at * BAR, y: 42, "text-anchor": at ? "middle" : "start", text: String(at) }));
  }
  drawing.append(draw("text", { x: BAR + BEYOND, y: 42, "text-anchor": "end", text: "beyond" }));
  const at = greatest <= 1 ? greatest * BAR : BAR + Math.min(greatest - 1, 1) * BEYOND;
  drawing.append(draw("path", { d: `M${at} 12l-5 -9h10z`, class: "pointer" }));
  return make("div", { class: "legend-box" }, make("span", { class: "legend-name", text: "share of its limit" }), drawing);
}

/** @param {number[]} colour */
export function css([red, green, blue]) {
  return `rgb(${red}, ${green}, ${blue})`;
}
