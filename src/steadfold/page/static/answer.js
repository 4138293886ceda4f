// What the library says of a part, in words and numbers: verdict, findings, the chain from tool to wall.

import { draw, fill, make } from "./make.js";
import { section } from "./sections.js";
import { beam, sign } from "./signs.js";
import { length, mass, massRange, share, stress, force } from "./units.js";

/** @typedef {import("./units.js").Units} Units */

const WORD = { enough: "Enough", tight: "Tight", "not enough": "Not enough", unproven: "Unproven", stop: "Stop" };
const MOST_AT_ONCE = 5;

/** The verdict's reason in a sentence. @param {any} part @param {Units} units */
export function sentence(part, units) {
  const stop = part.findings.find((/** @type {any} */ f) => f.severity === "stop");
  if (stop) return stop.say;
  const found = part.strength;
  const asked = found ? `It may carry ${mass(found.rating_kg, units)}; ${massRange(found.carried_kg, units)} ${found.carried_kg[1] === 1 ? "is" : "are"} asked of it.` : "";
  if (part.verdict === "unproven") {
    const missing = part.findings.find((/** @type {any} */ f) => f.severity === "unproven");
    return missing ? missing.say : part.weakest;
  }
  return asked || part.weakest;
}

/**
 * The head of a part: its verdict in a sentence and the numbers that matter.
 * @param {HTMLElement} place @param {any} answer @param {Units} units @param {boolean} working
 */
export function head(place, answer, units, working) {
  const part = answer.part, found = part.strength, known = answer.known;
  const word = known ? /** @type {any} */ (WORD)[part.verdict] : "Working it out …";
  const resting = found?.cases.find((/** @type {any} */ c) => c.name === "resting");
  const numbers = [
    found ? ["may carry", mass(found.rating_kg, units), range(found.rating_range_kg, found.rating_kg, units)] : null,
    found ? ["is asked to carry", massRange(found.carried_kg, units), ""] : null,
    resting ? ["sags", length(resting.sag_mm, units), found.sag_limit_mm === null ? "no limit was asked for" : `${length(found.sag_limit_mm, units)} is the limit`] : null,
    part.mass_kg !== null ? ["weighs", mass(part.mass_kg, units), part.quantity > 1 ? `${part.quantity} of them` : ""] : null,
    part.cost ? ["costs", money(part.cost.each, part.cost), part.cost.low ? `${money(part.cost.low, part.cost)} to ${money(part.cost.high, part.cost)}` : ""] : null,
  ];
  place.classList.toggle("working", working);
  fill(
    place,
    known ? beam(part.verdict) : make("span", { class: "beam waiting", "aria-hidden": "true" }),
    make("div", { class: "say-it" },
      make("p", { class: "word", text: word }),
      make("p", { class: "sentence", text: known ? sentence(part, units) : "The shape is there; strength and sag follow." }),
      known && found && part.verdict !== "stop" ? make("p", { class: "first" }, make("span", { text: "First to give: " }), part.weakest) : null),
    make("dl", { class: "numbers" }, numbers.filter(Boolean).map((row) => {
      const [name, value, note] = /** @type {string[]} */ (row);
      return make("div", {}, make("dt", { text: name }), make("dd", {}, make("strong", { text: value }), note ? make("small", { text: note }) : null));
    })),
  );
}

/** @param {[number, number]} pair @param {number} middle @param {Units} units */
function range([low, high], middle, units) {
  if (high - low < 0.005 * middle) return "";
  return `${mass(low, units)} to ${mass(high, units)}`;
}

/** @param {number} amount @param {any} cost */
function money(amount, cost) {
  return `${cost.currency ? `${cost.currency} ` : ""}${amount.toFixed(2)}`;
}

/**
 * Everything else that is known, section by section; nothing is shown that is not there.
 * @param {HTMLElement} place @param {HTMLElement} below @param {any} answer @param {Units} units
 * @param {{show: (place: string) => void, apply: (edits: any[], say: string) => void}} told
 */
export function sections(place, below, answer, units, told) {
  const part = answer.part, found = part.strength;
  const open = new Map([place, below].flatMap((each) => [...each.querySelectorAll("details.section")]).map((each) => [each.id, /** @type {any} */ (each).open]));
  const kept = (/** @type {string} */ id, /** @type {boolean} */ usual) => open.get(id) ?? usual;
  const making = part.findings.filter((/** @type {any} */ f) => f.making);
  const others = part.findings.filter((/** @type {any} */ f) => !f.making);
  fill(
    place,
    others.length || answer.known ? section("What to know", findings(others, told), { id: "findings", open: kept("findings", true), note: count(others) }) : null,
    found ? section("Weakest link", chain(found.chain, told), { id: "chain", open: kept("chain", true), note: "from tool to wall" }) : null,
    ...later(part, units, kept),
  );
  fill(
    below,
    found ? section("How far it sags", cases(found, units), { id: "sag", open: kept("sag", true) }) : null,
    part.flat ? section("Can it be cut and folded", [...findings(making, told), ...folding(part, units)], { id: "folding", open: kept("folding", true), note: count(making) }) : null,
    part.mount?.bolts?.length ? section("The fixings, one by one", bolts(part.mount.bolts, units), { id: "bolts", open: kept("bolts", false) }) : null,
    found?.hand?.length ? section("By hand, beside it", hand(found.hand), { id: "hand", open: kept("hand", false) }) : null,
    answer.assumptions.length ? section("What was assumed", assumed(answer.assumptions), { id: "assumed", open: kept("assumed", false), note: String(answer.assumptions.length) }) : null,
  );
}

/** @param {any[]} list */
function count(list) {
  const loud = list.filter((f) => f.severity !== "note").length;
  return loud ? `${loud} to look at` : "";
}

/** @param {any[]} list @param {any} told */
export function findings(list, told) {
  if (!list.length) return [make("p", { class: "quiet", text: "Nothing to look at here." })];
  /** @type {Map<string, any[]>} */
  const groups = new Map();
  for (const each of list) {
    const name = list.length > MOST_AT_ONCE ? `${each.severity} ${each.code}` : `${groups.size}`;
    groups.set(name, [...(groups.get(name) ?? []), each]);
  }
  return [make("ul", { class: "findings" }, [...groups.values()].map((group) => finding(group, told)))];
}

/** @param {any[]} group @param {any} told */
function finding(group, told) {
  const [first, ...others] = group;
  const limits = first.value !== null && first.limit !== null ? `${number(first.value)} against ${number(first.limit)}. ` : "";
  return make(
    "li", { class: `finding ${first.severity}`, "data-code": first.code, "data-place": group.map((f) => f.place).join("|") },
    sign(first.severity),
    make("div", {},
      make("p", {}, make("strong", { class: "severity", text: first.severity }), " ", first.say),
      others.length ? make("p", { class: "also" }, `Also at ${others.map(placed).join(", ")}.`) : null,
      first.remedy ? make("p", { class: "remedy" }, make("span", { text: "What helps: " }), first.remedy, ".") : null,
      first.change ? make("button", { type: "button", class: "do-it", text: `Do it: ${first.change.say}`, onclick: () => told.apply(first.change.edits, `cure for ${first.code}`) }) : null,
      make("details", { class: "why" },
        make("summary", { text: `${first.code}, ${placed(first)}` }),
        make("p", { text: `${limits}${first.source || "No source."}` }),
        told.show ? make("button", { type: "button", class: "quiet-button", text: "Show the place", onclick: () => told.show(first.place) }) : null)),
  );
}

/** Where a finding is, in words. @param {any} finding */
function placed(finding) {
  return finding.said_place ?? finding.place;
}

/** @param {number} value */
function number(value) {
  return String(Number(value.toPrecision(4)));
}

/** The links from tool to wall, the hardest worked first. @param {any[]} links @param {any} told */
function chain(links, told) {
  const sorted = [...links].sort((a, b) => (b.share ?? 99) - (a.share ?? 99));
  return [make("ol", { class: "chain" }, sorted.map((link) => {
    const known = link.share !== null;
    const wide = known ? Math.min(100, 62 * link.share) : 100;
    const bar = draw("svg", { viewBox: "0 0 100 10", class: "bar-svg", preserveAspectRatio: "none", "aria-hidden": "true" },
      draw("rect", { x: 0, y: 2, width: 100, height: 6, class: "rail" }),
      known ? draw("rect", { x: 0, y: 2, width: wide, height: 6, class: link.share > 1 ? "over" : "used" }) : draw("path", { d: "M0 5H100", class: "unknown" }),
      draw("path", { d: "M62 0V10", class: "limit" }));
    return make("li", {},
      make("button", { type: "button", class: "link", onclick: () => told.show(link.place) },
        make("span", { class: "link-name", text: link.link }), make("span", { class: "link-share", text: known ? share(link.share) : "unproven" }),
        bar, make("small", { text: known ? `${link.say} (${link.case})` : link.say })));
  })), make("p", { class: "quiet", text: "1 is all that is allowed: load factors of 1.5 to a permanent set and 2 to giving way are inside it." })];
}

/** @param {any} found @param {Units} units */
function cases(found, units) {
  const rows = found.cases.map((/** @type {any} */ c) => make("tr", {},
    make("th", { scope: "row" }, c.name, make("small", { text: c.say })),
    make("td", { text: length(c.sag_mm, units) }), make("td", { text: c.load_factor_set > 99 ? "> 99" : c.load_factor_set.toFixed(2) }),
    make("td", { text: c.load_factor_collapse > 99 ? "> 99" : c.load_factor_collapse.toFixed(2) }), make("td", { text: stress(c.peak_stress_mpa, units) }), make("td", { text: share(c.utilisation) })));
  const error = found.mesh?.discretisation_error;
  return [
    make("div", { class: "table-box", tabindex: "0", role: "group", "aria-label": "the four cases, a wide table" }, make("table", { class: "cases" },
      make("thead", {}, make("tr", {}, ["case", "sag", "to a set", "to giving way", "peak", "share"].map((text) => make("th", { scope: "col", text })))),
      make("tbody", {}, rows))),
    found.tonight ? make("p", { class: "tonight" }, make("strong", { text: "To test tonight: " }), found.tonight) : null,
    error !== null && error !== undefined ? make("p", { class: "quiet", text: `A second, coarser mesh changes the governing share by ${(100 * error).toFixed(1)} %.` }) : null,
  ];
}

/** @param {any[]} list @param {Units} units */
function bolts(list, units) {
  return [make("div", { class: "table-box", tabindex: "0", role: "group", "aria-label": "fixings" }, make("table", {},
    make("thead", {}, make("tr", {}, ["fixing", "at", "pull", "shear", "share", "case"].map((text) => make("th", { scope: "col", text })))),
    make("tbody", {}, list.map((bolt, i) => make("tr", {}, make("th", { scope: "row", text: String(i + 1) }),
      make("td", { text: `${length(bolt.at_mm[0], units)}, ${length(bolt.at_mm[1], units)}` }), make("td", { text: force(bolt.tension_n, units) }),
      make("td", { text: force(bolt.shear_n, units) }), make("td", { text: bolt.utilisation === null ? "unproven" : share(bolt.utilisation) }), make("td", { text: bolt.case }))))))];
}

/** @param {any} part @param {Units} units */
function folding(part, units) {
  const flat = part.flat;
  /** @type {Map<string, number>} */
  const kinds = new Map();
  for (const bend of flat.bends) {
    const text = `${Number(Math.abs(bend.angle_deg).toFixed(2))}° R${length(bend.inside_radius_mm, units).split(" ")[0]} K${Number(bend.k_factor.toFixed(3))}`;
    kinds.set(text, (kinds.get(text) ?? 0) + 1);
  }
  const rows = [
    ["metal", `${part.material}, ${length(part.thickness_mm, units)} (${length(part.thickness_mm, units === "mm" ? "in" : "mm")})`],
    ["flat", `${length(flat.width_mm, units)} × ${length(flat.height_mm, units)}`],
    ["cut", `${length(flat.cut_length_mm, units, 0)} in ${flat.pierces} contour${flat.pierces === 1 ? "" : "s"}`],
    ["bends", [...kinds].map(([text, many]) => `${many} × ${text}`).join(", ") || "none"],
  ];
  if (part.folded) rows.push(["folded", part.folded.size_mm.map((/** @type {number} */ v) => length(v, units).split(" ")[0]).join(" × ") + ` ${units}`]);
  const order = part.fabrication?.bend_order;
  if (order?.length) rows.push(["bend order", order.map((/** @type {any} */ b) => `${b.bend + 1}${b.flip ? " turned over" : ""}`).join(", ")]);
  if (part.fabrication?.press_force_kn) rows.push(["press force", force(1000 * part.fabrication.press_force_kn, units, true)]);
  return [make("dl", { class: "facts" }, rows.flatMap(([name, text]) => [make("dt", { text: name }), make("dd", { text })]))];
}

/** Sections that come with what the library computes. @param {any} part @param {Units} units @param {any} kept */
function later(part, units, kept) {
  const made = [];
  if (part.cost) {
    const cost = part.cost;
    const lines = [make("p", {}, make("strong", { text: money(cost.each, cost) }), cost.low ? ` each; between ${money(cost.low, cost)} and ${money(cost.high, cost)}.` : " each.")];
    if (cost.at?.length) {
      lines.push(make("dl", { class: "facts" }, cost.at.flatMap((/** @type {any} */ row) => [make("dt", { text: `${row.quantity}` }), make("dd", { text: `${money(row.each, cost)} each` })])));
    }
    made.push(section("What it costs me, what I charge", lines, { id: "cost", open: kept("cost", true) }));
  }
  return made;
}

/** @param {any[]} list */
function hand(list) {
  return [make("ul", { class: "hand" }, list.map((h) => make("li", {},
    make("p", {}, make("strong", { text: h.what })), make("p", { class: "formula", text: h.formula }), make("p", { class: "formula", text: h.values }),
    make("p", { text: `By hand ${number(h.by_hand)} ${h.unit}, by the model ${number(h.by_model)} ${h.unit}${h.ratio === null ? "" : `: ${h.ratio.toFixed(2)} times`}.${h.why ? ` ${h.why}` : ""}` }))))];
}

/** @param {any[]} list */
function assumed(list) {
  return [make("ul", { class: "assumed" }, list.map((a) => make("li", {}, make("p", {}, make("strong", { text: `${a.what}: ` }), a.value), make("p", { class: "quiet", text: `${a.source}. It drives ${a.drives}.` }))))];
}

/**
 * Ranked changes that make a part enough, each put in by one press.
 * @param {any} found @param {{units: Units, apply: (edits: any[], say: string) => void}} told
 */
export function mended(found, { units, apply }) {
  const row = (/** @type {any} */ change, /** @type {boolean} */ enough) => make("li", { class: "change" },
    make("div", {}, make("p", {}, make("strong", { text: change.say })),
      make("p", { class: "quiet", text: `${share(change.share)} of what is allowed; may carry ${mass(change.rating_kg, units)}; ${signed(change.added_kg, (v) => mass(v, units))}${enough ? "" : `; ${change.still}`}` })),
    make("button", { type: "button", class: enough ? "do-it" : "quiet-button", "aria-label": `Do it: ${change.say}`, text: "Do it", onclick: () => apply(change.edits, change.say) }));
  const made = [];
  if (found.thinner) made.push(make("p", { class: "tonight", text: `Thinner would do: ${found.thinner.say} holds too; the rest buys nothing but weight.` }));
  const well = found.share !== null && found.share <= 1;
  if (well && found.changes.length) made.push(make("p", { class: "quiet", text: "It is enough as it is. These hold too:" }));
  if (found.changes.length) made.push(make("ul", { class: "changes" }, found.changes.map((/** @type {any} */ change) => row(change, !well))));
  else if (!well) {
    made.push(make("p", { text: "No single change that was tried makes it enough; the nearest:" }));
    made.push(make("ul", { class: "changes" }, found.near.map((/** @type {any} */ change) => row(change, false))));
  } else made.push(make("p", { class: "quiet", text: "It is enough as it is, and nothing that was tried betters it." }));
  return made;
}

/** @param {number} value @param {(value: number) => string} show */
function signed(value, show) {
  if (Math.abs(value) < 0.01) return "no heavier";
  return value > 0 ? `${show(value)} heavier` : `${show(-value)} lighter`;
}
