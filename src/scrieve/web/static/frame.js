// A frame's form: while it is typed, drawings, figures and checks follow, of bend, bevel and jig; nothing is stored until the button is pressed.
// Without this, the button alone does it. The tabs need no script.
import { Board } from "./drawing.js";
import { inWords } from "./words.js";

const form = document.querySelector("#design");
const live = document.querySelector("#live");
const QUIET_MS = 300;

if (form && live) start();

// on a narrow screen the tab that is open is brought into sight
function show() {
  const tab = [...document.querySelectorAll(".tabs a")].find((each) => each.hash === location.hash);
  if (tab) tab.parentElement.scrollLeft = tab.offsetLeft - (tab.parentElement.clientWidth - tab.offsetWidth) / 2;
}
addEventListener("hashchange", show);
if (location.hash) show();

function start() {
  const tab = form.closest(".tab");
  const notes = document.querySelectorAll(".trial");
  const also = [...document.querySelectorAll("[data-also]")];
  const places = [live, ...also];
  const stored = places.map((place) => place.innerHTML);
  const first = typed();
  let timer, asked = 0, shown = first, going;

  function typed() {
    return new URLSearchParams(new FormData(form)).toString();
  }

  // the answer is of the tab with the form; what belongs to other tabs comes with it, in templates
  function parts(html) {
    const answer = document.createElement("template");
    answer.innerHTML = html;
    const others = also.map((place) => {
      const part = answer.content.querySelector(`template[data-part="${place.dataset.also}"]`);
      part?.remove();
      return part ? part.innerHTML : place.innerHTML;
    });
    return [answer.innerHTML, ...others];
  }

  function put(htmls) {
    places.forEach((place, i) => {
      const open = new Set([...place.querySelectorAll("details[open] summary span")].map((each) => each.textContent));
      place.innerHTML = htmls[i];
      for (const each of place.querySelectorAll("details")) each.open = open.has(each.querySelector("summary span")?.textContent);
      for (const figure of place.querySelectorAll("[data-drawing]")) new Board(figure);
    });
  }

  function state(tried) {
    for (const note of notes) note.hidden = !tried;
    tab.classList.toggle("tried", tried);
    fade(false);
  }

  function fade(old) {
    for (const place of places) place.classList.toggle("old", old);
  }

  function say(text) {
    live.querySelector(":scope > .message.said")?.remove();
    const words = document.createElement("p");
    words.className = "message said";
    words.setAttribute("role", "alert");
    words.textContent = text;
    live.prepend(words);
    fade(true); // what stands below is of what was typed before
  }

  async function ask() {
    const now = typed();
    if (now === shown) return;
    const mine = ++asked;
    going?.abort();
    if (now === first) {
      shown = now;
      put(stored);
      return state(false);
    }
    going = new AbortController();
    fade(true);
    try {
      const reply = await fetch("/frames/try", { method: "POST", body: new URLSearchParams(now), signal: going.signal });
      const html = await reply.text();
      if (mine !== asked) return; // more has been typed meanwhile: this answer is stale
      if (!reply.ok) return say(inWords("It could not be drawn just now; type on, or press the button."));
      shown = now;
      const refused = new DOMParser().parseFromString(html, "text/html").querySelector("[data-refused]");
      if (refused) return say(refused.textContent);
      put(parts(html));
      state(true);
    } catch (error) {
      if (error.name !== "AbortError" && mine === asked) say(inWords("No connection: what is typed stays here; the drawing is the one before."));
    }
  }

  form.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(ask, QUIET_MS);
  });
  form.addEventListener("change", () => {
    clearTimeout(timer);
    ask();
  });
  tab.querySelector("[data-back]").addEventListener("click", () => {
    form.reset();
    ask();
    form.querySelector("input:not([type=hidden])").focus();
  });
}
