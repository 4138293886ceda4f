// The order folder: made by one press, looked at sheet by sheet, taken along as one archive.

import { fill, make, once } from "./make.js";
import { ask } from "./talk.js";

export class OrderView {
  /** @param {HTMLElement} place @param {string} address of the job @param {string} caution @param {() => import("./units.js").Units} units */
  constructor(place, address, caution, units) {
    this.address = `${address}/order`;
    this.caution = caution;
    this.units = units;
    this.version = "";
    this.fingerprint = "";
    this.bar = make("progress", { max: 1, "aria-label": "The order folder is being made" });
    const id = once("even");
    this.even = make("input", { type: "checkbox", id });
    this.made = make("div", { class: "inside-bare" });
    this.seen = make("div", { class: "inside" });
    fill(place,
      make("div", { class: "column answers" }, make("details", { class: "section", open: true, id: "order" }, make("summary", {}, make("h2", { text: "Order folder" })),
        make("div", { class: "inside" },
          make("p", { class: "quiet", text: "Everything the shop needs, what you need at the bench, the proof test, and what goes with a sale. In inches it is for paper of Letter size, in millimetres for A4." }),
          make("label", { class: "check", for: id }, this.even, " also what is not enough or unproven; every sheet of it says so"),
          make("button", { type: "button", class: "do-it", text: "Make the order folder", onclick: () => this.#make() }), this.made))),
      make("div", { class: "column sheet-column" }, make("section", { class: "section sheet-seen", "aria-label": "The sheet that is looked at" }, this.seen)));
  }

  /** A state of the job: what was made for another version is no more. @param {any} state */
  show(state) {
    const version = `${state.whole} ${this.units()}`;
    if (version === this.version) return;
    this.version = version;
    this.fingerprint = state.whole;
    fill(this.made);
    fill(this.seen, make("p", { class: "quiet", text: "Once the folder is made, each of its sheets can be looked at here." }));
  }

  /** @param {any} notice */
  hear(notice) {
    if (notice.fingerprint !== this.fingerprint) return;
    this.bar.value = notice.share;
    this.bar.title = notice.what;
  }

  async #make() {
    const version = this.version;
    this.query = `?units=${this.units()}${this.even.checked ? "&even=1" : ""}`;
    this.bar.removeAttribute("value");
    fill(this.made, make("p", { class: "quiet", role: "status", text: "Every part is worked out in full; this takes a little." }), this.bar);
    try {
      const found = await ask(`${this.address}${this.query}`);
      if (found !== null && version === this.version) this.#shown(found);
    } catch (error) {
      if (version === this.version) fill(this.made, make("p", { class: "fault", role: "alert", text: error instanceof Error ? error.message : String(error) }));
    }
  }

  /** What the folder holds, what it leaves out and why. @param {any} found */
  #shown(found) {
    if (found.nothing) { fill(this.made, make("p", { role: "status", text: found.nothing })); return; }
    /** @type {Map<string, string[]>} */
    const folders = new Map();
    for (const name of found.files) {
      const at = name.lastIndexOf("/"), folder = at < 0 ? "" : name.slice(0, at);
      folders.set(folder, [...(folders.get(folder) ?? []), name]);
    }
    this.pages = found.pages;
    const press = (/** @type {string} */ name) => make("li", {}, make("button", {
      type: "button", class: "piece sheet", "aria-pressed": "false", text: name.slice(name.lastIndexOf("/") + 1), "data-file": name,
      onclick: (/** @type {Event} */ event) => this.#look(name, /** @type {HTMLElement} */ (event.currentTarget)),
    }));
    fill(this.made,
      make("p", { role: "status" }, make("strong", { text: `${found.parts.length} ${found.parts.length === 1 ? "part" : "parts"} in it` }), found.parts.length ? `: ${found.parts.join(", ")}.` : "."),
      found.left_out.length ? make("ul", { class: "assumed" }, found.left_out.map((/** @type {any} */ each) => make("li", {}, make("strong", { text: `${each.name} is left out, ${each.verdict}. ` }), each.why))) : null,
      found.missing.length ? make("p", { class: "quiet", text: `Not in it: ${found.missing.join("; ")}.` }) : null,
      make("p", { class: "quiet", text: `Look at each sheet before it goes out. ${this.caution}` }),
      make("a", { class: "do-it", href: `${this.address}/archive${this.query}`, download: "", text: "Take it along as one archive" }),
      make("div", { class: "sheets" }, [...folders].map(([folder, names]) => make("details", { class: "folder", open: folder === "shop" }, make("summary", { text: `${folder || "for the whole order"} (${names.length})` }), make("ul", {}, names.map(press))))));
    const first = /** @type {HTMLElement | null} */ (this.made.querySelector(".sheet"));
    const shop = /** @type {HTMLElement | null} */ (this.made.querySelector(".folder[open] .sheet"));
    const paper = [...this.made.querySelectorAll(".sheet")].find((each) => found.pages[/** @type {HTMLElement} */ (each).dataset.file ?? ""]);
    /** @type {HTMLElement | null | undefined} */ (shop ?? paper ?? first)?.click();
  }

  /** Show a file: a paper sheet page by page, a drawing drawn, text as text. @param {string} name @param {HTMLElement} button */
  async #look(name, button) {
    for (const each of this.made.querySelectorAll(".sheet")) each.setAttribute("aria-pressed", String(each === button));
    const path = name.split("/").map(encodeURIComponent).join("/"), file = `${this.address}/file/${path}${this.query}`;
    const pages = this.pages[name] ?? 0;
    const image = (/** @type {number} */ page) => make("img", { class: "paper", src: `${this.address}/page/${page}/${path}${this.query}`, alt: `${name}, page ${page + 1} of ${pages}`, loading: page > 1 ? "lazy" : "eager" });
    const kind = name.slice(name.lastIndexOf(".") + 1);
    const text = ["csv", "json", "txt", "md", "toml"].includes(kind) || !name.includes(".");
    const words = make("pre", { class: "text-file", tabindex: "0", "aria-label": name });
    fill(this.seen,
      make("div", { class: "card-head" }, make("h2", { text: name }), make("a", { class: "quiet-button", href: file, target: "_blank", rel: "noopener", text: kind === "pdf" || kind === "svg" || text ? "Open it alone" : "Take it along" })),
      pages ? Array.from({ length: pages }, (_, page) => image(page)) : text ? words : make("p", { class: "quiet", text: "A model in space has no paper sheet; the picture of the part shows it." }));
    if (!pages && text) words.textContent = await fetch(file, { credentials: "same-origin" }).then((answer) => answer.text()).catch(() => "it cannot be had now");
  }
}
