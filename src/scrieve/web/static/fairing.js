// What is worked out aside comes into the page when it is there; what is being typed meanwhile stays.
import { Board } from "./drawing.js";

const WAITS_MS = 1000;
const pending = () => document.querySelectorAll("[data-live][data-pending]");

async function look() {
  let text;
  try {
    const reply = await fetch(location.pathname + location.search, { cache: "no-store" });
    if (reply.status === 202) return location.reload(); // the hull itself is being faired anew
    if (!reply.ok) return undefined;
    text = await reply.text();
  } catch {
    return undefined; // 'Look again' still stands there
  }
  const fresh = new DOMParser().parseFromString(text, "text/html");
  const waiting = new Set([...pending()].map((part) => part.dataset.live));
  for (const part of document.querySelectorAll("[data-live]")) {
    const found = fresh.querySelector(`[data-live="${part.dataset.live}"]`);
    // the drawing changes with the places that it shows
    if (!found && part.dataset.live === "hull") return location.reload(); // a hull of one side has come
    if (!found || found.hasAttribute("data-pending") || !(waiting.has(part.dataset.live) || waiting.has("places"))) continue;
    if (part.dataset.live === "picture" && part.innerHTML === found.innerHTML) continue;
    part.replaceWith(found);
    for (const figure of found.querySelectorAll("[data-drawing]")) new Board(figure);
  }
  if (fresh.querySelector("[data-live][data-pending]")) setTimeout(look, WAITS_MS);
  return undefined;
}

if (pending().length) setTimeout(look, WAITS_MS / 2);
