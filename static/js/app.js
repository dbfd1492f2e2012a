// Small courtesies for every page. Each page works without them.
(() => {
  "use strict";

  const banner = () => document.getElementById("connection");

  /** @param {string} text */
  function say(text) {
    const place = banner();
    if (!place) return;
    place.textContent = text;
    place.hidden = false;
  }

  // Nothing of a request without a session was done, and the page still holds all that was typed.
  function sayToSignIn() {
    say("You have been signed out. This was not sent; what you typed is still here. ");
    const signIn = document.body.dataset.signInUrl;
    const place = banner();
    if (!signIn || !place) return;
    const link = Object.assign(document.createElement("a"), { href: signIn, target: "_blank", textContent: "Sign in, in another tab" });
    place.append(link, ", then press again here.");
  }

  function hush() {
    const place = banner();
    if (place) place.hidden = true;
  }

  const NOT_CONNECTED =
    "Not connected: no answer came back. What you typed is still here; try again when the connection is back.";

  window.addEventListener("offline", () => say(NOT_CONNECTED));
  window.addEventListener("online", hush);
  document.addEventListener("htmx:sendError", () => say(NOT_CONNECTED));
  document.addEventListener("htmx:timeout", () => say(NOT_CONNECTED));
  document.addEventListener("htmx:responseError", (event) => {
    const status = event.detail.xhr.status;
    if (status === 401) {
      if (event.detail.xhr.getResponseHeader("X-Somebody-Else")) say(event.detail.xhr.responseText);
      else sayToSignIn();
      return;
    }
    const why =
      status === 403
        ? "Refused: you may not do this, or the page is too old and must be loaded again."
        : "Something went wrong; look whether it was done before you try again.";
    say((SAID_BY_THE_SERVER.includes(status) && wordsOf(event.detail.xhr.responseText)) || `${why} (${status})`);
  });

  // A page of its own says what is wrong, such as a full disk; of it goes here what one would read there.
  const SAID_BY_THE_SERVER = [400, 413, 503];

  /** @param {string} answer */
  function wordsOf(answer) {
    const page = new DOMParser().parseFromString(answer, "text/html").querySelector("main");
    return [...(page?.querySelectorAll("h1, h1 + p") || [])].map((part) => part.textContent?.trim()).join(". ");
  }

  // A page that the browser kept whole shows what it held then, whoever is signed in now: it is asked for anew. Without
  // a network nobody can say, and what was typed would be lost.
  window.addEventListener("pageshow", (event) => {
    if (!event.persisted || !document.body.dataset.user || !navigator.onLine) return;
    document.body.style.visibility = "hidden";
    location.reload();
  });

  let hadFocus = false;

  // A session that ran out answers with the sign-in page; put it beside the work, not into it.
  document.addEventListener("htmx:beforeSwap", (event) => {
    const signIn = document.body.dataset.signInUrl;
    const answered = event.detail.xhr.responseURL;
    if (!signIn || !answered || location.pathname === signIn) return;
    if (new URL(answered).pathname === signIn) {
      event.detail.shouldSwap = false;
      sayToSignIn();
      return;
    }
    if (event.detail.shouldSwap) hush();
    hadFocus = Boolean(event.detail.target?.contains(document.activeElement));
  });

  // After a swap: to the list of errors, else to what the fragment names with data-focus, else not lost.
  document.addEventListener("htmx:afterSettle", (event) => {
    const within = event.detail.elt;
    if (!within?.querySelector) return;
    const wanted = ".form-errors, [data-focus]";
    const goal = within.matches(wanted) ? within : within.querySelector(".form-errors") || within.querySelector("[data-focus]");
    if (goal) {
      goal.focus();
    } else if (hadFocus && document.activeElement === document.body) {
      if (!within.hasAttribute("tabindex")) within.tabIndex = -1;
      within.focus({ preventScroll: true });
    }
  });

  // What somebody asked for and htmx put into the page is said aloud, where neither the focus went there nor the place
  // says by itself what changes in it. A place that was put there anew is not listened to yet.
  const SAYS_ITSELF = "[aria-live], [role=status], [role=alert]";
  const BY_ITSELF = ["load", "revealed", "intersect"];
  const LONGEST_SAID = 160;

  document.addEventListener("htmx:afterSettle", (event) => {
    const within = event.detail.elt;
    const asked = event.detail.requestConfig?.triggeringEvent;
    const target = event.detail.target;
    if (!within?.closest || !asked || BY_ITSELF.includes(asked.type)) return;
    if (target?.isConnected && target.closest(SAYS_ITSELF)) return;
    const place = document.getElementById("said");
    const words = within.textContent?.replace(/\s+/g, " ").trim() || "";
    const name = within.querySelector("h1, h2, h3, legend, caption")?.textContent?.trim();
    const label = within.closest("[aria-label]")?.getAttribute("aria-label");
    const said = words.length <= LONGEST_SAID ? words : `Changed: ${name || label || document.title}`;
    if (place) place.textContent = "";
    window.setTimeout(() => {
      if (place && !within.contains(document.activeElement)) place.textContent = said;
    }, 100);
  });

  document.addEventListener("DOMContentLoaded", () => {
    document.querySelector("main .form-errors")?.focus();
  });

  // <a href="/same/as/a/page" data-opens="dialog-id"> opens that dialog; without script the link is followed.
  document.addEventListener("click", (event) => {
    const opener = event.target.closest("[data-opens]");
    const dialog = opener && document.getElementById(opener.dataset.opens || "");
    if (dialog instanceof HTMLDialogElement) {
      event.preventDefault();
      dialog.showModal();
      return;
    }
    if (event.target.closest("[data-closes]")) event.target.closest("dialog")?.close();
    if (event.target.closest("[data-prints]")) window.print();
  });

  // Many tabs: on a phone a button that says which is shown opens them. Without script they stand in rows.
  document.addEventListener("DOMContentLoaded", () => {
    const tabs = document.querySelector(".tabs--many");
    if (!tabs) return;
    const area = tabs.getAttribute("aria-label") || "";
    const shown = tabs.querySelector("[aria-current]")?.textContent;
    const button = document.createElement("button");
    button.type = "button";
    button.className = "tabs__open";
    button.textContent = shown ? `${area}: ${shown}` : area;
    button.setAttribute("aria-controls", tabs.id);
    const open = (/** @type {boolean} */ yes) => {
      button.setAttribute("aria-expanded", String(yes));
      tabs.classList.toggle("tabs--shut", !yes);
    };
    button.addEventListener("click", () => open(button.getAttribute("aria-expanded") !== "true"));
    tabs.addEventListener("keydown", (event) => {
      if (!(event instanceof KeyboardEvent) || event.key !== "Escape") return;
      open(false);
      button.focus();
    });
    open(false);
    tabs.prepend(button);
    tabs.classList.add("tabs--folding");
  });

  // Ctrl+K (or Cmd+K) goes to the search box.
  document.addEventListener("keydown", (event) => {
    if (event.key.toLowerCase() !== "k" || !(event.ctrlKey || event.metaKey)) return;
    const box = document.querySelector(".board__search input");
    if (box instanceof HTMLInputElement) {
      event.preventDefault();
      box.focus();
      box.select();
    }
  });
})();
