// A model's values on one page: Enter goes down to the next value, and from the last one to the button that saves.
(() => {
  "use strict";

  document.addEventListener("keydown", (event) => {
    const here = event.target;
    if (event.key !== "Enter" || event.isComposing || !(here instanceof HTMLInputElement) || !here.matches("[data-down]")) return;
    event.preventDefault();
    const stops = [...document.querySelectorAll("[data-down]")];
    const next = stops[stops.indexOf(here) + (event.shiftKey ? -1 : 1)];
    if (next instanceof HTMLElement) next.focus();
    if (next instanceof HTMLInputElement) next.select();
  });
})();
