// What others tick in the open run, a few seconds later: the list of steps is drawn anew, and a line says who did what.
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
    const { run = "", step = "", version = "", listed = version } = open.dataset;
    try {
      const answer = await fetch(`${run}news/?version=${listed}&step=${step}`, { cache: "no-store" });
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
    const scrolled = old.querySelector("[data-steps]")?.scrollTop || 0;
    old.replaceWith(document.adoptNode(list));
    htmx.process(list);
    const steps = list.querySelector("[data-steps]");
    if (steps) steps.scrollTop = scrolled;
    same?.focus({ preventScroll: true });
    now.listed = news.dataset.newsOf || asked;
    const count = open.querySelector("[data-answered]");
    if (count) count.textContent = news.dataset.answered || "";
    const place = open.querySelector("[data-news]");
    if (place && news.children.length) place.replaceChildren(document.adoptNode(news));
    document.dispatchEvent(new CustomEvent("bench:listed"));
  }

  document.addEventListener("visibilitychange", () => (document.hidden ? clearTimeout(timer) : look()));
  window.addEventListener("pageshow", () => later(EVERY_MS));
})();
