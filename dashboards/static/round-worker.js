// Keeps the round, and what it is drawn with, for where there is no connection. It stores no look:
// those wait in the page's own store until they are sent.
"use strict";
const HOME = new URL("./", location.href).pathname; // of a house among several it begins with its own
const CACHE = HOME === "/" ? "round-1" : `round-1 ${HOME}`;
const mine = (url) => url.origin === location.origin && (url.pathname === `${HOME}round` || url.pathname.startsWith("/static/"));

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil((async () => {
  for (const name of await caches.keys()) if (name !== CACHE && !name.includes(" ")) await caches.delete(name);
  await self.clients.claim();
})()));

self.addEventListener("fetch", (event) => {
  const request = event.request;
  if (request.method !== "GET" || !mine(new URL(request.url))) return;
  event.respondWith((async () => {
    const cache = await caches.open(CACHE);
    try {
      const answer = await fetch(request);
      if (answer.ok && !answer.redirected && answer.type === "basic") await cache.put(request, answer.clone());
      return answer;
    } catch (problem) {
      // Another part of the round never stands in for the one that was asked for; the whole may.
      const part = new URL(request.url).searchParams.has("after");
      const kept = await cache.match(request) ?? await cache.match(`${HOME}round?whole=yes`, { ignoreVary: true })
        ?? (part ? undefined : await cache.match(request, { ignoreSearch: true }));
      if (kept) return kept;
      throw problem;
    }
  })());
});
