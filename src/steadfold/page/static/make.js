// Elements made in code: text goes in as text, never as markup.

/** @typedef {string | number | Node | null | undefined | false} Child */

/**
 * An element with properties, attributes and children.
 * Keys starting with "on" are listeners, "class" and "aria-..." attributes; `text` is its text.
 * @param {string} tag
 * @param {Record<string, any>} [given]
 * @param {...(Child | Child[])} children
 * @returns {any}
 */
export function make(tag, given = {}, ...children) {
  return filled(document.createElement(tag), given, children);
}

const SVG = "http://www.w3.org/2000/svg";

/**
 * The same in the language of drawings.
 * @param {string} tag
 * @param {Record<string, any>} [given]
 * @param {...(Child | Child[])} children
 * @returns {any}
 */
export function draw(tag, given = {}, ...children) {
  return filled(document.createElementNS(SVG, tag), given, children);
}

/**
 * @param {any} element
 * @param {Record<string, any>} given
 * @param {(Child | Child[])[]} children
 */
function filled(element, given, children) {
  for (const [key, value] of Object.entries(given)) {
    if (value === null || value === undefined || value === false) continue;
    if (key === "text") element.textContent = String(value);
    else if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else if (key === "value" || key === "checked" || key === "disabled" || key === "open") element[key] = value;
    else element.setAttribute(key, value === true ? "" : String(value));
  }
  put(element, ...children);
  return element;
}

/**
 * Append children, leaving out what is nothing.
 * @param {Element} element
 * @param {...(Child | Child[])} children
 */
export function put(element, ...children) {
  for (const child of children.flat()) {
    if (child === null || child === undefined || child === false) continue;
    element.append(child instanceof Node ? child : String(child));
  }
}

/**
 * Replace everything in an element.
 * @param {Element} element
 * @param {...(Child | Child[])} children
 */
export function fill(element, ...children) {
  element.replaceChildren();
  put(element, ...children);
}

let numbers = 0;
/** @param {string} stem @returns {string} an id that is used once */
export function once(stem) {
  numbers += 1;
  return `${stem}-${numbers}`;
}
