// Keys at the counter. Each page works without them.
(() => {
  "use strict";

  /** @param {HTMLElement} form */
  const links = (form) => [...document.querySelectorAll(`${form.dataset.arrows} a.result`)];

  // In a lookup: Down from the box to the first hit, Up and Down among the hits, Escape back to the box.
  document.addEventListener("keydown", (event) => {
    if (!["ArrowDown", "ArrowUp", "Escape"].includes(event.key)) return;
    for (const form of document.querySelectorAll("[data-arrows]")) {
      const box = form.querySelector("input[type=search]");
      const stops = [box, ...links(form)];
      const at = stops.indexOf(/** @type {HTMLElement | null} */ (document.activeElement));
      if (at < 0 || (event.key === "Escape" && at === 0)) continue;
      const to = event.key === "Escape" ? 0 : at + (event.key === "ArrowDown" ? 1 : -1);
      const stop = stops[to];
      if (!stop) continue;
      event.preventDefault();
      stop.focus();
    }
  });

  // In the booking form Enter goes to the next field; only its button books in.
  document.addEventListener("keydown", (event) => {
    const field = event.target;
    const form = field.closest?.("[data-enter-moves-on]");
    if (event.key !== "Enter" || !form || !field.matches("input:not([type=submit], [type=file])")) return;
    event.preventDefault();
    const controls = form.querySelectorAll("input, select, textarea, button");
    const fields = /** @type {HTMLInputElement[]} */ ([...controls]).filter(
      (one) => one.type !== "hidden" && !one.disabled && one.offsetParent !== null,
    );
    fields[fields.indexOf(/** @type {HTMLInputElement} */ (field)) + 1]?.focus();
  });

  // A day of the list fills the date field.
  document.addEventListener("click", (event) => {
    const filler = event.target.closest("[data-fills]");
    const field = filler && document.getElementById(filler.dataset.fills || "");
    if (!(field instanceof HTMLInputElement)) return;
    field.value = filler?.dataset.value || "";
    field.dispatchEvent(new Event("change", { bubbles: true }));
    field.focus();
  });
})();
