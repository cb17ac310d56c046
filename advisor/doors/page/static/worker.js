// Runs beside the pages. Pages come from the network while there is one, else as they were last seen; our own files
// change their name with their content, so what is kept of them is always right. Nothing that is sent goes through here.
const CACHE = `pages-${VERSION}`;
const MOST_PAGES = 30;
const PATIENCE_MS = 8000;

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll([...FILES, "/no-signal"]).then(() => keep(cache, "/"))).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(moveIn().then(() => self.clients.claim()));
});

// Pages seen under the worker before this one stay readable; its files go.
async function moveIn() {
  const mine = await caches.open(CACHE);
  for (const name of await caches.keys()) {
    if (name === CACHE) continue;
    const old = await caches.open(name);
    for (const request of await old.keys()) {
      if (isTalk(new URL(request.url)) && !(await mine.match(request))) await mine.put(request, await old.match(request));
    }
    await caches.delete(name);
  }
}

// A page that led elsewhere (to the signing in) is not what it was asked for, and is not kept.
async function keep(cache, path) {
  const fresh = await fetch(path);
  if (fresh.ok && !fresh.redirected) await cache.put(path, fresh);
}

function isTalk(url) {
  return url.pathname === "/" || url.pathname.startsWith("/talk/");
}

// The page has new answers in it: keep it anew, so that it opens with them without a signal.
self.addEventListener("message", (event) => {
  if (event.data === "answered") event.waitUntil(caches.open(CACHE).then((cache) => keep(cache, "/")).catch(() => {}));
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
  if (FILES.includes(url.pathname + url.search)) {
    event.respondWith(caches.match(event.request).then((kept) => kept || fetch(event.request)));
  } else if (event.request.mode === "navigate") {
    event.respondWith(page(event.request, url));
  }
});

async function page(request, url) {
  const cache = await caches.open(CACHE);
  const key = url.pathname;
  const kept = isTalk(url) ? await cache.match(key) : undefined;
  try {
    const fresh = await (kept ? inTime(request) : fetch(request));
    if (fresh.ok && !fresh.redirected && isTalk(url) && !url.search) {
      await cache.put(key, fresh.clone());
      await tidy(cache);
    }
    return fresh;
  } catch {
    return kept || (isTalk(url) && (await cache.match("/"))) || (await cache.match("/no-signal")) || Response.error();
  }
}

// Where a copy is at hand, a signal that brings nothing for this long is as good as none.
function inTime(request) {
  return new Promise((resolve, reject) => {
    setTimeout(reject, PATIENCE_MS, new Error("too slow"));
    fetch(request).then(resolve, reject);
  });
}

async function tidy(cache) {
  const pages = (await cache.keys()).filter((request) => new URL(request.url).pathname.startsWith("/talk/"));
  for (const old of pages.slice(0, Math.max(0, pages.length - MOST_PAGES))) await cache.delete(old);
}
