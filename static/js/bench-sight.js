// The answers are pinned to the foot of the screen only once all that has to be read before them has stood above them:
// at once where it fits, else as soon as somebody has scrolled to its end. No answer lies over an unseen instruction.
(() => {
  "use strict";

  const READ_FIRST =
    ".step-card__title, .do-list > li, .step-card__values .spec-table tr, .counts-as-found, .step-card > .caution, .step-card > .message--error";

  /** @param {{ type?: string }} [event] */
  function pinOrNot(event) {
    const dock = document.querySelector(".answer-dock");
    if (!dock || dock.dataset.read) return;
    const foot = window.innerHeight - dock.getBoundingClientRect().height;
    const isSeen = [...document.querySelectorAll(READ_FIRST)].every((one) => one.getBoundingClientRect().bottom <= foot);
    dock.classList.toggle("answer-dock--after", !isSeen);
    if (isSeen && event?.type === "scroll") dock.dataset.read = "yes";
  }

  for (const drawn of ["DOMContentLoaded", "htmx:load", "bench:shown"]) document.addEventListener(drawn, pinOrNot);
  window.addEventListener("scroll", pinOrNot, { passive: true });
  window.addEventListener("resize", pinOrNot);
  document.fonts?.ready.then(() => pinOrNot());
})();
