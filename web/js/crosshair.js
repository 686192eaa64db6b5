// One cross at the same place in every picture of a comparison: by pointer, or by Tab and the arrows.

/** @type {Record<string, [number, number]>} */
const STEPS = { ArrowUp: [0, -1], ArrowDown: [0, 1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] };

/** @param {HTMLElement} root */
export function begin(root) {
  const frames = /** @type {HTMLElement[]} */ ([...root.querySelectorAll("[data-cross]")]);
  let [across, down] = [50, 50];

  /** @param {number} x @param {number} y both in per cent of a picture */
  const put = (x, y) => {
    [across, down] = [Math.min(100, Math.max(0, x)), Math.min(100, Math.max(0, y))];
    for (const frame of frames) {
      frame.querySelector(".cross")?.removeAttribute("hidden");
      for (const line of frame.querySelectorAll(".cross line")) {
        const [along, at] = line.getAttribute("data-along") === "x" ? ["x", across] : ["y", down];
        for (const end of ["1", "2"]) line.setAttribute(along + end, `${at}%`);
      }
    }
  };
  for (const frame of frames) {
    frame.classList.add("live");
    frame.tabIndex = 0;
    frame.setAttribute("role", "group");
    frame.setAttribute("aria-label", `${frame.querySelector("img")?.alt}. Arrows move the cross in all pictures.`);
    frame.addEventListener("pointermove", (event) => {
      const { left, top, width, height } = frame.getBoundingClientRect();
      put(((event.clientX - left) / width) * 100, ((event.clientY - top) / height) * 100);
    });
    frame.addEventListener("focus", () => put(across, down));
    frame.addEventListener("keydown", (event) => {
      const step = STEPS[event.key];
      if (!step) return;
      event.preventDefault();
      const size = event.shiftKey ? 10 : 1;
      put(across + step[0] * size, down + step[1] * size);
    });
  }
  document.querySelector("[data-cross-words]")?.removeAttribute("hidden");
}
