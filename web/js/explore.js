// The server's drawing stands first; Explore puts plotly in its place on demand.
// data-figure: address of the figure as JSON. data-plotly: address of the library. data-over: id of the drawing.
// data-without: ids of style sheets that the library leaves out where the page has something of that id.

/** @typedef {{data: object[], layout: Record<string, object>}} Figure */
/** @typedef {{newPlot(at: Element, data: object[], layout: object, config: object): Promise<void>}} Plotly */

/** @param {string} address @param {string} without @returns {Promise<Plotly>} */
function library(address, without) {
  const loaded = /** @type {{Plotly?: Plotly}} */ (/** @type {unknown} */ (window));
  if (loaded.Plotly) return Promise.resolve(loaded.Plotly);
  for (const id of without.split(" ").filter(Boolean)) {
    document.head.append(Object.assign(document.createElement("template"), { id }));
  }
  return new Promise((resolve, reject) => {
    const script = document.createElement("script");
    script.src = address;
    script.onload = () => (loaded.Plotly ? resolve(loaded.Plotly) : reject(new Error("the library did not start")));
    script.onerror = () => reject(new Error("the library could not be fetched"));
    document.head.append(script);
  });
}

/** Names in the figure such as "var(--ink)" become this theme's colours. @param {string} text */
function inTheme(text) {
  const style = getComputedStyle(document.documentElement);
  return text.replace(/var\((--[a-z0-9-]+)\)/g, (_, name) => style.getPropertyValue(name).trim());
}

/** @param {HTMLElement} button */
export function begin(button) {
  button.hidden = false;
  const drawing = document.getElementById(button.dataset.over ?? "");
  if (!drawing) return;
  const word = button.textContent ?? "";
  const place = document.createElement("div");
  place.className = "explorer";
  place.hidden = true;

  button.addEventListener("click", async () => {
    if (place.childElementCount) {
      place.hidden = !place.hidden;
    } else {
      button.textContent = "Fetching …";
      try {
        const [plotly, answer] = await Promise.all([
          library(button.dataset.plotly ?? "", button.dataset.without ?? ""),
          fetch(button.dataset.figure ?? "", { headers: { Accept: "application/json" } }),
        ]);
        if (!answer.ok) throw new Error(`the server answered ${answer.status}`);
        const figure = /** @type {Figure} */ (JSON.parse(inTheme(await answer.text())));
        drawing.after(place);
        place.hidden = false;
        await plotly.newPlot(place, figure.data, figure.layout, { responsive: true, displaylogo: false });
      } catch (problem) {
        place.hidden = true;
        button.textContent = `Not to be had: ${problem instanceof Error ? problem.message : problem}. ${word}`;
        return;
      }
    }
    button.textContent = place.hidden ? word : "Back to the drawing";
    drawing.hidden = !place.hidden;
  });
}
