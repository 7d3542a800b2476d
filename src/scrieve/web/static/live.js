// A form that is asked about while it is typed: what it would make follows, nothing is stored. Without this, its button
// alone does it. One question is under way at a time; an answer to what has been changed since is left alone.
import { Board } from "./drawing.js";

const QUIET_MS = 300;

/** What a place that opens is called: the figure it belongs to, which stays when its value changes. */
function name(details) {
  const summary = details.querySelector("summary");
  return (details.closest("dd")?.previousElementSibling ?? summary?.querySelector("span") ?? summary)?.textContent;
}

/** Put a place of the page anew: what was open in it stays open, and drawings can be looked at closely. */
export function putAnew(place, html) {
  const open = new Set([...place.querySelectorAll("details[open]")].map(name));
  place.innerHTML = html;
  for (const each of place.querySelectorAll("details")) if (open.has(name(each))) each.open = true;
  for (const figure of place.querySelectorAll("[data-drawing]")) new Board(figure);
}

/**
 * Follow a form.
 *
 * `typed()` is what stands in it, as a text; `ask(typed, signal)` fetches; `take(text, reply, typed)` shows the answer,
 * or returns why it was refused. `own(typed)`, where given, is true of what needs no question, once it is shown.
 * `places` grow pale while what they show is of something typed before; `where(message)` puts a message into the page.
 * Returns a function that asks at once.
 */
export function follow(form, { places, typed, ask, take, own, where, offline }) {
  let timer, told, asked = 0, going;
  let shown = typed();

  function fade(old) {
    for (const place of places) place.classList.toggle("old", old);
  }

  function say(text) {
    told?.remove();
    fade(Boolean(text));
    if (!text) return;
    told = document.createElement("p");
    told.className = "message said";
    told.setAttribute("role", "alert");
    told.textContent = text;
    where(told);
  }

  async function now() {
    clearTimeout(timer);
    const words = typed();
    const mine = ++asked;
    going?.abort();
    if (words !== shown && own?.(words)) shown = words;
    if (words === shown) return say(""); // what stands there is of this already
    fade(true);
    if (!form.checkValidity()) return; // half typed yet
    going = new AbortController();
    try {
      const reply = await ask(words, going.signal);
      const text = await reply.text();
      if (mine !== asked) return; // more has been typed meanwhile: this answer is stale
      const refused = take(text, reply, words);
      if (!refused) shown = words;
      say(refused);
    } catch (error) {
      if (error.name !== "AbortError" && mine === asked) say(offline);
    }
  }

  form.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(now, QUIET_MS);
  });
  form.addEventListener("change", now);
  return now;
}
