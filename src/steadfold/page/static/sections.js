// A section of the page: a heading that folds it away, and what is in it.

import { make } from "./make.js";

/**
 * @param {string} title @param {any[]} content @param {{open?: boolean, id?: string, note?: string}} [more]
 */
export function section(title, content, more = {}) {
  const heading = make("summary", {}, make("h2", { text: title }), more.note ? make("span", { class: "note", text: more.note }) : null);
  return make("details", { class: "section", open: more.open ?? true, id: more.id }, heading, make("div", { class: "inside" }, ...content));
}
