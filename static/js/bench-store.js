// What the tablet keeps until the shop's computer has it: answers in the order they were given, and which of them the
// run has by now. IndexedDB, because it outlives a reload and holds photos.
(() => {
  "use strict";

  const bench = (window.bench = { user: document.body.dataset.user || "" });
  const MOST_OWN = 200;
  let opened = null;

  function open() {
    opened ||= new Promise((yes, no) => {
      const asked = indexedDB.open("bench", 1);
      asked.onupgradeneeded = () => {
        asked.result.createObjectStore("queue", { keyPath: "seq", autoIncrement: true });
        asked.result.createObjectStore("own", { keyPath: "run" });
      };
      asked.onsuccess = () => yes(asked.result);
      asked.onerror = () => no(asked.error);
    });
    return opened;
  }

  // One transaction; `work` gets the stores, and its last request's result comes back once all is on the disk.
  async function within(names, mode, work) {
    const database = await open();
    return new Promise((yes, no) => {
      const change = database.transaction(names, mode, { durability: "strict" });
      const asked = work(...names.map((name) => change.objectStore(name)));
      change.oncomplete = () => yes(asked?.result);
      change.onabort = () => no(change.error);
    });
  }

  const runOf = (run) => `${bench.user} ${run}`;
  const blank = (run) => ({ run: runOf(run), ids: [], answers: {}, seen: 0 });

  bench.store = {
    add: (entry) => within(["queue"], "readwrite", (queue) => queue.add(entry)),
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
          else kept.answers[entry.step] = { words: entry.words, outcome: entry.fields.outcome.split(":")[0] };
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

  bench.newId = () => {
    if (crypto.randomUUID) return crypto.randomUUID();
    const bytes = crypto.getRandomValues(new Uint8Array(16)); // plain HTTP in the shop has no randomUUID
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
  };
})();
