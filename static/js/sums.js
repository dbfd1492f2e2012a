// A field somebody is typing in is left alone when an answer comes back; the others get their errors.
(() => {
  "use strict";

  document.addEventListener("htmx:oobBeforeSwap", (event) => {
    const active = document.activeElement;
    if (active?.matches("input, textarea") && event.detail.target.contains(active)) event.detail.shouldSwap = false;
  });
})();
