// The outbox: what is entered goes on this device first and then to the server, in order, each entry under its key, so that
// the server stores it once however often it is sent. Where the server does not answer, it waits.
import { add, alone, change, entries, remove } from "./outbox_store.js";
import { MOST_MS, answered, silent } from "./server.js";
import { inWords } from "./words.js";

const PATIENCE_MS = 6000;
const LATER = new Set([408, 425, 429, 500, 502, 504]);
const AWAY = new Set([503, 507]);
const secrets = new Map(); // PINs typed into this page, by entry: they are never written to the device
const passed = new WeakSet();
const heard = new EventTarget();
const PUTTING_RIGHT = "scrieve-putting-right";

export const told = (name, what) => heard.addEventListener(name, (event) => what(event.detail));
const tell = (name, detail) => heard.dispatchEvent(new CustomEvent(name, { detail }));

export const tellSecret = (id, pin) => secrets.set(id, pin);

// ---- what a form says
function read(form, submitter) {
  const fields = [...new FormData(form, submitter)].filter(([, value]) => !(value instanceof File) || value.size);
  const hidden = new Set([...form.querySelectorAll("input[type=password]")].map((input) => input.name));
  const asks = fields.find(([name, value]) => hidden.has(name) && value);
  const value = (name) => fields.find(([each]) => each === name)?.[1] ?? "";
  return {
    secret: asks?.[1],
    entry: {
      what: form.dataset.kept.replace(/\{(\w+)\}/g, (_, name) => value(name)).replace(/\s+/g, " ").trim() || "entry",
      at: Date.now(),
      action: new URL(submitter?.getAttribute("formaction") || form.getAttribute("action") || location.href, location.href).pathname,
      parts: form.enctype === "multipart/form-data",
      page: location.pathname + location.search,
      fields: fields.filter(([name]) => !hidden.has(name)),
      asks: asks?.[0] ?? "",
      signer: asks ? value("sign") : "",
      key: value("key"),
      by: document.querySelector(".head .me")?.textContent.trim() ?? "",
      boat: document.documentElement.dataset.boat ?? "",
      said: null,
    },
  };
}

function body(entry) {
  const data = entry.parts ? new FormData() : new URLSearchParams();
  for (const [name, value] of entry.fields) data.append(name, value);
  if (entry.asks) data.append(entry.asks, secrets.get(entry.id));
  return data;
}

// Send one entry: {to} where it is stored, {refused, text}, {wait: why}.
async function post(entry, atOnce) {
  const size = entry.fields.reduce((sum, [, value]) => sum + (value.size ?? value.length), 0);
  const ending = new AbortController();
  const timer = setTimeout(() => ending.abort(), MOST_MS + size / 50);
  try {
    const reply = await fetch(entry.action, {
      method: "POST",
      body: body(entry),
      signal: ending.signal,
      headers: {
        "Kept-On-Device": encodeURIComponent(entry.boat),
        "Kept-By": encodeURIComponent(entry.by),
        "Kept-Age": String(Math.round((Date.now() - entry.at) / 1000)),
        ...(atOnce ? { "Kept-At-Once": "1" } : {}), // its sender still looks at the page
      },
    });
    answered();
    if (reply.redirected && new URL(reply.url).pathname === "/sign-in") return { wait: inWords("Sign in, and what waits is sent.") };
    if (reply.status === 401) return { wait: (await reply.json()).error };
    if (AWAY.has(reply.status)) return { wait: await words(reply) }; // it tells why: a full disk, a file that another program holds
    if (LATER.has(reply.status)) return { wait: inWords("The server could not take it just now ({1}); it is sent again.", reply.status) };
    if (reply.ok) return { to: reply.headers.get("Kept-Location") || "" };
    return { refused: reply.status, text: await words(reply) };
  } catch {
    silent();
    return { wait: "" };
  } finally {
    clearTimeout(timer);
  }
}

async function words(reply) {
  const text = await reply.text();
  try {
    return JSON.parse(text).error;
  } catch {
    const page = new DOMParser().parseFromString(text, "text/html");
    const found = page.querySelector("main [role=alert], main .message") ?? page.querySelector("main p");
    return (found?.textContent ?? "").replace(/\s+/g, " ").trim().slice(0, 600) || inWords("refused ({1})", reply.status);
  }
}

// Send what waits, oldest first, up to the first that is refused or must wait; return what became of entry `mine`.
export async function send(mine = 0) {
  const became = await alone(PATIENCE_MS, async () => {
    let stored = 0;
    for (const entry of await entries()) {
      if (entry.said) return { wait: "" }; // refused: the person decides first
      if (entry.asks && !secrets.has(entry.id)) return { wait: "" };
      tell("sending", entry);
      const found = await post(entry, entry.id === mine);
      if (found.wait !== undefined) return found;
      if (found.refused) {
        if (entry.id === mine) return found;
        await change({ ...entry, said: { status: found.refused, text: found.text } });
        secrets.delete(entry.id);
        return { wait: "" };
      }
      await remove(entry.id);
      stored += 1;
      if (entry.id === mine) return found;
      tell("stored", { entry, count: stored });
    }
    return { wait: "" };
  });
  tell("changed", became?.wait ?? "");
  return became ?? { wait: "" };
}

// ---- what the person does
export async function discard(id) {
  await remove(id);
  secrets.delete(id);
  tell("changed", "");
  send();
}

// Send a refused entry as the page itself would, so that the server's own answer is shown, with what was typed.
export function openAgain(entry) {
  const form = document.createElement("form");
  Object.assign(form, { method: "post", action: entry.action, hidden: true });
  if (entry.parts) form.enctype = "multipart/form-data";
  for (const [name, value] of entry.fields) {
    const field = document.createElement("input");
    if (value instanceof File) {
      const files = new DataTransfer();
      files.items.add(value);
      field.type = "file";
      field.files = files.files;
    } else if (/[\r\n]/.test(value)) {
      const text = document.createElement("textarea");
      Object.assign(text, { name, value });
      form.append(text);
      continue;
    } else Object.assign(field, { type: "hidden", value });
    field.name = name;
    form.append(field);
  }
  sessionStorage.setItem(PUTTING_RIGHT, JSON.stringify([entry.id, entry.action]));
  document.body.append(form);
  passed.add(form);
  form.submit();
}

const puttingRight = () => JSON.parse(sessionStorage.getItem(PUTTING_RIGHT) ?? "[0]");

export function go(to) {
  const url = new URL(to || location.href, location.href);
  const same = url.pathname + url.search === location.pathname + location.search;
  if (!same) return location.assign(url);
  history.replaceState(null, "", url);
  return location.reload();
}

async function submitted(form, submitter) {
  const { entry, secret } = read(form, submitter);
  const [old, action] = puttingRight();
  const place = action === entry.action ? old : 0; // it stands for the entry that was refused, and takes its place
  if (place) sessionStorage.removeItem(PUTTING_RIGHT);
  const kept = await add(entry, place);
  if (secret) secrets.set(kept.id, secret);
  const found = await send(kept.id);
  if (found.to !== undefined) return go(found.to);
  if (found.refused) { // shown as the server shows it
    await remove(kept.id);
    passed.add(form);
    return form.requestSubmit(submitter);
  }
  secrets.delete(kept.id);
  form.reset();
  form.dispatchEvent(new CustomEvent("kept", { bubbles: true, detail: { entry: kept, next: form.dataset.next ?? "" } }));
  return undefined;
}

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (event.defaultPrevented || passed.delete(form)) return;
  const [old, action] = puttingRight();
  const settles = old && new URL(form.action, location.href).pathname === action;
  if (settles && form.dataset.kept === undefined) form.dataset.kept = inWords("entry put right");
  if (form.dataset.kept === undefined || event.submitter?.dataset.kept === "no") return;
  event.preventDefault();
  if (form.getAttribute("aria-busy")) return;
  form.setAttribute("aria-busy", "true");
  try {
    await submitted(form, event.submitter);
  } catch (error) { // this device keeps nothing (a private window, a full disk): sent as any form
    console.warn(error);
    passed.add(form);
    form.requestSubmit(event.submitter);
  } finally {
    form.removeAttribute("aria-busy");
  }
});
