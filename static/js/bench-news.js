// What others tick in the open run, or say of its unit, a few seconds later: the list of steps and how the unit is now are
// drawn anew, and a line says who did what.
// The open step, what is half typed and the version that an answer is given on stay as they are: what was answered
// meanwhile at this very step is still told when the answer is sent. A hidden page asks nothing.
(() => {
  "use strict";

  const EVERY_MS = 4000;
  const AFTER_TROUBLE_MS = 30000;
  const BUSY = ["sending", "offline", "trouble", "signed-out"];
  let timer = 0;

  const work = () => document.getElementById("work");

  /** @param {number} ms */
  function later(ms) {
    clearTimeout(timer);
    if (!document.hidden) timer = setTimeout(look, ms);
  }

  async function look() {
    const open = work();
    // Cut off, or drawn by the tablet itself: then the queue says where things stand.
    if (!open || !bench.user || BUSY.includes(bench.state) || open.querySelector(".offline-note")) return later(EVERY_MS);
    const { run = "", step = "", version = "", listed = version, said = "", beside = "" } = open.dataset;
    try {
      const seen = new URLSearchParams({ version: listed, said, beside, step });
      const answer = await fetch(`${run}news/?${seen}`, { cache: "no-store" });
      if (answer.status === 200 && !answer.redirected) show(open, listed, await answer.text());
      return later(answer.ok && !answer.redirected ? EVERY_MS : AFTER_TROUBLE_MS);
    } catch {
      return later(AFTER_TROUBLE_MS);
    }
  }

  /**
   * @param {HTMLElement} open
   * @param {string} asked
   * @param {string} html
   */
  function show(open, asked, html) {
    const page = new DOMParser().parseFromString(html, "text/html");
    const news = page.querySelector("[data-news-of]");
    const list = page.querySelector("nav");
    const old = open.querySelector(".phases");
    const now = open.dataset;
    if (work() !== open || (now.listed || now.version) !== asked || !news || !list || !old) return; // drawn meanwhile
    const hand = old.contains(document.activeElement) ? document.activeElement : null;
    const same = hand && [...list.querySelectorAll("a")].find((link) => link.getAttribute("href") === hand.getAttribute("href"));
    if (hand && !same) return; // somebody is at something else of the list: it waits until they have left it
    const letDown = old.querySelector(".phase[open]");
    const scrolled = letDown?.querySelector("[data-steps]")?.scrollTop || 0;
    old.replaceWith(document.adoptNode(list));
    htmx.process(list);
    const again = letDown && list.querySelector(`.phase[data-phase="${letDown.dataset.phase}"]`);
    again?.setAttribute("open", "");
    const steps = again?.querySelector("[data-steps]");
    if (steps) steps.scrollTop = scrolled;
    same?.focus({ preventScroll: true });
    now.listed = news.dataset.newsOf || asked;
    now.said = news.dataset.said;
    now.beside = news.dataset.beside;
    showUnit(open, page.querySelector("[data-unit-line]"));
    const count = open.querySelector("[data-answered]");
    if (count) count.textContent = news.dataset.answered || "";
    const place = open.querySelector("[data-news]");
    if (place && news.children.length) place.replaceChildren(document.adoptNode(news));
    document.dispatchEvent(new CustomEvent("bench:listed"));
  }

  // How the unit is now; what is unfolded stays so, and a hand on it keeps its place.
  /**
   * @param {HTMLElement} open
   * @param {Element | null} now
   */
  function showUnit(open, now) {
    const old = open.querySelector("[data-unit-line]");
    if (!old || !now) return;
    const [unfolded, was] = [now.querySelector("details"), old.querySelector("details")];
    if (unfolded && was) unfolded.open = was.open;
    const held = old.contains(document.activeElement);
    old.replaceWith(document.adoptNode(now));
    htmx.process(now);
    if (held) now.querySelector("summary")?.focus({ preventScroll: true });
  }

  document.addEventListener("visibilitychange", () => (document.hidden ? clearTimeout(timer) : look()));
  window.addEventListener("pageshow", () => later(EVERY_MS));
})();
