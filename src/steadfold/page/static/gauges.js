// The part in every stock thickness: what it may carry, how far it sags, what it weighs and costs. A point picked becomes the choice.

import { draw, make } from "./make.js";
import { length, mass } from "./units.js";

/** @typedef {import("./units.js").Units} Units */
/** @typedef {{key: string, title: string, show: (value: number) => string, asked?: number | null, askedSay?: string}} Pane */

const WIDE = 178, HIGH = 132, LEFT = 12, TOP = 40, FOOT = 20, RIGHT = 12;

/**
 * @param {any} found @param {{units: Units, apply: (edits: any[], say: string) => void, sagLimit: number | null}} told
 */
export function compared(found, { units, apply, sagLimit }) {
  const take = (/** @type {any} */ choice) => apply([{ way: found.way, value: choice.text }], `thickness ${choice.text}`);
  const name = (/** @type {any} */ choice) => `${length(choice.thickness_mm, units)}${/ga/.test(choice.label) ? ` (${choice.label})` : ""}`;
  const money = (/** @type {number} */ amount) => `${amount.toFixed(2)} ${found.currency}`;
  /** @type {Pane[]} */
  const panes = [
    { key: "rating_kg", title: "may carry", show: (v) => mass(v, units), asked: found.carried_kg, askedSay: "asked" },
    { key: "sag_mm", title: "sags", show: (v) => length(v, units), asked: sagLimit, askedSay: "limit" },
    { key: "mass_kg", title: "weighs", show: (v) => mass(v, units) },
    { key: "cost_each", title: "costs, each", show: money },
  ];
  const rated = found.choices.filter((/** @type {any} */ c) => c.rating_kg !== null);
  const says = (/** @type {any} */ c) => c.rating_kg === null ? `${name(c)}: ${c.why_not}`
    : `${name(c)}: may carry ${mass(c.rating_kg, units)}, sags ${length(c.sag_mm ?? 0, units)}, weighs ${mass(c.mass_kg ?? 0, units)}${c.cost_each === null ? "" : `, costs ${money(c.cost_each)} each`}${c.now ? "; it is this now" : ""}`;
  const said = make("p", { class: "gauge-said", role: "status", text: "Pick a point: its thickness becomes the job's." });
  const made = [];
  if (rated.length > 1) made.push(picture(panes, rated, says, said, take), said);
  const row = (/** @type {any} */ c) => make("tr", { class: c.now ? "now" : null },
    make("th", { scope: "row", text: name(c) }),
    c.rating_kg === null ? make("td", { colspan: "4", text: c.why_not })
      : panes.map((pane) => make("td", { text: c[pane.key] === null ? "" : pane.show(c[pane.key]) })),
    make("td", {}, c.now ? "now" : make("button", { type: "button", class: "quiet-button", "aria-label": `Take ${length(c.thickness_mm, units)}`, text: "Take it", onclick: () => take(c) })));
  made.push(make("div", { class: "table-box", tabindex: "0", role: "group", "aria-label": "every thickness, a wide table" }, make("table", { class: "gauges" },
    make("thead", {}, make("tr", {}, ["", ...panes.map((p) => p.title), ""].map((text) => make("th", { scope: "col", text })))),
    make("tbody", {}, found.choices.map(row)))));
  made.push(make("p", { class: "quiet", text: "On the coarse model, cost by the shop's rates; the one you take is worked out in full." }));
  return made;
}

/**
 * Four small charts with one thickness axis; each thickness is one button across all of them.
 * @param {Pane[]} panes @param {any[]} rated @param {(choice: any) => string} says @param {HTMLElement} said @param {(choice: any) => void} take
 */
function picture(panes, rated, says, said, take) {
  const thin = rated[0].thickness_mm, thick = rated[rated.length - 1].thickness_mm;
  // By the logarithm: stock goes up by shares, and each thickness then has room to be pressed.
  const across = (/** @type {any} */ c) => LEFT + (Math.log(c.thickness_mm / thin) / Math.max(Math.log(thick / thin), 1e-9)) * (WIDE - LEFT - RIGHT);
  const drawing = draw("svg", { viewBox: `0 0 ${2 * WIDE} ${2 * HIGH}`, class: "chart gauge-chart", role: "radiogroup", "aria-label": "Thicknesses: arrow keys move, Enter takes" });
  /** @type {{corner: [number, number], up: (value: number) => number, pane: Pane}[]} */
  const drawn = [];
  for (const [n, pane] of panes.entries()) {
    const corner = /** @type {[number, number]} */ ([(n % 2) * WIDE, Math.floor(n / 2) * HIGH]);
    const values = rated.map((c) => c[pane.key]).filter((v) => v !== null);
    if (!values.length) continue;
    // Beyond six times what is asked nothing more is to be seen; points there lie at the upper edge.
    const most = 1.06 * (pane.asked ? Math.max(1.2 * pane.asked, Math.min(6 * pane.asked, Math.max(...values))) : Math.max(...values));
    const up = (/** @type {number} */ value) => HIGH - FOOT - Math.min(1, value / (most || 1)) * (HIGH - FOOT - TOP);
    drawn.push({ corner, up, pane });
    const group = draw("g", { transform: `translate(${corner[0]} ${corner[1]})`, "aria-hidden": "true" });
    group.append(draw("text", { x: LEFT, y: 13, class: "pane-title", text: pane.title }), draw("text", { x: LEFT, y: 27, text: `up to ${pane.show(Math.max(...values))}` }),
      draw("path", { d: `M${LEFT - 4} ${TOP - 6}V${HIGH - FOOT}H${WIDE - RIGHT + 6}`, class: "axis" }));
    if (pane.asked) {
      group.append(draw("path", { d: `M${LEFT - 4} ${up(pane.asked)}H${WIDE - RIGHT + 6}`, class: "asked-line" }),
        draw("text", { x: WIDE - 6, y: up(pane.asked) - 3, "text-anchor": "end", text: `${pane.askedSay}: ${pane.show(pane.asked)}` }));
    }
    group.append(draw("path", { class: "curve", d: rated.filter((c) => c[pane.key] !== null).map((c, i) => `${i ? "L" : "M"}${across(c)} ${up(c[pane.key])}`).join("") }));
    drawing.append(group);
  }
  const now = Math.max(0, rated.findIndex((c) => c.now));
  /** @type {any[]} */
  const marks = [];
  const show = (/** @type {number} */ at) => {
    for (const [i, mark] of marks.entries()) mark.classList.toggle("looked-at", i === at);
    said.textContent = says(rated[at]);
  };
  const go = (/** @type {number} */ at) => {
    const to = Math.max(0, Math.min(rated.length - 1, at));
    for (const [i, mark] of marks.entries()) mark.setAttribute("tabindex", i === to ? "0" : "-1");
    marks[to].focus();
  };
  for (const [n, choice] of rated.entries()) {
    const mark = draw("g", {
      class: choice.now ? "gauge now" : "gauge", role: "radio", "aria-checked": String(choice.now), tabindex: n === now ? "0" : "-1", "aria-label": says(choice), "data-label": choice.label,
      onclick: () => { if (!choice.now) take(choice); }, onfocus: () => show(n), onpointerenter: () => show(n),
      onkeydown: (/** @type {KeyboardEvent} */ event) => {
        const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
        if (step !== undefined) { event.preventDefault(); go(n + step); }
        else if (event.key === "Home" || event.key === "End") { event.preventDefault(); go(event.key === "Home" ? 0 : rated.length - 1); }
        else if ((event.key === "Enter" || event.key === " ") && !choice.now) { event.preventDefault(); take(choice); }
      },
    });
    const x0 = across(choice), before = n ? 0.5 * (across(rated[n - 1]) + x0) : x0 - 8, after = n < rated.length - 1 ? 0.5 * (across(rated[n + 1]) + x0) : x0 + 8;
    for (const { corner, up, pane } of drawn) {
      const x = corner[0] + x0;
      mark.append(draw("rect", { x: corner[0] + before, y: corner[1] + TOP - 8, width: after - before, height: HIGH - FOOT - TOP + 8, class: "reach" }));
      if (choice[pane.key] !== null) mark.append(draw("circle", { cx: x, cy: corner[1] + up(choice[pane.key]), r: choice.now ? 5 : 4 }));
      if (n === 0 || n === rated.length - 1 || choice.now) mark.append(draw("text", { x, y: corner[1] + HIGH - 6, "text-anchor": n === 0 ? "start" : n === rated.length - 1 ? "end" : "middle", text: choice.now || n === 0 || n === rated.length - 1 ? String(Number(choice.thickness_mm.toFixed(2))) : "" }));
    }
    marks.push(mark);
    drawing.append(mark);
  }
  return drawing;
}
