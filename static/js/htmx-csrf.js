// Gives every write the CSRF token of this moment. Signing in again, in this tab or another, makes a new one and the
// page's own is then stale; the cookie always holds the right one. So a form filled in before still goes through.
(() => {
  "use strict";

  const FIELD = "csrfmiddlewaretoken";

  const token = () =>
    document.cookie.match(/(?:^|; )csrftoken=([^;]+)/)?.[1] || document.querySelector('meta[name="csrf-token"]')?.getAttribute("content");

  document.addEventListener("htmx:configRequest", (event) => {
    const now = token();
    if (!now || event.detail.verb === "get") return;
    event.detail.headers["X-CSRFToken"] = now;
    if (event.detail.formData?.has(FIELD)) event.detail.parameters[FIELD] = now;
  });

  document.addEventListener("submit", (event) => {
    const field = event.target.elements.namedItem(FIELD);
    const now = token();
    if (field instanceof HTMLInputElement && now) field.value = now;
  }, { capture: true });
})();
