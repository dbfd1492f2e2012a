// The bench without hands: a foot pedal, a presenter's remote or a number pad presses the answers, once somebody has
// turned that on for themselves on this tablet. How bright it is and how large its type, too. Never a danger by a key.
(() => {
  "use strict";

  const SETTINGS = ["keys", "light", "type"];
  const SETTLES_MS = 700; // a pedal bounces: what comes so soon after a new step was meant for the one before
  let settling = 0;

  /** @param {string} name */
  const place = (name) => `bench-${name} ${document.body.dataset.user || ""}`;
  /** @param {string} name */
  function setting(name) {
    try {
      return localStorage.getItem(place(name)) || "";
    } catch {
      return "";
    }
  }

  function apply() {
    for (const name of SETTINGS) document.body.setAttribute(`data-${name}`, setting(name));
    for (const radio of /** @type {NodeListOf<HTMLInputElement>} */ (document.querySelectorAll("[data-bench-setting]"))) {
      radio.checked = radio.value === setting(radio.dataset.benchSetting || "");
    }
    showNumbers();
  }

  document.addEventListener("change", (event) => {
    const radio = event.target;
    if (!(radio instanceof HTMLInputElement) || !radio.dataset.benchSetting) return;
    localStorage.setItem(place(radio.dataset.benchSetting), radio.value);
    apply();
  });

  const isOn = () => document.body.dataset.keys === "on";
  const answers = () => /** @type {HTMLElement[]} */ ([...document.querySelectorAll(".answer-dock .answers .button")]);

  // The number of its key stands on each answer while the keys are on.
  function showNumbers() {
    answers().forEach((button, place) => {
      if (isOn() && !isDangerous()) button.setAttribute("aria-keyshortcuts", String(place + 1));
      else button.removeAttribute("aria-keyshortcuts");
    });
  }

  const isDangerous = () =>
    document.querySelector(".step-card .caution--danger, #work .message--error, [data-conflict], .unit-now__part--doubtful") !== null;

  /** @param {string} words */
  function say(words) {
    const line = document.querySelector("[data-tick-state]");
    if (!line) return;
    line.textContent = words;
    line.hidden = false;
  }

  /** @param {number} number */
  function answer(number) {
    const button = answers()[number - 1];
    if (!button) return;
    if (isDangerous()) return say("There is a danger at this step: its answer is given by hand.");
    if (document.body.dataset.keysReady) button.click();
  }

  /** @param {number} by */
  function go(by) {
    const here = document.querySelector('a.step[aria-current="step"]');
    const links = [...document.querySelectorAll("a.step")];
    const places = links.map((link) => Number(link.querySelector(".step__place")?.textContent));
    const wanted = Number(here?.querySelector(".step__place")?.textContent) + by;
    links[places.indexOf(wanted)]?.click();
  }

  /** @type {Record<string, () => void>} */
  const KEYS = {
    PageDown: () => go(1),
    PageUp: () => go(-1),
    "+": () => go(1),
    "-": () => go(-1),
    "*": () => document.querySelector("#step-timer form button, #step-timer [data-timer] button")?.click(),
    t: () => document.querySelector("#step-timer form button, #step-timer [data-timer] button")?.click(),
    p: takePhoto,
    "/": takePhoto,
  };

  function takePhoto() {
    document.querySelector('[data-fold="photo"]')?.setAttribute("open", "");
    document.querySelector(".photo-button__input")?.click();
  }

  document.addEventListener("keydown", (event) => {
    if (!isOn() || event.repeat || event.ctrlKey || event.altKey || event.metaKey || !document.getElementById("work")) return;
    const isTyping = event.target.matches("input, textarea, select");
    if (isTyping && !["PageUp", "PageDown"].includes(event.key)) return;
    const number = /^[1-9]$/.test(event.key) ? Number(event.key) : 0;
    const does = number ? () => answer(number) : KEYS[event.key];
    if (!does) return;
    event.preventDefault();
    does();
  });

  for (const drawn of ["DOMContentLoaded", "htmx:load", "bench:shown"]) {
    document.addEventListener(drawn, () => {
      const step = document.getElementById("work")?.dataset.step || "";
      if (step !== document.body.dataset.keysAt) {
        delete document.body.dataset.keysReady;
        clearTimeout(settling);
        settling = setTimeout(() => document.body.setAttribute("data-keys-ready", "yes"), SETTLES_MS);
      }
      document.body.dataset.keysAt = step;
      showNumbers();
    });
  }
  apply();
})();
