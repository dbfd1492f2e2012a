// The answers are pinned to the foot of the screen only where all that has to be read before them stands above them;
// else they come after it, so that no answer lies over an instruction that nobody has seen.
(() => {
  "use strict";

  const READ_FIRST =
    ".step-card__title, .do-list > li, .step-card .spec-table tr, .counts-as-found, .step-card > .caution, .step-card > .message--error";

  function pinOrNot() {
    const dock = document.querySelector(".answer-dock");
    if (!dock) return;
    const top = document.scrollingElement?.scrollTop || 0;
    const foot = window.innerHeight - dock.getBoundingClientRect().height;
    const words = [...document.querySelectorAll(READ_FIRST)].map((one) => one.getBoundingClientRect().bottom + top);
    dock.classList.toggle("answer-dock--after", Math.max(0, ...words) > foot);
  }

  document.addEventListener("DOMContentLoaded", pinOrNot);
  document.addEventListener("htmx:load", pinOrNot);
  document.addEventListener("bench:shown", pinOrNot);
  window.addEventListener("resize", pinOrNot);
  document.fonts?.ready.then(pinOrNot);
})();
