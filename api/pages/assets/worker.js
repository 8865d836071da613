// The service worker: it keeps what the pages are made of and the pages last
// seen, shows them when there is no network, and sends what waits when the
// browser wakes it. /sw.js starts it with the version and the list of files.
//
// A page is kept only if the service says whose it is (Session-Tag) and does not
// forbid it (no-store). Only pages of the newest session are kept: an answer to
// another one, or to nobody, removes those of the one before.

import { send, stuck } from "./sending.js";

const most = 80; // pages that are kept
const slow = 6000; // ms after which a page that is kept is shown instead
const fresh = 10 * 60 * 1000; // a page that was kept so lately is not fetched ahead, ms
const mine = (name) => name.startsWith("pages ");
const place = '<p id="as-of" hidden></p>'; // in every page, for the words that it is an old one

export function start({ version, shell }) {
  const shellName = `shell ${version}`;
  addEventListener("install", (event) => event.waitUntil(install(shellName, shell)));
  addEventListener("activate", (event) => event.waitUntil(activate(shellName)));
  addEventListener("fetch", route);
  addEventListener("sync", (event) => event.waitUntil(sendAll()));
  addEventListener("message", (event) => event.waitUntil(keepAhead(event.data?.keep ?? [])));
}

async function install(name, shell) {
  const cache = await caches.open(name);
  // Without credentials: what everybody gets, whoever is signed in.
  await cache.addAll(shell.map((path) => new Request(path, { credentials: "omit", cache: "reload" })));
  await self.skipWaiting();
}

async function activate(shellName) {
  const names = await caches.keys();
  await Promise.all(names.filter((n) => n.startsWith("shell ") && n !== shellName).map((n) => caches.delete(n)));
  await self.clients.claim();
}

// Background Sync comes again when this throws.
async function sendAll() {
  await send();
  if (await stuck()) throw new Error("some of it waits still");
}

function route(event) {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (request.method === "POST" && url.pathname === "/sign-out") return event.respondWith(signOut(request));
  if (request.method !== "GET") return;
  if (url.pathname.startsWith("/static/") || url.pathname === "/manifest.webmanifest") return event.respondWith(asset(request, url));
  if (request.mode === "navigate") event.respondWith(page(event, request, url));
}

// Files have their version in their address. One that was kept under another is
// better than none, for a page that was kept with it.
async function asset(request, url) {
  const kept = await caches.match(request, { ignoreVary: true });
  if (kept) return kept;
  try {
    return await fetch(request);
  } catch (error) {
    const name = url.pathname.split("/").at(-1);
    for (const cacheName of await caches.keys()) {
      const cache = await caches.open(cacheName);
      const like = (await cache.keys()).find((k) => new URL(k.url).pathname.endsWith(`/${name}`));
      if (like) return cache.match(like);
    }
    throw error;
  }
}

async function page(event, request, url) {
  const network = fromNetwork(request);
  event.waitUntil(network.catch(() => {}));
  const kept = await lastSeen(url);
  try {
    const response = await (kept ? Promise.race([network, tooSlow()]) : network);
    if (kept && [502, 503, 504].includes(response.status)) return asOf(kept, "The service does not answer just now.");
    return response;
  } catch (error) {
    if (kept) return asOf(kept, error === late ? "The network is too slow to show it as it is now." : "There is no network.");
    return withoutNetwork(url);
  }
}

const late = new Error("late");
const tooSlow = () => new Promise((_, reject) => { setTimeout(reject, slow, late); });

let current; // the session of the newest answer; undefined until there is one

async function fromNetwork(request) {
  const began = current;
  const response = await fetch(request);
  const session = response.headers.get("Session-Tag");
  // An answer that comes after the session changed tells of the one before.
  if (session === null || current !== began && current !== session) return response;
  current = session;
  await forgetPages((name) => name !== `pages ${session}`);
  if (keepable(response, session)) await keep(request.url, session, response.clone());
  return response;
}

async function forgetPages(which) {
  const names = await caches.keys();
  await Promise.all(names.filter((n) => mine(n) && which(n)).map((n) => caches.delete(n)));
}

function keepable(response, session) {
  const control = response.headers.get("Cache-Control") ?? "";
  const type = response.headers.get("Content-Type") ?? "";
  return response.status === 200 && !response.redirected && session !== "none" && !control.includes("no-store") && type.startsWith("text/html");
}

async function keep(address, session, response) {
  const headers = new Headers(response.headers);
  headers.set("Kept-At", new Date().toISOString());
  headers.delete("Vary"); // the cache can not see cookies: its name says whose it is
  const cache = await caches.open(`pages ${session}`);
  await cache.put(address, new Response(await response.blob(), { headers }));
  const keys = await cache.keys();
  for (const old of keys.slice(0, Math.max(0, keys.length - most))) await cache.delete(old);
  if (current !== session) await caches.delete(`pages ${session}`);
}

async function lastSeen(url) {
  const name = (await caches.keys()).find(mine);
  if (!name) return undefined;
  const cache = await caches.open(name);
  return (await cache.match(url.href)) ?? cache.match(url.href, { ignoreSearch: true });
}

async function asOf(kept, why) {
  const at = new Date(kept.headers.get("Kept-At")).toLocaleString("en-GB", { day: "numeric", month: "long", hour: "2-digit", minute: "2-digit" });
  const words = `<p id="as-of" class="as-of" role="status"><strong>As of ${at}.</strong> ${why} What came since is not in it.</p>`;
  return new Response((await kept.text()).replace(place, words), { headers: kept.headers });
}

async function withoutNetwork(url) {
  if (url.pathname === "/") return Response.redirect("/rigs", 302);
  const own = await caches.match(url.pathname, { ignoreVary: true }); // the list of what waits
  if (own) return own;
  const said = await caches.match("/offline", { ignoreVary: true });
  return new Response(await said.blob(), { status: 503, headers: said.headers });
}

async function signOut(request) {
  const response = await fetch(request);
  if (response.type === "opaqueredirect" || response.ok) {
    current = "none";
    await forgetPages(() => true);
  }
  return response;
}

// keepAhead keeps pages that somebody is likely to want next, such as the form
// to measure of a rig that is being looked at.
async function keepAhead(paths) {
  for (const path of paths) {
    const url = new URL(path, location.href);
    const kept = await lastSeen(url);
    if (url.origin !== location.origin || kept && Date.now() - new Date(kept.headers.get("Kept-At")) < fresh) continue;
    await fromNetwork(new Request(url, { headers: { Accept: "text/html" } })).catch(() => {});
  }
}
