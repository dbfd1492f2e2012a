// Gives every write the CSRF token of this moment. Signing in again, in this tab or another, makes a new one and the
// page's own is then stale; the cookie always holds the right one. So a form filled in before still goes through.
(() => {
  "use strict";

  const FIELD = "csrfmiddlewaretoken";
  const PERSON = "page_person";
  const PAGE = "page_mark";

  const token = () =>
    // One without the prefix may be left from before; over TLS it is not the one that is asked for.
    (document.cookie.match(/(?:^|; )__Host-csrftoken=([^;]+)/) || document.cookie.match(/(?:^|; )csrftoken=([^;]+)/))?.[1] || document.querySelector('meta[name="csrf-token"]')?.getAttribute("content");

  // Whose page this is: where somebody else is signed in by now, nothing is done under their name.
  const person = () => document.body.dataset.user || "";

  document.addEventListener("htmx:configRequest", (event) => {
    if (person()) event.detail.headers["X-Person"] = person();
    const now = token();
    if (!now || event.detail.verb === "get") return;
    event.detail.headers["X-CSRFToken"] = now;
    if (event.detail.formData?.has(FIELD)) event.detail.parameters[FIELD] = now;
  });

  /**
   * @param {HTMLFormElement} form
   * @param {string} name
   */
  function hidden(form, name) {
    const known = form.elements.namedItem(name);
    if (known instanceof HTMLInputElement) return known;
    const made = Object.assign(document.createElement("input"), { type: "hidden", name });
    form.append(made);
    return made;
  }

  document.addEventListener("submit", (event) => {
    const form = event.target;
    const field = form.elements.namedItem(FIELD);
    if (!(field instanceof HTMLInputElement)) return;
    // What the page was drawn with tells a second press from the same words sent from a page that was opened later.
    const mark = hidden(form, PAGE);
    mark.value ||= field.value;
    field.value = token() || field.value;
    if (person() && !form.dataset.kind) hidden(form, PERSON).value = person();
  }, { capture: true });
})();
