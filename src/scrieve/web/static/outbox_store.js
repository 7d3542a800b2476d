// What is kept on this device (IndexedDB): entries that wait in the order in which they were typed, keys that were used,
// pages as last seen, and who of several open pages is sending.
const NAME = "scrieve";
const MOST_KEYS = 2000, MOST_PAGES = 60;
let opening;

function open() {
  opening ??= new Promise((done, failed) => {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("entries", { keyPath: "id", autoIncrement: true });
      asked.result.createObjectStore("keys", { keyPath: "n", autoIncrement: true }).createIndex("key", "key");
      asked.result.createObjectStore("pages", { keyPath: "url" }).createIndex("at", "at");
      asked.result.createObjectStore("lease", { keyPath: "of" });
    };
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => failed(asked.error);
  });
  return opening;
}

const answer = (request) => new Promise((done, failed) => {
  request.onsuccess = () => done(request.result);
  request.onerror = () => failed(request.error);
});

// one transaction: `work` gets its stores; done when it is on the disk
async function within(names, mode, work) {
  const database = await open();
  const transaction = database.transaction(names, mode, { durability: "strict" });
  const whole = new Promise((done, failed) => {
    transaction.oncomplete = done;
    transaction.onabort = transaction.onerror = () => failed(transaction.error);
  });
  const found = await work(...names.map((name) => transaction.objectStore(name)));
  await whole;
  return found;
}

// ---- entries
export const entries = () => within(["entries"], "readonly", (all) => answer(all.getAll()));
export const change = (entry) => within(["entries"], "readwrite", async (all) => {
  if (await answer(all.get(entry.id))) await answer(all.put(entry));
});
export const remove = (id) => within(["entries"], "readwrite", (all) => answer(all.delete(id)));

// Put an entry at the end, or into the place of another. Its key is that of its form, unless an entry of this device has had
// that key already.
export const add = (entry, place = 0) => within(["entries", "keys"], "readwrite", async (all, keys) => {
  const known = entry.key && await answer(keys.index("key").getKey(entry.key));
  const key = entry.key && known === undefined ? entry.key : `${entry.key.slice(0, 40)}${entry.key ? "-" : ""}${random()}`;
  const n = await answer(keys.add({ key }));
  keys.delete(IDBKeyRange.upperBound(n - MOST_KEYS));
  const fields = [...entry.fields.filter(([name]) => name !== "key"), ["key", key]];
  const kept = { ...entry, key, fields };
  return { ...kept, id: await answer(place ? all.put({ ...kept, id: place }) : all.add(kept)) };
});

export const random = () => [...crypto.getRandomValues(new Uint8Array(12))].map((n) => n.toString(16).padStart(2, "0")).join("");

// ---- pages as last seen
export const keepPage = (page) => within(["pages"], "readwrite", async (all) => {
  await answer(all.put(page));
  const old = await answer(all.index("at").getAllKeys());
  for (const url of old.slice(0, Math.max(0, old.length - MOST_PAGES))) all.delete(url);
});
export const pageAt = (url) => within(["pages"], "readonly", (all) => answer(all.get(url)));
export const lastPages = (most) => within(["pages"], "readonly", async (all) =>
  (await answer(all.index("at").getAll())).reverse().slice(0, most).map(({ url, title, at }) => ({ url, title, at })));
export const forgetPages = () => within(["pages"], "readwrite", (all) => answer(all.clear()));

// ---- one page sends at a time
const me = random();
const LEASE_MS = 5000; // a page that was closed while sending holds it no longer than this

const take = () => within(["lease"], "readwrite", async (all) => {
  const found = await answer(all.get("sending"));
  if (found && found.owner !== me && found.until > Date.now()) return false;
  await answer(all.put({ of: "sending", owner: me, until: Date.now() + LEASE_MS }));
  return true;
});
const give = () => within(["lease"], "readwrite", async (all) => {
  if ((await answer(all.get("sending")))?.owner === me) await answer(all.delete("sending"));
});

// Do `work` while no other page of this device does; undefined where another went on for `patience` ms.
export async function alone(patience, work) {
  if (navigator.locks) { // secure contexts only
    const ending = new AbortController();
    const timer = setTimeout(() => ending.abort(), patience);
    try {
      return await navigator.locks.request("scrieve-sending", { signal: ending.signal }, () => {
        clearTimeout(timer);
        return work();
      });
    } catch (error) {
      if (error.name === "AbortError") return undefined;
      throw error;
    }
  }
  for (const end = Date.now() + patience; !(await take());) {
    if (Date.now() > end) return undefined;
    await new Promise((done) => setTimeout(done, 150));
  }
  const renewing = setInterval(take, LEASE_MS / 3);
  try {
    return await work();
  } finally {
    clearInterval(renewing);
    await give();
  }
}
