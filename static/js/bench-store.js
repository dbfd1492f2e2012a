// What the tablet keeps until the shop's computer has it: answers in the order they were given, and which of them the
// run has by now. IndexedDB, because it outlives a reload and holds photos.
(() => {
  "use strict";

  const bench = /** @type {Bench} */ ({ user: document.body.dataset.user || "" });
  window.bench = bench;
  const MOST_OWN = 200;
  /** @type {Promise<IDBDatabase> | null} */
  let opened = null;

  function open() {
    opened ||= new Promise((/** @type {(database: IDBDatabase) => void} */ yes, no) => {
      const asked = indexedDB.open("bench", 1);
      asked.onupgradeneeded = () => {
        asked.result.createObjectStore("queue", { keyPath: "seq", autoIncrement: true });
        asked.result.createObjectStore("own", { keyPath: "run" });
      };
      asked.onsuccess = () => {
        asked.result.onclose = forget; // the browser closed it: the next use opens it anew
        yes(asked.result);
      };
      asked.onerror = () => no(asked.error);
    }).catch((problem) => {
      forget();
      throw problem;
    });
    return opened;
  }

  function forget() {
    opened = null;
  }

  /**
   * One transaction; `work` gets the stores, and its last request's result comes back once all is on the disk.
   * @template T
   * @param {("queue" | "own")[]} names
   * @param {IDBTransactionMode} mode
   * @param {(...stores: IDBObjectStore[]) => IDBRequest<T> | void} work
   * @returns {Promise<T>}
   */
  async function within(names, mode, work) {
    try {
      const result = await change(names, mode, work);
      // One small write may go through on a full tablet; only one of the queue shows that there is room again.
      if (bench.store.problem === "broken" || (mode === "readwrite" && names.includes("queue"))) notice("");
      return result;
    } catch (problem) {
      notice(/** @type {DOMException} */ (problem).name === "QuotaExceededError" ? "full" : "broken");
      throw problem;
    }
  }

  /**
   * @template T
   * @param {string[]} names
   * @param {IDBTransactionMode} mode
   * @param {(...stores: IDBObjectStore[]) => IDBRequest<T> | void} work
   * @returns {Promise<T>}
   */
  async function change(names, mode, work) {
    const database = await open();
    return new Promise((yes, no) => {
      const changing = database.transaction(names, mode, { durability: "strict" });
      const asked = work(...names.map((name) => changing.objectStore(name)));
      changing.oncomplete = () => yes(/** @type {T} */ (asked?.result));
      changing.onabort = () => no(changing.error || new DOMException("Given up", "AbortError"));
    });
  }

  /** @param {BenchStore["problem"]} problem */
  function notice(problem) {
    if (bench.store.problem === problem) return;
    bench.store.problem = problem;
    document.dispatchEvent(new CustomEvent("bench:changed"));
  }

  /** @param {string} run */
  const runOf = (run) => `${bench.user} ${run}`;

  /**
   * @param {string} run
   * @returns {Own}
   */
  const blank = (run) => ({ run: runOf(run), ids: [], answers: {}, seen: 0 });

  bench.store = {
    problem: "",
    add: async (entry) => Number(await within(["queue"], "readwrite", (queue) => queue.add(entry))),
    put: (entry) => within(["queue"], "readwrite", (queue) => queue.put(entry)),
    remove: (seq) => within(["queue"], "readwrite", (queue) => queue.delete(seq)),
    everything: () => within(["queue"], "readonly", (queue) => queue.getAll()),
    own: async (run) => (await within(["own"], "readonly", (own) => own.get(runOf(run)))) || blank(run),

    // The server has it: out of the queue, and known as this tablet's own, in one transaction.
    settled: (entry, version) =>
      within(["queue", "own"], "readwrite", (queue, own) => {
        queue.delete(entry.seq);
        if (!version) return;
        const asked = own.get(runOf(entry.run));
        asked.onsuccess = () => {
          const kept = asked.result || blank(entry.run);
          kept.ids = [...kept.ids, entry.fields.client_id].slice(-MOST_OWN);
          kept.seen = Math.max(kept.seen, version);
          if (entry.kind === "take-back") delete kept.answers[entry.step];
          else kept.answers[entry.step] = { words: entry.words, outcome: bench.countsAs(entry.fields.outcome) };
          own.put(kept);
        };
      }),

    // What the server showed of a run. `whole`: every answer up to that version is in what it showed.
    seen: (run, version, whole = false) =>
      within(["own"], "readwrite", (own) => {
        const asked = own.get(runOf(run));
        asked.onsuccess = () => {
          const kept = asked.result || blank(run);
          if (whole && version >= kept.seen) kept.answers = {};
          kept.seen = Math.max(kept.seen, version);
          own.put(kept);
        };
      }),
  };

  // How the value of a button counts in the search: “found:<cause>:<kind>” ends it only where it is the cause.
  bench.countsAs = (value) => {
    const [outcome, cause, kind] = value.split(":");
    return outcome === "found" && !cause && ["by_the_way", "danger"].includes(kind || "") ? "noted" : outcome || "";
  };

  bench.newId = () => {
    if (crypto.randomUUID) return crypto.randomUUID();
    const bytes = crypto.getRandomValues(new Uint8Array(16)); // plain HTTP in the shop has no randomUUID
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
  };
})();
