// Before somebody else takes over: what the one who goes has not sent yet goes out, or is said to wait here for them.
// Entries carry their person (bench-store.js), and the server takes none of a person who is not signed in.
(() => {
  "use strict";

  const place = document.getElementById("unsent-here");

  async function say() {
    const entries = await bench.store.everything().catch(() => []);
    const own = entries.filter((entry) => entry.user === bench.user).length;
    const others = entries.length - own;
    const mine = own ? `${own} of yours not sent yet: they stay on this tablet, under your name, until you are back on it.` : "";
    const rest = others ? `${others} of somebody else wait here until they are back.` : "";
    if (!place) return;
    place.textContent = [mine, rest].filter(Boolean).join(" ");
    place.hidden = !place.textContent;
  }

  document.addEventListener("bench:changed", say);
  document.addEventListener("bench:settled", say);
  if (bench.user) bench.send().then(say);
  else say();
})();
