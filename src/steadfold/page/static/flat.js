// The flat, to scale: contours, bend lines, openings; picked here or in the picture; measured from point to point.

import { draw, fill, make } from "./make.js";
import { length } from "./units.js";

/** @typedef {{bounds: number[], outer: string, corners: number[][], openings: any[], bends: any[]}} Flat */

export class FlatView {
  /** What is seen: left, top, width, height. @type {number[]} */
  box = [];
  /** @type {any} */
  drawing = null;
  /** @type {any} */
  marks = null;

  /**
   * @param {HTMLElement} place
   * @param {{pick: (what: {bend: number} | {opening: number} | null) => void, units: () => import("./units.js").Units}} told
   */
  constructor(place, told) {
    this.place = place;
    this.told = told;
    /** @type {Flat | null} */
    this.flat = null;
    /** @type {number[][]} */
    this.points = [];
    this.measuring = false;
    this.sheet = make("div", { class: "flat-sheet" });
    this.said = make("p", { class: "measured", "aria-live": "polite" });
    this.tool = make("button", { type: "button", class: "quiet-button", "aria-pressed": "false", text: "Measure", onclick: () => this.measure(!this.measuring) });
    this.whole = make("button", { type: "button", class: "quiet-button", text: "Whole flat", onclick: () => this.#frame() });
    this.list = make("div", { class: "pieces" });
    fill(place, make("div", { class: "tools" }, this.tool, this.whole, this.said), this.sheet, this.list);
  }

  /** @param {boolean} on */
  measure(on) {
    this.measuring = on;
    this.points = [];
    this.tool.setAttribute("aria-pressed", String(on));
    this.said.textContent = on ? "Pick two places: corners, bend lines and openings catch." : "";
    this.#points();
  }

  /** @param {Flat | null} flat @param {any} part */
  show(flat, part) {
    const same = this.flat !== null && flat !== null && JSON.stringify(this.flat.bounds) === JSON.stringify(flat.bounds);
    this.flat = flat;
    if (flat === null) {
      fill(this.sheet, make("p", { class: "quiet", text: "There is no flat of this part; the findings say why." }));
      fill(this.list);
      return;
    }
    const units = this.told.units();
    const drawing = draw("svg", { class: "flat", role: "img", tabindex: "0", "aria-label": `Flat pattern, ${length(flat.bounds[2] - flat.bounds[0], units)} by ${length(flat.bounds[3] - flat.bounds[1], units)}` });
    const metal = draw("path", { d: [flat.outer, ...flat.openings.map((o) => o.path)].join(" "), class: "metal", "fill-rule": "evenodd" });
    drawing.append(metal);
    flat.openings.forEach((opening, index) => {
      drawing.append(draw("path", { d: opening.path, class: "opening", "data-opening": index, onclick: () => this.#picked({ opening: index }) }));
    });
    for (const bend of flat.bends) {
      const [[a, b], [c, d]] = bend.tangents;
      drawing.append(draw("path", { d: `M${xy(a)}L${xy(b)}L${xy(d)}L${xy(c)}Z`, class: "strip", "data-bend": bend.bend, onclick: () => this.#picked({ bend: bend.bend }) }));
      drawing.append(draw("path", { d: `M${xy(bend.from)}L${xy(bend.to)}`, class: "bend-line" }));
    }
    this.marks = draw("g", { class: "marks" });
    drawing.append(this.marks);
    this.drawing = drawing;
    fill(this.sheet, drawing);
    if (!same || !this.box.length) this.#frame(); else this.#seen();
    this.#moves(drawing);
    this.#pieces(flat, units);
    this.points = [];
    this.#points();
    if (part?.flat) this.#sizes(flat, units);
  }

  /** Overall sizes along two sides. @param {Flat} flat @param {import("./units.js").Units} units */
  #sizes(flat, units) {
    const [x0, y0, x1, y1] = flat.bounds;
    const high = 0.028 * Math.max(x1 - x0, y1 - y0);
    const g = draw("g", { class: "sizes", "font-size": high });
    const below = -y0 + 1.2 * high, beside = x0 - 1.2 * high;
    g.append(draw("path", { d: `M${x0} ${below}H${x1}M${beside} ${-y0}V${-y1}`, class: "size-line" }));
    g.append(draw("text", { x: 0.5 * (x0 + x1), y: below + 1.25 * high, "text-anchor": "middle", text: length(x1 - x0, units) }));
    g.append(draw("text", { transform: `translate(${beside - 0.5 * high} ${-0.5 * (y0 + y1)}) rotate(-90)`, "text-anchor": "middle", text: length(y1 - y0, units) }));
    this.drawing.append(g);
  }

  #frame() {
    if (!this.flat || !this.drawing) return;
    const [x0, y0, x1, y1] = this.flat.bounds;
    const room = 0.1 * Math.max(x1 - x0, y1 - y0);
    this.box = [x0 - room, -y1 - room, x1 - x0 + 2 * room, y1 - y0 + 2 * room];
    this.#seen();
  }

  #seen() {
    this.drawing.setAttribute("viewBox", this.box.join(" "));
    this.#points();
  }

  /** Wheel comes nearer, dragging moves, a press measures. @param {any} drawing */
  #moves(drawing) {
    const spot = (/** @type {MouseEvent} */ event) => {
      const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(drawing.getScreenCTM().inverse());
      return [at.x, -at.y];
    };
    drawing.addEventListener("wheel", (/** @type {WheelEvent} */ event) => {
      event.preventDefault();
      this.#nearer(event.deltaY < 0 ? 0.85 : 1 / 0.85, spot(event));
    }, { passive: false });
    /** @type {number[] | null} */
    let from = null;
    let moved = false;
    drawing.addEventListener("pointerdown", (/** @type {PointerEvent} */ event) => { from = spot(event); moved = false; });
    drawing.addEventListener("pointermove", (/** @type {PointerEvent} */ event) => {
      if (!from || event.buttons !== 1) return;
      const to = spot(event);
      if (Math.hypot(to[0] - from[0], to[1] - from[1]) < this.box[2] / 150 && !moved) return;
      moved = true;
      this.box[0] -= to[0] - from[0];
      this.box[1] += to[1] - from[1];
      this.#seen();
    });
    drawing.addEventListener("pointerup", (/** @type {PointerEvent} */ event) => {
      if (this.measuring && !moved) this.#measured(this.#caught(spot(event)));
      from = null;
    });
    drawing.addEventListener("keydown", (/** @type {KeyboardEvent} */ event) => {
      const middle = [this.box[0] + this.box[2] / 2, -(this.box[1] + this.box[3] / 2)];
      const step = 0.1 * this.box[2];
      if (event.key === "+" || event.key === "=") this.#nearer(0.8, middle);
      else if (event.key === "-") this.#nearer(1.25, middle);
      else if (event.key === "ArrowLeft") { this.box[0] -= step; this.#seen(); }
      else if (event.key === "ArrowRight") { this.box[0] += step; this.#seen(); }
      else if (event.key === "ArrowUp") { this.box[1] -= step; this.#seen(); }
      else if (event.key === "ArrowDown") { this.box[1] += step; this.#seen(); }
      else return;
      event.preventDefault();
    });
  }

  /** @param {number} factor @param {number[]} about */
  #nearer(factor, [x, y]) {
    const [bx, by, w, h] = this.box;
    this.box = [x - (x - bx) * factor, -y - (-y - by) * factor, w * factor, h * factor];
    this.#seen();
  }

  /** The place that catches a press: a corner, a bend's end, the middle of an opening. @param {number[]} at */
  #caught(at) {
    const flat = /** @type {Flat} */ (this.flat);
    const near = [...flat.corners, ...flat.openings.map((o) => o.middle), ...flat.openings.flatMap((o) => (o.diameter ? [] : o.corners)), ...flat.bends.flatMap((b) => [b.from, b.to])];
    const reach = this.box[2] / 40;
    let best = at, least = reach;
    for (const each of near) {
      const away = Math.hypot(each[0] - at[0], each[1] - at[1]);
      if (away < least) { least = away; best = each; }
    }
    return best;
  }

  /** @param {number[]} at */
  #measured(at) {
    this.points = this.points.length >= 2 ? [at] : [...this.points, at];
    const units = this.told.units();
    if (this.points.length === 2) {
      const [[ax, ay], [bx, by]] = this.points;
      this.said.textContent = `${length(Math.hypot(bx - ax, by - ay), units, 2)} apart: ${length(Math.abs(bx - ax), units, 2)} across, ${length(Math.abs(by - ay), units, 2)} up`;
    } else {
      this.said.textContent = `From ${length(at[0], units, 2)}, ${length(at[1], units, 2)}; now the second place.`;
    }
    this.#points();
  }

  #points() {
    if (!this.marks || !this.box.length) return;
    const r = this.box[2] / 130;
    fill(this.marks, ...this.points.map(([x, y]) => draw("circle", { cx: x, cy: -y, r, class: "measure-point" })));
    if (this.points.length === 2) this.marks.append(draw("path", { d: `M${xy(this.points[0])}L${xy(this.points[1])}`, class: "measure-line" }));
  }

  /** Bends and openings as a list, for those who do not point. @param {Flat} flat @param {import("./units.js").Units} units */
  #pieces(flat, units) {
    const bends = flat.bends.map((bend) =>
      this.#piece(`${bend.between[0]} – ${bend.between[1]}`, bend.note, { bend: bend.bend }, [0.5 * (bend.from[0] + bend.to[0]), 0.5 * (bend.from[1] + bend.to[1])]));
    const openings = flat.openings.map((opening, index) => {
      const what = opening.diameter ? `⌀ ${length(opening.diameter, units)}` : `${length(opening.size[0], units)} × ${length(opening.size[1], units)}`;
      return this.#piece(what, `${opening.panel ?? "across a bend"}; ${length(opening.middle[0], units)}, ${length(opening.middle[1], units)}`, { opening: index }, opening.middle);
    });
    fill(
      this.list,
      bends.length ? make("div", {}, make("h3", { text: "Bends" }), make("ul", {}, bends)) : null,
      openings.length ? make("div", {}, make("h3", { text: "Openings" }), make("ul", {}, openings)) : null,
    );
  }

  /** @param {string} name @param {string} note @param {any} what @param {number[]} at */
  #piece(name, note, what, at) {
    const data = "bend" in what ? { "data-bend": what.bend } : { "data-opening": what.opening };
    return make("li", {}, make("button", {
      type: "button", class: "piece", "aria-pressed": "false", ...data,
      onclick: () => { if (this.measuring) this.#measured(at); else this.#picked(what); },
    }, make("span", { text: name }), make("small", { text: note })));
  }

  /** @param {any} what */
  #picked(what) {
    if (this.measuring) return;
    this.told.pick(what);
  }

  /** Show what is picked. @param {{bend?: number, opening?: number} | null} what */
  mark(what) {
    for (const each of this.place.querySelectorAll("[data-bend], [data-opening]")) {
      const data = /** @type {any} */ (each).dataset;
      const on = what !== null && ((what.bend !== undefined && data.bend === String(what.bend)) || (what.opening !== undefined && data.opening === String(what.opening)));
      each.classList.toggle("picked", on);
      if (each.tagName === "BUTTON") each.setAttribute("aria-pressed", String(on));
    }
  }
}

/** @param {number[]} point */
function xy([x, y]) {
  return `${x} ${-y}`;
}
