// Shows the ward list's empty frame where the registry cannot be reached. It keeps that frame, its style and its scripts, which are the
// same for everybody; no page about a person is ever kept here.
"use strict";

const frame = "/ward/offline";
const open = () => caches.open("ward");

async function keepFrame() {
  const page = await fetch(frame, { credentials: "omit" });
  if (!page.ok) return;
  const parts = [...(await page.clone().text()).matchAll(/(?:href|src)="(\/(?:css|js)\/[^"]+)"/g)].map(part => part[1]);
  const cache = await open();
  await cache.addAll(parts);
  await cache.put(frame, page);
  for (const kept of await cache.keys()) {
    const { pathname, search } = new URL(kept.url);
    if (pathname !== frame && !parts.includes(pathname + search)) await cache.delete(kept);
  }
}

const fromFrame = async request => (await (await open()).match(request)) ?? Response.error();

async function page(request) {
  try {
    const answer = await fetch(request);
    // A gateway that cannot reach the registry answers in its stead.
    return answer.status >= 502 && answer.status <= 504 ? await fromFrame(frame) : answer;
  } catch {
    return fromFrame(frame);
  }
}

self.addEventListener("install", event => event.waitUntil(keepFrame().then(() => self.skipWaiting())));
self.addEventListener("activate", event => event.waitUntil(self.clients.claim()));
self.addEventListener("message", event => event.waitUntil(keepFrame().catch(() => {})));
self.addEventListener("fetch", event => {
  const { request } = event;
  if (request.mode === "navigate" && request.method === "GET" && new URL(request.url).pathname === "/ward") event.respondWith(page(request));
  else if (request.destination === "style" || request.destination === "script")
    event.respondWith(fetch(request).catch(() => fromFrame(request)));
});
