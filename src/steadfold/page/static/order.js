// The order folder: made by one press, looked at sheet by sheet, taken along as one archive.

import { make, once } from "./make.js";

/** The press, and the choice what goes in. @param {(even: boolean) => void} press */
export function orderAsk(press) {
  const id = once("even");
  const even = make("input", { type: "checkbox", id });
  return [
    make("label", { class: "check", for: id }, even, " also what is not enough or unproven; every sheet of it says so"),
    make("button", { type: "button", class: "quiet-button", text: "Make the order folder", onclick: () => press(even.checked) }),
  ];
}

/**
 * What the folder holds, what it leaves out and why.
 * @param {any} found @param {string} address @param {string} query @param {string} caution
 */
export function orderShown(found, address, query, caution) {
  if (found.nothing) return [make("p", { role: "status", text: found.nothing })];
  /** @type {Map<string, string[]>} */
  const folders = new Map();
  for (const name of found.files) {
    const at = name.lastIndexOf("/"), folder = at < 0 ? "" : name.slice(0, at);
    folders.set(folder, [...(folders.get(folder) ?? []), name]);
  }
  const link = (/** @type {string} */ name) => make("li", {}, make("a", { href: `${address}/file/${name.split("/").map(encodeURIComponent).join("/")}${query}`, target: "_blank", rel: "noopener", text: name.slice(name.lastIndexOf("/") + 1) }));
  return [
    make("p", { role: "status" }, make("strong", { text: `${found.parts.length} ${found.parts.length === 1 ? "part" : "parts"} in it` }), found.parts.length ? `: ${found.parts.join(", ")}.` : "."),
    found.left_out.length ? make("ul", { class: "assumed" }, found.left_out.map((/** @type {any} */ each) => make("li", {}, make("strong", { text: `${each.name} is left out, ${each.verdict}. ` }), each.why))) : null,
    found.missing.length ? make("p", { class: "quiet", text: `Not in it: ${found.missing.join("; ")}.` }) : null,
    make("div", { class: "sheets" }, [...folders].map(([folder, names]) => make("details", { class: "why" }, make("summary", { text: `${folder || "for the whole order"} (${names.length})` }), make("ul", {}, names.map(link))))),
    make("p", { class: "quiet", text: `Look at each sheet before it goes out. ${caution}` }),
    make("a", { class: "do-it", href: `${address}/archive${query}`, download: "", text: "Take it along as one archive" }),
  ].filter((each) => each !== null);
}
