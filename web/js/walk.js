// A strip is one tab stop; arrows walk its points, Enter opens one, Home and End go to the ends.

/** @type {Record<string, (here: number, last: number) => number>} */
const STEPS = {
  ArrowRight: (here, last) => Math.min(last, here + 1),
  ArrowLeft: (here) => Math.max(0, here - 1),
  Home: () => 0,
  End: (_, last) => last,
};

/** @param {SVGElement | HTMLElement} strip */
export function begin(strip) {
  const links = [...strip.querySelectorAll("a")];
  links.forEach((link, index) => link.setAttribute("tabindex", index ? "-1" : "0"));
  strip.addEventListener("keydown", (event) => {
    if (!(event instanceof KeyboardEvent) || !STEPS[event.key]) return;
    const here = links.findIndex((link) => link === document.activeElement);
    const next = links[STEPS[event.key](here, links.length - 1)];
    if (here < 0 || !next) return;
    event.preventDefault();
    links[here].setAttribute("tabindex", "-1");
    next.setAttribute("tabindex", "0");
    next.focus();
  });
}
