// Where everything begins: the start, or a job by its address.

import { fill, make } from "./make.js";

const place = /** @type {HTMLElement} */ (document.getElementById("page"));
const found = /^\/job\/([0-9a-f]{10})\/([^/]+)$/.exec(location.pathname);

async function open() {
  if (found) {
    const { JobPage } = await import("./job.js");
    new JobPage(place, found[1], decodeURIComponent(found[2]));
  } else {
    const { start } = await import("./start.js");
    await start(place);
  }
}

open().catch((error) => {
  const words = error instanceof Error ? error.message : String(error);
  fill(place, make("main", { id: "main", class: "start" }, make("h1", { text: "The page could not open" }), make("p", { role: "alert", text: words }), make("a", { href: "/", text: "To the start" })));
});
