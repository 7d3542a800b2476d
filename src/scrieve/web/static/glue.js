// The card of a glue-up follows while the day is typed; nothing is stored, and the address holds the day as the button would.
import { follow, putAnew } from "./live.js";
import { inWords } from "./words.js";

const form = document.querySelector("#day-typed");
const places = [...document.querySelectorAll("[data-live]")];

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
    putAnew(place, anew.innerHTML);
    for (const [name, field] of fields(place)) if (typed.get(name)) field.value = typed.get(name);
  }
  const back = page.querySelector("input[name=back]")?.value;
  if (back) for (const each of document.querySelectorAll("input[name=back]")) each.value = back;
}

if (form) follow(form, {
  places,
  typed: () => {
    const day = [...new FormData(form)].filter(([name, value]) => name === "frame" || value.trim());
    return "/glue-up?" + new URLSearchParams(day);
  },
  ask: (address, signal) => fetch(address, { signal, headers: { "X-Typing": "1" }, cache: "no-store" }),
  take: (text, reply, address) => {
    const page = new DOMParser().parseFromString(text, "text/html");
    const refused = page.querySelector("#day [role=alert]")?.textContent;
    if (refused || !reply.ok || !page.querySelector("#day-typed")) {
      return refused || inWords("It could not be reckoned just now; type on, or press the button.");
    }
    put(page);
    history.replaceState(history.state, "", address + location.hash);
  },
  where: (message) => form.before(message),
  offline: inWords("No connection: what is typed stays here; the card is the one before."),
});
