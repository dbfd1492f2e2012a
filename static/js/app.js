// Small courtesies for every page. Each page works without them.
(() => {
  "use strict";

  const banner = () => document.getElementById("connection");

  function say(text) {
    const place = banner();
    if (!place) return;
    place.querySelector("[data-connection-text]").textContent = text;
    place.hidden = false;
  }

  function hush() {
    const place = banner();
    if (place) place.hidden = true;
  }

  const NOT_CONNECTED = "Not connected. What you typed is still here; try again when the connection is back.";

  window.addEventListener("offline", () => say(NOT_CONNECTED));
  window.addEventListener("online", hush);
  document.addEventListener("htmx:sendError", () => say(NOT_CONNECTED));
  document.addEventListener("htmx:timeout", () => say(NOT_CONNECTED));
  document.addEventListener("htmx:responseError", (event) => {
    const status = event.detail.xhr.status;
    const why = status === 403 ? "That is not allowed for you, or this page is too old." : "The server could not do that.";
    say(`${why} Nothing was saved (${status}). Reload the page and try again.`);
  });

  // A session that ran out answers with the sign-in page; put it beside the work, not into it.
  document.addEventListener("htmx:beforeSwap", (event) => {
    const signIn = document.body.dataset.signInUrl;
    const answered = event.detail.xhr.responseURL;
    if (!signIn || !answered || location.pathname === signIn) return;
    if (new URL(answered).pathname === signIn) {
      event.detail.shouldSwap = false;
      say("You have been signed out. Open the sign-in page in another tab, sign in, then try again here.");
      return;
    }
    if (event.detail.xhr.status < 500) hush();
  });

  // After a swap: to the list of errors if there is one, else to what the fragment names with data-focus.
  document.addEventListener("htmx:afterSettle", (event) => {
    const within = event.detail.elt;
    if (!within?.querySelector) return;
    const goal = within.querySelector(".form-errors") || within.querySelector("[data-focus]");
    if (goal) goal.focus();
  });

  document.addEventListener("DOMContentLoaded", () => {
    document.querySelector("main .form-errors")?.focus();
  });

  // <a href="/same/as/a/page" data-opens="dialog-id"> opens that dialog; without script the link is followed.
  document.addEventListener("click", (event) => {
    const opener = event.target.closest("[data-opens]");
    const dialog = opener && document.getElementById(opener.dataset.opens);
    if (dialog?.showModal) {
      event.preventDefault();
      dialog.showModal();
      return;
    }
    if (event.target.closest("[data-closes]")) event.target.closest("dialog")?.close();
    if (event.target.closest("[data-prints]")) window.print();
  });

  // Ctrl+K (or Cmd+K) goes to the search box.
  document.addEventListener("keydown", (event) => {
    if (event.key.toLowerCase() !== "k" || !(event.ctrlKey || event.metaKey)) return;
    const box = document.querySelector(".board__search input");
    if (box) {
      event.preventDefault();
      box.focus();
      box.select();
    }
  });
})();
