// A stand: its frame, where its sag comes from, how it stands, and weighing and levelling step by step.

import { findings } from "./answer.js";
import { fill, make } from "./make.js";
import { section } from "./sections.js";
import { beam } from "./signs.js";
import { force, length, mass, share } from "./units.js";

/** @typedef {import("./units.js").Units} Units */

const WORD = { enough: "Enough", tight: "Tight", "not enough": "Not enough", unproven: "Unproven", stop: "Stop" };

/** The head of a stand. @param {HTMLElement} place @param {any} answer @param {Units} units */
export function standHead(place, answer, units) {
  const stand = answer.stand;
  const numbers = [
    stand.sag_mm !== null ? ["sags", length(stand.sag_mm, units), stand.sag_range_mm ? `${length(stand.sag_range_mm[0], units)} to ${length(stand.sag_range_mm[1], units)}` : ""] : null,
    stand.slope_mm_per_m !== null ? ["slopes", `${stand.slope_mm_per_m.toFixed(1)} mm/m`, ""] : null,
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
 * @param {HTMLElement} seen @param {HTMLElement} side @param {any} answer @param {Units} units @param {string} address
 */
export function standSections(seen, side, answer, units, address) {
  const stand = answer.stand, told = { show: () => undefined, apply: () => undefined };
  const picture = (/** @type {string} */ name, /** @type {string} */ alt) => answer.pictures.includes(`${name}-${units}`)
    ? make("img", { class: "drawing", src: `${address}/stand/${answer.number}/picture/${name}-${units}.svg?${answer.fingerprint}`, alt }) : null;
  const guide = guided(stand.level, stand.shims, answer.weighing, units, picture("level", "what each step lifts"));
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
 * One step at a time, in large type: for a phone held in one hand.
 * @param {any} level @param {any[]} shims @param {any} weighing @param {Units} units @param {any} picture
 */
function guided(level, shims, weighing, units, picture) {
  /** @type {{say: string, note: string}[]} */
  const steps = [];
  if (weighing) {
    const found = weighing.weighed;
    if (found) steps.push({ say: `${weighing.machine} weighs ${mass(found.mass_kg, units)}`, note: `Between ${mass(found.mass_range_kg[0], units)} and ${mass(found.mass_range_kg[1], units)}, from ${found.readings} readings.${found.disagree ? " They contradict each other: weigh again." : ""}` });
    else steps.push({ say: `Weigh ${weighing.machine}`, note: weighing.plan });
  }
  for (const step of level?.steps ?? []) {
    const turns = level.rods.map((/** @type {string} */ rod, /** @type {number} */ k) => `${rod}: ${Math.abs(step.turns[k]).toFixed(2)} turns ${step.turns[k] < 0 ? "back" : "on"}`).filter((/** @type {string} */ _, /** @type {number} */ k) => Math.abs(step.turns[k]) > 1e-6);
    const low = level.places.map((/** @type {string} */ place, /** @type {number} */ k) => `${place} ${length(step.low_mm[k], units)} low`);
    steps.push({ say: step.do, note: [turns.length ? `Turned so far: ${turns.join("; ")}.` : "", `After it: ${low.join(", ")}.`, step.utilisation === null ? "" : `The hardest worked, ${step.nearest}, is at ${share(step.utilisation)} of what is allowed.`].filter(Boolean).join(" ") });
  }
  for (const shim of shims ?? []) steps.push({ say: `Shim under ${shim.foot}: ${length(shim.mm, units)}`, note: "" });
  if (!steps.length) return null;
  let at = 0;
  const say = make("p", { class: "step-say" }), note = make("p", { class: "step-note" }), where = make("p", { class: "quiet" });
  const back = make("button", { type: "button", class: "step-button", text: "Back", onclick: () => show(at - 1) });
  const on = make("button", { type: "button", class: "step-button on", text: "Done, next", onclick: () => show(at + 1) });
  const show = (/** @type {number} */ next) => {
    at = Math.max(0, Math.min(steps.length - 1, next));
    say.textContent = steps[at].say;
    note.textContent = steps[at].note;
    where.textContent = `Step ${at + 1} of ${steps.length}`;
    back.disabled = at === 0;
    on.disabled = at === steps.length - 1;
  };
  show(0);
  return [
    level && !level.holds ? make("p", { class: "fault", text: "A step would overload something; the findings say what." }) : null,
    make("div", { class: "steps", "aria-live": "polite" }, where, say, note), make("div", { class: "step-buttons" }, back, on), picture,
    make("p", { class: "quiet", text: "Nobody under the machine while a nut is turned; block it up first." }),
  ];
}
