// A job: its parts, one of them open, changed by a form, seen in the picture and in the flat.

import { head, mended, sections } from "./answer.js";
import { FlatView } from "./flat.js";
import { Form, every, key } from "./form.js";
import { compared } from "./gauges.js";
import { draw, fill, make } from "./make.js";
import { MoneyView } from "./money.js";
import { OrderView } from "./order.js";
import { Picture } from "./picture.js";
import { colours, legend } from "./scale.js";
import { beam } from "./signs.js";
import { standHead, standSections } from "./stand.js";
import { Steps } from "./steps.js";
import { Refused, ask, bytes, listen, post } from "./talk.js";
import { length, share, told } from "./units.js";

const CAUTION = "A calculator's opinion. Overhead loads, machines and anything that carries people need the judgement of somebody licensed to give it; local codes come first.";
/** What is shown of the job as a whole, and what its place in the list says. @type {("money" | "order")[]} */
const WHOLE = ["money", "order"];
const WHOLE_NAMES = { money: ["What it costs me", "what I charge"], order: ["Order folder", "for the shop"] };
const RANK = { shape: 0, quick: 1, full: 2 };

/** Who shows how far an answer about the whole job is. @type {Record<string, "money" | "order">} */
const HEARD = { money: "money", sheets: "money", order: "order", "order-even": "order", "order-in": "order", "order-even-in": "order" };

export class JobPage {
  /** What is asked for by a press, with its bar. @type {Record<string, {reset: () => void, bar: any}>} */
  asks = {};
  /** @type {Picture} */
  picture = /** @type {any} */ (null);
  /** @type {FlatView} */
  flat = /** @type {any} */ (null);
  /** @type {Form} */
  fields = /** @type {any} */ (null);
  /** @type {MoneyView} */
  money = /** @type {any} */ (null);
  /** @type {Steps} */
  steps = /** @type {any} */ (null);
  /** @type {OrderView} */
  order = /** @type {any} */ (null);
  /** @type {any} */
  flatData = null;
  /** @type {string} */
  coat = "work";

  /** @param {HTMLElement} place @param {string} folder @param {string} name */
  constructor(place, folder, name) {
    this.address = `/api/jobs/${folder}/${encodeURIComponent(name)}`;
    this.units = /** @type {import("./units.js").Units} */ (localStorage.getItem("units") === "in" ? "in" : "mm");
    const asked = new URLSearchParams(location.search);
    this.asked = asked;
    /** @type {"part" | "stand" | "money" | "order"} */
    this.kind = WHOLE.find((kind) => asked.has(kind)) ?? (asked.has("stand") ? "stand" : "part");
    this.number = Number(asked.get(this.kind) ?? 0) || 0;
    /** @type {any} */
    this.state = null;
    /** @type {any} */
    this.answer = null;
    this.sceneLevel = -1;
    this.fingerprint = "";
    this.saving = Promise.resolve();
    this.#build(place);
    this.#start(`${folder}/${encodeURIComponent(name)}`);
  }

  /** @param {string} line */
  async #start(line) {
    const table = await colours();
    this.table = table;
    this.picture.setScale(table);
    try {
      await this.#take(await ask(this.address));
    } catch (error) {
      this.#say(error instanceof Error ? error.message : String(error));
      return;
    }
    listen(line, (notice) => this.#hear(notice), (up) => this.offline.toggleAttribute("hidden", up));
  }

  /** @param {HTMLElement} place */
  #build(place) {
    const step = (/** @type {number} */ way, /** @type {string} */ text, /** @type {string} */ d) => make("button", {
      type: "button", class: "icon-button", "aria-label": text, title: text, onclick: () => this.#step(way),
    }, draw("svg", { viewBox: "0 0 20 20", "aria-hidden": "true" }, draw("path", { d })));
    this.undo = step(-1, "Undo", "M8 4L3 9l5 5M3 9h9a5 5 0 0 1 0 8h-2");
    this.redo = step(1, "Redo", "M12 4l5 5l-5 5M17 9H8a5 5 0 0 0 0 8h2");
    this.title = make("h1", { class: "job-name" });
    this.saved = make("p", { class: "saved", role: "status" });
    this.offline = make("p", { class: "offline", role: "alert", hidden: true, text: "The page's server does not answer. Start it again; nothing that was saved is lost." });
    const units = make("fieldset", { class: "switch" }, make("legend", { class: "hidden", text: "Lengths in" }),
      ["mm", "in"].map((unit) => make("label", {}, make("input", { type: "radio", name: "units", value: unit, checked: unit === this.units, onchange: () => this.#unit(unit) }), make("span", { text: unit === "in" ? "inch" : unit }))));
    this.parts = make("nav", { class: "parts", "aria-label": "Parts of this job" });
    this.trouble = make("div", { class: "trouble", role: "alert", hidden: true });
    this.verdict = make("section", { class: "verdict", "aria-label": "Verdict", "aria-live": "polite" });
    this.bar = make("progress", { max: 1, value: 0, hidden: true, "aria-label": "Working it out" });
    this.stage = make("div", { class: "stage" });
    this.tip = make("div", { class: "tip", role: "status", hidden: true });
    this.legend = make("div", { class: "legend-place" });
    this.slider = make("input", { type: "range", min: 0, max: 1, step: 0.002, value: 1, id: "fold", oninput: () => this.#fold() });
    this.foldWord = make("output", { for: "fold", text: "folded" });
    this.coats = this.#coats();
    this.factor = make("output", { class: "factor" });
    this.loads = make("input", { type: "checkbox", id: "loads", checked: true, onchange: () => { this.picture.showLoads = this.loads.checked; this.#dress(); } });
    const tools = make("div", { class: "picture-tools" }, this.coats,
      make("div", { class: "fold" }, make("label", { for: "fold", text: "flat" }), this.slider, this.foldWord),
      make("label", { class: "check", for: "loads" }, this.loads, " loads and fixings"),
      make("button", { type: "button", class: "quiet-button", text: "First view", onclick: () => this.picture.rest() }));
    this.form = make("div", { class: "form" });
    this.sections = make("div", { class: "answers" });
    this.below = make("div", { class: "answers" });
    this.flatPlace = make("div", { class: "flat-place" });
    this.files = make("div", { class: "files" });
    this.changes = make("div", { class: "inside" });
    this.others = make("div", { class: "inside" });
    this.further = make("div", { class: "answers further" }, this.#asking("What would make it enough", "Look for changes", "mend", this.changes));
    this.gauges = make("div", { class: "answers" }, this.#asking("Other thicknesses", "Compare them", "compare", this.others));
    this.moneyPlace = make("div", { class: "money-place" });
    this.orderPlace = make("div", { class: "order-place" });
    fill(
      place,
      make("header", { class: "top" },
        make("a", { class: "home", href: "/", "aria-label": "steadfold, to the start" }, make("img", { src: "/static/mark.svg", alt: "", width: 26, height: 26 }), make("span", { text: "steadfold" })),
        this.title, this.saved, make("div", { class: "top-tools" }, this.undo, this.redo, units)),
      this.offline, this.trouble, this.parts,
      this.main = make("main", { id: "main", class: "job" },
        make("div", { class: "head" }, this.verdict, this.bar),
        make("div", { class: "seen" },
          make("section", { class: "picture card", "aria-label": "Picture" }, this.stage, this.tip, this.legend, tools, this.factor),
          make("section", { class: "card", "aria-label": "Flat" }, make("div", { class: "card-head" }, make("h2", { text: "Flat" }), this.files), this.flatPlace), this.gauges, this.below),
        this.standSeen = make("div", { class: "seen stand-seen answers" }),
        make("div", { class: "wide" }, this.moneyPlace, this.orderPlace),
        make("div", { class: "side" }, this.sections, this.standSide = make("div", { class: "answers stand-side" }), this.further),
        make("form", { class: "side form-side", onsubmit: (/** @type {Event} */ e) => e.preventDefault(), "aria-label": "What it is" }, this.form)),
      make("footer", { class: "foot" }, make("p", { text: CAUTION })),
    );
    this.picture = new Picture(this.stage, { hover: (found) => this.#hover(found), pick: (found) => this.#pickedThere(found) });
    this.picture.units = this.units;
    this.flat = new FlatView(this.flatPlace, { pick: (what) => this.#picked(what), units: () => this.units });
    this.fields = new Form(this.form, {
      save: (field, value, say, keep, began) => this.#save(field, value, say, keep ?? false, began),
      add: (way, value, say) => this.#change([{ way, value }], say, () => true, false),
      point: (places, label) => this.picture.point(places, label), units: () => this.units,
    });
    this.money = new MoneyView(this.moneyPlace, {
      address: this.address, units: () => this.units, say: (sentence) => this.#say(sentence),
      save: (field, value, say, keep, began) => this.#save(field, value, say, keep ?? false, began), change: (edits, say) => this.#apply(edits, say),
    });
    this.steps = new Steps(place, {
      address: this.address, units: () => this.units, change: (edits, say) => this.#change(edits, say, () => true, false),
      closed: () => { this.asked.delete("steps"); history.replaceState(null, "", `?stand=${this.number}`); },
    });
    this.order = new OrderView(this.orderPlace, this.address, CAUTION, () => this.units);
    document.addEventListener("keydown", (event) => {
      if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || event.target instanceof HTMLInputElement) return;
      event.preventDefault();
      this.#step(event.shiftKey ? 1 : -1);
    });
  }

  #coats() {
    const names = [["metal", "the metal"], ["work", "how hard it works"], ["sag", "how far it sags"]];
    return make("fieldset", { class: "switch coats" }, make("legend", { class: "hidden", text: "Show" }),
      names.map(([value, text]) => make("label", {}, make("input", { type: "radio", name: "coat", value, checked: value === "work", onchange: () => { this.coat = value; this.#dress(); } }), make("span", { text }))));
  }

  get part() {
    return this.kind === "part" ? this.state?.job?.parts[this.number] : undefined;
  }

  /** The fields of what is open, as a state says them. @param {any} state @returns {import("./form.js").Field[]} */
  #fieldsOf(state) {
    const stand = state.job.stands[this.number], part = state.job.parts[this.number];
    if (this.kind === "money") return state.job.sale ?? [];
    if (this.kind === "order") return [];
    if (this.kind === "stand") return stand ? stand.form.flatMap((/** @type {any} */ group) => group.fields) : [];
    return part ? every(part.form) : [];
  }

  /**
   * A section for what takes a while, asked for by a press.
   * @param {string} title @param {string} word @param {"mend" | "compare"} what @param {HTMLElement} place
   */
  #asking(title, word, what, place) {
    const how = () => ({ units: this.units, sagLimit: this.answer?.part.strength?.sag_limit_mm ?? null, apply: (/** @type {any[]} */ edits, /** @type {string} */ say) => this.#change(edits, say, () => true, false).catch((error) => this.#say(error.message)) });
    const reset = () => fill(place, make("button", { type: "button", class: "quiet-button", text: word, onclick: ask_ }));
    const ask_ = async () => {
      const fingerprint = this.fingerprint;
      const bar = make("progress", { max: 1, "aria-label": title });
      fill(place, make("p", { class: "quiet", role: "status", text: "Each is tried on the model; this takes a little." }), bar);
      this.asks[what].bar = bar;
      try {
        const found = await ask(`${this.address}/part/${this.number}/${what}`);
        if (found === null || fingerprint !== this.fingerprint) return;
        fill(place, ...(what === "mend" ? mended(told(found, this.units), how()) : compared(told(found, this.units), how())));
      } catch (error) {
        fill(place, make("p", { class: "fault", role: "alert", text: error instanceof Error ? error.message : String(error) }));
      }
    };
    this.asks[what] = { reset, bar: null };
    reset();
    return make("details", { class: "section", open: true, id: what }, make("summary", {}, make("h2", { text: title })), place);
  }

  /** Take a state of the job; older ones than what is shown are dropped. @param {any} state */
  async #take(state) {
    if (this.state && state.serial < this.state.serial) return;
    this.state = state;
    this.order.show(state);
    document.title = `${state.job?.name ?? state.file} · steadfold`;
    fill(this.title, state.job?.name ?? state.file, state.job?.revision_letter ? make("small", { text: `revision ${state.job.revision_letter}` }) : null);
    this.saved.textContent = `Saved in ${state.file}`;
    for (const [button, what, verb] of /** @type {[any, any, string][]} */ ([[this.undo, state.undo, "Undo"], [this.redo, state.redo, "Redo"]])) {
      button.disabled = what === null;
      const text = what === null ? `Nothing to ${verb.toLowerCase()}` : `${verb}: ${what}`;
      button.setAttribute("aria-label", text);
      button.title = text;
    }
    this.#trouble(state.problems);
    if (!state.job) return;
    if (!state.job.parts.length && this.kind === "part") { this.kind = "stand"; this.number = 0; }
    const whole = this.kind === "money" || this.kind === "order";
    if (!whole && this.number >= state.job[`${this.kind}s`].length) { this.kind = state.job.parts.length ? "part" : "stand"; this.number = 0; }
    for (const kind of ["stand", "money", "order"]) this.main.classList.toggle(`is-${kind}`, this.kind === kind);
    this.main.classList.toggle("is-whole", whole);
    this.#list();
    if (whole) {
      this.waiting?.abort();
      this.fingerprint = "";
      if (this.kind === "money") this.money.show(state);
      return;
    }
    if (this.kind === "stand") {
      const stand = state.job.stands[this.number];
      this.fields.showGroups(stand.form);
      if (stand.fingerprint !== this.fingerprint) this.#workStand(stand);
      return;
    }
    const part = this.part;
    this.fields.show({ ...part, number: this.number });
    if (part.fingerprint !== this.fingerprint) this.#work(part);
  }

  /** @param {any[]} problems */
  #trouble(problems) {
    this.trouble.hidden = !problems.length;
    fill(this.trouble, problems.length ? make("p", {}, make("strong", { text: "The job file cannot be read as it is now. " }), "What is shown is from before. Put it right in your editor, or undo.") : null,
      problems.length ? make("ul", {}, problems.map((p) => make("li", {}, p.line ? `Line ${p.line}: ` : "", p.sentence, p.source_line ? make("code", { text: p.source_line.trim() }) : null))) : null);
  }

  /** @param {string} sentence */
  #say(sentence) {
    this.trouble.hidden = false;
    fill(this.trouble, make("p", { text: sentence }));
  }

  #list() {
    const { parts, stands } = this.state.job;
    const rows = [...parts.map((/** @type {any} */ p, /** @type {number} */ n) => ["part", n, p]), ...stands.map((/** @type {any} */ s, /** @type {number} */ n) => ["stand", n, s])];
    fill(this.parts, make("ul", {}, rows.map(([kind, n, part], place) => {
      const verdict = this.state.verdicts?.[place];
      return make("li", {}, make("a", {
        href: `?${kind}=${n}`, "aria-current": kind === this.kind && n === this.number ? "page" : null,
        onclick: (/** @type {MouseEvent} */ event) => { if (!event.ctrlKey && !event.metaKey) { event.preventDefault(); this.#open(kind, n); } },
      }, verdict ? beam(verdict) : make("span", { class: "beam waiting", "aria-hidden": "true" }),
      make("span", { class: "part-name", text: part.name }), make("small", { text: verdict ?? "…" })));
    })), make("ul", {}, WHOLE.map((kind) => make("li", {}, make("a", {
      href: `?${kind}`, class: "whole", "aria-current": kind === this.kind ? "page" : null,
      onclick: (/** @type {MouseEvent} */ event) => { if (!event.ctrlKey && !event.metaKey) { event.preventDefault(); this.#open(kind, 0); } },
    }, make("span", { class: "part-name", text: WHOLE_NAMES[kind][0] }), make("small", { text: WHOLE_NAMES[kind][1] }))))));
  }

  /** @param {"part" | "stand" | "money" | "order"} kind @param {number} number */
  #open(kind, number) {
    this.kind = kind;
    this.number = number;
    this.fingerprint = "";
    history.replaceState(null, "", kind === "money" || kind === "order" ? `?${kind}` : `?${kind}=${number}`);
    this.picture.point([], "");
    this.picture.home = false;
    this.#take(this.state);
  }

  /** Ask for the answer of a stand. @param {any} stand */
  async #workStand(stand) {
    this.fingerprint = stand.fingerprint;
    this.waiting?.abort();
    const waiting = new AbortController();
    this.waiting = waiting;
    this.answer = null;
    delete this.stage.dataset.level;
    this.bar.hidden = false;
    this.bar.removeAttribute("value");
    this.verdict.classList.add("working");
    try {
      const answer = await ask(`${this.address}/stand/${this.number}`, waiting.signal);
      if (answer === null || answer.fingerprint !== this.fingerprint) return;
      this.standAnswer = answer;
      this.#showStand();
      this.bar.hidden = true;
    } catch (error) {
      if (waiting.signal.aborted) return;
      this.bar.hidden = true;
      this.#say(error instanceof Error ? error.message : String(error));
    }
  }

  #showStand() {
    const shown = told(this.standAnswer, this.units);
    standHead(this.verdict, shown, this.units);
    standSections(this.standSeen, this.standSide, shown, this.units, this.address, () => this.#begin());
    this.steps.show(shown, this.number, this.state.job.stands[this.number].values);
    if (this.asked.has("steps") && !this.steps.open) this.#begin();
  }

  /** The steps in the shop, one a screen; the address says so, for when the phone loads the page anew. */
  #begin() {
    this.steps.begin();
    if (this.steps.open) history.replaceState(null, "", `?stand=${this.number}&steps`);
  }

  /** Ask for the answers of a part, the shape first; what is no longer wanted is dropped. @param {any} part */
  #work(part) {
    const other = !this.answer || this.shownName !== `${this.number} ${part.name}`;
    this.fingerprint = part.fingerprint;
    for (const each of Object.values(this.asks)) each.reset();
    this.shownName = `${this.number} ${part.name}`;
    this.waiting?.abort();
    const waiting = new AbortController();
    this.waiting = waiting;
    this.sceneLevel = -1;
    if (other) this.answer = null;
    this.bar.hidden = false;
    this.bar.removeAttribute("value");
    this.verdict.classList.add("working");
    const get = async (/** @type {"shape" | "quick" | "full"} */ level) => {
      const path = `${this.address}/part/${this.number}`;
      const answer = await ask(`${path}/answer?level=${level}`, waiting.signal);
      if (answer === null) { if (!waiting.signal.aborted) { this.fingerprint = ""; await this.#take(await ask(this.address)); } return; }
      if (answer.fingerprint !== this.fingerprint || RANK[level] <= this.sceneLevel) return;
      const scene = await bytes(`${path}/scene?level=${level}`, waiting.signal);
      if (answer.fingerprint !== this.fingerprint || RANK[level] <= this.sceneLevel) return;
      const first = this.sceneLevel < 0;
      this.sceneLevel = RANK[level];
      this.#show(answer, scene, other && first);
    };
    const failed = (/** @type {any} */ error) => {
      if (error.name === "AbortError" || waiting.signal.aborted) return;
      this.bar.hidden = true;
      this.#say(error.message);
    };
    get("shape").then(() => Promise.all([get("quick"), get("full")])).then(() => { if (!waiting.signal.aborted) this.bar.hidden = true; }).catch(failed);
  }

  /** @param {any} answer @param {ArrayBuffer} scene @param {boolean} fresh */
  #show(answer, scene, fresh) {
    const keepWords = answer.level === "shape" && this.answer && this.answer.known;
    if (keepWords) this.verdict.classList.add("working");
    else {
      this.answer = answer;
      const shown = told(answer, this.units);
      head(this.verdict, shown, this.units, answer.level !== "full");
      sections(this.sections, this.below, shown, this.units, { show: (place) => this.#showPlace(place), apply: (edits, say) => this.#apply(edits, say) });
    }
    this.flatData = answer.flat;
    this.picture.openings = answer.flat?.openings ?? [];
    this.flat.show(told(answer, this.units).flat, answer.part);
    this.picture.show(scene, !fresh);
    this.#dress();
    this.#files(answer);
    this.stage.dataset.level = answer.level;
    document.body.dataset.level = answer.level;
  }

  #dress() {
    const shown = this.picture.shown;
    const answered = Boolean(shown?.answered);
    for (const input of this.coats.querySelectorAll("input")) input.disabled = !answered && input.value !== "metal";
    const coat = answered ? this.coat : "metal";
    const factor = coat === "sag" ? this.picture.usualFactor : 0;
    this.picture.dress(coat === "metal" ? "metal" : "work", factor);
    fill(this.legend, answered && coat !== "metal" && this.table ? legend(this.table, shown.greatest_share) : null);
    const whole = this.picture.share > 0.999;
    this.factor.textContent = factor && whole ? `Sag drawn ${factor === 1 ? "as large as it is" : `${factor} times larger than it is`}; at most ${length(shown.greatest_sag_mm, this.units)}` : "";
    if (factor && !whole) this.factor.textContent = "Sag is shown when the part is fully folded.";
  }

  #fold() {
    const folded = Number(this.slider.value);
    this.foldWord.textContent = folded > 0.999 ? "folded" : folded < 0.001 ? "flat" : `${Math.round(100 * folded)} %`;
    this.picture.fold(folded);
    if (this.coat === "sag") this.#dress();
  }

  /** @param {any} found */
  #hover(found) {
    this.tip.hidden = found === null;
    if (found === null) return;
    const name = this.#nameOf(found.region);
    const parts = [name];
    if (found.share !== null && this.picture.coat === "work") parts.push(`${share(found.share)} of its limit`);
    if (found.sag !== null && this.picture.factor) parts.push(`moves ${length(found.sag, this.units)}`);
    this.tip.textContent = parts.join(" · ");
    this.tip.dataset.share = found.share === null ? "" : String(found.share);
    this.tip.style.transform = `translate(${Math.min(found.x + 14, this.stage.clientWidth - 190)}px, ${found.y + 14}px)`;
  }

  /** @param {number} region */
  #nameOf(region) {
    const shown = this.picture.shown, count = shown.panels.length;
    if (region < count) return shown.panels[region];
    return `bend to ${shown.panels[shown.bends[region - count].child]}`;
  }

  /** @param {any} found */
  #pickedThere(found) {
    const shown = this.picture.shown;
    if (!found || !shown) { this.#picked(null); return; }
    const count = shown.panels.length;
    if (found.opening !== undefined) this.#picked({ opening: found.opening });
    else if (found.region >= count) this.#picked({ bend: found.region - count });
    else { this.#picked(null); this.picture.mark([found.region], []); this.#found([shown.panels[found.region]]); }
  }

  /** A bend or an opening, picked somewhere: shown everywhere. @param {any} what */
  #picked(what) {
    this.flat.mark(what);
    const shown = this.picture.shown;
    if (what === null || !shown) { this.picture.point([], ""); this.#found([]); return; }
    if ("bend" in what) {
      this.picture.point([], "");
      this.picture.mark([], [what.bend]);
      const bend = shown.bends[what.bend];
      this.#found([shown.panels[bend.child], shown.panels[bend.parent]]);
    } else {
      const opening = this.flatData.openings[what.opening];
      if (opening.panel) {
        const [x, y] = opening.at, half = [0.5 * opening.size[0], 0.5 * opening.size[1]];
        const label = opening.diameter ? `⌀ ${length(opening.diameter, this.units)}` : length(opening.size[0], this.units);
        this.picture.point([{ panel: opening.panel, from: [x - half[0], y], to: [x + half[0], y] }, { panel: opening.panel, from: [x, y - half[1]], to: [x, y + half[1]] }], label);
        this.#found([opening.panel], [x, y]);
      }
    }
  }

  /**
   * Mark the findings that name one of these panels; with a place on it those that name another place are left out.
   * @param {string[]} names @param {number[]} [at]
   */
  #found(names, at) {
    for (const each of /** @type {NodeListOf<HTMLElement>} */ (this.main.querySelectorAll(".finding"))) {
      const place = ` ${each.dataset.place ?? ""} `;
      const there = !at || place.split("|").some((one) => {
        const said = /at (-?[\d.]+), (-?[\d.]+)/.exec(one);
        return names.some((name) => named(` ${one} `, name)) && (!said || (Math.abs(Number(said[1]) - at[0]) < 0.06 && Math.abs(Number(said[2]) - at[1]) < 0.06));
      });
      each.classList.toggle("about", there && names.some((name) => named(place, name)));
    }
  }

  /** @param {string} place */
  #showPlace(place) {
    const shown = this.picture.shown;
    if (!shown) return;
    const panels = shown.panels.map((/** @type {string} */ name, /** @type {number} */ n) => (named(` ${place} `, name) ? n : -1)).filter((/** @type {number} */ n) => n >= 0);
    const bends = shown.bends.map((/** @type {any} */ b, /** @type {number} */ n) => (/(root|bend)/.test(place) && panels.includes(b.child) ? n : -1)).filter((/** @type {number} */ n) => n >= 0);
    this.picture.point([], "");
    this.picture.mark(bends.length ? [] : panels, bends);
    this.flat.mark(bends.length ? { bend: bends[0] } : null);
    this.stage.scrollIntoView({ block: "nearest" });
  }

  /** @param {any} answer */
  #files(answer) {
    const path = `${this.address}/part/${this.number}/file`;
    fill(this.files, answer.flat ? ["dxf", "svg", "step", "glb"].map((kind) => make("a", { class: "quiet-button", href: `${path}/${kind}`, download: "", text: kind.toUpperCase() })) : null);
  }

  /** @param {any} unit */
  #unit(unit) {
    this.units = unit;
    this.picture.units = unit;
    localStorage.setItem("units", unit);
    if (!this.state?.job) return;
    this.money.again();
    this.order.show(this.state);
    if (this.kind === "money" || this.kind === "order") return;
    if (this.kind === "stand") {
      this.fields.showGroups(this.state.job.stands[this.number].form);
      if (this.standAnswer) this.#showStand();
      return;
    }
    this.fields.show({ ...this.part, number: this.number });
    for (const each of Object.values(this.asks)) each.reset();
    if (this.answer) {
      const shown = told(this.answer, this.units);
      head(this.verdict, shown, this.units, this.answer.level !== "full");
      sections(this.sections, this.below, shown, this.units, { show: (place) => this.#showPlace(place), apply: (edits, say) => this.#apply(edits, say) });
      this.flat.show(told({ flat: this.flatData, inch: this.answer.inch }, this.units).flat, this.answer.part);
      this.#dress();
    }
  }

  /** Save a field; what somebody else changed meanwhile is merged, or asked about when it is this very field.
   * @param {any} field @param {any} value @param {string} say @param {boolean} keep @param {string} [before] what the file said when typing began */
  #save(field, value, say, keep, before = field.text) {
    const same = (/** @type {any} */ state) => {
      const now = this.#fieldsOf(state).find((f) => key(f) === key(field));
      if (!now || now.text === before) return true;
      return confirm(`${say} was changed to ${now.text || now.default} meanwhile. Put ${value ?? "nothing"} there all the same?`);
    };
    if (!same(this.state)) { this.#again(field); return Promise.resolve(); }
    // Ends of a span are set one by one, so that what else stands in its table stays.
    const edits = field.kind === "span" && before && value && typeof value === "object" ? Object.entries(value).map(([end, v]) => ({ way: [...field.way, end], value: v })) : [{ way: field.way, value }];
    return this.#change(edits, say, same, keep);
  }

  /** Leave a field as the file has it. @param {any} field */
  #again(field) {
    const now = this.#fieldsOf(this.state).find((f) => key(f) === key(field));
    const input = /** @type {HTMLInputElement | null} */ (this.main.querySelector(`[data-way="${CSS.escape(key(field))}"]`));
    if (now && input) input.value = now.text;
  }

  /** @param {any[]} edits @param {string} say */
  #apply(edits, say) {
    this.#change(edits, say, () => true, false).catch((error) => this.#say(error.message));
  }

  /**
   * Send changes, one after the other.
   * @param {any[]} changes @param {string} say @param {(state: any) => boolean} mayMerge @param {boolean} keep
   */
  #change(changes, say, mayMerge, keep) {
    const send = async () => {
      this.saved.textContent = "Saving …";
      for (let tries = 0; tries < 4; tries += 1) {
        try {
          const state = await post(`${this.address}/edit`, { revision: this.state.revision, changes, say, part: this.kind === "part" ? this.number : null, keep });
          await this.#take(state);
          return;
        } catch (error) {
          if (!(error instanceof Refused) || error.status !== 409) {
            this.saved.textContent = "Not saved";
            throw error;
          }
          const state = await ask(this.address);
          await this.#take(state);
          if (!mayMerge(state)) return;
        }
      }
      throw new Error("Another editor keeps changing this job; try again.");
    };
    const done = this.saving.then(send, send);
    this.saving = done.catch(() => undefined);
    return done;
  }

  /** @param {number} way */
  async #step(way) {
    await this.saving;
    try {
      await this.#take(await post(`${this.address}/step`, { revision: this.state.revision, way }));
    } catch (error) {
      if (error instanceof Refused && error.status === 409) await this.#take(await ask(this.address));
      else this.#say(error instanceof Error ? error.message : String(error));
    }
  }

  /** @param {any} notice */
  #hear(notice) {
    if (notice.kind === "job" && this.state && notice.revision !== this.state.revision) {
      ask(this.address).then((state) => {
        if (state.revision !== this.state.revision) this.#take(state).then(() => { this.saved.textContent = `Taken over as changed elsewhere, ${this.state.file}`; });
      });
    } else if (notice.kind === "job" && this.state && notice.serial > this.state.serial) {
      // The same text: the shop's file or a drawing is another.
      ask(this.address).then((state) => this.#take(state));
    } else if (notice.kind === "quotes" && this.state && notice.money !== this.state.money) {
      ask(this.address).then((state) => this.#take(state));
    } else if (notice.kind === "progress" && notice.level in HEARD) {
      (HEARD[notice.level] === "money" ? this.money : this.order).hear(notice);
    } else if (notice.kind === "progress" && notice.fingerprint === this.fingerprint) {
      const bar = notice.level in this.asks ? this.asks[notice.level].bar : notice.level === "full" || notice.level === "stand" ? this.bar : null;
      if (bar) { bar.value = notice.share; bar.title = notice.what; }
    } else if (notice.kind === "answer" && this.state) {
      this.state.verdicts = notice.verdicts;
      if (this.state.job) this.#list();
    }
  }
}

/** Whether a place names a panel, as a whole word. @param {string} place @param {string} name */
function named(place, name) {
  const at = place.indexOf(name);
  if (at < 0) return false;
  const around = `${place[at - 1] ?? " "}${place[at + name.length] ?? " "}`;
  return !/[a-z0-9]/i.test(around);
}
