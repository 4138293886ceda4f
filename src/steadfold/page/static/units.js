// Numbers for people who think in millimetres or in inches. What is typed goes to the job as it was typed.

/** @typedef {"mm" | "in"} Units */

const INCH = 25.4, POUND = 0.45359237, POUND_FORCE = 4.4482216152605, KSI = 6.894757293168;

/** @param {number} value @param {number} places */
function plain(value, places) {
  const text = value.toFixed(places);
  return places ? text.replace(/\.?0+$/, "") : text;
}

/** @param {number} mm @param {Units} units @param {number} [places] */
export function length(mm, units, places) {
  if (units === "in") return `${plain(mm / INCH, places ?? 3)} in`;
  return `${plain(mm, places ?? (Math.abs(mm) < 10 ? 2 : 1))} mm`;
}

/** @param {number} kg @param {Units} units */
export function mass(kg, units) {
  const value = units === "in" ? kg / POUND : kg;
  const text = Math.abs(value) >= 100 ? value.toFixed(0) : String(Number(value.toPrecision(3)));
  return `${text} ${units === "in" ? "lb" : "kg"}`;
}

/** @param {number} n @param {Units} units @param {boolean} [large] in kN or kip */
export function force(n, units, large) {
  if (large) return units === "in" ? `${(n / POUND_FORCE / 1000).toFixed(1)} kip` : `${(n / 1000).toFixed(0)} kN`;
  return units === "in" ? `${(n / POUND_FORCE).toFixed(0)} lbf` : `${n.toFixed(0)} N`;
}

/** @param {number} mpa @param {Units} units */
export function stress(mpa, units) {
  return units === "in" ? `${(mpa / KSI).toFixed(1)} ksi` : `${mpa.toFixed(0)} MPa`;
}

/** @param {number} perMetre mm in a metre @param {Units} units */
export function slope(perMetre, units) {
  return units === "in" ? `${unsigned((perMetre * 12 / 1000).toFixed(3))} in/ft` : `${unsigned(perMetre.toFixed(1))} mm/m`;
}

/** A zero has no sign. @param {string} text */
function unsigned(text) {
  return Number(text) === 0 ? text.replace("-", "") : text;
}

/** @param {number} share a share of a limit, as "0.47" */
export function share(share) {
  return share >= 10 ? share.toFixed(0) : share.toFixed(2);
}

/**
 * A range of masses or one of them.
 * @param {[number, number]} pair @param {Units} units
 */
export function massRange([low, high], units) {
  if (Math.abs(high - low) < 1e-9) return mass(high, units);
  const unit = units === "in" ? " lb" : " kg";
  return `${mass(low, units).replace(unit, "")} to ${mass(high, units)}`;
}

const BARE = /^[-+−]?\s*(\d+([.,]\d*)?|[.,]\d+|\d+\s*\/\s*\d+|\d+(\s*-\s*|\s+)\d+\s*\/\s*\d+)$/;
const UNIT = {
  length: { mm: "mm", in: "in" }, gauge: { mm: "mm", in: "in" }, mass: { mm: "kg", in: "lb" },
  force: { mm: "N", in: "lbf" }, angle: { mm: "deg", in: "deg" },
};

/**
 * What was typed, with the unit it goes without: a bare number is in the unit the page shows.
 * @param {string} typed @param {string} kind @param {Units} units
 * @returns {any} the value for the job file; null takes the field away
 */
export function value(typed, kind, units) {
  const text = typed.trim();
  if (text === "") return null;
  if (kind === "count") return /^-?\d+$/.test(text) ? Number(text) : text;
  if (kind === "flag") return text === "true";
  if (kind === "span") {
    const ends = text.split(/\s+to\s+|\s*–\s*/).map(Number);
    return ends.some(Number.isNaN) ? text : { low: ends[0], high: ends[ends.length - 1] };
  }
  if (kind === "mass") {
    const ends = text.split(/\s+to\s+|\s*–\s*/);
    const unit = /[a-z]+\s*$/i.exec(ends[ends.length - 1])?.[0]?.trim() ?? UNIT.mass[units];
    const read = ends.map((end) => (BARE.test(end) ? `${end.replace(",", ".")} ${unit}` : end));
    return read.length === 2 ? read : read[0];
  }
  const unit = /** @type {any} */ (UNIT)[kind];
  if (unit && BARE.test(text)) return `${text.replace(",", ".")} ${unit[units]}`;
  return text;
}

/** What is a name, a source, a hand formula, or goes into the job: never told anew. */
const KEPT = new Set(["place", "name", "source", "formula", "values", "unit", "edits", "inch"]);

/**
 * An answer with its sentences in the unit that the page shows; the server sent both. A `place` stays, since the picture
 * is looked up by it; how it reads is in `said_place`.
 * @param {any} answer @param {Units} units
 */
export function told(answer, units) {
  const words = answer?.inch;
  if (units !== "in" || !words) return answer;
  /** @type {(value: any) => any} */
  const walk = (value) => {
    if (typeof value === "string") return words[value] ?? value;
    if (Array.isArray(value)) return typeof value[0] === "number" ? value : value.map(walk);
    if (!value || typeof value !== "object") return value;
    /** @type {any} */
    const made = {};
    for (const [key, inner] of Object.entries(value)) made[key] = KEPT.has(key) ? inner : walk(inner);
    if (typeof value.place === "string") made.said_place = words[value.place] ?? value.place;
    return made;
  };
  return walk(answer);
}

/** @param {string} kind @param {Units} units @returns {string} the unit that a bare number would get */
export function unitOf(kind, units) {
  const unit = /** @type {any} */ (UNIT)[kind];
  return unit ? unit[units] : "";
}
