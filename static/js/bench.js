// Answers that survive a bad connection. A form keeps the id of an answer until the server has it, so that sending it
// again is harmless; what could not be sent is said beside the answer and kept over a reload.
(() => {
  "use strict";

  const KEPT = "bench-unsent:";

  function newId() {
    if (crypto.randomUUID) return crypto.randomUUID();
    const bytes = crypto.getRandomValues(new Uint8Array(16)); // plain HTTP in the shop has no randomUUID
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
  }

  // ---- An id for each form that is shown ----
  function giveIds(root) {
    for (const field of root.querySelectorAll("[data-client-id]")) field.value = newId();
    for (const form of root.querySelectorAll("form[data-tick]")) restore(form);
  }

  window.addEventListener("pageshow", () => giveIds(document));
  document.addEventListener("htmx:load", (event) => giveIds(event.detail.elt));

  // ---- What could not be sent ----
  const keyOf = (form) => KEPT + form.getAttribute("action");

  function tickFormOf(event) {
    const element = event.detail.elt;
    return element instanceof HTMLFormElement && element.matches("form[data-tick]") ? element : null;
  }

  function keep(form, outcome) {
    const typed = {};
    for (const field of form.elements) {
      if (!field.name || field.name === "outcome" || field.name === "csrfmiddlewaretoken") continue;
      typed[field.name] = field.type === "checkbox" ? field.checked : field.value;
    }
    try {
      localStorage.setItem(keyOf(form), JSON.stringify({ outcome, typed }));
    } catch {
      // A full or forbidden store: the form itself still has everything.
    }
  }

  function forget(action) {
    try {
      localStorage.removeItem(KEPT + action);
    } catch {
      // nothing was kept
    }
  }

  function restore(form) {
    let kept = null;
    try {
      kept = JSON.parse(localStorage.getItem(keyOf(form)) || "null");
    } catch {
      return;
    }
    if (!kept) return;
    for (const [name, value] of Object.entries(kept.typed)) {
      const field = form.elements[name];
      if (!field) continue;
      if (field.type === "checkbox") field.checked = value;
      else field.value = value;
    }
    if (kept.outcome) sayUnsent(form, kept.outcome, "This answer did not reach the shop's computer.");
  }

  function sayUnsent(form, outcome, why) {
    const place = document.querySelector("[data-unsent]");
    const button = answerButton(outcome);
    place.querySelector("[data-unsent-why]").textContent = why;
    form.dataset.sending = outcome;
    place.querySelector("[data-unsent-what]").textContent = button ? `Try again: ${button.textContent.trim()}` : "Try again";
    place.hidden = false;
  }

  const answerButton = (outcome) => document.querySelector(`:is(.answers, .cause-choice) [name="outcome"][value="${outcome}"]`);

  // The answers stand outside the form, where htmx does not see which one was pressed.
  document.addEventListener("submit", (event) => {
    if (event.target.matches("form[data-tick]")) event.target.dataset.sending = event.submitter?.value || "";
  }, true);
  document.addEventListener("htmx:configRequest", (event) => {
    const form = tickFormOf(event);
    if (form) event.detail.parameters.outcome = form.dataset.sending;
  });

  // Enter in a field must not choose an answer.
  document.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && event.target.matches("form[data-tick] input")) {
      event.preventDefault();
      event.target.blur();
    }
  });

  function failed(event, why) {
    const form = tickFormOf(event);
    if (!form) return;
    keep(form, form.dataset.sending);
    sayUnsent(form, form.dataset.sending, why);
    document.getElementById("connection").hidden = true; // said once, where it belongs
  }

  const OFFLINE = "No answer came back. It is kept here; try again when the connection is back. Sending twice is harmless.";
  document.addEventListener("htmx:sendError", (event) => failed(event, OFFLINE));
  document.addEventListener("htmx:timeout", (event) => failed(event, OFFLINE));
  document.addEventListener("htmx:responseError", (event) => {
    const status = event.detail.xhr.status;
    if (status === 401 || status === 403) {
      failed(event, "You have been signed out. Sign in in another tab, then try again here. Nothing typed is lost.");
    } else {
      failed(event, `The shop's computer could not do it (${status}). It is kept here; try again in a moment.`);
    }
  });

  // The server has the answer, or has said why not: nothing is unsent any more. What follows is asked for by itself.
  document.addEventListener("htmx:beforeSwap", (event) => {
    const form = event.detail.requestConfig?.elt;
    if (!form?.matches?.("form[data-tick], form[data-take-back]") || !event.detail.shouldSwap) return;
    if (form.matches("[data-tick]")) forget(form.getAttribute("action"));
    if (!event.detail.xhr.getResponseHeader("Content-Type")?.startsWith("application/json")) return;
    event.detail.shouldSwap = false;
    sayState(form.matches("[data-tick]") ? "Saved" : "Taken back");
    htmx.ajax("GET", JSON.parse(event.detail.xhr.responseText).next, {
      source: "#work", target: "#work", swap: "outerHTML show:window:top",
    });
  });

  function sayState(words) {
    const place = document.querySelector("[data-tick-state]");
    if (!place) return;
    place.textContent = words;
    place.hidden = false;
  }

  // A new sign-in changes the token that guards writes, so a second try asks for the present one first.
  document.addEventListener("click", async (event) => {
    const form = event.target.closest("[data-resend]")?.form;
    if (!form) return;
    const outcome = form.dataset.sending;
    try {
      const answer = await fetch(location.href, { credentials: "same-origin", headers: { Accept: "text/html" } });
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const token = page.querySelector('meta[name="csrf-token"]')?.content;
      if (answer.ok && token) {
        document.querySelector('meta[name="csrf-token"]').content = token;
        for (const field of document.querySelectorAll('[name="csrfmiddlewaretoken"]')) field.value = token;
      }
    } catch {
      // Still no connection; sending will say so.
    }
    form.requestSubmit(answerButton(outcome));
  });

  window.addEventListener("online", () => {
    const place = document.querySelector("[data-unsent]:not([hidden])");
    place?.querySelector("[data-resend]").click();
  });

  // ---- The open step in view in the list beside it ----
  function showOpenStep() {
    const list = document.querySelector("[data-steps]");
    const open = list?.querySelector('[aria-current="step"]');
    if (open && list.scrollHeight > list.clientHeight) {
      list.scrollTop = open.offsetTop - list.offsetTop - list.clientHeight / 3;
    }
  }

  document.addEventListener("DOMContentLoaded", showOpenStep);
  document.addEventListener("htmx:load", showOpenStep);

  // ---- A photo is sent as soon as it is taken ----
  function oneTapPhotos(root) {
    for (const button of root.querySelectorAll("[data-photo-send]")) button.hidden = true;
  }

  document.addEventListener("DOMContentLoaded", () => oneTapPhotos(document));
  document.addEventListener("htmx:load", (event) => oneTapPhotos(event.detail.elt));
  document.addEventListener("change", (event) => {
    const form = event.target.closest?.("form[data-photo]");
    if (!form) return;
    form.querySelector("[data-photo-label]").textContent = "Sending the photo …";
    form.requestSubmit();
  });
  for (const problem of ["htmx:sendError", "htmx:timeout", "htmx:responseError"]) {
    document.addEventListener(problem, (event) => {
      if (!event.detail.elt.matches?.("form[data-photo]")) return;
      event.detail.elt.querySelector("[data-photo-label]").textContent = "Photo not sent. Choose it again";
    });
  }
})();
