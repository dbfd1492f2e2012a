// Keys at the counter. Each page works without them.
(() => {
  "use strict";

  /** @param {HTMLElement} form */
  const links = (form) => [...document.querySelectorAll(`${form.dataset.arrows} a.result`)];

  const QUESTION_KEY = "counter-question-key";

  function questionKeyIsOn() {
    try {
      return localStorage.getItem(QUESTION_KEY) === "on";
    } catch {
      return false;
    }
  }

  function tickAsSet() {
    const box = document.querySelector("[data-question-key]");
    if (box instanceof HTMLInputElement) box.checked = questionKeyIsOn();
  }

  /** The keys in a panel over the page, which keeps what is typed; their own page where they cannot be fetched. */
  /** @param {HTMLElement} link */
  async function showKeys(link) {
    if (document.querySelector("#keys-shown")) return;
    const address = link.getAttribute("href") || "";
    const answer = await fetch(address).catch(() => null);
    const text = answer?.ok && !answer.redirected ? await answer.text() : "";
    const shown = new DOMParser().parseFromString(text, "text/html").querySelector("#keys-shown");
    if (!shown) return location.assign(address);
    if (document.querySelector("#keys-shown")) return;
    const panel = document.createElement("dialog");
    const close = Object.assign(document.createElement("button"), { className: "button", textContent: "Close" });
    panel.setAttribute("aria-label", "Keys");
    shown.className = "stack";
    panel.append(shown, close);
    close.addEventListener("click", () => panel.close());
    panel.addEventListener("close", () => panel.remove());
    document.body.append(panel);
    tickAsSet();
    panel.showModal();
  }

  document.addEventListener("click", (event) => {
    const link = event.target.closest("[data-opens-keys]");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    showKeys(link);
  });

  document.addEventListener("change", (event) => {
    const box = event.target;
    if (!(box instanceof HTMLInputElement) || !box.matches("[data-question-key]")) return;
    localStorage.setItem(QUESTION_KEY, box.checked ? "on" : "");
  });

  document.addEventListener("keydown", (event) => {
    const isQuestion = event.key === "?" && questionKeyIsOn() && !event.target.matches("input, textarea, select");
    const link = document.querySelector("[data-opens-keys]");
    if (!link || event.repeat || !(event.key === "F1" || isQuestion)) return;
    event.preventDefault();
    showKeys(link);
  });

  // Ctrl+Enter presses the main button: of the form one is in, else of the page.
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !(event.ctrlKey || event.metaKey) || event.repeat || document.querySelector("dialog[open]")) return;
    const own = event.target.closest?.("form")?.querySelector(".button--main");
    const button = own || document.querySelector("main .button--main");
    if (!(button instanceof HTMLElement) || (button instanceof HTMLButtonElement && button.disabled)) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    button.focus();
    button.click();
  });

  tickAsSet();

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
