// The card of a glue-up follows while the day is typed; nothing is stored, and the address holds the day as the button would.
// Without this, the button alone does it.
import { Board } from "./drawing.js";
import { inWords } from "./words.js";

const form = document.querySelector("#day-typed");
const QUIET_MS = 300;

if (form) start();

function start() {
  const places = [...document.querySelectorAll("[data-live]")];
  let timer, asked = 0, going;
  let shown = address();

  function address() {
    const day = [...new FormData(form)].filter(([name, value]) => name === "frame" || value.trim());
    return "/glue-up?" + new URLSearchParams(day);
  }

  // which field of which form: what stands in it is kept when the place is put anew
  function fields(place) {
    return [...place.querySelectorAll("form :is(input:not([type=hidden]), textarea, select)")].map((field) => [
      [field.form.getAttribute("action"), field.form.elements.stop?.value ?? "", field.name].join(" "),
      field,
    ]);
  }

  function put(page) {
    for (const place of places) {
      const anew = page.querySelector(`[data-live="${place.dataset.live}"]`);
      if (!anew) continue;
      const typed = new Map(fields(place).map(([name, field]) => [name, field.value]));
      const open = new Set([...place.querySelectorAll("details[open] summary")].map((each) => each.textContent));
      place.innerHTML = anew.innerHTML;
      for (const [name, field] of fields(place)) if (typed.get(name)) field.value = typed.get(name);
      for (const each of place.querySelectorAll("details")) if (open.has(each.querySelector("summary")?.textContent)) each.open = true;
      for (const figure of place.querySelectorAll("[data-drawing]")) new Board(figure);
    }
    const back = page.querySelector("input[name=back]")?.value;
    if (back) for (const each of document.querySelectorAll("input[name=back]")) each.value = back;
  }

  function fade(old) {
    for (const place of places) place.classList.toggle("old", old);
  }

  function say(text) {
    form.parentElement.querySelector(":scope > .message.said")?.remove();
    if (!text) return;
    const words = document.createElement("p");
    words.className = "message said";
    words.setAttribute("role", "alert");
    words.textContent = text;
    form.before(words);
  }

  async function ask() {
    clearTimeout(timer);
    const now = address();
    if (now === shown || !form.checkValidity()) return;
    const mine = ++asked;
    going?.abort();
    going = new AbortController();
    fade(true);
    try {
      const reply = await fetch(now, { signal: going.signal, headers: { "X-Typing": "1" }, cache: "no-store" });
      const page = new DOMParser().parseFromString(await reply.text(), "text/html");
      if (mine !== asked) return; // more has been typed meanwhile: this answer is stale
      const refused = page.querySelector("#day [role=alert]")?.textContent;
      if (refused || !reply.ok || !page.querySelector("#day-typed")) {
        return say(refused || inWords("It could not be reckoned just now; type on, or press the button."));
      }
      say("");
      put(page);
      shown = now;
      history.replaceState(history.state, "", now + location.hash);
      fade(false);
    } catch (error) {
      if (error.name !== "AbortError" && mine === asked) say(inWords("No connection: what is typed stays here; the card is the one before."));
    }
  }

  form.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(ask, QUIET_MS);
  });
  form.addEventListener("change", ask);
}
