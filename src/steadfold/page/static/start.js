// The start: one question, a shape picked from pictures, sizes typed; or a job opened, dropped, or tried out.

import { fill, make, once } from "./make.js";
import { ask, post } from "./talk.js";
import { value } from "./units.js";

/** @param {HTMLElement} place */
export async function start(place) {
  const told = await ask("/api/start");
  const units = /** @type {import("./units.js").Units} */ (localStorage.getItem("units") === "in" ? "in" : "mm");
  const fault = make("p", { class: "fault", role: "alert" });
  /** @type {Record<string, any>} */
  const inputs = {};
  const field = (/** @type {string} */ key, /** @type {string} */ label, /** @type {any} */ given, /** @type {string[]} */ choices = []) => {
    const id = once("start");
    const list = choices.length ? `${id}-list` : null;
    inputs[key] = make("input", { id, type: "text", list, autocomplete: "off", ...given });
    return make("div", { class: "start-field" }, make("label", { for: id, text: label }), inputs[key],
      list ? make("datalist", { id: list }, choices.map((each) => make("option", { value: each }))) : null);
  };
  const select = (/** @type {string} */ key, /** @type {string} */ label, /** @type {string[]} */ choices) => {
    const id = once("start");
    inputs[key] = make("select", { id }, choices.map((each) => make("option", { value: each, text: each === "unknown" ? "I do not know yet" : each })));
    return make("div", { class: "start-field" }, make("label", { for: id, text: label }), inputs[key]);
  };
  const sizes = make("div", { class: "sizes" });
  /** @type {any} */
  let chosen = null;
  const choose = (/** @type {any} */ shape) => {
    chosen = shape;
    const rows = shape.sizes.map((/** @type {any} */ size) => {
      const id = once("size");
      return make("div", { class: "start-field" }, make("label", { for: id, text: size.label }),
        make("input", { id, type: "text", autocomplete: "off", "data-size": size.key, "data-kind": size.kind, value: size.text, "aria-describedby": `${id}-say` }), make("small", { id: `${id}-say`, text: size.say }));
    });
    fill(sizes, ...rows);
  };
  const cards = make("fieldset", { class: "shapes" }, make("legend", { text: "Pick a shape" }),
    told.shapes.map((/** @type {any} */ shape, /** @type {number} */ n) => make("label", { class: "shape" },
      make("input", { type: "radio", name: "shape", value: shape.name, checked: n === 0, onchange: () => choose(shape) }),
      make("img", { src: `/api/shape/${encodeURIComponent(shape.name)}.svg`, alt: "", width: 260, height: 170, loading: n > 4 ? "lazy" : "eager" }),
      make("span", { class: "shape-name", text: shape.name }), make("small", { text: shape.say }))));
  choose(told.shapes[0]);
  const begin = async (/** @type {Event} */ event) => {
    event.preventDefault();
    fault.textContent = "";
    /** @type {Record<string, any>} */
    const wanted = {};
    for (const each of sizes.querySelectorAll("input")) wanted[each.dataset.size ?? ""] = value(each.value, each.dataset.kind ?? "", units);
    const given = (/** @type {string} */ key, /** @type {string} */ kind) => value(inputs[key].value, kind, units);
    try {
      const address = await post("/api/new", {
        shape: chosen.name, name: inputs.item.value.trim() ? `${chosen.name} for ${inputs.item.value.trim()}` : chosen.name, sizes: wanted,
        item: given("item", "text"), mass: given("mass", "mass"), count: given("count", "count"), to: inputs.to.value,
        fastener: given("fastener", "text"), material: given("material", "text"), thickness: given("thickness", "gauge"),
      });
      go(address);
    } catch (error) {
      fault.textContent = error instanceof Error ? error.message : String(error);
      fault.scrollIntoView({ block: "center" });
    }
  };
  fill(
    place,
    make("header", { class: "top" }, make("span", { class: "home" }, make("img", { src: "/static/mark.svg", alt: "", width: 26, height: 26 }), make("span", { text: "steadfold" })),
      make("p", { class: "saved", text: `Jobs go into the folder ${told.folder}` })),
    make("main", { id: "main", class: "start" },
      make("form", { class: "question", onsubmit: begin },
        make("h1", { text: "What must it hold, and what is it fixed to?" }),
        make("div", { class: "asked" },
          field("item", "It holds", { placeholder: "sculling oar" }), field("mass", "one weighs", { placeholder: units === "in" ? "4 lb" : "1.6 to 2.3 kg", required: true }),
          field("count", "how many", { inputmode: "numeric", value: "1" }), select("to", "fixed to", told.choices.to), field("fastener", "with", { placeholder: "M8" }, told.choices.fastener)),
        cards,
        make("div", { class: "asked" }, field("material", "metal", { value: "S235" }, told.choices.material), field("thickness", "thickness", { value: units === "in" ? "11 ga" : "3 mm" })),
        sizes, fault,
        make("div", { class: "go-bar" }, make("button", { class: "go", text: "See whether it holds" }))),
      make("aside", { class: "open", "aria-label": "Open a job" }, opened(told), dropping(), tryout())),
  );
}

/** @param {any} told */
function opened(told) {
  const seen = new Set();
  const link = (/** @type {any} */ job, /** @type {string} */ note) => {
    const where = `/job/${job.folder}/${encodeURIComponent(job.name)}`;
    if (seen.has(where)) return null;
    seen.add(where);
    return make("li", {}, make("a", { href: where }, make("span", { text: job.name.replace(/\.toml$/, "") }), make("small", { text: note })));
  };
  const recent = told.recent.map((/** @type {any} */ r) => link(r, r.where));
  const here = told.jobs.map((/** @type {any} */ j) => link(j, new Date(1000 * j.changed).toLocaleDateString()));
  const rows = [...recent, ...here].filter(Boolean);
  return make("section", {}, make("h2", { text: "Go on with" }), rows.length ? make("ul", { class: "jobs" }, rows) : make("p", { class: "quiet", text: "Nothing yet; your jobs will be listed here." }));
}

function dropping() {
  const fault = make("p", { class: "fault", role: "alert" });
  const busy = make("div", { role: "status", hidden: true }, make("p", { class: "quiet", text: "Reading it …" }), make("progress", { "aria-label": "The file is read" }));
  const bring = async (/** @type {File | undefined} */ file) => {
    if (!file) return;
    fault.textContent = "";
    busy.hidden = false;
    if (file.size > 50 * 1024 * 1024) { fault.textContent = "More than 50 MB is not read."; busy.hidden = true; return; }
    try {
      go(await post("/api/drop", { name: file.name, data: await base64(file) }));
    } catch (error) {
      fault.textContent = error instanceof Error ? error.message : String(error);
    }
    busy.hidden = true;
    // So that the same file, put right meanwhile, can be picked again.
    input.value = "";
  };
  const input = make("input", { type: "file", accept: ".toml,.step,.stp,.dxf", id: "bring", onchange: () => bring(input.files?.[0]) });
  const zone = make("label", { class: "drop", for: "bring" }, make("span", { text: "Drop a job, STEP or DXF file here, or pick one" }), input);
  zone.addEventListener("dragover", (/** @type {DragEvent} */ event) => { event.preventDefault(); zone.classList.add("over-it"); });
  zone.addEventListener("dragleave", () => zone.classList.remove("over-it"));
  zone.addEventListener("drop", (/** @type {DragEvent} */ event) => {
    event.preventDefault();
    zone.classList.remove("over-it");
    bring(event.dataTransfer?.files[0]);
  });
  return make("section", {}, make("h2", { text: "Bring one" }), zone, busy, fault);
}

function tryout() {
  const button = make("button", { type: "button", class: "quiet-button", text: "Open the boat shed", onclick: async () => go(await post("/api/example", {})) });
  return make("section", {}, make("h2", { text: "Or look around first" }), make("p", { class: "quiet", text: "A community boat shed: racks, trays and shelves for oars, tins and tools." }), button);
}

/** @param {File} file @returns {Promise<string>} */
function base64(file) {
  return new Promise((resolve, reject) => {
    const reader = new FileReader();
    reader.onload = () => resolve(String(reader.result).split(",", 2)[1] ?? "");
    reader.onerror = () => reject(new Error("the file cannot be read"));
    reader.readAsDataURL(file);
  });
}

/** @param {{folder: string, name: string}} address */
function go(address) {
  location.assign(`/job/${address.folder}/${encodeURIComponent(address.name)}`);
}
