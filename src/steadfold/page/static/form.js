// A part's dimensions, load and fixing as a form. Every field is saved when it is left or Enter is pressed.

import { fill, make, once } from "./make.js";
import { length, mass, unitOf, value } from "./units.js";
import { section } from "./sections.js";

/**
 * @typedef {{key: string, way: (string | number)[], label: string, say: string, kind: string, text: string, default: string,
 *   value?: any, low?: number, high?: number, choices: string[], places: any[], words?: string[]}} Field
 * @typedef {{save: (field: Field, value: any, say: string, keep?: boolean, began?: string) => Promise<void>, point: (places: any[], label: string) => void,
 *   add: (way: (string | number)[], value: any, say: string) => Promise<void>, units: () => import("./units.js").Units}} Desk
 */

export class Form {
  /** @param {HTMLElement} place @param {Desk} desk */
  constructor(place, desk) {
    this.place = place;
    this.desk = desk;
    /** @type {Map<string, {field: Field, input: any, row: HTMLElement, fault: HTMLElement, echo: HTMLElement, slider: any, began?: string}>} */
    this.rows = new Map();
    this.outline = "";
  }

  /**
   * Show the fields of a part. Fields that are being typed in are left alone.
   * @param {any} part
   */
  show(part) {
    const outline = JSON.stringify([part.shape, this.desk.units(), [...part.form.carries, ...(part.form.walls ?? [])].map((group) => group.item), ...every(part.form).map((f) => [f.way, f.kind, f.choices.length])]);
    if (outline === this.outline) {
      for (const field of every(part.form)) this.#refresh(field);
      return;
    }
    this.outline = outline;
    const was = document.activeElement instanceof HTMLElement ? document.activeElement.dataset.way : null;
    this.rows.clear();
    fill(this.place, ...this.#sections(part));
    if (was) this.rows.get(was)?.input.focus();
  }

  /**
   * Show the fields of a stand, table by table.
   * @param {{title: string, fields: Field[]}[]} groups
   */
  showGroups(groups) {
    const outline = JSON.stringify([this.desk.units(), ...groups.flatMap((g) => [g.title, ...g.fields.map((f) => f.way)])]);
    if (outline === this.outline) {
      for (const group of groups) for (const field of group.fields) this.#refresh(field);
      return;
    }
    this.outline = outline;
    this.rows.clear();
    fill(this.place, ...groups.map((group, n) => section(group.title || "Shape", group.fields.map((f) => this.#row(f)), { open: n === 0 })));
  }

  /** @param {any} part */
  #sections(part) {
    const own = part.shape === "step" || part.shape === "dxf";
    const shape = own
      ? [make("p", { class: "quiet", text: `The shape comes from a ${part.shape.toUpperCase()} file; draw it anew there.` })]
      : part.form.shape.map((/** @type {Field} */ f) => this.#row(f));
    const items = part.form.carries.map((/** @type {any} */ item, /** @type {number} */ n) =>
      make("fieldset", {}, make("legend", { text: item.item }), item.fields.map((/** @type {Field} */ f) => this.#row(f)),
        part.form.carries.length > 1 ? this.#remove(item) : null));
    const way = ["part", part.number, "carries", part.form.carries.length];
    const more = make("button", {
      class: "quiet-button", type: "button", text: "One more thing it carries",
      onclick: () => this.desk.add(way, { item: "something more", mass: "1 kg" }, "one more thing"),
    });
    const walls = (part.form.walls ?? []).map((/** @type {any} */ wall) =>
      make("fieldset", {}, make("legend", { text: `or on ${wall.item}` }), wall.fields.map((/** @type {Field} */ f) => this.#row(f)), this.#remove(wall)));
    const held = part.form.mount.some((/** @type {Field} */ f) => f.key === "to" && f.text !== "");
    const another = make("button", {
      class: "quiet-button", type: "button", text: "One more kind of wall", title: "What else it may be fixed to, through the same holes",
      onclick: () => this.desk.add(
        walls.length ? ["part", part.number, "mount", "wall", walls.length] : ["part", part.number, "mount", "wall"], walls.length ? ANOTHER_WALL : [ANOTHER_WALL], "one more kind of wall"),
    });
    return [
      section("Shape", [part.shape === "panels" || own ? null : make("p", { class: "quiet", text: part.shape }), ...shape, ...part.form.metal.map((/** @type {Field} */ f) => this.#row(f))], { id: "shape" }),
      section("What it carries", [...items, more], { id: "carries" }),
      section("Where it is fixed", [...part.form.mount.map((/** @type {Field} */ f) => this.#row(f)), ...walls, held ? another : null], { id: "mount" }),
    ];
  }

  /** @param {any} item */
  #remove(item) {
    return make("button", {
      class: "quiet-button", type: "button", text: `Take ${item.item} away`,
      onclick: () => this.desk.add(item.way, null, `without ${item.item}`),
    });
  }

  /** @param {Field} field */
  #row(field) {
    const id = once("field"), say = `${id}-say`, bad = `${id}-bad`;
    const shared = { id, "data-way": key(field), "aria-describedby": `${say} ${bad}`, autocomplete: "off", spellcheck: "false" };
    let input;
    if (field.kind === "choice") {
      input = make("select", shared);
      const known = field.choices.includes(field.text) || field.text === "" ? field.choices : [field.text, ...field.choices];
      if (field.text === "" || field.default !== "") input.append(make("option", { value: "", text: field.default ? field.default : "not said" }));
      for (const each of known) if (each !== field.default) input.append(make("option", { value: each, text: each }));
      input.value = field.text === field.default ? "" : field.text;
    } else {
      const list = field.choices.length ? `${id}-list` : null;
      input = make("input", { ...shared, type: "text", placeholder: field.default, list, inputmode: field.kind === "count" ? "numeric" : null });
      input.value = field.text;
      if (list) {
        const options = make("datalist", { id: list }, field.choices.map((each) => make("option", { value: each })));
        input.extra = options;
      }
    }
    const echo = make("span", { class: "echo" });
    const fault = make("p", { id: bad, class: "fault", role: "alert" });
    const slider = this.#slider(field, input);
    const row = make(
      "div", { class: "row" },
      make("label", { for: id, text: field.label }),
      make("div", { class: "entry" }, input, echo, input.extra),
      make("p", { id: say, class: field.say ? "say" : "hidden", text: field.say }),
      slider, fault,
    );
    const entry = { field, input, row, fault, echo, slider, began: /** @type {string | undefined} */ (undefined) };
    this.rows.set(key(field), entry);
    input.addEventListener("focus", () => this.#touched(entry));
    // What the file said when typing began: another editor may change it meanwhile.
    input.addEventListener("input", () => { entry.began ??= entry.field.text; });
    input.addEventListener("blur", (/** @type {FocusEvent} */ event) => {
      if (event.relatedTarget instanceof Node && row.contains(event.relatedTarget)) return;
      row.classList.remove("touched");
      this.desk.point([], "");
    });
    row.addEventListener("pointerenter", () => { if (!this.place.contains(document.activeElement)) this.#point(entry); });
    row.addEventListener("pointerleave", () => { if (!this.place.contains(document.activeElement)) this.desk.point([], ""); });
    input.addEventListener("change", () => this.#save(entry, input.value));
    input.addEventListener("keydown", (/** @type {KeyboardEvent} */ event) => {
      if (event.key === "Escape") { input.value = entry.field.text; entry.began = undefined; this.#fault(entry, ""); }
      if (event.key === "Enter" && field.kind !== "choice") { event.preventDefault(); this.#save(entry, input.value); }
    });
    this.#echo(entry);
    return row;
  }

  /** A slider for lengths, counts and angles, about where they are now. @param {Field} field @param {any} input */
  #slider(field, input) {
    if (typeof field.value !== "number" || !["length", "count", "angle"].includes(field.kind) || field.value === 0) return null;
    const [low, high, step] = reach(field);
    const slider = make("input", { type: "range", min: low, max: high, step, "aria-label": `${field.label}, slider`, class: "slider" });
    slider.value = String(field.value);
    let busy = false, again = false;
    const send = async () => {
      if (busy) { again = true; return; }
      busy = true;
      const text = typedAs(field, Number(slider.value), input.value);
      input.value = text;
      const entry = /** @type {any} */ (this.rows.get(key(field)));
      await this.#save(entry, text, true);
      busy = false;
      if (again) { again = false; send(); }
    };
    slider.addEventListener("input", send);
    slider.addEventListener("focus", () => this.#touched(/** @type {any} */ (this.rows.get(key(field)))));
    return slider;
  }

  /** @param {any} entry */
  #touched(entry) {
    for (const other of this.rows.values()) other.row.classList.toggle("touched", other === entry);
    this.#point(entry);
  }

  /** @param {any} entry */
  #point(entry) {
    const { field } = entry;
    const units = this.desk.units();
    let label = field.label;
    if (typeof field.value === "number" && (field.kind === "length" || field.kind === "gauge")) label = length(field.value, units);
    else if (field.kind === "angle" && typeof field.value === "number") label = `${Number(field.value.toFixed(2))}°`;
    this.desk.point(field.places, label);
  }

  /** @param {any} entry @param {string} typed @param {boolean} [keep] part of one drag */
  async #save(entry, typed, keep = false) {
    const { field } = entry;
    const began = entry.began ?? field.text;
    if (typed.trim() === field.text.trim()) { entry.began = undefined; this.#fault(entry, ""); return; }
    const given = value(typed, field.kind, this.desk.units());
    try {
      await this.desk.save(field, given, field.label, keep, keep ? undefined : began);
      if (!keep) entry.began = undefined;
      this.#fault(entry, "");
      if (!keep && entry.input.value === typed && field.kind !== "choice") entry.input.value = entry.field.text;
    } catch (error) {
      this.#fault(entry, error instanceof Error ? error.message : String(error));
    }
  }

  /** @param {any} entry @param {string} sentence */
  #fault(entry, sentence) {
    entry.fault.textContent = sentence;
    entry.row.classList.toggle("wrong", sentence !== "");
    if (sentence) entry.input.setAttribute("aria-invalid", "true");
    else entry.input.removeAttribute("aria-invalid");
  }

  /** A field as the job now says it. @param {Field} field */
  #refresh(field) {
    const entry = this.rows.get(key(field));
    if (!entry) return;
    const typing = document.activeElement === entry.input && entry.input.value.trim() !== entry.field.text.trim();
    const sliding = document.activeElement === entry.slider;
    const changed = entry.field.text !== field.text;
    entry.field = field;
    if (!typing && !sliding) {
      entry.input.value = field.kind === "choice" && field.text === field.default ? "" : field.text;
      if (entry.slider && typeof field.value === "number") {
        const [low, high, step] = reach(field);
        Object.assign(entry.slider, { min: low, max: high, step });
        entry.slider.value = String(field.value);
      }
    }
    if (changed) this.#fault(entry, "");
    this.#echo(entry);
    if (entry.row.classList.contains("touched")) this.#point(entry);
  }

  /** What was typed, in the unit the page shows. @param {any} entry */
  #echo(entry) {
    const { field, echo } = entry;
    const units = this.desk.units();
    let text = "";
    if ((field.kind === "length" || field.kind === "gauge") && typeof field.value === "number") {
      const other = /in|"|ft|ga|\//.test(field.text) ? "mm" : "in";
      const wanted = field.text === "" ? units : other;
      text = field.text === "" ? (wanted === units && field.default.endsWith(units) ? "" : length(field.value, units)) : `= ${length(field.value, wanted)}`;
    } else if (field.kind === "mass" && field.value) {
      const other = /lb|oz/.test(field.text) ? "mm" : "in";
      text = `= ${field.value[0] === field.value[1] ? "" : `${mass(field.value[0], other).split(" ")[0]} to `}${mass(field.value[1], other)}`;
    }
    echo.textContent = text;
    echo.title = unitOf(field.kind, units) ? `a bare number is taken as ${unitOf(field.kind, units)}` : "";
  }
}

/** @param {any} form @returns {Field[]} */
export function every(form) {
  return [...form.shape, ...form.metal, ...form.carries.flatMap((/** @type {any} */ item) => item.fields), ...form.mount, ...(form.walls ?? []).flatMap((/** @type {any} */ wall) => wall.fields)];
}

/** What another wall begins as. */
const ANOTHER_WALL = { to: "wood stud" };

/** @param {Field} field */
export function key(field) {
  return field.way.join("/");
}

/** Ends and step of a field's slider. @param {Field} field @returns {[number, number, number]} */
function reach(field) {
  const now = /** @type {number} */ (field.value);
  if (field.kind === "count") return [field.low ?? 0, Math.min(field.high ?? 100, Math.max(10, 2 * now)), 1];
  if (field.kind === "angle") return [field.low ?? -180, field.high ?? 180, 1];
  const inch = /in|"|\//.test(field.text);
  const step = inch ? 25.4 / 16 : now < 20 ? 0.5 : 1;
  const low = Math.max(field.low ?? 0, 0.5 * Math.abs(now)), high = Math.min(field.high ?? 3000, 1.5 * Math.abs(now));
  return [Math.floor(low / step) * step, Math.ceil(high / step) * step, step];
}

/** A slider's number as one would type it. @param {Field} field @param {number} now @param {string} before */
function typedAs(field, now, before) {
  if (field.kind === "count") return String(Math.round(now));
  if (field.kind === "angle") return `${Math.round(now)} deg`;
  if (!/in|"|\//.test(before)) return `${Number(now.toFixed(1))} mm`;
  const sixteenths = Math.round((now / 25.4) * 16), whole = Math.floor(sixteenths / 16);
  let top = sixteenths % 16, bottom = 16;
  while (top && top % 2 === 0) { top /= 2; bottom /= 2; }
  if (!top) return `${whole} in`;
  return whole ? `${whole}-${top}/${bottom} in` : `${top}/${bottom} in`;
}
