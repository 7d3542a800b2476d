// Lettering of a drawing that is shown small: as large as an eye needs, and what would then lie on other lettering hidden.

const LEAST_PX = 9; // of an em
const ROWS = 1.4; // lines of words stand so close that more would run them together
const WORDS = 14; // letters from which lettering is words, not a figure

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
    if (!rank(text) || kept.every((other) => apart(place, other))) kept.push(place);
    else text.style.visibility = "hidden";
  }
}
