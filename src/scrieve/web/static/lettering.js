// Lettering of a drawing that is shown small: as large as an eye needs, and what would then lie on other lettering hidden.
// Words for which there is no room at all stand below the drawing instead.

const LEAST_PX = 9; // of an em
const ROWS = 1.4; // lines of words stand so close that more would run them together
const WORDS = 14; // letters from which lettering is words, not a figure
const WORDS_PX = 8.5; // of an em: smaller, words are no more read in the drawing

const apart = (a, b) => a.right <= b.left || b.right <= a.left || a.bottom <= b.top || b.bottom <= a.top;

export function readable(svg) {
  const texts = [...svg.querySelectorAll("text")];
  const scale = svg.getScreenCTM()?.a;
  if (!scale || !texts.length) return;
  const box = svg.getBoundingClientRect();
  for (const text of texts) {
    text.dataset.em ??= text.getAttribute("font-size");
    text.style.visibility = "";
    text.removeAttribute("dx");
    const em = +text.dataset.em;
    const letters = text.textContent.length;
    const most = letters < WORDS ? Infinity : Math.min(ROWS, box.width / (0.62 * letters * em * scale));
    text.setAttribute("font-size", em * Math.max(1, Math.min(LEAST_PX / (em * scale), most)));
  }
  const words = texts.filter((text) => text.textContent.length >= WORDS);
  const tiny = new Set(words.filter((text) => +text.getAttribute("font-size") * scale < WORDS_PX).map((text) => text.dataset.em));
  const small = words.filter((text) => tiny.has(text.dataset.em)); // one legend is not parted: its lines are of one size
  below(svg, small);
  if (texts.every((text) => +text.getAttribute("font-size") === +text.dataset.em)) return;
  const kept = [];
  const rank = (text) => (text.textContent.length < WORDS ? 1 : 0);
  for (const text of texts.sort((a, b) => rank(a) - rank(b))) {
    let place = text.getBoundingClientRect();
    const over = Math.max(0, box.left - place.left) - Math.max(0, place.right - box.right);
    if (over && !text.getAttribute("transform")) {
      text.setAttribute("dx", over / scale);
      place = text.getBoundingClientRect();
    }
    if (small.includes(text)) text.style.visibility = "hidden";
    else if (!rank(text) || kept.every((other) => apart(place, other))) kept.push(place);
    else text.style.visibility = "hidden";
  }
}

/** The words themselves as lines below the drawing, top ones first. */
function below(svg, texts) {
  const figure = svg.closest(".board");
  if (!figure) return;
  let place = figure.querySelector(".legend");
  if (!place) {
    if (!texts.length) return;
    place = document.createElement("p");
    place.className = "legend";
    figure.append(place);
  }
  const lines = texts.map((text) => [text.getBoundingClientRect().top, text.textContent.trim()]).sort((a, b) => a[0] - b[0]);
  place.textContent = lines.map(([, words]) => words).join("\n");
  place.hidden = !lines.length;
}
