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

  // Of parts: one tap for those that nobody has answered yet, below the last of them, so that all were seen.
  const rest = document.querySelector("[data-all-used]");
  if (rest instanceof HTMLElement) rest.hidden = false;
  rest?.addEventListener("click", (event) => {
    if (!(event.target instanceof HTMLButtonElement)) return;
    for (const used of document.querySelectorAll('input[type=radio][name^="became-"][value="used"]')) {
      if (!(used instanceof HTMLInputElement) || document.querySelector(`[name="${CSS.escape(used.name)}"]:checked`)) continue;
      used.checked = true;
      used.dispatchEvent(new Event("change", { bubbles: true }));
    }
  });

  /**
   * What was typed, in the unit of its field: "78", "78 psi", "5,4 bar". Nothing where only the server can say, such as
   * of "1,500", which could be two numbers.
   * @param {HTMLInputElement} field
   */
  function inItsUnit(field) {
    const typed = /^(\d+(?:[.,]\d+)?)\s*(\D*)$/.exec(field.value.trim());
    if (!typed || /^[1-9]\d{0,2}[.,]\d{3}$/.test(typed[1] ?? "")) return undefined;
    const number = Number((typed[1] ?? "").replace(",", "."));
    const unit = (typed[2] ?? "").replace(/\s+/g, "").toLowerCase();
    if (!unit) return number;
    /** @type {Record<string, number>} */
    const factors = JSON.parse(field.dataset.factors || "{}");
    const factor = factors[unit];
    return factor === undefined ? undefined : number * factor;
  }

  /**
   * Whether a number lies outside, in whatever unit it was typed; of anything else only the server can say.
   * @param {HTMLInputElement} field
   */
  function isOutside(field) {
    const { low, high } = field.dataset;
    const number = inItsUnit(field);
    if (low === undefined || high === undefined || number === undefined) return false;
    return number < Number(low) || number > Number(high);
  }

  // A press on an answer takes the field's focus away, and what then grows above the answers moves them from under the
  // finger: the press would hit nothing. So nothing grows until it is over.
  let isPressing = false;
  let isWaiting = false;
  document.addEventListener("mousedown", () => (isPressing = true), true);
  document.addEventListener(
    "mouseup",
    () =>
      setTimeout(() => {
        isPressing = false;
        if (isWaiting) askReasons();
      }, 0), // after the click
    true,
  );

  function askReasons() {
    isWaiting = isPressing;
    if (isPressing) return;
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
