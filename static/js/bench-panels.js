// The steps of a run as they were when they were fetched, to go on without a network. They lie in the same cache as the
// pages, which the worker throws away when somebody signs out.
(() => {
  "use strict";

  const { store } = bench;
  const FRESH_MS = 5 * 60 * 1000;
  const AGAIN_MS = 4000; // and twice that, and so on, while what is to be kept does not come
  const LONGEST_MS = 60 * 1000;
  /** @type {Map<string, Panels>} */
  const fetched = new Map();
  const cacheName = `bench-pages-${bench.user}`;

  /**
   * @param {string} url
   * @param {string} text
   */
  async function keep(url, text) {
    /** @type {Panels} */
    const panels = JSON.parse(text);
    fetched.set(url, panels);
    await store.seen(panels.run, panels.version, true);
    if (!window.caches) return;
    const headers = { "Content-Type": "application/json", "Bench-Kept": String(Date.now()) };
    await (await caches.open(cacheName)).put(url, new Response(text, { headers }));
  }

  /**
   * @param {string} url
   * @returns {Promise<Panels | null>}
   */
  async function kept(url) {
    const known = fetched.get(url);
    if (known) return known;
    const answer = window.caches ? await (await caches.open(cacheName)).match(url) : null;
    if (!answer) return null;
    /** @type {Panels} */
    const panels = await answer.json();
    fetched.set(url, panels);
    return panels;
  }

  /**
   * Bad Wi-Fi or a busy server on the first try: without another, this page could not be opened cut off, and nobody knew.
   * @param {() => Promise<boolean>} work true once there is nothing more to try
   */
  async function untilKept(work, wait = AGAIN_MS) {
    if (await work().catch(() => false)) return;
    setTimeout(() => untilKept(work, Math.min(2 * wait, LONGEST_MS)), wait);
  }

  // An answer that will not be another one the next time: signed out, or not this person's.
  const isFinal = (/** @type {Response} */ answer) => answer.status < 500 && answer.status !== 429;

  /**
   * One request when nothing else is going on; a young copy will do, since an answer names what it was given after.
   * @param {string} url
   */
  async function prefetch(url) {
    const old = window.caches && (await (await caches.open(cacheName)).match(url));
    if (old && Date.now() - Number(old.headers.get("Bench-Kept")) < FRESH_MS) return true;
    const answer = await fetch(url, { headers: { "HX-Request": "true" }, priority: "low" });
    if (answer.ok && !answer.redirected) await keep(url, await answer.text());
    return isFinal(answer);
  }

  // The worker keeps the pages that it sees. It may have taken over while this one came, and not have seen it.
  const [arrival] = /** @type {PerformanceNavigationTiming[]} */ (performance.getEntriesByType("navigation"));
  const workerSawThis = Boolean(navigator.serviceWorker?.controller && arrival?.workerStart);
  async function keepThisPage() {
    if (workerSawThis || !window.caches) return true;
    const page = await fetch(location.pathname, { headers: { Accept: "text/html" }, priority: "low" });
    if (page.ok && !page.redirected) await (await caches.open(cacheName)).put(location.pathname, page);
    return isFinal(page);
  }

  const whenIdle = window.requestIdleCallback || ((/** @type {() => void} */ work) => setTimeout(work, 500));
  window.addEventListener("load", () =>
    setTimeout(() => whenIdle(() => {
      if (!bench.user) return;
      untilKept(keepThisPage);
      const wanted = new Set([...document.querySelectorAll("[data-panels]")].map((place) => place.dataset.panels || ""));
      for (const url of wanted) untilKept(() => prefetch(url));
    }), 800),
  );

  // What this tablet knows of a run: the steps as fetched, its answers that were sent since, and those that were not.
  bench.knownOf = async (run) => {
    const panels = await kept(`${run}panels/`);
    if (!panels) return null;
    const own = await store.own(run);
    const unsent = (await bench.mine()).filter((entry) => entry.run === run);
    /** @type {Record<string, OwnAnswer>} */
    const answers = {};
    for (const [key, step] of Object.entries(panels.steps)) if (step.outcome) answers[key] = { outcome: step.outcome };
    for (const [key, answer] of Object.entries(own.answers)) answers[key] = { ...answer };
    /** @type {string | null} */
    let last = null;
    for (const entry of unsent) {
      if (entry.kind === "take-back") delete answers[entry.step];
      if (entry.kind !== "answer") continue;
      answers[entry.step] = { words: entry.words, outcome: bench.countsAs(entry.fields.outcome), entry };
      last = entry.step;
    }
    return { run, panels, answers, unsent, last, version: Math.max(panels.version, own.seen) };
  };

  // Where an answer leads by the handbook, else the next open step of the list whose needs are met. After a finding no
  // check comes by itself. The server decides again as soon as it is there.
  bench.nextOf = (known, from) => {
    const { steps, order } = known.panels;
    /** @param {string} key */
    const open = (key) => steps[key] && !known.answers[key];
    /** @param {string} key */
    const ready = (key) => steps[key].needs.every((need) => known.answers[need]);
    const led = from && steps[from]?.leads[known.answers[from]?.outcome || ""];
    if (led && open(led) && ready(led)) return led;
    const found = Object.entries(known.answers).some(([key, answer]) => answer.outcome === "found" && steps[key]?.ends);
    const at = order.indexOf(from || "") + 1;
    /** @param {string} key */
    const fits = (key) => open(key) && ready(key) && !(found && steps[key].kind === "check");
    return [...order.slice(at), ...order.slice(0, at)].find(fits) || null;
  };
})();
