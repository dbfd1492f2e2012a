// Large keys for the number of a reading, where a finger types: the system's keyboard would hide half the step. The unit
// stands beside the field, so no key is there for it; whoever wants to type letters gets the keyboard with one tap.
(() => {
  "use strict";

  if (!navigator.maxTouchPoints && !window.matchMedia("(any-pointer: coarse)").matches) return;

  const ROWS = ["7", "8", "9", "4", "5", "6", "1", "2", "3", ".", "0", "⌫"];
  const NAMES = { ".": "Point", "⌫": "Delete" };
  /** @type {HTMLInputElement | null} */
  let field = null;
  let isPressing = false;
  let isTyped = false;

  const pad = document.createElement("div");
  pad.className = "pad";
  pad.setAttribute("role", "group");
  pad.setAttribute("aria-label", "Number keys");
  for (const key of [...ROWS, "Letters", "Next field", "Close"]) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "button";
    button.toggleAttribute("data-wide", key.length > 1);
    button.textContent = key;
    button.dataset.key = key;
    const name = /** @type {Record<string, string>} */ (NAMES)[key];
    if (name) button.setAttribute("aria-label", name);
    pad.append(button);
  }

  /** @param {Element} one */
  const isReading = (one) =>
    one instanceof HTMLInputElement && one.form?.id === "step-form" && one.name.startsWith("reading-") && one.type === "text";

  const following = () => {
    const all = [...document.querySelectorAll("#step-form input[name^=reading-]")].filter((one) => isReading(one) && one.checkVisibility());
    return field ? all[all.indexOf(field) + 1] : undefined;
  };

  function hide() {
    pad.remove();
    const left = field;
    field = null;
    if (isTyped) left?.dispatchEvent(new Event("change", { bubbles: true })); // a script's typing gives no change of its own
    isTyped = false;
  }

  // Before it is focused, or the keyboard comes up first.
  function quieten() {
    for (const one of document.querySelectorAll("#step-form input[name^=reading-]")) if (isReading(one)) one.inputMode = "none";
  }

  document.addEventListener("focusin", (event) => {
    const to = event.target;
    if (!(to instanceof Element) || pad.contains(to) || to === field) return;
    if (field && !isPressing) hide();
    if (!(to instanceof HTMLInputElement) || !isReading(to) || to.inputMode !== "none") return;
    if (field) hide();
    field = to;
    pad.toggleAttribute("data-more", following() !== undefined);
    to.closest(".reading")?.after(pad);
  });

  // What is pressed must not move while the finger is down, so the keys go only after it is up.
  document.addEventListener("mousedown", (event) => {
    isPressing = true;
    if (pad.contains(event.target)) event.preventDefault(); // the field keeps the focus
  }, true);
  document.addEventListener("mouseup", (event) => {
    const isOutside = field && !pad.contains(event.target) && event.target !== field;
    setTimeout(() => {
      isPressing = false;
      if (isOutside && document.activeElement !== field) hide();
    }, 0);
  }, true);

  pad.addEventListener("click", (event) => {
    const key = event.target.closest("button")?.dataset.key;
    if (!key || !field) return;
    if (key.length > 1) {
      const left = field;
      const next = following();
      hide();
      if (key === "Next field" && next instanceof HTMLInputElement) {
        next.focus();
        pad.scrollIntoView({ block: "nearest" });
        return;
      }
      left.blur();
      if (key === "Letters") left.inputMode = "text";
      if (key === "Letters") left.focus();
      return;
    }
    const start = field.selectionStart ?? field.value.length;
    const end = field.selectionEnd ?? start;
    if (key !== "⌫") field.setRangeText(key, start, end, "end");
    else field.setRangeText("", start === end ? Math.max(0, start - 1) : start, end, "end");
    isTyped = true;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  });

  document.addEventListener("DOMContentLoaded", quieten);
  document.addEventListener("htmx:load", quieten);
  document.addEventListener("bench:shown", quieten);
})();
