// Starts each behaviour named in the page: <form data-behaviour="busy reorder">.
// A page reads and works without any of them.

const KNOWN = new Set([
  "busy", "crosshair", "drop", "explore", "keys", "marks", "print", "raster", "reorder", "theme", "typed", "walk",
]);

/** @param {ParentNode} root */
async function start(root) {
  for (const element of root.querySelectorAll("[data-behaviour]")) {
    if (!(element instanceof HTMLElement || element instanceof SVGElement)) continue;
    for (const name of (element.dataset.behaviour ?? "").split(/\s+/)) {
      if (!KNOWN.has(name)) continue;
      const module = await import(`./${name}.js`);
      module.begin(element);
    }
  }
}

start(document);
document.querySelector(".problems")?.scrollIntoView({ block: "nearest" });
