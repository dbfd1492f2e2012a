// Readings as they are typed: one tap enters the value that is shown, and a reading that is not as wanted asks why.
// The judging is the server's; a plain number is compared here as well, so that a tablet without a network asks too.
(() => {
  "use strict";

  document.addEventListener("click", (event) => {
    const button = event.target instanceof Element && event.target.closest("[data-as-shown]");
    if (!(button instanceof HTMLElement)) return;
    const field = document.getElementById(button.dataset.field || "");
    if (!(field instanceof HTMLInputElement)) return;
    field.value = button.dataset.asShown || "";
    field.removeAttribute("aria-invalid");
    field.dispatchEvent(new Event("change", { bubbles: true })); // the field is not focused: no keyboard comes up
  });

  /**
   * Whether a plain number lies outside; of anything else only the server can say.
   * @param {HTMLInputElement} field
   */
  function isOutside(field) {
    const { low, high } = field.dataset;
    const typed = field.value.trim().replace(",", ".");
    if (low === undefined || high === undefined || !/^\d+(\.\d+)?$/.test(typed)) return false;
    return Number(typed) < Number(low) || Number(typed) > Number(high);
  }

  function askReasons() {
    for (const place of document.querySelectorAll("[data-reason-for]")) {
      if (!(place instanceof HTMLElement)) continue;
      const key = place.dataset.reasonFor || "";
      const field = document.querySelector(`[name="reading-${CSS.escape(key)}"]`);
      const said = place.querySelector("input");
      const isSaid = Boolean(said?.value || said?.getAttribute("aria-invalid"));
      const isOff = document.querySelector(`[data-outside="${CSS.escape(key)}"]`) !== null;
      place.hidden = !(isSaid || isOff || place.hasAttribute("data-asked") || (field instanceof HTMLInputElement && isOutside(field)));
    }
  }

  document.addEventListener("change", (event) => {
    if (event.target instanceof HTMLInputElement && event.target.name.startsWith("reading-")) askReasons();
  });
  document.addEventListener("htmx:load", askReasons);
})();
