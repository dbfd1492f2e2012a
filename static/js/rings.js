// Rings the timers of who is signed in, on whatever page they have open: a bar that stays until the timer is stopped, a
// tone from the first touch on, and the tablet's vibration. Of several tabs one sounds. The server draws the bar, so it
// is there without this script too, from the next page on.
(() => {
  "use strict";

  const EVERY_MS = 1000;
  const BETWEEN_RINGS_MS = 4000;
  const RARELY_MS = 30000;
  const OFTEN_FOR_MS = 60000;
  const LEASE = "timers-ring-in";
  const CHANGED = "timers-changed";
  const CLOCK = "shop-clock";
  const DAY_MS = 24 * 3600 * 1000;
  const tab = String(Math.random());
  /** @type {Map<string, { ends: number, skew: number, asked: boolean, since: number }>} */
  const known = new Map();
  /** @type {Set<string>} */
  const stopped = new Set();
  /** @type {AudioContext | null} */
  let audio = null;
  let rangAt = 0;

  // How far the shop's clock is ahead. A page that the tablet kept is older than it looks and says too little: of what
  // was seen within a day the most counts, and what was asked just now (`fresh`) before all.
  window.shopSkew = (now, fresh = false) => {
    const skew = now - Date.now();
    try {
      const [kept, at] = (localStorage.getItem(CLOCK) || "").split(" ").map(Number);
      if (!fresh && at && Math.abs(Date.now() - at) < DAY_MS && kept > skew) return kept;
      localStorage.setItem(CLOCK, `${skew} ${Date.now()}`);
    } catch {
      // A browser that keeps nothing keeps no old pages either.
    }
    return skew;
  };

  const bar = () => document.getElementById("my-timers");
  /** @param {HTMLElement} row */
  const idOf = (row) => row.dataset.ring || "";
  /** @returns {HTMLElement[]} */
  const drawn = () => [...(bar()?.querySelectorAll("[data-ring]") || [])];
  const rows = () => drawn().filter((row) => !stopped.has(idOf(row)));
  /** @param {HTMLElement} row */
  const saysOf = (row) => row.querySelector("[role=alert]");

  // ---- What is due ----
  /**
   * @param {HTMLElement} row
   * @param {boolean} [fresh] it was drawn just now
   */
  function timerOf(row, fresh = false) {
    const id = idOf(row);
    const ends = Number(row.dataset.until);
    const before = known.get(id);
    if (before && before.ends === ends) return before;
    const timer = { ends, skew: window.shopSkew(Number(row.dataset.now), fresh), asked: false, since: 0 };
    known.set(id, timer);
    return timer;
  }

  function beat() {
    const due = rows().filter((row) => Date.now() + timerOf(row).skew >= timerOf(row).ends);
    const news = due.filter((row) => !timerOf(row).asked);
    for (const row of news) timerOf(row).asked = true;
    // It may have been stopped on another tablet: the shop's computer is asked once, before it rings.
    if (news.some((row) => row.hidden)) refresh().finally(() => ring(rows().filter((row) => timerOf(row).asked)));
    else ring(due.filter((row) => timerOf(row).asked));
  }

  /** @param {HTMLElement[]} due */
  function ring(due) {
    for (const row of due) {
      timerOf(row).since ||= Date.now();
      row.hidden = false;
      const place = saysOf(row);
      if (place && !place.textContent) place.textContent = row.dataset.says || "";
    }
    if (!due.length) return;
    const often = due.some((row) => Date.now() - timerOf(row).since < OFTEN_FOR_MS);
    if (Date.now() - rangAt < (often ? BETWEEN_RINGS_MS : RARELY_MS) || !mayRing()) return;
    rangAt = Date.now();
    sound();
    if (navigator.userActivation?.hasBeenActive) navigator.vibrate?.([250, 120, 250]);
  }

  // ---- Sound ----
  function touched() {
    if (!rows().length && !window.bench) return;
    audio ||= new AudioContext();
    if (audio.state === "suspended") audio.resume().then(beat, () => {});
  }
  for (const kind of ["pointerdown", "keydown"]) document.addEventListener(kind, touched, { capture: true });

  // Three short tones, the last one higher: made here, no file.
  function sound() {
    if (audio?.state !== "running") return;
    for (const [place, pitch] of [660, 660, 880].entries()) {
      const begins = audio.currentTime + place * 0.28;
      const tone = audio.createOscillator();
      const loudness = audio.createGain();
      tone.frequency.value = pitch;
      loudness.gain.setValueAtTime(0, begins);
      loudness.gain.linearRampToValueAtTime(0.3, begins + 0.02);
      loudness.gain.setValueAtTime(0.3, begins + 0.16);
      loudness.gain.linearRampToValueAtTime(0, begins + 0.2);
      tone.connect(loudness).connect(audio.destination);
      tone.start(begins);
      tone.stop(begins + 0.22);
    }
  }

  // Only a tab that was touched can sound, and of those one does: it says so where all of them look, and for how long.
  // Two may say so at the same moment and one write over the other: it sounds from the next beat on, if it is still its.
  function mayRing() {
    if (audio?.state !== "running") return false;
    try {
      const [whose, until] = (localStorage.getItem(LEASE) || "").split(" ");
      const taken = Number(until) > Date.now();
      if (whose !== tab && taken) return false;
      localStorage.setItem(LEASE, `${tab} ${Date.now() + RARELY_MS + BETWEEN_RINGS_MS}`);
      return taken;
    } catch {
      return true; // a browser that keeps nothing has no other tab to ask
    }
  }

  window.addEventListener("pagehide", () => {
    try {
      if (localStorage.getItem(LEASE)?.startsWith(tab)) localStorage.removeItem(LEASE);
    } catch {
      // Nothing was kept.
    }
  });

  // ---- The bar, from the shop's computer ----
  async function refresh() {
    const old = bar();
    if (!old) return;
    const answer = await fetch(old.dataset.from || "", { cache: "no-store" }).catch(() => null);
    if (!answer?.ok || answer.redirected) return; // cut off, or signed out: what is known has to do
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const fresh = [...page.querySelectorAll("[data-ring]")].filter((row) => !stopped.has(idOf(row)));
    const there = new Set(fresh.map(idOf));
    for (const row of drawn()) if (!there.has(idOf(row)) && !row.dataset.unsent) row.remove();
    for (const row of fresh) {
      const same = rows().find((other) => idOf(other) === idOf(row));
      if (same && same.dataset.until === row.dataset.until && !same.dataset.unsent) {
        if (!timerOf(same).asked) timerOf(same).skew = window.shopSkew(Number(row.dataset.now), true);
        continue; // what is said is not said again
      }
      known.delete(idOf(row));
      timerOf(row, true);
      row.hidden = true;
      saysOf(row)?.replaceChildren();
      if (same) same.replaceWith(document.adoptNode(row));
      else old.append(document.adoptNode(row));
    }
  }

  function tellOtherTabs() {
    try {
      localStorage.setItem(CHANGED, `${tab} ${Date.now()}`);
    } catch {
      // They ask before they ring.
    }
  }

  // ---- Stopping ----
  /** @param {HTMLElement} row */
  function gone(row) {
    const hadFocus = row.contains(document.activeElement);
    stopped.add(idOf(row));
    row.hidden = true;
    if (hadFocus) document.getElementById("main")?.focus({ preventScroll: true });
    tellOtherTabs();
  }

  window.addEventListener(
    "submit",
    (event) => {
      const form = event.target;
      if (!(form instanceof HTMLFormElement) || form.dataset.kind !== "stop-timer") return;
      const id = String(new FormData(form).get("timer"));
      const row = rows().find((other) => idOf(other) === id);
      if (!row) return;
      if (window.bench?.user) gone(row); // the queue of the bench takes it, with or without a network
      else if (row.contains(form)) {
        event.preventDefault();
        stop(form, row);
      }
    },
    true,
  );

  /**
   * On a page without the bench's queue: what is typed there stays.
   * @param {HTMLFormElement} form
   * @param {HTMLElement} row
   */
  async function stop(form, row) {
    const body = new URLSearchParams();
    for (const [name, value] of new FormData(form)) body.append(name, String(value));
    const answer = await fetch(form.action, { method: "POST", body, headers: { "HX-Request": "true" } }).catch(() => null);
    if (answer?.ok && !answer.redirected) return gone(row);
    const place = saysOf(row);
    const why = answer ? "the shop’s computer did not take it" : "there is no connection";
    if (place) place.textContent = `${row.dataset.says} Not stopped: ${why}. Press Stop again.`;
    return undefined;
  }

  // ---- Begin ----
  document.addEventListener("bench:settled", (event) => {
    if (!["start-timer", "stop-timer"].includes(event.detail.entry.kind)) return;
    tellOtherTabs();
    refresh();
  });

  // A timer that was started without a network rings too, as long as this page is open.
  document.addEventListener("bench:timers", () => {
    const timer = document.querySelector("#step-timer [data-timer]");
    const form = timer?.querySelector("form");
    const id = form && String(new FormData(form).get("timer") || "");
    const old = bar();
    if (!timer || !form || !id || !old || stopped.has(id) || rows().some((row) => idOf(row) === id)) return;
    const row = document.createElement("div");
    row.className = "ringing__timer";
    row.hidden = true;
    const label = timer.querySelector(".timer__label")?.firstChild?.textContent?.trim() || form.dataset.title || "";
    Object.assign(row.dataset, { ring: id, unsent: "yes", until: timer.dataset.ends, now: timer.dataset.now, says: `Time is up: ${label}.` });
    const says = document.createElement("p");
    says.className = "ringing__says";
    says.setAttribute("role", "alert");
    row.append(says, form.cloneNode(true));
    old.append(row);
  });

  window.addEventListener("storage", (event) => event.key === CHANGED && refresh());
  // A page that the browser brings back shows what was so when it was left; and one of the bench may know more than its bar.
  window.addEventListener("pageshow", () => {
    for (const row of rows()) saysOf(row)?.replaceChildren(); // said anew: what stands in a page from the start is not read out
    if (rows().length || document.querySelector("[data-timer]")) refresh().finally(beat);
  });
  document.addEventListener("visibilitychange", () => document.hidden || (rows().length && refresh().finally(beat)));
  setInterval(beat, EVERY_MS);
})();
