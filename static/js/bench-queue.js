// Sends what the tablet keeps, oldest first, one at a time. Each entry has an id of its own, so that a second sending is
// harmless. What the server refuses, or somebody else answered meanwhile, waits until a person decides; of what was
// pressed after it, that goes out which does not rest on it, as the server judges by the steps that `behind` names.
(() => {
  "use strict";

  const { store } = bench;
  const PATIENCE_MS = 20000;
  const AGAIN_MS = 8000;
  const TICKS = ["answer", "take-back"];
  const BEFORE_ITS_TURN = 424;
  let running = Promise.resolve();
  let timer = 0;

  // idle, sending, offline, trouble, signed-out, blocked
  bench.state = "idle";

  /**
   * @param {string} name
   * @param {unknown} [detail]
   */
  const tell = (name, detail) => document.dispatchEvent(new CustomEvent(`bench:${name}`, { detail }));

  /** @param {Bench["state"]} state */
  function enter(state) {
    bench.state = state;
    tell("changed");
  }

  bench.mine = async () => (await store.everything()).filter((entry) => entry.user === bench.user);

  // One without the prefix may be left from before; over TLS it is not the one that is asked for.
  const token = () =>
    (document.cookie.match(/(?:^|; )__Host-csrftoken=([^;]+)/) || document.cookie.match(/(?:^|; )csrftoken=([^;]+)/))?.[1] || "";

  /** @param {Entry} entry */
  const ticketOf = (entry) => entry.run.split("run/")[0];

  /**
   * The answers before an entry that are not in yet, and whether it must wait for one of another run of its ticket: two
   * runs of one job are at one unit, and only within a run can the server say what stands apart.
   * @param {Entry} entry
   * @param {Entry[]} entries
   */
  function before(entry, entries) {
    if (!TICKS.includes(entry.kind)) return { behind: [], waits: false };
    const ahead = entries.filter((other) => other.seq < entry.seq && TICKS.includes(other.kind) && ticketOf(other) === ticketOf(entry));
    return { behind: [...new Set(ahead.map((other) => other.step))], waits: ahead.some((other) => other.run !== entry.run) };
  }

  /**
   * @param {Entry} entry
   * @param {string[]} behind
   */
  async function post(entry, behind) {
    const form = new FormData();
    const body = entry.file ? form : new URLSearchParams();
    for (const [name, value] of Object.entries(entry.fields)) body.append(name, value);
    if (entry.file) form.append("photo", entry.file, entry.file.name || "photo.jpg");
    body.append("waited", String(Math.max(0, Math.round((Date.now() - entry.made) / 1000))));
    if (TICKS.includes(entry.kind)) body.append("after", (await store.own(entry.run)).ids.join(" "));
    if (behind.length) body.append("behind", behind.join(" "));
    const cut = new AbortController();
    const patience = setTimeout(() => cut.abort(), entry.file ? 3 * PATIENCE_MS : PATIENCE_MS);
    try {
      const headers = { "HX-Request": "true", "X-CSRFToken": token(), "X-Person": entry.user };
      const answer = await fetch(entry.url, { method: "POST", body, headers, signal: cut.signal });
      return { status: answer.status, kind: answer.headers.get("Content-Type") || "", text: await answer.text() };
    } finally {
      clearTimeout(patience);
    }
  }

  /** @param {string} html */
  function reasonIn(html) {
    const page = new DOMParser().parseFromString(html, "text/html");
    // Why it was not taken, before what the page says of the step anyway.
    const places = [".field__error", ".form-errors li", ".conflict__list", ".message--error p"];
    const said = places.map((place) => page.querySelector(place)).find(Boolean);
    said?.querySelector(".message__kind")?.remove(); // the bar has words of its own for it
    return said?.textContent ? said.textContent.replace(/\s+/g, " ").trim() : "";
  }

  /**
   * @param {Entry} entry
   * @param {"conflict" | "refused"} status
   * @param {string} html
   * @param {string} [why]
   */
  async function block(entry, status, html, why) {
    Object.assign(entry, { status, html, why: why || reasonIn(html) });
    await store.put(entry);
    tell("blocked", entry);
  }

  /**
   * What became of it: sent, put aside for a person or until its turn, or the shop's computer does not answer.
   * @param {Entry} entry
   * @param {string[]} behind
   * @returns {Promise<"sent" | "aside" | "stop">}
   */
  async function sendOne(entry, behind) {
    let answer;
    try {
      answer = await post(entry, behind);
    } catch {
      enter("offline");
      return "stop";
    }
    const isTick = TICKS.includes(entry.kind);
    if (answer.status === 200 && (!isTick || answer.kind.startsWith("application/json"))) {
      const saved = isTick ? JSON.parse(answer.text) : null;
      await store.settled(entry, saved?.version);
      tell("settled", { entry, next: saved?.next, html: isTick ? "" : answer.text });
      return "sent";
    }
    if (answer.status === BEFORE_ITS_TURN) return "aside";
    if (answer.status === 409) await block(entry, "conflict", answer.text);
    else if (answer.status === 422) await block(entry, "refused", answer.text);
    else if (answer.status === 404) await block(entry, "refused", "", "The shop’s computer has no such step any more.");
    else {
      enter([401, 403].includes(answer.status) ? "signed-out" : "trouble");
      return "stop";
    }
    return "aside";
  }

  async function sendAll() {
    /** @type {Set<number>} */
    const aside = new Set();
    for (;;) {
      const entries = await bench.mine();
      const entry = entries.find((other) => other.status === "waiting" && !aside.has(other.seq));
      if (!entry) return enter(entries.length ? "blocked" : "idle");
      const { behind, waits } = before(entry, entries);
      if (waits) {
        aside.add(entry.seq);
        continue;
      }
      enter("sending");
      const became = await sendOne(entry, behind);
      if (became === "stop") return undefined;
      if (became === "aside") aside.add(entry.seq);
    }
  }

  // One tab of the browser sends; where there are no locks (plain HTTP) the ids keep a double sending harmless.
  bench.send = () => {
    clearTimeout(timer);
    const whole = () => (navigator.locks ? navigator.locks.request("bench-queue", sendAll) : sendAll());
    const mine = running.then(whole).catch(() => enter("trouble"));
    running = mine.then(() => {
      if (["offline", "trouble"].includes(bench.state)) timer = setTimeout(bench.send, AGAIN_MS);
    });
    return mine;
  };

  bench.add = async (entry) => {
    /** @type {KeptEntry} */
    const kept = { user: bench.user, status: "waiting", made: Date.now(), ...entry };
    const waiting = await bench.mine();
    const blocked = waiting.find((other) => other.status !== "waiting" && other.url === kept.url);
    if (blocked) {
      await bench.decide(blocked, { replacedBy: kept }); // put right where it stood, before what came after it
    } else {
      const last = waiting.at(-1);
      const same = last && last.url === kept.url && last.fields.outcome === kept.fields.outcome;
      if (same && kept.kind === "answer") return last; // pressed twice
      kept.seq = await store.add(kept);
    }
    tell("changed");
    return /** @type {Entry} */ (kept);
  };

  // A person has seen what stands in the way of `entry`: it goes, or something takes its place. Answers behind it were
  // given without that news; they go on from it, but for those at steps that somebody else answered: each is asked.
  bench.decide = async (entry, { replacedBy } = {}) => {
    const seen = entry.html && new DOMParser().parseFromString(entry.html, "text/html").querySelector("[data-conflict]");
    if (replacedBy) {
      await store.put(Object.assign(replacedBy, { seq: entry.seq }));
    } else {
      await store.remove(entry.seq);
    }
    if (!seen) return;
    const [version, answered] = [Number(seen.dataset.version), (seen.dataset.steps || "").split(" ")];
    for (const other of await bench.mine()) {
      const behind = other.run === entry.run && TICKS.includes(other.kind) && other.seq > entry.seq;
      if (!behind || answered.includes(other.step) || Number(other.fields.version) >= version) continue;
      other.fields.version = String(version);
      await store.put(other);
    }
  };

  window.addEventListener("online", () => bench.send());
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden && bench.state !== "idle") bench.send();
  });
})();
