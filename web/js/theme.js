// Light, dark or as the device; and single-key shortcuts on or off. Kept in cookies so that the
// server draws the page right at once.

/** @param {string} name @param {string} value */
function keep(name, value) {
  const age = value ? 31536000 : 0;
  document.cookie = `${name}=${value}; path=/; max-age=${age}; samesite=lax`;
}

/** @param {HTMLElement} element */
export function begin(element) {
  element.hidden = false;
  const theme = element.querySelector("select");
  theme?.addEventListener("change", () => {
    keep("theme", theme.value);
    if (theme.value) document.documentElement.dataset.theme = theme.value;
    else delete document.documentElement.dataset.theme;
  });
  const keys = element.querySelector("input");
  keys?.addEventListener("change", () => {
    keep("keys", keys.checked ? "" : "off");
    document.body.dataset.keys = keys.checked ? "" : "off";
  });
}
