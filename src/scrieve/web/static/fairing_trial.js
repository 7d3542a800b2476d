// One frame enlarged: a mark is dragged, moved by arrow keys or typed anew, and the line is faired again as a trial.
// Nothing is stored by it. One question is under way at a time; of those that wait, the last one wins.
import { Board } from "./drawing.js";
import { readable } from "./lettering.js";
import { nearest } from "./picking.js";
import { inWords } from "./words.js";

const DRAG_PX = 4;
const HALF_TYPED_MS = 500; // half a length is typed before the whole of it: no fault yet
const WAYS = { ArrowUp: [0, 1], ArrowDown: [0, -1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] };

export class Trial {
  constructor(figure) {
    this.figure = figure;
    this.view = figure.querySelector(".view");
    this.svg = this.view.querySelector("svg");
    this.form = document.getElementById("try");
    const { ask, stretch, centre, small, large, tried } = figure.dataset;
    Object.assign(this, { ask, stretch: +stretch, centre: +centre, small: +small, large: +large });
    this.stored = tried ? null : [...this.svg.childNodes].map((node) => node.cloneNode(true));
    this.storedOffs = tried ? null : new Map(this.rows().map((row) => [row.dataset.mark, row.querySelector("[data-off]").textContent]));
    this.mark = null;
    this.shown = false; // whether the drawing is that of a trial
    this.asked = null; // what waits to be asked
    this.busy = false;
    this.grab = null;
    this.dropped = false; // whether a drag has just ended
    this.wanted = 0; // changes with all that makes an answer under way of no use
    this.listen();
    this.board = new Board(figure);
    const row = this.rows().find((each) => each.querySelector("[aria-current]"));
    if (row) this.take(row, false);
  }

  rows() {
    return [...document.querySelectorAll("tr[data-mark]")];
  }

  row(number) {
    return this.rows().find((each) => each.dataset.mark === String(number));
  }

  field(name) {
    return this.form.elements[name];
  }

  /** Where the trial has the mark [mm]. */
  get place() {
    return this.at ?? [+this.mark.dataset.halfMm, +this.mark.dataset.heightMm];
  }

  listen() {
    const first = { capture: true };
    this.view.addEventListener("pointerdown", (event) => this.down(event), first);
    this.view.addEventListener("touchstart", (event) => { // a finger on a mark moves the mark, not the page
      if (event.touches.length === 1 && this.grab) event.preventDefault();
    }, { capture: true, passive: false });
    this.view.addEventListener("pointermove", (event) => this.move(event), first);
    for (const end of ["pointerup", "pointercancel", "lostpointercapture"]) {
      this.view.addEventListener(end, (event) => this.up(event), first);
    }
    this.view.addEventListener("click", (event) => {
      if (this.measured) return;
      if (this.dropped) { // the click that ends a drag takes hold of no mark that lies where it ended
        this.dropped = false;
        event.preventDefault();
        event.stopImmediatePropagation();
        return;
      }
      const link = event.target.closest?.("a.pick") ?? nearest(this.svg, event.clientX, event.clientY);
      if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      if (this.number(link) !== this.mark?.dataset.mark) this.take(this.row(this.number(link)));
    }, first);
    this.view.addEventListener("keydown", (event) => this.key(event), first);
    document.querySelector(".marks-of").addEventListener("click", (event) => {
      const row = event.target.closest("a.button")?.closest("tr");
      if (!row || event.ctrlKey || event.metaKey || event.shiftKey) return;
      event.preventDefault();
      this.take(row);
      this.figure.scrollIntoView({ block: "nearest" });
      this.view.focus({ preventScroll: true });
    });
    this.form.addEventListener("submit", (event) => {
      if (event.submitter?.formMethod === "post") return;
      event.preventDefault();
      this.typed();
    });
    for (const name of ["height", "half_breadth"]) {
      this.field(name).addEventListener("input", () => this.typed());
    }
    this.field("hold").addEventListener("change", () => this.typed());
    this.form.querySelector("[data-do=back]").addEventListener("click", (event) => {
      if (!this.stored) return; // the page came with a trial: the link leads to what is stored
      event.preventDefault();
      this.back();
    });
  }

  /** Whether taps measure now, and so move no mark. */
  get measured() {
    return this.view.classList.contains("measuring");
  }

  number(link) {
    return new URL(link.getAttribute("href"), location.href).searchParams.get("mark");
  }

  /** Take hold of a mark; one that was moved before is put back. */
  take(row, anew = true) {
    if (!row) return;
    if (anew && !this.stored) { // the page came with a trial of another mark
      location.assign(row.querySelector("a.button").getAttribute("href"));
      return;
    }
    if (anew) this.restore();
    this.mark = row;
    for (const link of document.querySelectorAll(".marks-of [aria-current]")) link.removeAttribute("aria-current");
    row.querySelector("a.button").setAttribute("aria-current", "true");
    this.form.hidden = false;
    const hint = document.querySelector(".trial .hint");
    if (hint) hint.hidden = true;
    this.form.querySelector("[data-which]").textContent = row.dataset.mark;
    for (const name of ["mark", "number"]) this.field(name).value = row.dataset.mark;
    this.field("key").value = row.dataset.key;
    if (anew) this.fill(row.dataset.height, row.dataset.half);
    this.ring();
  }

  fill(height, half) {
    this.field("height").value = height;
    this.field("half_breadth").value = half;
  }

  back() {
    this.restore();
    this.fill(this.mark.dataset.height, this.mark.dataset.half);
    this.ring();
  }

  restore() {
    this.wanted += 1;
    this.asked = null;
    this.at = null;
    clearTimeout(this.later);
    this.say("");
    if (!this.shown) return;
    this.shown = false;
    // not before the finger's own first event has passed: it would be lost with the dot that it fell on
    setTimeout(() => this.shown || this.draw(this.stored.map((node) => node.cloneNode(true))));
    for (const row of this.rows()) row.querySelector("[data-off]").textContent = this.storedOffs.get(row.dataset.mark);
    document.querySelector("[data-told]").replaceChildren();
  }

  draw(nodes) {
    this.svg.replaceChildren(...nodes);
    readable(this.svg);
    this.ring();
  }

  /** The dots of the chosen mark: one, or one on either hand. */
  dots() {
    return [...this.svg.querySelectorAll("a.pick")].filter((link) => this.number(link) === this.mark?.dataset.mark);
  }

  ring() {
    for (const link of this.svg.querySelectorAll("a.pick.held")) link.classList.remove("held");
    for (const link of this.dots()) link.classList.add("held");
  }

  say(text) {
    clearTimeout(this.later);
    const place = document.querySelector("[data-error]");
    place.hidden = !text;
    place.textContent = text;
  }

  /** A place of the screen in the drawing's own millimetres. */
  inside(event) {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(this.svg.getScreenCTM().inverse());
    return [at.x, at.y];
  }

  down(event) {
    if (event.button !== 0 || !event.isPrimary || this.grab || this.measured) return;
    this.dropped = false;
    const link = nearest(this.svg, event.clientX, event.clientY);
    const row = link && this.row(this.number(link));
    if (!row) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    if (row !== this.mark) this.take(row);
    this.view.focus({ preventScroll: true });
    this.view.setPointerCapture(event.pointerId);
    const from = this.inside(event);
    const [half, height] = this.place;
    this.grab = { id: event.pointerId, from, x: event.clientX, y: event.clientY, half, height, hand: from[0] < this.centre ? -1 : 1 };
  }

  move(event) {
    const grab = this.grab;
    if (!grab || event.pointerId !== grab.id) return;
    event.stopImmediatePropagation();
    if (!grab.far && Math.hypot(event.clientX - grab.x, event.clientY - grab.y) < DRAG_PX) return;
    grab.far = true;
    const [x, y] = this.inside(event);
    const away = [x - grab.from[0], y - grab.from[1]];
    this.ghost(x, y);
    this.to(Math.max(0, grab.half + grab.hand * away[0] / this.stretch), grab.height - away[1] / this.stretch);
  }

  up(event) {
    if (!this.grab || event.pointerId !== this.grab.id) return;
    this.dropped = Boolean(this.grab.far);
    this.grab = null;
    this.svg.querySelector(".ghost")?.remove();
  }

  /** A ring under the finger, ahead of the answer. */
  ghost(x, y) {
    let ring = this.svg.querySelector(".ghost");
    if (!ring) {
      ring = document.createElementNS("http://www.w3.org/2000/svg", "circle");
      ring.setAttribute("class", "ghost");
      ring.setAttribute("r", 14 / this.svg.getScreenCTM().a);
      this.svg.append(ring);
    }
    ring.setAttribute("cx", x);
    ring.setAttribute("cy", y);
  }

  key(event) {
    if (!this.mark || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Escape" && this.stored) {
      event.preventDefault();
      this.back();
      return;
    }
    const way = WAYS[event.key];
    if (!way) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    const [half, height] = this.place;
    const step = event.shiftKey ? this.large : this.small;
    const hand = this.mark.dataset.side === "P" ? -1 : 1;
    this.to(Math.max(0, half + hand * way[0] * step), height + way[1] * step);
  }

  /** Try the chosen mark at a place [mm]. */
  to(half, height) {
    clearTimeout(this.later);
    this.at = [half, height];
    this.send({ height: `${height.toFixed(3)}mm`, half_breadth: `${half.toFixed(3)}mm` }, true);
  }

  typed() {
    clearTimeout(this.later);
    if (!this.mark) return;
    this.send({ height: this.field("height").value, half_breadth: this.field("half_breadth").value }, false);
  }

  send(what, filled) {
    this.asked = { what: { ...what, mark: this.mark.dataset.mark, hold: this.field("hold").checked ? "1" : "0" }, filled };
    if (!this.busy) this.next();
  }

  async next() {
    this.busy = true;
    while (this.asked) {
      const { what, filled } = this.asked;
      this.asked = null;
      const wanted = this.wanted;
      const began = performance.now();
      let reply;
      let found;
      try {
        reply = await fetch(`${this.ask}&${new URLSearchParams(what)}`, { cache: "no-store" });
        found = await reply.json();
      } catch {
        found = { error: inWords("No answer came; is the program still running?") };
      }
      if (wanted !== this.wanted) continue; // put back meanwhile
      if (found.error) this.later = setTimeout(() => this.say(found.error), filled ? 0 : HALF_TYPED_MS);
      else this.show(found, filled);
      if (reply?.ok) performance.measure("trial", { start: began, end: performance.now() });
    }
    this.busy = false;
  }

  show(found, filled) {
    const ghost = this.svg.querySelector(".ghost");
    const made = document.createElement("template");
    made.innerHTML = found.drawing;
    this.shown = true;
    this.draw(made.content.firstElementChild.childNodes);
    if (ghost && this.grab) this.svg.append(ghost);
    document.querySelector("[data-told]").innerHTML = found.told;
    for (const one of found.residuals) {
      const cell = this.row(one.id)?.querySelector("[data-off]");
      if (cell) cell.textContent = one.text;
    }
    if (filled && (!this.asked || this.asked.filled)) this.fill(found.height, found.half_breadth);
    if (!filled) this.at = [found.half_breadth_mm, found.height_mm];
    this.say("");
  }
}

for (const figure of document.querySelectorAll("[data-trial]")) new Trial(figure);
