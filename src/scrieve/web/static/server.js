// Whether the server answers: known from every answer, asked for where nothing has been heard of it for a while.
export const MOST_MS = 10_000;
const FRESH_MS = 5000;
const QUICK_MS = 2500;
let heardAt = performance.now(), away = false;
const heard = new EventTarget();

export const isAway = () => away;
export const onChange = (what) => heard.addEventListener("change", what);

function now(gone) {
  if (!gone) heardAt = performance.now();
  if (gone === away) return;
  away = gone;
  heard.dispatchEvent(new Event("change"));
}
export const answered = () => now(false);
export const silent = () => now(true);
export const fresh = () => !away && navigator.onLine && performance.now() - heardAt < FRESH_MS;

// Ask the server for a sign of life.
export async function ask() {
  const ending = new AbortController();
  const timer = setTimeout(() => ending.abort(), QUICK_MS);
  try {
    await fetch("/here", { cache: "no-store", signal: ending.signal });
    answered();
    return true;
  } catch {
    silent();
    return false;
  } finally {
    clearTimeout(timer);
  }
}
