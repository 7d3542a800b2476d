// A frame's form: while it is typed, drawings, figures and checks follow; nothing is stored until the button is pressed.
// Without this, the button alone does it. The tabs need no script.
import { Board } from "./drawing.js";

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
  const note = tab.querySelector(".trial");
  const stored = live.innerHTML;
  const first = typed();
  let timer, asked = 0, shown = first, going;

  function typed() {
    return new URLSearchParams(new FormData(form)).toString();
  }

  function put(html) {
    const open = new Set([...live.querySelectorAll("details[open] summary span")].map((each) => each.textContent));
    live.innerHTML = html;
    for (const each of live.querySelectorAll("details")) each.open = open.has(each.querySelector("summary span")?.textContent);
    for (const figure of live.querySelectorAll("[data-drawing]")) new Board(figure);
  }

  function state(tried) {
    note.hidden = !tried;
    tab.classList.toggle("tried", tried);
    live.classList.remove("old");
  }

  function say(text) {
    live.querySelector(":scope > .message.said")?.remove();
    const words = document.createElement("p");
    words.className = "message said";
    words.setAttribute("role", "alert");
    words.textContent = text;
    live.prepend(words);
    live.classList.add("old"); // what stands below is of what was typed before
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
    live.classList.add("old");
    try {
      const reply = await fetch("/frames/try", { method: "POST", body: new URLSearchParams(now), signal: going.signal });
      const html = await reply.text();
      if (mine !== asked) return; // more has been typed meanwhile: this answer is stale
      if (!reply.ok) return say("It could not be drawn just now; type on, or press the button.");
      shown = now;
      const refused = new DOMParser().parseFromString(html, "text/html").querySelector("[data-refused]");
      if (refused) return say(refused.textContent);
      put(html);
      state(true);
    } catch (error) {
      if (error.name !== "AbortError" && mine === asked) say("No connection: what is typed stays here; the drawing is the one before.");
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
  note.querySelector("[data-back]").addEventListener("click", () => {
    form.reset();
    ask();
    form.querySelector("input:not([type=hidden])").focus();
  });
}
