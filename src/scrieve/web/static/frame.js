// A frame's form: while it is typed, drawings, figures and checks follow, of bend, bevel and jig; nothing is stored until the button is pressed.
// Without this, the button alone does it. The tabs need no script.
import { follow, putAnew } from "./live.js";
import { inWords } from "./words.js";

const form = document.querySelector("#design");
const live = document.querySelector("#live");

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
  const typed = () => new URLSearchParams(new FormData(form)).toString();
  const first = typed();

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

  function put(htmls, tried) {
    places.forEach((place, i) => putAnew(place, htmls[i]));
    for (const note of notes) note.hidden = !tried;
    tab.classList.toggle("tried", tried);
  }

  const ask = follow(form, {
    places,
    typed,
    ask: (now, signal) => fetch("/frames/try", { method: "POST", body: new URLSearchParams(now), signal }),
    take: (text, reply) => {
      if (!reply.ok) return inWords("It could not be drawn just now; type on, or press the button.");
      const refused = new DOMParser().parseFromString(text, "text/html").querySelector("[data-refused]");
      for (const field of form.querySelectorAll("[aria-invalid]")) field.removeAttribute("aria-invalid");
      form.elements[refused?.dataset.field]?.setAttribute("aria-invalid", "true");
      if (refused) return refused.textContent;
      put(parts(text), true);
    },
    own: (now) => {
      if (now === first) put(stored, false);
      return now === first;
    },
    where: (message) => live.prepend(message),
    offline: inWords("No connection: what is typed stays here; the drawing is the one before."),
  });
  tab.querySelector("[data-back]").addEventListener("click", () => {
    form.reset();
    ask();
    form.querySelector("input:not([type=hidden])").focus();
  });
}
