// A form that takes long says so after 400 ms, and is not sent twice.

/** @param {HTMLFormElement} form */
export function begin(form) {
  form.addEventListener("submit", (event) => {
    if (form.dataset.sent) {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "yes";
    setTimeout(() => {
      const line = document.createElement("p");
      line.className = "busy";
      line.setAttribute("role", "status");
      line.textContent = form.dataset.busy || "Working on it; this page changes by itself.";
      form.append(line);
    }, 400);
  });
  // back from the next page: the form may be sent again
  addEventListener("pageshow", (event) => { if (event.persisted) delete form.dataset.sent; });
}
