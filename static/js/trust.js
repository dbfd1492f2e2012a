// Whether this device trusts the shop: it asks for a small picture of the shop's own by https.
(() => {
  "use strict";

  const button = /** @type {HTMLButtonElement | null} */ (document.getElementById("check"));
  const result = document.getElementById("result");
  const DAY_MS = 24 * 3600 * 1000;
  const WAITS_MS = 15_000;
  if (!button || !result) return;

  /** @param {string} words */
  const say = (words) => {
    result.textContent = words;
  };

  /** @param {string} address */
  const loads = (address) =>
    new Promise((/** @type {(came: boolean) => void} */ done) => {
      const picture = new Image();
      picture.onload = () => done(true);
      picture.onerror = () => done(false);
      setTimeout(done, WAITS_MS, false);
      picture.src = `${address}?${Date.now()}`;
    });

  /** Why it did not work, as far as can be told. */
  async function why() {
    const answer = await fetch(button?.dataset.standing || "", { cache: "no-store" }).catch(() => null);
    if (!answer?.ok) return "The shop’s machine does not answer any more. Is this device still in the shop’s network?";
    const { clock, serving } = await answer.json();
    if (!serving) return "The shop itself is not running just now. Wait a minute and check again.";
    const off = Date.now() - Date.parse(clock);
    if (Math.abs(off) > DAY_MS) {
      const [here, there] = [new Date(), new Date(clock)].map((day) => day.toLocaleString());
      return `The clocks differ: this device says ${here}, the shop’s machine says ${there}. Set the one that is wrong, then check again.`;
    }
    return "This device does not trust the shop yet. Go through step 2 once more, to its last line; close the browser, open this page again, and check.";
  }

  button.addEventListener("click", async () => {
    button.disabled = true;
    say("Looking …");
    const worked = await loads(button.dataset.check || "");
    say(worked ? "It worked: this device trusts the shop." : await why());
    button.disabled = false;
  });
})();
