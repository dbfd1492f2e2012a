// Before somebody signs out: what waits on this tablet to be sent is never lost without a word. It stays, under the name
// of who pressed it, until they sign in here again; bench.js says so on the pages of the bench, this on all others.
(() => {
  "use strict";

  const PATIENCE_MS = 3000; // a store that does not open keeps nobody signed in

  /**
   * How many answers of this person wait. The store of the bench is only looked at, never made.
   * @param {string} user
   * @returns {Promise<number>}
   */
  function waitingOf(user) {
    return new Promise((done) => {
      setTimeout(done, PATIENCE_MS, 0);
      const asked = indexedDB.open("bench");
      asked.onupgradeneeded = () => asked.transaction?.abort();
      asked.onerror = () => done(0);
      asked.onsuccess = () => {
        const database = asked.result;
        if (!database.objectStoreNames.contains("queue")) {
          database.close();
          done(0);
          return;
        }
        const all = database.transaction("queue").objectStore("queue").getAll();
        all.onerror = () => done(0);
        all.onsuccess = () => {
          database.close();
          done(all.result.filter((entry) => entry.user === user).length);
        };
      };
    });
  }

  async function dropPages() {
    if (!window.caches) return;
    for (const name of await caches.keys()) if (name.startsWith("bench-pages-")) await caches.delete(name);
  }

  /** @param {HTMLFormElement} form */
  async function signOut(form) {
    const left = await waitingOf(document.body.dataset.user || "").catch(() => 0);
    const question = `${left} not sent yet. They stay on this tablet until you sign in again. Sign out?`;
    if (left && !window.confirm(question)) return;
    await dropPages().catch(() => {});
    HTMLFormElement.prototype.submit.call(form);
  }

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || !(form instanceof HTMLFormElement) || !form.matches("[data-signs-out]")) return;
    event.preventDefault();
    signOut(form);
  });
})();
