// Weighing and levelling in the shop: one step a screen, in a size read at arm's length, for a phone held in one hand.

import { fill, make, once } from "./make.js";
import { length, mass, share, value } from "./units.js";

/** @typedef {import("./units.js").Units} Units */
/** @typedef {{way: (string | number)[], value: any}} Edit */
/** @typedef {{id: string, say: string, note?: string, entry?: HTMLElement | null, save?: () => Promise<void>}} Step */
/**
 * @typedef {{address: string, units: () => Units, change: (edits: Edit[], say: string) => Promise<void>, closed: () => void}} Told
 */

/** How a level is read: what the job calls it, and what is typed. */
const WAYS = /** @type {const} */ ([["low", "mm low"], ["slope", "degrees"], ["bubble", "bubble divisions"]]);

export class Steps {
  /** @type {Step[]} */
  steps = [];
  at = 0;
  busy = false;
  /** What the scale read where the job has no row yet, by where it stood. @type {Map<string, string>} */
  typed = new Map();
  /** Where the scale may stand. @type {any[]} */
  plan = [];

  /** @param {HTMLElement} place @param {Told} told */
  constructor(place, told) {
    this.told = told;
    this.where = make("p", { class: "steps-where" });
    this.say = make("h2", { class: "step-say", tabindex: "-1" });
    this.note = make("p", { class: "step-note" });
    this.entry = make("div", { class: "step-entry" });
    this.fault = make("p", { class: "fault", role: "alert" });
    this.mark = make("p", { class: "step-mark" });
    this.bar = make("progress", { max: 1, value: 0, "aria-label": "Steps done" });
    this.back = make("button", { type: "button", class: "step-button", text: "Back", onclick: () => this.#go(this.at - 1) });
    this.on = make("button", { type: "submit", class: "step-button on", text: "Done, next" });
    const form = make("form", { class: "steps-form", onsubmit: (/** @type {Event} */ event) => { event.preventDefault(); this.#done(); } },
      make("div", { class: "steps-top" }, this.where,
        make("button", { type: "button", class: "quiet-button", text: "Start over", onclick: () => { this.#remember(new Set()); this.#go(0); } }),
        make("button", { type: "button", class: "quiet-button", text: "Close", onclick: () => this.dialog.close() })),
      this.bar, make("div", { class: "steps-middle", "aria-live": "polite" }, this.say, this.note, this.entry, this.fault, this.mark),
      make("div", { class: "step-buttons" }, this.back, this.on));
    this.dialog = make("dialog", { class: "steps", "aria-label": "Weighing and levelling, step by step", onclose: () => told.closed() }, form);
    place.append(this.dialog);
  }

  get open() {
    return this.dialog.open;
  }

  /** Fill the screen with the first step that is not done. */
  begin() {
    if (!this.steps.length) return;
    if (!this.dialog.open) this.dialog.showModal();
    const done = this.#doneSteps(), first = this.steps.findIndex((step) => !done.has(step.id));
    this.#go(first < 0 ? this.steps.length - 1 : first);
  }

  /**
   * The steps of a stand as it is now answered; whoever is in the middle of them stays there.
   * @param {any} answer @param {number} number @param {any} values what the file says of the stand
   */
  show(answer, number, values) {
    this.kept = `steps ${this.told.address} ${answer.stand.name}`;
    const here = this.steps[this.at]?.id;
    this.steps = [...this.#weighing(answer, number, values), ...this.#reading(answer, number, values), ...this.#nuts(answer)];
    if (!this.dialog.open) return;
    const same = this.steps.findIndex((step) => step.id === here);
    const typing = this.dialog.contains(document.activeElement) && document.activeElement instanceof HTMLInputElement && same === this.at;
    if (!typing) this.#go(same < 0 ? Math.min(this.at, this.steps.length - 1) : same);
  }

  /** @returns {Set<string>} */
  #doneSteps() {
    try { return new Set(JSON.parse(localStorage.getItem(this.kept ?? "") ?? "[]")); } catch { return new Set(); }
  }

  /** @param {Set<string>} done */
  #remember(done) {
    localStorage.setItem(this.kept ?? "", JSON.stringify([...done]));
  }

  async #done() {
    // Pressed twice while it is saved: once is meant.
    if (this.busy) return;
    const step = this.steps[this.at];
    this.fault.textContent = "";
    this.busy = true;
    try {
      if (step.save) await step.save();
    } catch (error) {
      this.fault.textContent = error instanceof Error ? error.message : String(error);
      return;
    } finally {
      this.busy = false;
    }
    this.#remember(this.#doneSteps().add(step.id));
    const next = this.steps.findIndex((each) => each.id === step.id) + 1;
    if (next >= this.steps.length) this.#go(this.steps.length - 1); else this.#go(next);
  }

  /** @param {number} to */
  #go(to) {
    this.at = Math.max(0, Math.min(this.steps.length - 1, to));
    const step = this.steps[this.at], done = this.#doneSteps();
    const many = this.steps.filter((each) => done.has(each.id)).length;
    this.where.textContent = `Step ${this.at + 1} of ${this.steps.length}`;
    this.bar.value = many / this.steps.length;
    this.say.textContent = step.say;
    this.note.textContent = step.note ?? "";
    this.fault.textContent = "";
    this.mark.textContent = done.has(step.id) ? (many === this.steps.length ? "✓ Done; every step is." : "✓ Done.") : "";
    fill(this.entry, step.entry ?? null);
    this.back.disabled = this.at === 0;
    this.on.textContent = this.at === this.steps.length - 1 ? "Done" : "Done, next";
    this.say.focus();
  }

  /** @param {any} answer @param {number} number @param {any} values @returns {Step[]} */
  #weighing(answer, number, values) {
    const weighing = answer.weighing;
    if (!weighing) return [];
    this.plan = weighing.steps;
    const units = this.told.units(), machine = weighing.machine, scale = values.machine?.scale ?? [];
    /** @type {Step[]} */
    const steps = [];
    if (scale.length) {
      for (const [i, each] of scale.entries()) {
        const given = entry("reads", each.reads, units === "in" ? "lb" : "kg");
        steps.push({
          id: `weigh ${each.say ?? i}`, say: `Scale under ${each.say ?? `place ${i + 1}`}`, note: "Lift one side at a time, the far side on blocks as high as the scale. What does it read?", entry: given.row,
          save: () => this.#saved(given.input.value, each.reads, "mass", ["stand", number, "machine", "scale", i, "reads"], "scale reading"),
        });
      }
    } else {
      for (const each of weighing.steps) steps.push(this.#put(each, number, scale, values, "Two sides are enough for the mass and how far out it lies; leave the others empty if you like."));
      const now = Array.isArray(values.machine?.mass) ? values.machine.mass.join(" to ") : values.machine?.mass ?? "";
      const given = entry("weighs, in all", now, units === "in" ? "lb" : "kg");
      steps.push({ id: "weigh all", say: `What does ${machine} weigh?`, note: `Only if you have no readings of both sides: the two together; or from and to, like ${units === "in" ? "271 to 282 lb" : "123 to 128 kg"}.`, entry: given.row, save: () => this.#saved(given.input.value, now, "mass", ["stand", number, "machine", "mass"], "weighed") });
    }
    const begun = weighing.steps.some((/** @type {any} */ each) => scale.some((/** @type {any} */ row) => row.say === each.row.say));
    if (begun) for (const each of weighing.steps) if (!scale.some((/** @type {any} */ row) => row.say === each.row.say)) steps.push(this.#put(each, number, scale, values, "One more reading; the machine is then known better."));
    const found = weighing.weighed;
    if (found) steps.push({ id: `weighed ${found.mass_kg}`, say: `${machine} weighs ${mass(found.mass_kg, units)}`, note: `Between ${mass(found.mass_range_kg[0], units)} and ${mass(found.mass_range_kg[1], units)}.${found.disagree ? " The readings contradict each other: weigh again." : ""}` });
    return steps;
  }

  /**
   * A reading that the job does not hold yet. The first two go in together, in place of a mass: one alone says nothing.
   * @param {any} placement @param {number} number @param {any[]} scale @param {any} values @param {string} more @returns {Step}
   */
  #put(placement, number, scale, values, more) {
    const units = this.told.units(), unit = units === "in" ? "lb" : "kg", name = placement.row.say, begun = scale.length > 0;
    const given = entry("reads", this.typed.get(name) ?? "", unit);
    return {
      id: `weigh ${name}`, say: `Scale ${placement.say}`, note: `It should read about ${mass(placement.about_kg, units)}. What does it read? ${more}`, entry: given.row,
      save: async () => {
        const typed = given.input.value.trim();
        if (typed === "") { this.typed.delete(name); return; }
        this.typed.set(name, typed);
        if (!begun && this.typed.size < 2) return;
        const rows = this.plan.filter((each) => this.typed.has(each.row.say));
        const way = ["stand", number, "machine"];
        const made = rows.map((each) => ({ ...each.row, reads: value(this.typed.get(each.row.say) ?? "", "mass", units) }));
        const edits = begun ? made.map((each, k) => ({ way: [...way, "scale", scale.length + k], value: each })) : [{ way: [...way, "scale"], value: made }];
        await this.told.change(values.machine?.mass === undefined ? edits : [{ way: [...way, "mass"], value: null }, ...edits], "scale readings");
        this.typed.clear();
      },
    };
  }

  /** @param {any} answer @param {number} number @param {any} values @returns {Step[]} */
  #reading(answer, number, values) {
    if (!answer.stand.tie_rods.length) return [];
    const units = this.told.units(), readings = values.reading ?? [];
    const places = answer.stand.level?.places ?? answer.stand.sag_budget.map((/** @type {any} */ row) => row.at);
    const names = [...new Set([...places, ...readings.map((/** @type {any} */ r) => r.at)])];
    return names.map((name) => {
      const index = readings.findIndex((/** @type {any} */ r) => r.at === name), now = index < 0 ? {} : readings[index];
      const way = WAYS.find(([key]) => key in now)?.[0] ?? "low";
      const given = levelEntry(way, now, units);
      return {
        id: `read ${name}`, say: `How low does ${name} lie?`, note: "A minus sign where it lies too high. From a spirit level: in degrees or divisions of its bubble, and the length it was read over.", entry: given.row,
        save: async () => {
          const read = given.read();
          const same = read.key === way && String(now[read.key] ?? "") === String(read.value) && (read.key === "low" || String(now.over ?? "") === String(read.over));
          if (same) return;
          const at = ["stand", number, "reading", index < 0 ? readings.length : index];
          const edits = index < 0 ? [{ way: at, value: { at: name, [read.key]: read.value, ...(read.over ? { over: read.over } : {}) } }] : [
            { way: [...at, read.key], value: read.value },
            ...WAYS.filter(([key]) => key !== read.key && key in now).map(([key]) => ({ way: [...at, key], value: null })),
            ...(read.over && read.over !== now.over ? [{ way: [...at, "over"], value: read.over }] : []),
          ];
          await this.told.change(edits, `reading at ${name}`);
        },
      };
    });
  }

  /** @param {any} answer @returns {Step[]} */
  #nuts(answer) {
    const { level, shims } = answer.stand, units = this.told.units();
    /** @type {Step[]} */
    const steps = [];
    for (const step of level?.steps ?? []) {
      const turns = level.rods.map((/** @type {string} */ rod, /** @type {number} */ k) => `${rod} ${Math.abs(step.turns[k]).toFixed(2)} ${step.turns[k] < 0 ? "back" : "on"}`).filter((/** @type {string} */ _, /** @type {number} */ k) => Math.abs(step.turns[k]) > 1e-6);
      const low = level.places.map((/** @type {string} */ place, /** @type {number} */ k) => `${place} ${length(step.low_mm[k], units)} low`);
      const hard = step.utilisation === null ? "" : `The hardest worked, ${step.nearest}, is at ${share(step.utilisation)} of what is allowed.`;
      steps.push({ id: `nut ${step.do} ${step.turns.join(" ")}`, say: step.do, note: [turns.length ? `Turns so far: ${turns.join(", ")}.` : "Nobody under the machine while a nut is turned; block it up first.", `After it: ${low.join(", ")}.`, hard].filter(Boolean).join("\n") });
    }
    for (const shim of shims ?? []) steps.push({ id: `shim ${shim.foot} ${shim.mm}`, say: `Shim under ${shim.foot}: ${length(shim.mm, units)}` });
    if (level) steps.push({ id: `check ${level.turns.join(" ")}`, say: "Lay the level on once more", note: "Go back and type what it reads now: the plan for the nuts is then made anew from there." });
    return steps;
  }

  /** @param {string} typed @param {any} now @param {string} kind @param {(string | number)[]} way @param {string} say */
  async #saved(typed, now, kind, way, say) {
    if (typed.trim() === String(now ?? "").trim()) return;
    await this.told.change([{ way, value: value(typed, kind, this.told.units()) }], say);
  }
}

/** A large field. @param {string} label @param {any} now @param {string} unit */
function entry(label, now, unit) {
  const id = once("step");
  const input = make("input", { id, type: "text", inputmode: "decimal", autocomplete: "off", value: String(now ?? ""), placeholder: unit });
  return { input, row: make("div", { class: "step-field" }, make("label", { for: id, text: `${label} (${unit})` }), input) };
}

/** A level's reading in one of three ways. @param {string} way @param {any} now @param {Units} units */
function levelEntry(way, now, units) {
  const id = once("level");
  const input = make("input", { id, type: "text", inputmode: "text", autocomplete: "off", value: String(now[way] ?? "") });
  const over = make("input", { id: `${id}-over`, type: "text", autocomplete: "off", value: String(now.over ?? ""), placeholder: units });
  const overRow = make("div", { class: "step-field" }, make("label", { for: `${id}-over`, text: "read over" }), over);
  let chosen = way;
  const name = once("way");
  const choose = (/** @type {string} */ key) => { chosen = key; overRow.hidden = key === "low"; };
  const ways = make("fieldset", { class: "switch step-ways" }, make("legend", { class: "hidden", text: "Read in" }), WAYS.map(([key, text]) => make("label", {},
    make("input", { type: "radio", name, value: key, checked: key === way, onchange: () => { choose(key); input.value = String(now[key] ?? ""); } }), make("span", { text: key === "low" && units === "in" ? "inch low" : text }))));
  choose(way);
  const read = () => {
    const typed = input.value.trim(), kind = { low: "length", slope: "angle", bubble: "" }[chosen] ?? "";
    const given = chosen === "bubble" ? Number(typed.replace(",", ".")) : value(typed, kind, units);
    if (typed === "" || Number.isNaN(given)) throw new Error("Type what it reads, a number.");
    return { key: chosen, value: given, over: chosen === "low" ? null : value(over.value, "length", units) };
  };
  return { row: make("div", { class: "step-fields" }, ways, make("div", { class: "step-field" }, make("label", { for: id, text: "it reads" }), input), overRow), read };
}
