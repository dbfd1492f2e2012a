// Counts the running timers of the page. The end is the server's; only the difference of the two clocks is taken here.
(() => {
  "use strict";

  const skews = new WeakMap();

  /** @param {HTMLElement} timer */
  function skewOf(timer) {
    if (!skews.has(timer)) skews.set(timer, window.shopSkew(Number(timer.dataset.now)));
    return skews.get(timer);
  }

  /** @param {HTMLElement} timer */
  function show(timer) {
    const left = Number(timer.dataset.ends) - (Date.now() + skewOf(timer));
    const seconds = Math.abs(Math.trunc(left / 1000));
    const figures = `${String(Math.floor(seconds / 60)).padStart(2, "0")}:${String(seconds % 60).padStart(2, "0")}`;
    const place = timer.querySelector("[data-timer-left]");
    const over = left <= 0;
    if (place) place.textContent = over && seconds > 0 ? `+${figures}` : figures;
    timer.classList.toggle("timer--over", over);
    const says = timer.querySelector("[data-timer-says]");
    const words = over ? "Time is up" : "";
    if (says && says.textContent.trim() !== words) says.textContent = words;
  }

  function showAll() {
    for (const timer of document.querySelectorAll("[data-timer]")) show(timer);
  }

  document.addEventListener("DOMContentLoaded", showAll);
  document.addEventListener("htmx:load", showAll);
  document.addEventListener("bench:timers", showAll);
  document.addEventListener("visibilitychange", showAll);
  setInterval(showAll, 1000);
})();
