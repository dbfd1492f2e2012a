// What is half typed at a step survives a reload and a dead battery: it is kept on the tablet until it is answered.
(() => {
  "use strict";

  const KEPT_MS = 7 * 24 * 3600 * 1000;
  const PREFIX = `bench-draft ${bench.user} `;

  const form = () => /** @type {HTMLFormElement | null} */ (document.querySelector("form#step-form"));
  /** @param {HTMLFormElement} of */
  const keyOf = (of) => PREFIX + (of.getAttribute("action") || "");

  /**
   * The fields that a hand fills, as they stand.
   * @param {HTMLFormElement} of
   */
  const fieldsOf = (of) =>
    /** @type {HTMLInputElement[]} */ ([...of.elements]).filter((field) => field.name && field.type !== "hidden" && field.type !== "submit");

  /** @param {HTMLFormElement} of */
  function keep(of) {
    /** @type {Record<string, string>} */
    const typed = {};
    for (const field of fieldsOf(of)) {
      const isChoice = field.type === "radio" || field.type === "checkbox";
      if (isChoice ? field.checked && !field.defaultChecked : field.value !== field.defaultValue && field.value) typed[field.name] = field.value;
    }
    try {
      if (Object.keys(typed).length) localStorage.setItem(keyOf(of), JSON.stringify({ at: Date.now(), typed }));
      else localStorage.removeItem(keyOf(of));
    } catch {
      // No room: the answer itself is kept elsewhere, and the bar of the bench says what does not work.
    }
  }

  function putBack() {
    const shown = form();
    if (!shown || shown.dataset.drafted || shown.querySelector(".form-errors")) return;
    shown.dataset.drafted = "yes";
    /** @type {{ at: number, typed: Record<string, string> } | null} */
    const kept = JSON.parse(localStorage.getItem(keyOf(shown)) || "null");
    if (!kept) return;
    let changed = null;
    for (const field of fieldsOf(shown)) {
      const value = kept.typed[field.name];
      if (value === undefined) continue;
      if (field.type === "radio" || field.type === "checkbox") {
        if (field.value !== value || field.checked) continue;
        field.checked = true;
      } else {
        if (field.value === value) continue;
        field.value = value;
      }
      changed = field;
      field.closest("details")?.setAttribute("open", "");
      const reason = field.closest("[data-reason-for]");
      if (reason instanceof HTMLElement) reason.hidden = false;
    }
    const place = document.querySelector("[data-tick-state]");
    if (!changed || !place) return;
    place.textContent = "What was typed here before is back. It is not saved until you answer.";
    place.hidden = false;
    changed.dispatchEvent(new Event("change", { bubbles: true })); // so that it is judged again
  }

  function forgetOld() {
    for (const key of Object.keys(localStorage)) {
      if (!key.startsWith("bench-draft ")) continue;
      const { at } = JSON.parse(localStorage.getItem(key) || "{}");
      if (!(Date.now() - at < KEPT_MS)) localStorage.removeItem(key);
    }
  }

  for (const typed of ["input", "change"]) {
    document.addEventListener(typed, (event) => {
      const field = event.target;
      if (field instanceof Element && "form" in field && field.form === form() && form()) keep(/** @type {HTMLFormElement} */ (field.form));
    });
  }
  // The answer is in the queue of the tablet now, with all that was typed.
  document.addEventListener("bench:kept", (event) => {
    if (event.detail.kind === "answer") localStorage.removeItem(PREFIX + event.detail.url);
  });
  document.addEventListener("DOMContentLoaded", () => {
    forgetOld();
    putBack();
  });
  document.addEventListener("htmx:load", putBack);
  document.addEventListener("bench:shown", putBack);
})();
