// What a job costs, what quotes say, how its parts lie on sheets, and whether it could be a product.

import { findings } from "./answer.js";
import { Form } from "./form.js";
import { fill, make, once } from "./make.js";
import { Refused, ask, post } from "./talk.js";
import { length, mass, told as inUnits } from "./units.js";

/** In a square metre. */
const SQUARE_FEET = 1 / 0.3048 ** 2;

/**
 * @typedef {{address: string, units: () => import("./units.js").Units, say: (sentence: string) => void,
 *   save: (field: any, value: any, say: string, keep?: boolean, began?: string) => Promise<void>,
 *   change: (edits: any[], say: string) => void}} Told
 */

export class MoneyView {
  /** @param {HTMLElement} place @param {Told} told */
  constructor(place, told) {
    this.told = told;
    this.fingerprint = "";
    /** @type {any} */
    this.answer = null;
    /** @type {any} */
    this.sheets = null;
    this.bar = make("progress", { max: 1, "aria-label": "What it costs is reckoned" });
    this.sheetsBar = make("progress", { max: 1, "aria-label": "The parts are laid on sheets" });
    this.cost = make("div", { class: "inside" });
    this.parts = make("div", { class: "inside" });
    this.laid = make("div", { class: "inside" });
    this.sale = make("div", { class: "inside" });
    this.saleFields = make("div", { class: "inside form" });
    this.form = new Form(this.saleFields, { save: told.save, add: async () => undefined, point: () => undefined, units: told.units });
    this.quotes = new Quotes(told.address);
    const open = (/** @type {string} */ title, /** @type {HTMLElement} */ inside, /** @type {string} */ id) =>
      make("details", { class: "section", open: true, id }, make("summary", {}, make("h2", { text: title })), inside);
    fill(place,
      make("div", { class: "column answers" }, open("What it costs me", this.cost, "order-cost"), open("Part by part, each ordered alone", this.parts, "part-costs"), open("Quotes of my own", this.quotes.place, "quotes")),
      make("div", { class: "column answers" }, open("On sheets", this.laid, "sheets"), open("What I charge, and could it be a product?", this.sale, "sale")));
  }

  /** A state of the job: what is shown already stays when nothing of it changed. @param {any} state */
  show(state) {
    this.state = state;
    this.#saleForm();
    if (state.money === this.fingerprint) return;
    this.fingerprint = state.money;
    this.#ask(state.money);
  }

  /** Show what is there again, in the other unit. */
  again() {
    if (this.answer) this.#shown();
    if (this.sheets) this.#sheetsShown();
  }

  /** @param {any} notice */
  hear(notice) {
    if (notice.fingerprint !== this.fingerprint) return;
    const bar = notice.level === "sheets" ? this.sheetsBar : this.bar;
    bar.value = notice.share;
    bar.title = notice.what;
  }

  /** @param {string} fingerprint */
  async #ask(fingerprint) {
    for (const bar of [this.bar, this.sheetsBar]) bar.removeAttribute("value");
    fill(this.cost, make("p", { class: "quiet", role: "status", text: "Reckoning …" }), this.bar);
    fill(this.laid, make("p", { class: "quiet", role: "status", text: "The parts are laid on sheets; this takes a little." }), this.sheetsBar);
    this.sheets = null;
    const asked = async (/** @type {string} */ query, /** @type {HTMLElement} */ place, /** @type {(found: any) => void} */ then) => {
      try {
        const found = await ask(`${this.told.address}/money${query}`);
        if (found === null || fingerprint !== this.fingerprint) return;
        then(found);
      } catch (error) {
        if (fingerprint === this.fingerprint) fill(place, make("p", { class: "fault", role: "alert", text: error instanceof Error ? error.message : String(error) }));
      }
    };
    await asked("", this.cost, (found) => { this.answer = found; this.#shown(); });
    await asked("?sheets=1", this.laid, (found) => { this.sheets = found; this.#sheetsShown(); });
  }

  #shown() {
    const { cost, quotes } = inUnits(this.answer, this.told.units());
    const nothing = !cost.parts.length;
    fill(this.cost,
      nothing ? make("p", { text: "No part of this job has a cost." }) : make("p", {}, make("strong", { class: "total", text: money(cost.order.total, cost) }), ` for everything, ordered together; between ${money(cost.order.low, cost)} and ${money(cost.order.high, cost)}.`),
      nothing ? null : make("p", { class: "quiet", text: basis(cost) }),
      ...(cost.findings.length ? findings(cost.findings.map(whole), {}) : []),
      cost.quote_next ? make("p", { class: "tonight" }, make("strong", { text: "Have this quoted next, it is known least: " }), cost.quote_next) : null,
      cost.left_out.length ? make("ul", { class: "assumed" }, cost.left_out.map((/** @type {any} */ each) => make("li", {}, make("strong", { text: `${each.name} has no cost: ` }), each.why))) : null,
      ...cost.stands.map((/** @type {any} */ stand) => bars(stand, cost, this.told.units())));
    fill(this.parts, nothing ? make("p", { class: "quiet", text: "Nothing to show." }) : parts(cost), ...cost.parts.map((/** @type {any} */ part) => operations(part, cost, this.told.units())));
    this.quotes.show(quotes, cost);
    this.#saleShown();
  }

  #saleForm() {
    const fields = this.state.job.sale;
    if (fields) this.form.showGroups([{ title: "What is sold, and how", fields }]);
  }

  #saleShown() {
    const { sale, sale_why_not: whyNot, fingerprint } = inUnits(this.answer, this.told.units()), job = this.state.job;
    if (!job.sale) {
      const first = job.parts[0]?.name;
      fill(this.sale, make("p", { text: "The job says nothing of selling. Say so, and its price, what is left of each sale and its risk are reckoned." }),
        first ? make("button", { type: "button", class: "do-it", text: "Reckon what to charge", onclick: () => this.told.change([{ way: ["sale"], value: { name: first, part: first } }], "to be sold") }) : null);
      return;
    }
    this.#saleForm();
    fill(this.sale, ...(sale ? sold(sale, `${this.told.address}/money/picture/sale.svg?${fingerprint}`) : [make("p", { class: "fault", text: whyNot ?? "" })]), this.saleFields);
  }

  #sheetsShown() {
    const units = this.told.units(), { cost, groups, fingerprint } = inUnits(this.sheets, units);
    if (!groups.length) { fill(this.laid, make("p", { text: "No part of this job goes on a sheet." })); return; }
    fill(this.laid,
      make("p", {}, make("strong", { text: money(cost.order.total, cost) }), ` for everything when it is cut so; between ${money(cost.order.low, cost)} and ${money(cost.order.high, cost)}.`),
      ...groups.flatMap((/** @type {any} */ group, /** @type {number} */ g) => [
        make("h3", { text: `${group.material}, ${length(group.thickness_mm, units)}` }),
        make("p", { text: `${group.sheets.length} sheet${group.sheets.length === 1 ? "" : "s"}, ${(100 * group.density).toFixed(1)} % of what is used up is parts: ${group.parts.map((/** @type {any} */ p) => `${p.count} × ${p.name}`).join(", ")}.` }),
        group.complete ? null : make("p", { class: "fault", text: "The search was cut short; more time may lay them closer." }),
        group.notes.length ? make("p", { class: "quiet", text: `${group.notes.join("; ")}.` }) : null,
        ...group.sheets.map((/** @type {any} */ sheet, /** @type {number} */ s) => make("img", {
          class: "drawing", src: `${this.told.address}/money/picture/sheet-${g}-${s}-${units}.svg?sheets=1&${fingerprint}`,
          alt: `Sheet ${s + 1} of ${group.sheets.length}, ${group.material} ${length(group.thickness_mm, units)}: ${sheet.laid} parts on ${length(sheet.length_mm, units)} by ${length(sheet.width_mm, units)}`,
        })),
      ]),
      make("p", { class: "quiet" }, make("code", { text: "steadfold cost JOB --nest DIR" }), " writes the layouts as DXF and may search longer."));
  }
}

/** Quotes pasted or dropped: kept as a CSV file beside the job. */
class Quotes {
  /** @param {string} address */
  constructor(address) {
    this.address = address;
    this.revision = "";
    this.kept = "";
    const id = once("quotes");
    this.text = make("textarea", { id, rows: 5, spellcheck: "false", placeholder: HEADER, "aria-describedby": `${id}-how` });
    this.fault = make("div", { class: "fault", role: "alert" });
    this.taught = make("div", { class: "inside-bare" });
    this.file = make("p", { class: "quiet", role: "status" });
    const pick = make("input", { type: "file", accept: ".csv,text/csv", "aria-label": "A file of quotes", onchange: () => { const file = pick.files?.[0]; if (file) this.#dropped(file); pick.value = ""; } });
    const drop = make("div", { class: "drop",
      ondragover: (/** @type {DragEvent} */ event) => { event.preventDefault(); drop.classList.add("over-it"); },
      ondragleave: () => drop.classList.remove("over-it"),
      ondrop: (/** @type {DragEvent} */ event) => { event.preventDefault(); drop.classList.remove("over-it"); const file = event.dataTransfer?.files[0]; if (file) this.#dropped(file); },
    }, make("label", { for: id, text: "Paste what shops asked, or drop a CSV file here" }), this.text, pick);
    this.place = make("div", { class: "inside" }, this.taught, drop,
      make("p", { class: "quiet", id: `${id}-how`, text: `First line ${HEADER}, then a quote a line; the total is for the whole quantity, without tax and carriage.` }),
      this.fault,
      make("div", { class: "tools" }, make("button", { type: "button", class: "do-it", text: "Use these quotes", onclick: () => this.#put(this.text.value) }),
        make("button", { type: "button", class: "quiet-button", text: "Take the last change back", onclick: () => this.#put(null) })),
      this.file);
  }

  /** @param {any} quotes @param {any} cost */
  show(quotes, cost) {
    const typed = this.text.value !== this.kept;
    this.revision = quotes.revision;
    this.kept = quotes.text;
    if (!typed || document.activeElement !== this.text) this.text.value = quotes.text;
    this.file.textContent = quotes.text ? `Kept in ${quotes.file}.` : "";
    fill(this.taught,
      ...cost.shops.map((/** @type {any} */ shop) => make("div", {}, make("h3", { text: `${shop.shop}: ${shop.quotes} quote${shop.quotes === 1 ? "" : "s"}${shop.leave_one_out_error === null ? "" : `; middle error of each told from the others ${(100 * shop.leave_one_out_error).toFixed(0)} %`}` }),
        table(["quote", "asked", "moved", "the others say"], shop.moved.map((/** @type {any} */ m) => [`${m.date}, ${m.quantity} × ${m.part}`, m.total.toFixed(2), m.rate ? `${m.rate} × ${m.factor.toFixed(2)}` : "nothing much", m.error === null ? "" : `${m.error >= 0 ? "+" : ""}${(100 * m.error).toFixed(0)} %`])))),
      cost.unused_quotes.length ? make("ul", { class: "assumed" }, cost.unused_quotes.map((/** @type {string} */ text) => make("li", { text: `${text}.` }))) : null);
  }

  /** @param {File} file */
  async #dropped(file) {
    if (file.size > 800000) { fill(this.fault, make("p", { text: `${file.name} is too large for a list of quotes.` })); return; }
    this.text.value = await file.text();
    this.#put(this.text.value);
  }

  /** @param {string | null} text */
  async #put(text) {
    fill(this.fault);
    try {
      const found = await post(`${this.address}/quotes`, { text, before: this.revision });
      this.kept = this.text.value;
      this.file.textContent = `Kept in ${found.file}.`;
    } catch (error) {
      const sentences = error instanceof Refused && error.told?.sentences ? error.told.sentences : [error instanceof Error ? error.message : String(error)];
      fill(this.fault, sentences.length > 1 ? make("ul", {}, sentences.map((/** @type {string} */ each) => make("li", { text: each }))) : make("p", { text: sentences[0] }));
    }
  }
}

const HEADER = "part,quantity,total,date,shop";

/** @param {number} amount @param {{currency: string}} of */
function money(amount, of) {
  return `${amount.toFixed(2)} ${of.currency}`;
}

/** A finding of money with everything the list of findings wants. @param {any} found */
function whole(found) {
  return { place: "", value: null, limit: null, remedy: "", source: "", change: null, ...found };
}

/** @param {any} cost */
function basis(cost) {
  if (cost.basis !== "calibrated") return "Uncalibrated: these are typical rates that no shop was asked for. Quotes of your own, below, make them yours.";
  const { shop, quotes } = cost.shops[0];
  return `Calibrated by ${quotes} quote${quotes === 1 ? "" : "s"} of ${shop}; nine quotes in ten should lie between.`;
}

/** @param {string[]} heads @param {any[][]} rows */
function table(heads, rows) {
  return make("div", { class: "table-box", tabindex: "0", role: "group", "aria-label": heads.filter(Boolean).join(", ") }, make("table", {},
    make("thead", {}, make("tr", {}, heads.map((text) => make("th", { scope: "col", text })))),
    make("tbody", {}, rows.map(([first, ...others]) => make("tr", {}, make("th", { scope: "row", text: first }), others.map((text) => make("td", { text })))))));
}

/** @param {any} cost */
function parts(cost) {
  return table(["part", "how many", "each", "between", "at other quantities, each"], cost.parts.map((/** @type {any} */ part) => [
    part.name, String(part.quantity), money(part.each, cost), `${part.low.toFixed(2)} and ${part.high.toFixed(2)}`,
    part.at.map((/** @type {any} */ row) => `${row.quantity}: ${row.each.toFixed(2)}`).join(", "),
  ]));
}

/** @param {any} part @param {any} cost @param {import("./units.js").Units} units */
function operations(part, cost, units) {
  const amount = (/** @type {any} */ line) => line.unit === "kg" ? mass(line.amount, units)
    : line.unit === "m2" && units === "in" ? `${Number((line.amount * SQUARE_FEET).toPrecision(3))} ft2` : `${Number(line.amount.toPrecision(3))} ${line.unit}`;
  const rows = part.lines.map((/** @type {any} */ line) => [line.operation, amount(line), line.money.toFixed(2), line.basis]);
  rows.push(["carriage", "", part.shipping.money.toFixed(2), `billed by ${part.shipping.billed_by}`]);
  return make("details", { class: "why" }, make("summary", { text: `${part.quantity} × ${part.name}, operation by operation (${cost.currency})` }),
    table(["operation", "amount", "money", "by"], rows),
    make("p", { text: part.sheet_use }),
    part.least_order_decides ? make("p", { text: "The shop's least order decides: more of them would cost little more." }) : null);
}

/** @param {any} stand @param {any} cost @param {import("./units.js").Units} units */
function bars(stand, cost, units) {
  const kinds = stand.bars.map((/** @type {any} */ bar) => `${bar.profile}: ${bar.cuts.map((/** @type {any} */ c) => `${c.bars} of ${length(c.stock_mm, units)}`).join(", ")}; ${money(bar.stock, cost)}, sawing ${money(bar.work, cost)}`);
  return make("p", {}, make("strong", { text: `${stand.name}, bought apart: ` }), stand.why_not || `${kinds.join(". ")}.`);
}

/** @param {any} sale @param {string} picture */
function sold(sale, picture) {
  const cash = sale.cash, of = sale;
  return [
    make("p", { class: "tonight" }, make("strong", { text: `${sale.name}: ${sale.standing}. ` }), sale.say),
    make("img", { class: "drawing", src: picture, alt: `Cash month by month, and what moves it: ${sale.say}` }),
    table(["", "price", "landed", "packaging", "postage", "fees", "returns", "reserve", "left", "pays back after"], sale.variants.map((/** @type {any} */ row) => [
      row.name, ...["price", "landed", "packaging", "postage", "fees", "returns", "reserve", "contribution"].map((key) => row[key].toFixed(2)),
      row.break_even === null ? "never" : String(row.break_even)])),
    cash ? make("dl", { class: "facts" }, [
      ["chance of losing", `${(100 * cash.chance_of_loss).toFixed(0)} %`], ["left at the end", `${money(cash.end.middle, of)}, nine times in ten between ${money(cash.end.low, of)} and ${money(cash.end.high, of)}`],
      ["most money out", money(cash.peak_out, of)], ["back above nothing", cash.pays_back_month === null ? "never in half of the cases" : `month ${cash.pays_back_month.toFixed(0)}`],
    ].flatMap(([name, text]) => [make("dt", { text: name }), make("dd", { text })])) : null,
    ...(sale.findings.length ? findings(sale.findings.map(whole), {}) : []),
  ];
}
