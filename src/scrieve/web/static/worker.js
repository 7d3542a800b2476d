// The worker, over HTTPS only: pages open with the server away as they were last seen on this device. The network comes
// first; what is sent (POST) never passes through here: the outbox of the page keeps that.
const FIXED = `scrieve-fixed-${VERSION}`, PAGES = `scrieve-pages-${VERSION}`;
const SLOW_MS = 3000, MOST_PAGES = 200;
const FOR_GOOD = new Set(FILES.filter((path) => !path.endsWith("/table.js"))); // the address changes with the files
const NEVER = /^\/(here|worker\.js|trust|sign-in|sign-out|people|me)\b/;

addEventListener("install", (event) => event.waitUntil((async () => {
  await (await caches.open(FIXED)).addAll([...FILES, "/away"]);
  await skipWaiting();
})()));

addEventListener("activate", (event) => event.waitUntil((async () => {
  for (const name of await caches.keys()) if (name.startsWith("scrieve-") && name !== FIXED && name !== PAGES) await caches.delete(name);
  await clients.claim();
  // pages that were open before are held ready from now on
  for (const open of await clients.matchAll({ type: "window" })) {
    const url = new URL(open.url);
    if (!NEVER.test(url.pathname)) await keep(new Request(url.pathname + url.search), await fetch(url.pathname + url.search).catch(() => undefined));
  }
})()));

async function keep(request, reply) {
  const kind = reply?.headers.get("Content-Type") ?? "";
  if (!reply || reply.status !== 200 || reply.redirected || reply.type !== "basic" || !/html|json|javascript|css|svg|jpeg|png/.test(kind)) return;
  const pages = await caches.open(PAGES);
  await pages.put(request.url, reply.clone());
  const all = await pages.keys();
  for (const old of all.slice(0, Math.max(0, all.length - MOST_PAGES))) await pages.delete(old);
}

async function held(request) {
  const how = { ignoreVary: true };
  return (await (await caches.open(PAGES)).match(request.url, how)) ?? (await (await caches.open(FIXED)).match(request.url, how));
}

async function answer(event) {
  const { request } = event;
  let timer;
  const network = fetch(request);
  const late = new Promise((done) => { timer = setTimeout(done, SLOW_MS); });
  try {
    let reply = await Promise.race([network, late]);
    if (!reply) { // slow: what is held, or else whatever comes
      network.catch(() => undefined);
      reply = (await held(request)) ?? (await network);
    } else event.waitUntil(keep(request, reply.clone()));
    return reply;
  } catch {
    const found = await held(request);
    if (found) return found;
    if (request.mode === "navigate") return (await caches.open(FIXED)).match("/away", { ignoreVary: true });
    return Response.error();
  } finally {
    clearTimeout(timer);
  }
}

addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== location.origin || NEVER.test(url.pathname)) return;
  event.respondWith(FOR_GOOD.has(url.pathname) ? ready(event.request) : answer(event));
});

async function ready(request) {
  return (await (await caches.open(FIXED)).match(request.url, { ignoreVary: true })) ?? fetch(request);
}
