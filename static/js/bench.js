// The bench's forms. What is pressed is kept on the tablet first and then sent; the next step comes from the server, or
// from the tablet while there is no network. Without this script the forms are sent as forms are.
(() => {
  "use strict";

  const { store } = bench;
  const SHORT_MS = 4000;
  const CUT_OFF = ["offline", "trouble", "signed-out"];
  let local = false; // the open step comes from the tablet

  /**
   * What every page of the bench has.
   * @param {string} selector
   * @param {ParentNode} within
   */
  function part(selector, within = document) {
    const found = within.querySelector(selector);
    if (!found) throw new Error(`The page has no ${selector}`);
    return found;
  }

  const work = () => document.getElementById("work");
  const run = () => work()?.dataset.run || location.pathname.match(/^.*\/run\/\d+\//)?.[0] || "";
  /** @param {number} ms */
  const wait = (ms) => new Promise((done) => setTimeout(done, ms));

  /**
   * @template {keyof HTMLElementTagNameMap} Tag
   * @param {Tag} tag
   * @param {string} className
   * @param {(string | Node)[]} children
   * @returns {HTMLElementTagNameMap[Tag]}
   */
  function make(tag, className, ...children) {
    const element = document.createElement(tag);
    if (className) element.className = className;
    element.append(...children);
    return element;
  }

  /** @param {string} html */
  const fragmentOf = (html) => document.createRange().createContextualFragment(html);
  /** @param {HTMLElement} template */
  const contentOf = (template) => /** @type {HTMLTemplateElement} */ (template).content;
  /** @param {string} name */
  const chipOf = (name) => contentOf(part(`#chip-${name}`)).cloneNode(true);

  // ---- Each form that is shown ----
  /** @param {ParentNode} root */
  function freshIds(root) {
    for (const field of root.querySelectorAll("[data-client-id]")) /** @type {HTMLInputElement} */ (field).value = bench.newId();
  }

  /** @param {ParentNode} root */
  function prepare(root) {
    freshIds(root);
    for (const button of root.querySelectorAll("[data-photo-send]")) button.hidden = true;
    const shown = work();
    if (shown && !local) store.seen(shown.dataset.run || "", Number(shown.dataset.version)).catch(() => {});
    showUnsentHere();
  }

  // A phase of the list that was opened: it closes again when something else is pressed, and shows the open step.
  document.addEventListener(
    "toggle",
    (event) => {
      const phase = event.target;
      if (!(phase instanceof HTMLDetailsElement) || !phase.open || !phase.matches(".phase")) return;
      const list = part("[data-steps]", phase);
      const open = list.querySelector('[aria-current="step"]');
      if (open instanceof HTMLElement) list.scrollTop = open.offsetTop - list.clientHeight / 3;
    },
    true,
  );
  document.addEventListener("click", (event) => {
    const pressed = event.target.closest(".phase");
    for (const phase of document.querySelectorAll(".phase[open]")) if (phase !== pressed) phase.removeAttribute("open");
  });
  document.addEventListener("keydown", (event) => {
    const phase = event.key === "Escape" && document.querySelector(".phase[open]");
    if (!phase) return;
    phase.removeAttribute("open");
    /** @type {HTMLElement | null} */ (phase.querySelector("summary"))?.focus();
  });

  // Enter in a field must not choose an answer.
  document.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && event.target.matches("form[data-tick] input")) {
      event.preventDefault();
      /** @type {HTMLElement} */ (event.target).blur();
    }
  });

  // ---- Sending ----
  document.addEventListener(
    "submit",
    (event) => {
      const form = event.target;
      if (form.matches("[data-signs-out]")) return signOut(event, form);
      if (!form.dataset.kind || !bench.user) return undefined;
      event.preventDefault();
      event.stopImmediatePropagation();
      if (form.dataset.sending) return undefined;
      form.dataset.sending = "yes";
      return submit(form, event.submitter)
        .catch(() => sayState("")) // it is kept, and the bar says what does not work
        .finally(() => delete form.dataset.sending);
    },
    true,
  );

  document.addEventListener("change", (event) => {
    const form = event.target instanceof Element && event.target.closest('form[data-kind="photo"]');
    if (form instanceof HTMLFormElement) form.requestSubmit();
  });

  /** @type {Partial<Record<Kind, string>>} */
  const WORDS = { "take-back": "Taken back", "start-timer": "Timer started", "stop-timer": "Timer stopped", photo: "Photo", finding: "Seen" };

  /**
   * @param {HTMLFormElement} form
   * @param {HTMLElement | null} pressed
   */
  async function submit(form, pressed) {
    const { step = "", title = "" } = form.dataset;
    const kind = /** @type {Kind} */ (form.dataset.kind);
    /** @type {Record<string, string>} */
    const fields = {};
    let file = null;
    for (const [name, value] of new FormData(form)) {
      if (value instanceof File) file = value;
      else if (name !== "csrfmiddlewaretoken") fields[name] = value;
    }
    if (kind === "photo" && !file?.size) return;
    if (kind === "answer") {
      fields.outcome = pressed instanceof HTMLButtonElement ? pressed.value : "";
      if (CUT_OFF.includes(bench.state) && lacksReadings(form, fields.outcome)) return;
    }
    fields.client_id ||= bench.newId();
    const words = WORDS[kind] || pressed?.textContent?.trim() || "";
    const url = form.getAttribute("action") || "";
    const entry = await bench.add({ kind, step, title, words, fields, file, url, run: form.dataset.run || run() }).catch(() => null);
    if (!entry) return sendPlainly(form, pressed);
    document.dispatchEvent(new CustomEvent("bench:kept", { detail: entry }));
    freshIds(form);
    if (kind === "photo" || kind === "finding") form.reset();
    sayState("Kept on this tablet, sending …");
    const outcome = await Promise.race([settled(entry), bench.send().then(() => "not sent"), wait(SHORT_MS)]);
    if (typeof outcome === "object" && outcome.next) {
      sayState(kind === "answer" ? "Saved" : "Taken back");
      if ((await bench.mine()).length) await bench.send(); // what waited behind it belongs to where the run stands
      await showFromServer(outcome.next).catch(() => goOn(entry));
    } else if (typeof outcome === "object") {
      sayState("");
    } else if (form.isConnected && (bench.state !== "blocked" || !(await blockedHere()))) {
      // Nothing else was opened meanwhile. The server is there and it only waits for one before it: the page says so, and
      // nothing is cut off.
      const waits = bench.state === "blocked" && (kind === "answer" || kind === "take-back");
      const drawn = () => (form.isConnected ? goOn(entry) : undefined);
      await (waits ? showFromServer(`${entry.run}${entry.step}/`).catch(drawn) : goOn(entry));
    }
  }

  // This tablet cannot keep it, and the bar says why: it goes as forms go, but not into a network that is not there.
  /**
   * @param {HTMLFormElement} form
   * @param {HTMLElement | null} pressed
   */
  async function sendPlainly(form, pressed) {
    const there = await fetch(bar.dataset.worker || "", { cache: "no-store" }).then(() => true, () => false);
    if (!there) {
      sayState("Not saved: this tablet cannot keep it, and there is no connection. Stay on this page and press again when there is.");
      return;
    }
    if (pressed instanceof HTMLButtonElement && pressed.name) {
      const chosen = make("input", "");
      Object.assign(chosen, { type: "hidden", name: pressed.name, value: pressed.value });
      form.append(chosen);
    }
    HTMLFormElement.prototype.submit.call(form);
  }

  /**
   * @param {Entry} entry
   * @returns {Promise<Settled>}
   */
  const settled = (entry) =>
    new Promise((done) => {
      document.addEventListener("bench:settled", function heard(event) {
        if (event.detail.entry.seq !== entry.seq) return;
        document.removeEventListener("bench:settled", heard);
        done(event.detail);
      });
    });

  // What the server would ask for; said at once while it cannot be asked.
  /**
   * @param {HTMLFormElement} form
   * @param {string} outcome
   */
  function lacksReadings(form, outcome) {
    if (["cant_tell", "left_out", "still_pulling", "not_proved"].includes(outcome)) return false;
    const required = /** @type {HTMLInputElement[]} */ ([...form.querySelectorAll("[data-required]")]);
    const given = new FormData(form);
    const empty = required.find((field) => !String(given.get(field.name) ?? "").trim());
    if (!empty) return false;
    empty.setAttribute("aria-invalid", "true");
    empty.focus();
    sayState("This step cannot be answered without this reading. Enter it.");
    return true;
  }

  /** @param {string} words */
  function sayState(words) {
    const place = document.querySelector("[data-tick-state]");
    if (!place) return;
    place.textContent = words;
    place.hidden = !words;
  }

  /** @param {string} url */
  async function showFromServer(url) {
    local = false;
    await htmx.ajax("GET", url, { source: "#work", target: "#work", swap: "outerHTML show:window:top" });
  }

  /** @type {Partial<Record<Kind, string>>} */
  const PLACES = { photo: "step-photos", finding: "step-findings", "start-timer": "step-timer", "stop-timer": "step-timer" };

  // Photo and timer: what the server drew, if its step is still open.
  document.addEventListener("bench:settled", (event) => {
    const { entry, html } = event.detail;
    const place = PLACES[entry.kind];
    if (!place || work()?.dataset.step !== entry.step || run() !== entry.run) return;
    htmx.swap(`#${place}`, html, { swapStyle: "outerHTML" });
  });

  // ---- Going on without the server ----
  /** @param {Entry} entry */
  async function goOn(entry) {
    const known = await bench.knownOf(entry.run);
    if (!known) {
      sayState("Kept on this tablet. It goes out by itself when the connection is back.");
    } else if (entry.kind === "answer") {
      const next = bench.nextOf(known, entry.step);
      if (next) showPanel(known, next);
      else sayState("Kept on this tablet. No step is left that can be done without a connection.");
    } else if (entry.kind === "take-back") {
      showPanel(known, entry.step);
    } else {
      sayState("");
      showUnsentHere();
    }
  }

  /**
   * @param {Known} known
   * @param {string} key
   */
  function showPanel(known, key, { push = true } = {}) {
    const panel = known.panels.steps[key];
    if (!work()) part("#main").replaceChildren(fragmentOf(known.panels.shell));
    local = true;
    const place = part("[data-open-step]");
    place.replaceChildren(noteOf(known), ...lastAnswer(known, key), fragmentOf(panel.html));
    const count = Object.keys(known.answers).length;
    part("[data-answered]").textContent = `${count} of ${known.panels.order.length} answered`;
    Object.assign(part("#work").dataset, { step: key, version: String(known.version) });
    for (const field of place.querySelectorAll('[name="version"]')) field.setAttribute("value", String(known.version));
    for (const link of document.querySelectorAll("a.step")) {
      if (keyOf(link) === key) link.setAttribute("aria-current", "step");
      else link.removeAttribute("aria-current");
    }
    for (const phase of document.querySelectorAll(".phase")) {
      phase.removeAttribute("open");
      const links = [...phase.querySelectorAll("a.step")];
      phase.classList.toggle("phase--open", links.some((link) => keyOf(link) === key));
      part("[data-phase-answered]", phase).textContent = `${links.filter((link) => known.answers[keyOf(link)]).length}`;
    }
    const url = `${known.run}${key}/`;
    if (push && location.pathname !== url) history.pushState({}, "", url);
    document.title = `${panel.title} · ${document.title.split(" · ").at(-1)}`;
    htmx.process(place);
    prepare(place);
    document.dispatchEvent(new CustomEvent("bench:shown"));
    window.scrollTo(0, 0);
    document.getElementById("step-title")?.focus({ preventScroll: true });
  }

  /** @param {Element} link */
  const keyOf = (link) => (link.getAttribute("href") || "").split("/").at(-2) || "";

  /** @param {Known} known */
  function noteOf(known) {
    const order = known.panels.suggested ? "the order last suggested" : "the standard order";
    return make("p", "offline-note", `Not connected: steps come in ${order}, as this tablet last had it.`);
  }

  // As the server shows it: what was answered just now, and taking it back.
  /**
   * @param {Known} known
   * @param {string} key
   */
  function lastAnswer(known, key) {
    const answer = known.last && known.last !== key ? known.answers[known.last] : null;
    if (!answer?.entry) return [];
    const { step, title, words } = answer.entry;
    const form = make("form", "");
    Object.assign(form.dataset, { kind: "take-back", step, title });
    form.setAttribute("action", `${known.run}${step}/take-back/`);
    form.method = "post";
    for (const [name, value] of [["version", known.version], ["client_id", bench.newId()]]) {
      const field = make("input", "");
      Object.assign(field, { type: "hidden", name, value });
      form.append(field);
    }
    form.append(make("button", "button", "Take back", make("span", "visually-hidden", `: ${title}`)));
    const said = make("p", "", chipOf("unsent"), " ", make("strong", "", words), ` ${title}`);
    const region = make("section", "latest", make("div", "latest__head", said, form));
    region.setAttribute("aria-label", "Last answer");
    return [region];
  }

  // A step of the list, tapped while there is no network.
  document.addEventListener("click", async (event) => {
    const link = event.target.closest("a.step");
    if (!link || !(local || CUT_OFF.includes(bench.state) || !navigator.onLine)) return;
    event.preventDefault();
    const known = await bench.knownOf(run()).catch(() => null);
    if (known?.panels.steps[keyOf(link)]) showPanel(known, keyOf(link));
    else location.assign(link.getAttribute("href") || "");
  });

  // A page that the worker kept may be of another step than its address says.
  async function openWhatTheAddressSays() {
    const [, wanted, key] = location.pathname.match(/^(.*\/run\/\d+\/)(?:([\w-]+)\/)?$/) || [];
    const shown = work();
    if (!wanted || (shown && shown.dataset.step === key)) return;
    const known = await bench.knownOf(wanted);
    const open = known && (key || bench.nextOf(known, known.last) || known.panels.order[0]);
    if (open && known.panels.steps[open]) showPanel(known, open, { push: !key });
  }

  // ---- What is not sent yet ----
  async function showUnsentHere() {
    const known = work() && (await bench.knownOf(run()).catch(() => null));
    const kept = known ? known.unsent : await bench.mine().catch(() => []);
    const unsent = kept.filter((entry) => entry.run === run());
    for (const link of document.querySelectorAll("a.step")) {
      link.querySelector("[data-own-mark]")?.remove();
      const answer = unsent.findLast((entry) => entry.step === keyOf(link) && ["answer", "take-back"].includes(entry.kind));
      const sent = local && !link.querySelector(".chip") ? known?.answers[keyOf(link)]?.outcome : "";
      if (!answer && !sent) continue;
      const mark = make("span", "", chipOf(answer ? "unsent" : sent || ""));
      mark.dataset.ownMark = "";
      link.append(mark);
    }
    await sayNotCounted();
    const form = document.getElementById("step-form");
    if (!(form instanceof HTMLFormElement)) return;
    const here = unsent.filter((entry) => entry.step === form.dataset.step);
    fill(form, here.findLast((entry) => entry.kind === "answer"));
    showOwnTimer(here);
    showOwnPhotos(here);
  }

  // Why the page shows the unit as it was before what was pressed: an answer was not taken, and others rest on it.
  async function sayNotCounted() {
    const place = document.querySelector("[data-not-counted]");
    if (!place) return;
    const ticket = run().split("run/")[0];
    const ticks = (await bench.mine().catch(() => [])).filter(
      (entry) => ["answer", "take-back"].includes(entry.kind) && entry.run.split("run/")[0] === ticket,
    );
    const named = (/** @type {Entry[]} */ entries) => entries.map((entry) => `“${entry.words}” at “${entry.title}”`).join(", ");
    const stuck = ticks.filter((entry) => entry.status !== "waiting");
    const waiting = ticks.filter((entry) => entry.status === "waiting" && stuck.some((other) => other.seq < entry.seq));
    const only = stuck.length === 1 && stuck[0]?.step === work()?.dataset.step && !waiting.length; // the page says so itself
    const said = [`${named(stuck)} ${stuck.length > 1 ? "were" : "was"} not taken.`];
    if (waiting.length) said.push(`${named(waiting)} ${waiting.length > 1 ? "rest" : "rests"} on that and ${waiting.length > 1 ? "wait" : "waits"}.`);
    said.push("Put right or discard what was not accepted, above; the rest goes out by itself.");
    part("[data-not-counted-words]", place).textContent = stuck.length ? said.join(" ") : "";
    place.hidden = !stuck.length || only;
  }

  /**
   * Whether a hand was at it since it was drawn: what is kept is read a moment later, and must not take that away.
   * @param {HTMLInputElement | HTMLSelectElement} field
   */
  function isTouched(field) {
    if (field instanceof HTMLSelectElement) {
      return [...field.options].some((option) => option.defaultSelected) && !field.selectedOptions[0]?.defaultSelected;
    }
    if (field.type === "hidden") return false;
    return field.value !== field.defaultValue || Boolean(field.checked) !== Boolean(field.defaultChecked);
  }

  /**
   * @param {HTMLFormElement} form
   * @param {Entry} [entry]
   */
  function fill(form, entry) {
    if (!entry || form.dataset.filled) return;
    form.dataset.filled = "yes";
    const fields = /** @type {HTMLInputElement[]} */ ([...form.elements]);
    const leave = new Set(["version", "client_id", "outcome", ...fields.filter(isTouched).map((field) => field.name)]);
    for (const field of fields) {
      const value = entry.fields[field.name];
      if (value === undefined || leave.has(field.name)) continue;
      if (["checkbox", "radio"].includes(field.type)) field.checked = field.value === value;
      else field.value = value;
      if (value) field.closest("details")?.setAttribute("open", "");
    }
    if (entry.status === "waiting") sayState(`Answered “${entry.words}”: not sent yet`);
  }

  /** @param {Entry[]} here */
  function showOwnTimer(here) {
    const place = document.getElementById("step-timer");
    const last = here.findLast((entry) => ["start-timer", "stop-timer"].includes(entry.kind));
    const running = place?.querySelector("template[data-running-timer]");
    if (!last || !place) return;
    if (last.kind === "stop-timer") {
      place.replaceChildren(make("p", "", chipOf("unsent"), " Timer stopped"));
    } else if (running) {
      const minutes = Number(part("[data-minutes]", place).dataset.minutes);
      const timer = /** @type {HTMLElement} */ (part("*", contentOf(running)).cloneNode(true));
      Object.assign(timer.dataset, { ends: last.made + minutes * 60000, now: Date.now() });
      timer.querySelector('[name="timer"]')?.setAttribute("value", last.fields.client_id || "");
      place.replaceChildren(timer, make("p", "", chipOf("unsent")));
      document.dispatchEvent(new CustomEvent("bench:timers"));
    }
  }

  /** @param {Entry[]} here */
  function showOwnPhotos(here) {
    const place = document.getElementById("step-photos");
    if (!place) return;
    for (const old of place.querySelectorAll("[data-own-photo]")) {
      URL.revokeObjectURL(old.querySelector("img")?.src || "");
      old.remove();
    }
    for (const { kind, file } of here) {
      if (kind !== "photo" || !file) continue;
      const picture = make("img", "");
      Object.assign(picture, { src: URL.createObjectURL(file), alt: "Photo, not sent yet" });
      const figure = make("figure", "own-photo", picture, make("figcaption", "", chipOf("unsent")));
      figure.dataset.ownPhoto = "";
      place.prepend(figure);
      place.closest("details")?.setAttribute("open", "");
    }
  }

  const bar = part("#unsent");
  /** @type {Partial<Record<Bench["state"], string>>} */
  const SAYS = {
    sending: "Sending …",
    offline: "Not connected. Everything is kept on this tablet and goes out by itself.",
    trouble: "The shop’s computer does not answer as it should. Everything is kept here; it is tried again.",
    "signed-out": "You have been signed out. Sign in again, then everything kept here goes out.",
  };

  const CANNOT_KEEP = {
    full: "This tablet’s memory is full: it cannot keep answers, so each needs a connection. Remove something else from the tablet.",
    broken: "This tablet cannot keep answers: what it keeps them in does not open. Each answer needs a connection.",
  };

  async function showBar() {
    part("#connection").hidden = true; // said here, once
    const everything = await store.everything().catch(() => []);
    const entries = everything.filter((entry) => entry.user === bench.user);
    const others = everything.length - entries.length;
    const stuck = entries.find((entry) => entry.status !== "waiting");
    const quiet = !store.problem && !entries.length && !others && !(local && CUT_OFF.includes(bench.state));
    // It does not come up for an answer that goes out at once; once shown, it stays until all of it is stored.
    const briefly = bar.hidden && bench.state === "sending" && !local && entries.length < 2 && !store.problem;
    bar.hidden = quiet || briefly;
    const stands = (entries.length || local) && SAYS[bench.state];
    const said = store.problem ? CANNOT_KEEP[store.problem] : stuck ? saysOf(stuck) : stands || "";
    const place = part("[data-unsent-state]", bar);
    if (place.textContent !== said) place.textContent = said;
    bar.classList.toggle("unsent-bar--stuck", Boolean(stuck));
    part("[data-unsent-do]", bar).replaceChildren(...choicesOf(stuck));
    const list = part("[data-unsent-list]", bar);
    list.hidden = !entries.length && !others;
    part("[data-unsent-count]", bar).textContent = countOf(entries, others);
    part("ol", list).replaceChildren(
      ...entries.map((entry) => make("li", "", make("strong", "", entry.words), ` ${entry.title}`)),
    );
  }

  /**
   * @param {Entry[]} entries
   * @param {number} others
   */
  function countOf(entries, others) {
    const answers = entries.every((entry) => entry.kind === "answer");
    const noun = answers ? "answer" : "entry";
    const plural = answers ? "answers" : "entries";
    const own = entries.length ? `${entries.length} ${entries.length === 1 ? noun : plural} not sent yet` : "";
    const rest = others ? `${others} of somebody else wait here until they sign in` : "";
    return [own, rest].filter(Boolean).join("; ");
  }

  /** @param {Entry} entry */
  function saysOf(entry) {
    const what = `“${entry.words}” at “${entry.title}”`;
    return entry.status === "conflict"
      ? `Somebody else answered meanwhile, so ${what} is not saved yet: ${entry.why}`
      : `${what} was not taken: ${entry.why}`;
  }

  /** @param {Entry} [stuck] */
  function choicesOf(stuck) {
    if (bench.state === "signed-out") {
      const link = make("a", "button button--main", "Sign in");
      link.href = `${document.body.dataset.signInUrl}?next=${encodeURIComponent(location.pathname)}`;
      return [link];
    }
    if (!stuck) return bench.state === "idle" || bench.state === "sending" ? [] : [button("Try now", () => bench.send())];
    const look = button(stuck.status === "conflict" ? "Look" : "Put it right", () => openStuck(stuck));
    const drop = button(stuck.status === "conflict" ? "Keep theirs" : "Discard mine", () => giveUp(stuck));
    if (stuck.status !== "conflict" || stuck.kind !== "answer") return [look, drop];
    return [button("Keep mine as well", () => insist(stuck)), drop, look];
  }

  /**
   * @param {string} words
   * @param {() => unknown} action
   */
  function button(words, action) {
    const made = make("button", "button", words);
    made.type = "button";
    made.addEventListener("click", action);
    return made;
  }

  /** @param {Entry} entry */
  async function openStuck(entry) {
    if (!entry.html?.includes('id="work"') || !work()) return location.assign(`${entry.run}${entry.step}/`);
    local = false;
    work()?.dispatchEvent(new Event("htmx:abort")); // what was asked for before must not be drawn over it
    htmx.swap("#work", entry.html, { swapStyle: "outerHTML" });
    const url = `${entry.run}${entry.step}/`;
    if (location.pathname !== url) history.pushState({}, "", url);
    return undefined;
  }

  // The refused step, if it is the one that is open: with what was typed and why.
  async function blockedHere() {
    const step = work()?.dataset.step;
    const stuck = (await bench.mine()).find((entry) => entry.status !== "waiting" && entry.step === step && entry.run === run());
    if (!stuck) return false;
    const place = PLACES[stuck.kind] || "work";
    if (stuck.html) htmx.swap(`#${place}`, stuck.html, { swapStyle: "outerHTML" });
    return true;
  }

  /** @param {Entry} entry */
  async function giveUp(entry) {
    await bench.decide(entry);
    await bench.send();
    if (work()) await showFromServer(run()).catch(() => {});
  }

  // Save mine beside theirs: at the version that was just seen, under an id that was not used.
  /** @param {Entry} entry */
  async function insist(entry) {
    const seen = part("[data-conflict]", new DOMParser().parseFromString(entry.html || "", "text/html"));
    const fields = { ...entry.fields, version: seen.dataset.version || "", client_id: bench.newId() };
    await bench.decide(entry, { replacedBy: { ...entry, fields, status: "waiting", html: "", why: "" } });
    await bench.send();
    if (work() && bench.state === "idle") await showFromServer(run()).catch(() => {});
  }

  document.addEventListener("click", async (event) => {
    const link = event.target.closest("[data-keep-theirs]");
    const step = work()?.dataset.step;
    const stuck = link && (await bench.mine()).find((entry) => entry.status === "conflict" && entry.step === step);
    if (link) event.preventDefault();
    if (stuck) await giveUp(stuck);
    else if (link) location.assign(link.getAttribute("href") || "");
  }, true);

  /** Whether something is half typed at the open step. */
  function isTyped() {
    const form = document.getElementById("step-form");
    const fields = form instanceof HTMLFormElement ? [...form.elements] : [];
    return /** @type {HTMLInputElement[]} */ (fields).some((field) => !field.hidden &&
      field.defaultValue !== undefined && field.type !== "hidden" && field.value !== field.defaultValue);
  }

  // Back on the network: what the tablet showed by itself gives way to the server's, but not under a hand that types, and
  // not where something else was opened while the server's was on its way.
  async function giveWay() {
    const [open, address] = [work(), location.pathname];
    if (!open || !local || isTyped()) return;
    const answer = await fetch(address, { headers: { "HX-Request": "true" }, cache: "no-store" });
    const html = await answer.text();
    if (!answer.ok || answer.redirected || !local || work() !== open || location.pathname !== address || isTyped()) return;
    local = false;
    htmx.swap("#work", html, { swapStyle: "outerHTML" });
    window.scrollTo(0, 0);
    await blockedHere();
  }

  document.addEventListener("bench:changed", async () => {
    await showBar();
    if (["idle", "blocked"].includes(bench.state) && local) await giveWay().catch(() => {});
  });
  document.addEventListener("bench:settled", showUnsentHere);
  document.addEventListener("bench:listed", showUnsentHere);
  document.addEventListener("bench:blocked", sayNotCounted);

  // app.js speaks of a lost connection for every page; here the bar does.
  for (const lost of ["htmx:sendError", "htmx:timeout"]) document.addEventListener(lost, showBar);
  window.addEventListener("offline", showBar);

  // ---- Signing out ----
  /**
   * @param {SubmitEvent} event
   * @param {HTMLFormElement} form
   */
  async function signOut(event, form) {
    event.preventDefault();
    event.stopImmediatePropagation();
    const left = (await bench.mine().catch(() => [])).length;
    const question = `${left} not sent yet. They stay on this tablet until you sign in again. Sign out?`;
    if (left && !window.confirm(question)) return;
    if (window.caches) for (const name of await caches.keys()) if (name.startsWith("bench-pages-")) await caches.delete(name);
    HTMLFormElement.prototype.submit.call(form);
  }

  /** A worker that could not fetch its files is thrown away by the browser; it is asked for again on the same page. */
  async function register(wait = 4000) {
    const again = () => setTimeout(() => register(Math.min(2 * wait, 60_000)), wait);
    try {
      const { installing } = await navigator.serviceWorker.register(bar.dataset.worker || "", { scope: "/" });
      installing?.addEventListener("statechange", () => installing.state === "redundant" && again());
      // A page that was on its way while the worker took over its pages is not among them, and asks.
      const { active } = await navigator.serviceWorker.ready;
      if (!navigator.serviceWorker.controller) active?.postMessage("take this page over");
    } catch {
      again();
    }
  }

  // ---- Begin ----
  async function begin() {
    prepare(document);
    await openWhatTheAddressSays().then(() => isTyped() || blockedHere()).catch(() => {}); // a store that does not open: the bar says so
    await bench.send();
    await showBar();
  }

  begin();
  window.addEventListener("pageshow", (event) => event.persisted && begin());
  document.addEventListener("htmx:load", (event) => event.detail.elt !== document.body && prepare(event.detail.elt));
  if ("serviceWorker" in navigator) register();
})();
