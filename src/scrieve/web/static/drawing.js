// A drawing in its own box: larger, smaller, fit; pinch, wheel, drag; the nearest frame named and opened.
// On a narrow screen the whole of it is shown first, its lettering kept readable.
// The box scrolls by itself, so one finger, arrows and scroll bars move the drawing without any help from here.
import { readable } from "./lettering.js";
import { Measure } from "./measure.js";
import { nearest } from "./picking.js";

const MOST = 16;
const STEP = 1.5;
const DRAG_PX = 5;

const made = new WeakSet();

/**
 * Every drawing under `root` can be looked at closely: each from when it comes near the screen, after the page has been
 * painted, or from the first touch or key.
 */
export function boards(root) {
  const make = (figure) => made.has(figure) || new Board(figure);
  const near = new IntersectionObserver((seen) => {
    for (const { target, isIntersecting } of seen) {
      if (!isIntersecting) continue;
      near.unobserve(target);
      make(target);
    }
  }, { rootMargin: "50%" });
  for (const figure of root.querySelectorAll("[data-drawing]")) {
    const tools = figure.querySelector(".tools");
    if (figure.querySelector(".view svg")) tools.hidden = false;
    for (const kind of ["pointerdown", "click", "keydown", "focusin"]) figure.addEventListener(kind, () => make(figure), { capture: true, once: true });
    near.observe(figure);
  }
}

export class Board {
  constructor(figure) {
    made.add(figure);
    this.figure = figure;
    this.view = figure.querySelector(".view");
    this.svg = this.view.querySelector("svg");
    this.name = figure.querySelector(".near");
    this.scale = 1;
    this.dragged = false;
    this.view.classList.add("made");
    if (!this.svg) return;
    this.buttons();
    this.wheel();
    this.pinch();
    this.drag();
    this.pick();
    this.view.addEventListener("keydown", (event) => this.key(event));
    addEventListener("resize", () => this.zoom(this.whole ? this.least : this.scale));
    this.zoom(figure.classList.contains("long") ? 1 : this.least);
  }

  /** Width of the drawing as the style sheet sets it, before any zoom. */
  get usual() {
    const [zoomed, width] = [this.view.classList.contains("zoomed"), this.svg.style.width];
    this.view.classList.remove("zoomed");
    this.svg.style.width = "";
    const found = this.svg.getBoundingClientRect().width;
    this.svg.style.width = width;
    this.view.classList.toggle("zoomed", zoomed);
    return found;
  }

  /** What the caption says while no frame is pointed at: that there is more to the side, where there is. */
  get rest() {
    return this.view.scrollWidth > this.view.clientWidth + 1 ? "↔" : "";
  }

  get least() {
    return Math.min(1, this.view.clientWidth / this.usual);
  }

  /** Draw `scale` times the usual size, the place at (x, y) of the screen staying where it is. */
  zoom(scale, x, y) {
    const box = this.view.getBoundingClientRect();
    const [atX, atY] = [x ?? box.left + box.width / 2, y ?? box.top + box.height / 2];
    const before = this.svg.getBoundingClientRect();
    const share = [(atX - before.left) / before.width, (atY - before.top) / before.height];
    const usual = this.usual;
    const least = this.least;
    this.scale = Math.max(least, Math.min(MOST, scale));
    this.whole = least < 1 && this.scale < least + 0.01;
    if (Math.abs(this.scale - 1) < 0.01) this.scale = 1;
    if (this.scale === 1) {
      this.view.style.height = "";
      this.svg.style.width = "";
      this.view.classList.remove("zoomed");
    } else {
      if (this.scale < 1) this.view.style.height = "";
      else if (!this.view.style.height) this.view.style.height = `${Math.max(box.height, 240)}px`;
      this.view.classList.add("zoomed");
      this.svg.style.width = `${usual * this.scale}px`;
    }
    const after = this.svg.getBoundingClientRect();
    this.view.scrollLeft += after.left + share[0] * after.width - atX;
    this.view.scrollTop += after.top + share[1] * after.height - atY;
    if (this.measuring?.ends.length) this.measuring.show();
    else if (!this.measuring) this.name.textContent = this.rest;
    readable(this.svg);
  }

  fit() {
    this.zoom(this.whole ? 1 : this.least); // from the whole of it back to what can be read
  }

  buttons() {
    const tools = this.figure.querySelector(".tools");
    tools.hidden = false;
    tools.addEventListener("click", (event) => {
      const what = event.target.closest("button")?.dataset.do;
      if (what === "in") this.zoom(this.scale * STEP);
      if (what === "out") this.zoom(this.scale / STEP);
      if (what === "fit") this.fit();
      if (what === "measure") this.measure(event.target.closest("button"));
    });
  }

  /** Begin measuring, or end it. */
  measure(button) {
    if (this.measuring) this.measuring.end();
    this.measuring = this.measuring ? null : new Measure(this.svg, (text) => { this.name.textContent = text; });
    button.setAttribute("aria-pressed", String(Boolean(this.measuring)));
    this.view.classList.toggle("measuring", Boolean(this.measuring));
    if (!this.measuring) this.name.textContent = this.rest;
  }

  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "+" || event.key === "=") this.zoom(this.scale * STEP);
    else if (event.key === "-") this.zoom(this.scale / STEP);
    else if (event.key === "0") this.zoom(1);
    else return;
    event.preventDefault();
  }

  /** The wheel scrolls the page, unless Ctrl is held (as a touch pad's pinch does) or the drawing has been clicked. */
  wheel() {
    this.view.addEventListener("wheel", (event) => {
      const wanted = event.ctrlKey || event.metaKey || document.activeElement === this.view;
      if (!wanted || !event.deltaY || (event.deltaY > 0 && this.scale <= this.least)) return;
      event.preventDefault();
      this.zoom(this.scale * Math.exp(-Math.max(-120, Math.min(120, event.deltaY)) / 300), event.clientX, event.clientY);
    }, { passive: false });
  }

  pinch() {
    let [apart, scale] = [0, 1];
    const spread = ([a, b]) => Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY);
    this.view.addEventListener("touchstart", (event) => {
      if (event.touches.length === 2) [apart, scale] = [spread(event.touches), this.scale];
    }, { passive: true });
    this.view.addEventListener("touchmove", (event) => {
      if (event.touches.length !== 2 || !apart) return;
      event.preventDefault();
      const [a, b] = event.touches;
      this.zoom(scale * spread(event.touches) / apart, (a.clientX + b.clientX) / 2, (a.clientY + b.clientY) / 2);
    }, { passive: false });
  }

  /** A mouse drags the drawing; a finger scrolls the box by itself. */
  drag() {
    let from = null;
    this.view.addEventListener("dragstart", (event) => event.preventDefault());
    this.view.addEventListener("pointerdown", (event) => {
      this.dragged = false;
      if (event.pointerType !== "mouse" || event.button !== 0) return;
      from = { x: event.clientX, y: event.clientY, left: this.view.scrollLeft, top: this.view.scrollTop };
    });
    addEventListener("pointermove", (event) => {
      if (!from) return;
      const [dx, dy] = [event.clientX - from.x, event.clientY - from.y];
      if (!this.dragged && Math.hypot(dx, dy) < DRAG_PX) return;
      this.dragged = true;
      this.view.classList.add("dragged");
      this.view.scrollLeft = from.left - dx;
      this.view.scrollTop = from.top - dy;
    });
    addEventListener("pointerup", () => {
      from = null;
      this.view.classList.remove("dragged");
    });
  }

  pick() {
    const mark = (link) => {
      const href = link?.getAttribute("href");
      for (const each of this.svg.querySelectorAll("a.pick.here")) each.classList.remove("here");
      if (href) {
        for (const each of this.svg.querySelectorAll("a.pick")) {
          if (each.getAttribute("href") === href) each.classList.add("here");
        }
      }
      if (!this.measuring) this.name.textContent = link?.getAttribute("aria-label") ?? this.rest;
    };
    this.view.addEventListener("pointermove", (event) => {
      if (event.pointerType === "mouse" && !event.buttons) mark(nearest(this.svg, event.clientX, event.clientY));
    });
    this.view.addEventListener("pointerleave", () => mark(null));
    // two taps where nothing is named: closer to that place, and from close by the whole again
    this.view.addEventListener("dblclick", (event) => {
      if (this.measuring || nearest(this.svg, event.clientX, event.clientY)) return;
      event.preventDefault();
      if (this.scale > 1.5) this.zoom(this.least);
      else this.zoom(3, event.clientX, event.clientY);
    });
    this.view.addEventListener("click", (event) => {
      if (this.dragged) {
        event.preventDefault();
        return;
      }
      if (!event.clientX && !event.clientY) return; // pressed by keyboard: the link itself
      if (this.measuring) {
        event.preventDefault();
        this.measuring.tap(event.clientX, event.clientY);
        return;
      }
      const link = nearest(this.svg, event.clientX, event.clientY);
      if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
      event.preventDefault();
      mark(link);
      location.assign(link.getAttribute("href"));
    }, true);
  }
}
