// The time zone that this browser goes by, to take over at a press: what was typed is never overwritten by itself.
(() => {
  "use strict";

  const place = document.querySelector("[data-time-zone-guess]");
  const field = document.querySelector("input[name=time_zone]");
  const guess = Intl.DateTimeFormat().resolvedOptions().timeZone;
  if (!(place instanceof HTMLElement) || !(field instanceof HTMLInputElement) || !guess) return;

  const show = () => {
    place.hidden = field.value.trim() === guess;
  };

  place.querySelector("[data-zone]")?.append(guess);
  place.querySelector("button")?.addEventListener("click", () => {
    field.value = guess;
    show();
    field.focus();
  });
  field.addEventListener("input", show);
  show();
})();
