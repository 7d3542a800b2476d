// Parts on boards: one is dragged, turned or turned over, and held against the rules at once; a drop where every rule
// is kept stays; a drag from the picture of one board to that of another takes the part there. One question is under
// way at a time; of those that wait, the last one wins. While parts are being laid the page follows the best so far.
import { Board } from "./drawing.js";
import { readable } from "./lettering.js";
import { inWords } from "./words.js";

const DRAG_PX = 4;
const TYPED_MS = 300;
const LOOK_MS = 1000;
const EDGE_PX = 60; // so near the window's edge a drag scrolls the page
const WAYS = { ArrowUp: [0, 1], ArrowDown: [0, -1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] };
const MOVES = { ",": "left", ".": "right", e: "end", t: "face", n: "nearest" };

class Rack {
  constructor(main) {
    this.main = main;
    this.boards = new Map();
    this.q = null; // the part in hand, as it is asked for
    this.asked = null;
    this.busy = false;
    this.grab = null;
    this.took = false; // a part was taken by a pointer
    this.late = null; // dragged and let go before the first answer came
    main.addEventListener("submit", (event) => this.submit(event));
    main.addEventListener("change", (event) => this.typed(event, 0));
    main.addEventListener("input", (event) => this.typed(event, TYPED_MS));
    main.addEventListener("pointerdown", () => { this.took = false; }, true);
    main.addEventListener("click", (event) => this.click(event), true);
    this.begin();
  }

  /** Take up the figures of a page as it has come. */
  begin() {
    this.boards.clear();
    this.plain = new Map(); // drawings as they came, of boards on which a part has been tried
    for (const figure of this.main.querySelectorAll("[data-rack]")) {
      this.listen(figure);
      this.boards.set(figure.dataset.rack, new Board(figure));
    }
    const form = this.form;
    this.q = form ? this.fields(form) : null;
    this.seen = this.main.querySelector("input[name=seen]")?.value ?? ""; // the last act that this page knows of
    this.ring();
    clearTimeout(this.looking);
    if (this.main.querySelector("[data-running]")) this.looking = setTimeout(() => this.look(), LOOK_MS);
  }

  get form() {
    return this.main.querySelector("form.hand");
  }

  fields(form) {
    return Object.fromEntries(new FormData(form));
  }

  figure(board) {
    return [...this.main.querySelectorAll("[data-rack]")].find((each) => each.dataset.rack === board);
  }

  part(link) {
    return new URL(link.getAttribute("href"), location.href).searchParams.get("part");
  }

  links(part) {
    return [...this.main.querySelectorAll("[data-rack] a.pick")].filter((link) => this.part(link) === part);
  }

  listen(figure) {
    const view = figure.querySelector(".view");
    const first = { capture: true };
    view.addEventListener("pointerdown", (event) => this.down(event, figure), first);
    view.addEventListener("touchstart", (event) => { // a finger on a part moves the part, not the page
      if (event.touches.length === 1 && this.grab) event.preventDefault();
    }, { capture: true, passive: false });
    view.addEventListener("pointermove", (event) => this.move(event), first);
    for (const end of ["pointerup", "pointercancel"]) view.addEventListener(end, (event) => this.up(event), first);
    view.addEventListener("keydown", (event) => this.key(event), first);
  }

  /** The part under a finger: the one it lies on, or else the one whose edge is there. */
  under(svg, event) {
    const found = document.elementsFromPoint(event.clientX, event.clientY)
      .map((each) => each.closest?.("a.pick")).filter((link) => link && svg.contains(link));
    const point = this.point(svg, event);
    return found.find((link) => link.querySelector("path:not(.hit)")?.isPointInFill(point)) ?? found[0] ?? null;
  }

  point(svg, event) {
    return new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  }

  /** Where the pointer is on a board, from where the datum line begins: a drawing's own zero shifts as it grows. */
  inside(svg, event) {
    const [at, own] = [this.point(svg, event), this.origin(svg)];
    return [at.x - own[0], at.y - own[1]];
  }

  down(event, figure) {
    if (event.button !== 0 || !event.isPrimary || this.grab) return;
    if (figure.querySelector(".view").classList.contains("measuring")) return; // a tap measures, and moves no part
    const svg = figure.querySelector(".view svg");
    const link = this.under(svg, event);
    if (!link) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    this.took = true;
    const view = figure.querySelector(".view");
    view.focus({ preventScroll: true });
    view.setPointerCapture(event.pointerId);
    const part = this.part(link);
    const known = this.q?.part === part && this.q.board === figure.dataset.rack;
    const outline = link.querySelector("path:not(.hit)").cloneNode(true);
    this.grab = { id: event.pointerId, figure, svg, from: this.inside(svg, event), x: event.clientX, y: event.clientY,
      q: known ? { ...this.q } : { part, board: figure.dataset.rack }, outline };
    // where it lies, in mm: fields may be typed in feet
    this.grab.origin = this.origin(svg);
    this.grab.ready = known && this.q.first.endsWith("mm");
    if (!this.grab.ready) this.ask(this.grab.q);
  }

  move(event) {
    const grab = this.grab;
    if (!grab || event.pointerId !== grab.id) return;
    event.stopImmediatePropagation();
    if (!grab.far && Math.hypot(event.clientX - grab.x, event.clientY - grab.y) < DRAG_PX) return;
    grab.far = true;
    if (event.clientY < EDGE_PX) scrollBy({ top: event.clientY - EDGE_PX, behavior: "instant" });
    else if (event.clientY > innerHeight - EDGE_PX) scrollBy({ top: event.clientY - innerHeight + EDGE_PX, behavior: "instant" });
    const under = this.over(event);
    const figure = under ?? grab.over ?? grab.figure;
    grab.over = figure;
    grab.svg = figure.querySelector(".view svg");
    const [x, y] = this.inside(grab.svg, event);
    grab.by = [x - grab.from[0], y - grab.from[1]];
    this.ghost(grab);
    if (grab.ready && under) this.ask(this.dragged(grab)); // between the boards nothing is asked: a board's picture would grow to hold the part
  }

  /** What is asked of a part where it has been dragged to. */
  dragged(grab) {
    if (grab.over === grab.figure) return { ...grab.q, by_x: grab.by[0].toFixed(3), by_y: (-grab.by[1]).toFixed(3) };
    const first = parseFloat(grab.q.first) + grab.by[0];
    const lowest = parseFloat(grab.q.lowest) - grab.by[1];
    return { ...grab.q, board: grab.over.dataset.rack, first: `${first.toFixed(3)}mm`, lowest: `${lowest.toFixed(3)}mm` };
  }

  /** Where the datum line begins on a drawing. */
  origin(svg) {
    const { x, y } = svg.querySelector(".ly-datum-line").getBBox();
    return [x, y];
  }

  /** The picture of a board under the pointer. */
  over(event) {
    for (const each of document.elementsFromPoint(event.clientX, event.clientY)) {
      const found = each.closest?.("[data-rack]");
      if (found) return found;
    }
    return null;
  }

  up(event) {
    const grab = this.grab;
    if (!grab || event.pointerId !== grab.id) return;
    this.grab = null;
    for (const each of this.main.querySelectorAll("[data-rack] .ghost")) each.remove();
    if (this.boxLater) this.boxLater[0].setAttribute("viewBox", this.boxLater[1]);
    this.boxLater = null;
    if (this.formLater) this.panel(this.formLater);
    this.formLater = null;
    if (!grab.far || event.type === "pointercancel") return;
    this.dropped = true;
    if (!grab.ready) this.late = grab;
    else if (!this.busy) this.drop();
  }

  /** The outline under the finger, ahead of the answer. */
  ghost(grab) {
    grab.outline.setAttribute("class", "ghost");
    const [x, y] = this.origin(grab.svg);
    grab.outline.setAttribute("transform", `translate(${grab.by[0] + x - grab.origin[0]} ${grab.by[1] + y - grab.origin[1]})`);
    if (grab.outline.parentNode !== grab.svg) grab.svg.append(grab.outline);
  }

  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || !this.q) return;
    const figure = event.currentTarget.closest("[data-rack]");
    if (figure.dataset.rack !== this.q.board) return;
    const way = WAYS[event.key];
    const move = MOVES[event.key.toLowerCase()];
    if (way) {
      const step = +(event.shiftKey ? figure.dataset.large : figure.dataset.small);
      // what waits to be asked is moved on, so that no key is lost
      const from = this.asked ?? this.q;
      this.ask({ ...from, by_x: String(+(from.by_x ?? 0) + way[0] * step), by_y: String(+(from.by_y ?? 0) + way[1] * step) });
    } else if (move) this.ask({ ...this.q, move });
    else if (event.key === "Escape") this.ask({ part: this.q.part });
    else if (event.key === "Enter") this.keep();
    else return;
    event.preventDefault();
    event.stopImmediatePropagation();
  }

  click(event) {
    if (this.took && event.detail) { // the end of a touch or a drag that has been answered: it opens nothing besides
      this.took = false;
      event.preventDefault();
      event.stopImmediatePropagation();
      return;
    }
    if (event.ctrlKey || event.metaKey || event.shiftKey) return;
    const link = event.target.closest?.("[data-rack] a.pick, a[data-part], a[data-do=back], a[data-do=down]");
    if (!link || link.closest(".measuring")) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    if (link.dataset.do === "down") this.swap(fetch("/timber"));
    else if (link.dataset.do === "back") this.ask({ part: this.q.part });
    else if (link.dataset.part) this.ask({ part: link.dataset.part, ...(link.dataset.on ? { board: link.dataset.on } : {}) }, true);
  }

  typed(event, after) {
    const form = event.target.closest?.("form.hand");
    if (!form || (event.type === "change" && event.target.tagName !== "SELECT")) return;
    if (event.type === "input" && event.target.tagName === "SELECT") return;
    clearTimeout(this.later);
    const q = this.fields(form);
    if (event.target.name === "board") for (const name of ["first", "lowest"]) delete q[name];
    this.later = setTimeout(() => this.ask(q, event.target.name === "board", event.target.name), after);
  }

  submit(event) {
    const form = event.target;
    const button = event.submitter;
    if (form.matches("form.hand") && button?.formMethod !== "post") {
      event.preventDefault();
      this.ask({ ...this.q, ...(button?.name === "move" ? { move: button.value } : this.fields(form)) });
    } else if (form.matches("form.hand, form[data-swap]")) {
      event.preventDefault();
      if (button?.value === "put") this.keep();
      else this.post({ ...this.fields(form), [button.name]: button.value });
    }
  }

  ask(q, there = false, typing = "") {
    this.asked = { ...q };
    this.there = there || this.there;
    this.typing = typing;
    if (!this.busy) this.next();
  }

  async next() {
    this.busy = true;
    while (this.asked) {
      const q = this.asked;
      this.asked = null;
      const began = performance.now();
      try {
        const reply = await fetch(`/timber/try?${new URLSearchParams({ ...q, seen: this.seen })}`, { cache: "no-store" });
        if (reply.ok) this.show(await reply.json());
        else this.say(inWords("Boards or planks have changed meanwhile; open this page again."));
        performance.measure("try", { start: began, end: performance.now() });
      } catch {
        this.say(inWords("No answer came; is the program still running?"));
      }
    }
    this.busy = false;
    if (this.dropped && !this.grab) this.drop();
  }

  show(found) {
    const figure = this.figure(found.board);
    if (!figure) return;
    const before = this.q?.board;
    if (before !== undefined && before !== found.board) this.restore(before);
    this.q = { part: found.part, board: found.board, first: `${found.first_mm}mm`, lowest: `${found.lowest_mm}mm`,
      turned: found.fields.turned, over: found.fields.over, up: found.fields.up };
    this.clear = found.clear;
    const grab = this.grab ?? this.late; // it may have been dragged, and let go, before it was known where it lay
    this.late = null;
    if (grab && !grab.ready && grab.q.part === found.part) {
      grab.q = { ...this.q };
      grab.ready = true;
      if (grab.far) this.ask(this.dragged(grab));
    }
    const made = document.createElement("template");
    made.innerHTML = found.drawing;
    const [svg, drawn] = [figure.querySelector(".view svg"), made.content.firstElementChild];
    if (!this.plain.has(found.board)) this.plain.set(found.board, [svg.getAttribute("viewBox"), [...svg.childNodes].filter((each) => !each.classList?.contains("ghost"))]);
    const box = drawn.getAttribute("viewBox");
    const was = this.origin(svg);
    svg.replaceChildren(...drawn.childNodes);
    // under a finger nothing moves: the picture grows, and the form goes to the other board, when the part is let go
    if (this.grab) {
      this.boxLater = [svg, box];
      const [now, seen] = [this.origin(svg), svg.viewBox.baseVal];
      svg.setAttribute("viewBox", `${seen.x + now[0] - was[0]} ${seen.y + now[1] - was[1]} ${seen.width} ${seen.height}`);
    } else svg.setAttribute("viewBox", box);
    readable(svg);
    if (this.grab?.far) this.ghost(this.grab);
    const there = this.form?.closest("[data-hand]").dataset.hand;
    this.formLater = this.grab && there && there !== found.board ? found : null;
    if (!this.formLater) this.panel(found);
    this.ring();
    if (!this.grab && (this.there || (before && before !== found.board))) {
      this.there = false;
      figure.scrollIntoView({ block: "nearest" });
      figure.querySelector(".view").focus({ preventScroll: true });
    }
  }

  /** A board as the page brought it, once the part in hand is tried on another. */
  restore(board) {
    const plain = this.plain.get(board);
    const svg = this.figure(board)?.querySelector(".view svg");
    if (!plain || !svg) return;
    svg.setAttribute("viewBox", plain[0]);
    svg.replaceChildren(...plain[1]);
    this.plain.delete(board);
  }

  panel(found) {
    const made = document.createElement("template");
    made.innerHTML = found.panel;
    const fresh = made.content.querySelector("form");
    for (const place of this.main.querySelectorAll("[data-hand]")) {
      if (place.dataset.hand !== found.board) place.replaceChildren();
      else if (this.typing && place.contains(document.activeElement)) {
        // what is being typed stays as it is
        for (const one of fresh.elements) {
          const own = place.querySelector("form").elements[one.name];
          if (own && one.name && own.tagName !== "BUTTON" && own !== document.activeElement && "value" in own) own.value = one.value;
        }
        place.querySelector("[data-told]").replaceWith(fresh.querySelector("[data-told]"));
        place.querySelector("[data-keep]").replaceWith(fresh.querySelector("[data-keep]"));
      } else {
        const focus = place.contains(document.activeElement) ? document.activeElement : null;
        place.replaceChildren(fresh);
        if (focus) place.querySelector(`[name="${focus.name}"][value="${focus.value}"], [name="${focus.name}"]`)?.focus({ preventScroll: true });
      }
    }
  }

  ring() {
    for (const link of this.main.querySelectorAll("a.pick.held")) link.classList.remove("held");
    for (const link of this.q ? this.links(this.q.part) : []) link.classList.add("held");
  }

  drop() {
    this.dropped = false;
    if (this.clear) this.keep();
  }

  keep() {
    if (this.q) this.post({ ...this.q, do: "put" });
  }

  post(what) {
    const key = this.form?.elements.key.value;
    const sent = { ...what, seen: this.seen, ...(key ? { key } : {}) };
    this.swap(fetch("/timber", { method: "POST", body: new URLSearchParams(sent) }));
  }

  /** Put the answered page in the place of this one; what is enlarged stays so. */
  async swap(answer) {
    let text;
    try {
      text = await (await answer).text();
    } catch {
      this.say(inWords("No answer came; is the program still running?"));
      return;
    }
    const [at, focused] = [scrollY, document.activeElement?.closest("[data-rack]")?.dataset.rack];
    const kept = new Map([...this.boards].map(([name, board]) => [name, [board.scale, board.view.scrollLeft, board.view.scrollTop]]));
    const made = new DOMParser().parseFromString(text, "text/html").querySelector("main");
    this.main.replaceChildren(...made.childNodes);
    this.begin();
    for (const [name, board] of this.boards) {
      const [scale, left, top] = kept.get(name) ?? [];
      if (scale === undefined) continue;
      if (Math.abs(board.scale - scale) > 0.001) board.zoom(scale);
      board.view.scrollTo(left, top);
    }
    scrollTo({ top: at, behavior: "instant" });
    if (focused) this.figure(focused)?.querySelector(".view").focus({ preventScroll: true });
  }

  say(text) {
    const place = this.main.querySelector("[data-told]");
    if (place) place.textContent = text;
  }

  /** How far the search is, and the best so far. */
  look() {
    this.swap(fetch("/timber", { cache: "no-store" }));
  }
}

new Rack(document.getElementById("main"));
