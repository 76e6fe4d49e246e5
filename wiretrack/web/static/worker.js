// SPDX-License-Identifier: MIT
// Keeps the pages that were looked at, and shows them again while the server can't be reached.
const CACHE = "pages";
const PATIENCE_MS = 5000;
const LASTS_MS = 14 * 24 * 3600 * 1000; // as long as a session
const ASSETS = ["pages.css", "pages.js", "queue.js", "waiting.js", "pad.js", "entry.js", "live.js", "icon.svg"];

self.addEventListener("install", (event) => {
  const files = ASSETS.map((name) => `/static/${name}`);
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(files)).then(() => self.skipWaiting()));
});
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const path = new URL(request.url).pathname;
  const ours = request.method === "GET" && new URL(request.url).origin === self.location.origin;
  const kept = request.mode === "navigate" || path.startsWith("/static/");
  if (ours && kept && path !== "/sign-in") event.respondWith(freshOrKept(request));
});

// The session ended, or the codes were changed: what was kept of the record goes.
async function dropPages(cache) {
  for (const request of await cache.keys()) {
    if (!new URL(request.url).pathname.startsWith("/static/")) await cache.delete(request);
  }
}

async function freshOrKept(request) {
  const cache = await caches.open(CACHE);
  try {
    const answer = await fetch(request, { signal: AbortSignal.timeout(PATIENCE_MS) });
    if (answer.status === 401) await dropPages(cache);
    if (answer.status === 200 && !answer.redirected) await cache.put(request, answer.clone());
    return answer;
  } catch {
    const found = await cache.match(request, { ignoreVary: true });
    const old = Date.now() - Date.parse(found?.headers.get("Date") ?? "") > LASTS_MS;
    const kept = old && request.mode === "navigate" ? undefined : found;
    return kept ?? new Response(
      '<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">' +
      '<title>No signal</title><link rel="stylesheet" href="/static/pages.css"><main><h1>No signal</h1>' +
      "<p>This page isn't on the phone. What you read before is kept and goes out later.</p></main></html>",
      { status: 503, headers: { "Content-Type": "text/html; charset=utf-8" } },
    );
  }
}
