// The service worker of the bench: pages that were opened open again without a network, and so do the files they need.
// The server puts `self.SHOP` in front: a version, the files, and the addresses for signing in and out.
"use strict";

const { version, files, statics, home, signIn, signOut, bench } = self.SHOP;
const FILES = `bench-files-${version}`;
const PAGES = "bench-pages-"; // and the person whose pages they are
const SLOW_MS = 8000;
const OLDER = 2; // releases whose files stay while pages are kept that name them

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(FILES).then((cache) => cache.addAll(files)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(dropOldFiles().then(() => self.clients.claim()));
});

/** A page that was kept before an update opens with the files it names: without its script nothing that waits is sent. */
async function dropOldFiles() {
  const old = (await caches.keys()).filter((name) => name.startsWith("bench-files-") && name !== FILES);
  const needed = (await keptPages()) ? old.slice(-OLDER) : [];
  await dropCaches((name) => old.includes(name) && !needed.includes(name));
}

/** @param {(name: string) => boolean} wanted */
async function dropCaches(wanted) {
  for (const name of await caches.keys()) if (wanted(name)) await caches.delete(name);
}

const dropPages = (but = "") => dropCaches((/** @type {string} */ name) => name.startsWith(PAGES) && name !== but);

self.addEventListener("message", (asked) => {
  const event = /** @type {ExtendableMessageEvent} */ (/** @type {Event} */ (asked));
  if (event.data === "take this page over") event.waitUntil(self.clients.claim());
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (request.method === "POST" && url.pathname === signOut) {
    event.waitUntil(dropPages());
  } else if (request.method !== "GET") {
    // Writes are the page's own business.
  } else if (request.mode === "navigate") {
    event.respondWith(page(event, url));
  } else if (request.headers.get("HX-Request") && url.pathname.startsWith(bench)) {
    event.respondWith(piece(event, url));
  } else if (url.pathname.startsWith(statics)) {
    event.respondWith(file(request, url));
  }
});

/**
 * @param {Request} request
 * @param {URL} url
 */
async function file(request, url) {
  const ours = files.includes(url.pathname);
  const kept = await caches.match(request, ours ? { cacheName: FILES } : {});
  return kept || fetch(request);
}

/**
 * @param {FetchEvent} event
 * @param {URL} url
 */
async function page(event, url) {
  const cut = new AbortController();
  const here = await keptFor(url);
  const timer = here ? setTimeout(() => cut.abort(), SLOW_MS) : 0; // bad Wi-Fi: rather the kept page than none
  try {
    const answer = await fetch(event.request, { signal: cut.signal });
    clearTimeout(timer);
    if (answer.type !== "opaqueredirect") event.waitUntil(keep(url, answer.clone()));
    return answer;
  } catch (problem) {
    if (here) return here;
    if (url.pathname === home && (await keptPages())) return Response.redirect(bench); // where the app starts
    if (url.pathname.startsWith(bench)) return notKept();
    throw problem;
  }
}

/**
 * A piece that follows a page of the bench, such as its parts and charges, is kept beside that page.
 * @param {FetchEvent} event
 * @param {URL} url
 */
async function piece(event, url) {
  const key = `${url.pathname}?piece`;
  const pages = await keptPages();
  try {
    const answer = await fetch(event.request);
    if (pages && answer.ok && !answer.redirected) event.waitUntil(pages.put(key, answer.clone()));
    return answer;
  } catch (problem) {
    const kept = await pages?.match(key);
    if (kept) return kept;
    throw problem;
  }
}

async function keptPages() {
  const name = (await caches.keys()).find((known) => known.startsWith(PAGES));
  return name ? caches.open(name) : undefined;
}

/**
 * A page of the bench is kept for the person it was made for; anybody else's go, and all of them at the sign-in page.
 * @param {URL} url
 * @param {Response} answer
 */
async function keep(url, answer) {
  if (url.pathname === signIn) return dropPages();
  if (!answer.ok || !(answer.headers.get("Content-Type") || "").startsWith("text/html")) return undefined;
  const person = (await answer.clone().text()).match(/<body[^>]* data-user="(\d+)"/)?.[1];
  if (!person) return undefined;
  const name = PAGES + person;
  await dropPages(name);
  if (!url.pathname.startsWith(bench)) return undefined;
  return (await caches.open(name)).put(url.pathname, answer);
}

/**
 * The page itself; for a step any page of its run or its ticket, into which the script puts the step.
 * @param {URL} url
 */
async function keptFor(url) {
  const pages = await keptPages();
  if (!pages || !url.pathname.startsWith(bench)) return undefined;
  const exact = await pages.match(url.pathname);
  if (exact) return exact;
  const [run, ticket] = url.pathname.match(/^(.*\/\d+\/)run\/\d+\//) || [];
  if (!run || !ticket) return undefined;
  const paths = (await pages.keys()).map((request) => new URL(request.url).pathname);
  const other = paths.find((path) => path.startsWith(run) && !path.endsWith("/panels/"));
  return pages.match(other || ticket);
}

function notKept() {
  const styles = files.filter((file) => file.endsWith(".css")).map((file) => `<link rel="stylesheet" href="${file}">`);
  const words = `<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
    <title>Not connected</title>${styles.join("")}<body class="area-bench"><main><h1>Not connected</h1>
    <p>This page was not opened on this tablet before. Tickets that were open on it are still here.</p>
    <p><a class="button button--large" href="${bench}">To the bench</a></p></main></body></html>`;
  return new Response(words, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8" } });
}
