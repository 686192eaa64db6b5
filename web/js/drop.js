// Files dropped on a box of a form go into its file input, as if they had been chosen there.

/** @param {HTMLFormElement} form */
export function begin(form) {
  for (const box of /** @type {NodeListOf<HTMLElement>} */ (form.querySelectorAll("[data-drop]"))) {
    const input = /** @type {HTMLInputElement} */ (box.querySelector("input[type=file]"));
    const words = box.querySelector("[data-drop-words]");
    const tell = () => {
      const files = [...(input.files ?? [])];
      const size = files.reduce((sum, file) => sum + file.size, 0) / 1048576;
      if (words) words.textContent = files.length ? `${files.length} chosen, ${size.toFixed(1)} MiB.` : "Choose one or many, or drop them here.";
    };
    box.addEventListener("dragover", (event) => {
      event.preventDefault();
      box.classList.add("over");
    });
    for (const end of ["dragleave", "drop"]) box.addEventListener(end, () => box.classList.remove("over"));
    box.addEventListener("drop", (event) => {
      event.preventDefault();
      const held = new DataTransfer();
      for (const file of [...(input.files ?? []), ...(event.dataTransfer?.files ?? [])]) held.items.add(file);
      input.files = held.files;
      tell();
    });
    input.addEventListener("change", tell);
    tell();
  }
}
