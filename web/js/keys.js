// Single-key shortcuts: g and a letter, / to search, j and k along a list, ? for help.

/** @type {Record<string, string>} */
const PLACES = { s: "/", d: "/desk", r: "/rounds", e: "/equipment", p: "/reports", u: "/set-up" };

/** @param {EventTarget | null} target */
function typing(target) {
  return target instanceof HTMLElement && (target.isContentEditable || target.matches("input, select, textarea"));
}

/** Move focus along the links of the page's list. @param {number} step */
function along(step) {
  const links = [...document.querySelectorAll("[data-list] a.row-link, [data-list] [data-stop]")];
  const here = links.findIndex((link) => link === document.activeElement);
  const next = links[Math.max(0, Math.min(links.length - 1, here + step))];
  if (next instanceof HTMLElement) next.focus();
}

function search() {
  const box = document.querySelector("[data-search]");
  if (box instanceof HTMLElement) box.focus();
  else location.assign("/equipment?q=");
}

/** @param {HTMLElement} body */
export function begin(body) {
  let waiting = false;
  body.addEventListener("keydown", (event) => {
    if (body.dataset.keys === "off" || typing(event.target) || event.ctrlKey || event.metaKey || event.altKey) return;
    if (document.querySelector("dialog[open]") && event.key !== "?") return;
    if (waiting && PLACES[event.key]) {
      location.assign(PLACES[event.key]);
      return;
    }
    waiting = event.key === "g";
    if (waiting) setTimeout(() => { waiting = false; }, 1500);
    const help = document.querySelector("#keys");
    if (event.key === "?" && help instanceof HTMLDialogElement && !help.open) help.showModal();
    if (event.key === "j") along(1);
    if (event.key === "k") along(-1);
    if (event.key === "/") {
      event.preventDefault();
      search();
    }
  });
}
