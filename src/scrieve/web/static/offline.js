// Open pages stay readable while the server is away: a link tapped then shows the page as it was last seen on this device,
// or says what can still be done. On HTTPS a worker does the same and more (worker.js).
import { forgetPages, keepPage, lastPages, pageAt } from "./outbox_store.js";
import { say, when } from "./outbox_bar.js";
import { ask, fresh, isAway, onChange } from "./server.js";
import { inWords } from "./words.js";

const AGAIN_MS = 10 * 60_000, OFTEN_MS = 20_000, AHEAD_MS = 3000;
const address = (url) => url.pathname + url.search;
const served = () => Boolean(navigator.serviceWorker?.controller); // pages then come from the worker
let shown = address(location), turned = false;

// ---- pages as last seen
const seen = document.querySelector("main")?.innerHTML ?? ""; // before the page's own scripts change it
const title = document.title;

async function ahead() { // once the page itself has what it needs
  await new Promise((done) => setTimeout(done, AHEAD_MS));
  for (const link of document.querySelectorAll("[data-ahead] a[href]")) {
    const url = new URL(link.href);
    if (address(url) === address(location)) continue;
    if (served() ? await caches.match(url, { ignoreVary: true }) : Date.now() - ((await pageAt(address(url)))?.at ?? 0) < AGAIN_MS) continue;
    const reply = await fetch(url);
    if (!reply.ok || reply.redirected) return;
    if (served()) continue; // the worker holds it
    const page = new DOMParser().parseFromString(await reply.text(), "text/html");
    await keepPage({ url: address(url), title: page.title, html: page.querySelector("main").innerHTML, at: Date.now() });
  }
}

async function keep() {
  if (served()) return asHeld();
  if (!/^\/(sign-in|people|me)\b/.test(location.pathname) && document.querySelector(".head .find")) {
    await keepPage({ url: address(location), title, html: seen, at: Date.now() });
  }
  return ahead();
}

// a page that the worker has given from what it holds says when it was seen
async function asHeld() {
  await ahead();
  if (await ask()) return;
  const page = await caches.match(location.href.split("#")[0], { ignoreVary: true });
  const at = Date.parse(page?.headers.get("Date") ?? "");
  if (at) say(inWords("This page as it stood at {1}.", when(at)));
}
const idle = window.requestIdleCallback ?? ((work) => setTimeout(work, 300));
idle(() => keep().catch(() => undefined)); // away, or a device that keeps nothing

async function turnTo(url, push) {
  const page = await pageAt(address(url)).catch(() => undefined);
  if (!page) return false;
  const main = document.querySelector("main");
  const found = new DOMParser().parseFromString(page.html, "text/html").body;
  main.replaceChildren(...found.childNodes);
  document.title = page.title;
  if (push) history.pushState(null, "", url);
  [shown, turned] = [address(url), true];
  if (url.hash) document.getElementById(decodeURIComponent(url.hash.slice(1)))?.scrollIntoView();
  else scrollTo(0, 0);
  say(inWords("This page as it stood at {1}.", when(page.at)));
  return true;
}

async function cannot(words) {
  const others = (await lastPages(6).catch(() => [])).filter(({ url }) => url !== shown);
  await say(words);
  const list = document.createElement("p");
  list.className = "buttons on-device";
  list.append(others.length ? `${inWords("On this device:")} ` : "", ...others.map(({ url, title: name }) => {
    const link = Object.assign(document.createElement("a"), { href: url, textContent: name.split(" · ")[0], className: "button" });
    return link;
  }));
  document.querySelector(".waiting .on-device")?.remove();
  document.querySelector(".waiting-line").after(list);
  document.querySelector(".waiting").scrollIntoView({ block: "nearest" });
}
onChange(() => {
  if (!isAway()) {
    document.querySelector(".waiting .on-device")?.remove();
    say("");
  }
});

// ---- links and forms
async function follow(url, name) {
  if ((await ask()) || served()) return location.assign(url);
  if (await turnTo(url, true)) return document.querySelector(".waiting .on-device")?.remove();
  return cannot(inWords("“{1}” is not on this device.", name));
}

document.addEventListener("click", (event) => {
  const link = event.target.closest?.("a[href]");
  if (!link || event.defaultPrevented || event.button || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
  const url = new URL(link.href instanceof SVGAnimatedString ? link.href.baseVal : link.href, location.href);
  const here = address(url) === shown && url.hash;
  if (url.origin !== location.origin || link.target || here || fresh()) return;
  event.preventDefault();
  if (link.hasAttribute("download")) {
    ask().then((there) => (there ? location.assign(url) : cannot(inWords("A file is made by the server, which does not answer."))));
  } else follow(url, link.textContent.replace(/\s+/g, " ").trim());
});

const asked = new WeakSet();
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.getAttribute("action") === "/sign-out") {
    forgetPages().catch(() => undefined); // another person may take this device in hand
    globalThis.caches?.keys().then((all) => all.forEach((name) => caches.delete(name)));
  }
  if (event.defaultPrevented || asked.delete(form) || fresh()) return;
  if (form.dataset.kept !== undefined && event.submitter?.dataset.kept !== "no") return; // the outbox's
  event.preventDefault();
  const { submitter } = event;
  ask().then((there) => {
    if (!there) return cannot(inWords("That needs the server, which does not answer. Nothing was sent; what is typed stays on this page."));
    asked.add(form);
    return form.requestSubmit(submitter);
  });
});

document.addEventListener("kept", async (event) => {
  if (!event.detail.next) return;
  const url = new URL(event.detail.next, location.href);
  if (served()) location.assign(url);
  else await turnTo(url, true);
});

addEventListener("popstate", async () => {
  if (address(location) === shown) return;
  if (!isAway() || !(await turnTo(new URL(location.href), false))) location.reload();
});
addEventListener("offline", () => ask());
addEventListener("online", () => ask());
setInterval(() => isAway() && ask().then((there) => there && turned && location.reload()), OFTEN_MS);

// ---- over HTTPS
if (location.protocol === "https:" && navigator.serviceWorker) {
  document.head.append(Object.assign(document.createElement("link"), { rel: "manifest", href: "/manifest.webmanifest" }));
  navigator.serviceWorker.register("/worker.js").catch(() => undefined); // a certificate that is not trusted
  navigator.storage?.persist?.();
}
