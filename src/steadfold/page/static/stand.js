// A stand: its frame, where its sag comes from, how it stands, and weighing and levelling step by step.

import { findings } from "./answer.js";
import { fill, make } from "./make.js";
import { section } from "./sections.js";
import { beam } from "./signs.js";
import { force, length, mass, share, slope } from "./units.js";

/** @typedef {import("./units.js").Units} Units */

const WORD = { enough: "Enough", tight: "Tight", "not enough": "Not enough", unproven: "Unproven", stop: "Stop" };

/** The head of a stand. @param {HTMLElement} place @param {any} answer @param {Units} units */
export function standHead(place, answer, units) {
  const stand = answer.stand;
  const numbers = [
    stand.sag_mm !== null ? ["sags", length(stand.sag_mm, units), stand.sag_range_mm ? `${length(stand.sag_range_mm[0], units)} to ${length(stand.sag_range_mm[1], units)}` : ""] : null,
    stand.slope_mm_per_m !== null ? ["slopes", slope(stand.slope_mm_per_m, units), ""] : null,
    stand.tipping_factor !== null ? ["stands by", stand.tipping_factor.toFixed(2), stand.tipping ? `${stand.tipping.wanted} is wanted` : ""] : null,
    stand.frequency_hz.length ? ["hums at", `${stand.frequency_hz[0].toFixed(0)} Hz`, ""] : null,
    ["frame weighs", mass(stand.frame_mass_kg, units), ""],
  ];
  place.classList.remove("working");
  fill(place, beam(stand.verdict),
    make("div", { class: "say-it" }, make("p", { class: "word", text: /** @type {any} */ (WORD)[stand.verdict] }), make("p", { class: "sentence", text: stand.weakest })),
    make("dl", { class: "numbers" }, numbers.filter(Boolean).map((row) => {
      const [name, value, note] = /** @type {string[]} */ (row);
      return make("div", {}, make("dt", { text: name }), make("dd", {}, make("strong", { text: value }), note ? make("small", { text: note }) : null));
    })));
}

/**
 * Everything that is known of a stand.
 * @param {HTMLElement} seen @param {HTMLElement} side @param {any} answer @param {Units} units @param {string} address @param {() => void} begin opens the steps
 */
export function standSections(seen, side, answer, units, address, begin) {
  const stand = answer.stand, told = {};
  const picture = (/** @type {string} */ name, /** @type {string} */ alt) => answer.pictures.includes(`${name}-${units}`)
    ? make("img", { class: "drawing", src: `${address}/stand/${answer.number}/picture/${name}-${units}.svg?${answer.fingerprint}`, alt }) : null;
  const guide = guided(answer, units, picture("level", "what each step lifts"), begin);
  fill(seen,
    section("Frame", [picture("frame", `The frame of ${stand.name}, each member by how hard it works`)], { id: "frame" }),
    guide ? section("Weighing and levelling", guide, { id: "levelling" }) : null,
    stand.sag_budget.length ? section("How far it sags", [picture("budget", "Where the sag comes from"), budget(stand.sag_budget, units), why(stand.diagnosis)], { id: "sag-budget" }) : null,
    stand.members.length ? section("Weakest link", [table(["member", "profile", "pull or push", "share", "case"], stand.members.map((/** @type {any} */ m) => [m.name, m.profile, force(m.axial_n, units), known(m.utilisation), `${m.governs}, ${m.case}`]))], { id: "members" }) : null,
    stand.joints.length ? section("Joints", [table(["joint", "along", "across", "share", "link"], stand.joints.map((/** @type {any} */ j) => [j.name, force(j.axial_n, units), force(j.shear_n, units), known(j.utilisation), j.slips ? `${j.link}, may slip` : j.link]))], { id: "joints", open: false }) : null,
    stand.tie_rods.length ? section("Tie rods", [table(["rod", "pull", "share", "turns to level"], stand.tie_rods.map((/** @type {any} */ r) => [r.name, force(r.tension_n, units), known(r.utilisation), r.turns_to_level === null ? "" : r.turns_to_level.toFixed(2)]))], { id: "rods" }) : null,
  );
  fill(side,
    section("What to know", findings(stand.findings, told), { id: "stand-findings" }),
    stand.tipping ? section("Will the bench topple", topple(stand.tipping, units), { id: "topple" }) : null,
    stand.assumptions.length ? section("What was assumed", [make("ul", { class: "assumed" }, stand.assumptions.map((/** @type {any} */ a) => make("li", {}, make("p", {}, make("strong", { text: `${a.what}: ` }), a.value), make("p", { class: "quiet", text: `${a.source}. It drives ${a.drives}.` }))))], { id: "stand-assumed", open: false, note: String(stand.assumptions.length) }) : null,
  );
}

/** @param {number | null} value */
function known(value) {
  return value === null ? "unproven" : share(value);
}

/** @param {string[]} heads @param {string[][]} rows */
function table(heads, rows) {
  return make("div", { class: "table-box", tabindex: "0", role: "group", "aria-label": heads.join(", ") }, make("table", {},
    make("thead", {}, make("tr", {}, heads.map((text) => make("th", { scope: "col", text })))),
    make("tbody", {}, rows.map(([first, ...others]) => make("tr", {}, make("th", { scope: "row", text: first }), others.map((text) => make("td", { text })))))));
}

/** @param {any[]} rows @param {Units} units */
function budget(rows, units) {
  return table(["at", "bending", "joints turn", "supports give", "bench racks", "clearance, likely", "at worst"], rows.map((r) =>
    [r.at, ...["bending_mm", "joints_turning_mm", "supports_giving_mm", "bench_racking_mm", "clearance_likely_mm", "clearance_worst_mm"].map((key) => length(r[key] ?? 0, units))]));
}

/** @param {any} found */
function why(found) {
  if (!found) return null;
  return make("div", { class: "tonight" }, make("p", {}, make("strong", { text: "Why it sags: " }), found.say), found.next_reading ? make("p", { text: `Next, measure: ${found.next_reading}` }) : null);
}

/** @param {any} found @param {Units} units */
function topple(found, units) {
  const cases = [["as it stands", "resting_factor"], ["with a person leaning", "leaning_factor"], ["shoved", "shoved_factor"], ["without the machine", "empty_factor"]];
  const rows = cases.filter(([, key]) => found[key] !== null && found[key] !== undefined).map(([text, key]) => [text, found[key].toFixed(2)]);
  return [
    make("p", { class: "quiet", text: `What holds it down over what turns it up; ${found.wanted} is wanted.` }),
    make("dl", { class: "facts" }, rows.flatMap(([text, value]) => [make("dt", { text }), make("dd", { text: value })])),
    found.ballast_kg ? make("p", { text: `What helps: ${mass(found.ballast_kg, units)} of ballast, or ${force(found.hold_down_n ?? 0, units)} held down.` }) : null,
  ];
}

/**
 * What weighing and levelling come to; the steps themselves fill the whole screen, for a phone held in one hand.
 * @param {any} answer @param {Units} units @param {any} drawn @param {() => void} begin
 */
function guided(answer, units, drawn, begin) {
  const { level, shims } = answer.stand, weighing = answer.weighing, found = weighing?.weighed;
  if (!weighing && !level && !shims?.length) return null;
  const turned = level ? level.rods.map((/** @type {string} */ rod, /** @type {number} */ k) => [rod, `${Math.abs(level.turns[k]).toFixed(2)} turns ${level.turns[k] < 0 ? "back" : "on"}`]) : [];
  return [
    found ? make("p", {}, make("strong", { text: `${weighing.machine} weighs ${mass(found.mass_kg, units)}` }), `, between ${mass(found.mass_range_kg[0], units)} and ${mass(found.mass_range_kg[1], units)}, from ${found.readings} readings.`) : null,
    found?.disagree ? make("p", { class: "fault", text: "The readings contradict each other: weigh again." }) : null,
    turned.length ? make("dl", { class: "facts" }, turned.flatMap((/** @type {string[]} */ [rod, text]) => [make("dt", { text: rod }), make("dd", { text })])) : null,
    level && !level.holds ? make("p", { class: "fault", text: "A step would overload something; the findings say what." }) : null,
    ...(shims ?? []).map((/** @type {any} */ shim) => make("p", { text: `Shim under ${shim.foot}: ${length(shim.mm, units)}` })),
    make("button", { type: "button", class: "do-it steps-begin", text: "Step by step, in the shop", onclick: begin }),
    drawn,
    make("p", { class: "quiet", text: "Nobody under the machine while a nut is turned; block it up first." }),
  ];
}
