// The page that shows the boat in the round: hands, keys and lists on one side, the picture (picture.js) on the other.
import { Picture } from "./picture.js";
import { read } from "./bodies.js";
import { inWords } from "./words.js";

const LOOKS = { port: [0, 0], starboard: [180, 0], ahead: [90, 0], top: [0, 89.9], corner: [35, 25] };
const KEYS = { p: "port", s: "starboard", a: "ahead", t: "top", c: "corner" };
const GROUPS = {
  hull: inWords("surface"), line: inWords("moulded lines"), frame: inWords("frames"), plank: inWords("planks"),
  jig: inWords("bed and brackets"), packet: inWords("laminations"),
};
const STEP = 1.25;
const HOVER_MS = 80;

class Page {
  constructor(root, scene) {
    [this.root, this.scene] = [root, scene];
    this.canvas = root.querySelector("canvas");
    this.picture = new Picture(this.canvas, scene);
    this.hands();
    this.keys();
    this.groups();
    this.cuts();
    this.states();
    this.members();
    root.addEventListener("click", (event) => this.pressed(event.target.closest("button")));
    this.look("corner");
    for (const text of scene.missing ?? []) root.querySelector(".missing").append(item(text));
    root.querySelector(".waiting").hidden = true;
  }

  look(name) {
    this.picture.look(...LOOKS[name]);
  }

  pressed(button) {
    if (!button) return;
    const { look, do: what, member } = button.dataset;
    if (look) this.look(look);
    if (what === "in") this.picture.zoom(STEP);
    if (what === "out") this.picture.zoom(1 / STEP);
    if (what === "hide") this.hide((body) => body === this.chosen);
    if (what === "only") this.hide((body) => body.kind !== "hull" && body !== this.chosen);
    if (what === "all") this.hide(() => false, true);
    if (member !== undefined) this.choose(this.scene.bodies[+member]);
  }

  /** Hide what a rule names; `all`: show everything else again, the boxes ticked too. */
  hide(rule, all = false) {
    for (const body of this.scene.bodies) body.hidden = rule(body) || (!all && body.hidden);
    if (all) for (const box of this.root.querySelectorAll(".parts input")) box.checked = true;
    this.picture.draw();
  }

  choose(body) {
    this.chosen = body;
    this.picture.chosen = body;
    if (body) body.hidden = false;
    const panel = this.root.querySelector(".picked");
    panel.hidden = !body;
    if (body) {
      panel.querySelector("h2").textContent = body.name;
      panel.querySelector(".words").textContent = [body.state, body.words].filter(Boolean).join("; ");
      const link = panel.querySelector("a");
      link.hidden = !body.page;
      if (body.page) link.href = body.page;
    }
    for (const button of this.root.querySelectorAll(".members button")) {
      button.setAttribute("aria-pressed", String(this.scene.bodies[+button.dataset.member] === body));
    }
    this.picture.draw();
  }

  /** One finger or the mouse turns, two fingers or the right button shift and size; a tap picks. */
  hands() {
    const down = new Map();
    let [moved, apart, middle] = [0, 0, null];
    const spread = ([a, b]) => Math.hypot(a.x - b.x, a.y - b.y);
    const centre = ([a, b]) => ({ x: (a.x + b.x) / 2, y: (a.y + b.y) / 2 });
    this.canvas.addEventListener("pointerdown", (event) => {
      this.canvas.setPointerCapture(event.pointerId);
      down.set(event.pointerId, { x: event.clientX, y: event.clientY });
      if (down.size === 1) moved = 0;
      if (down.size === 2) [apart, middle, moved] = [spread([...down.values()]), centre([...down.values()]), 99];
    });
    this.canvas.addEventListener("pointermove", (event) => {
      const from = down.get(event.pointerId);
      if (!from) {
        if (event.pointerType === "mouse") this.hover(event.clientX, event.clientY);
        return;
      }
      const [dx, dy] = [event.clientX - from.x, event.clientY - from.y];
      moved += Math.hypot(dx, dy);
      down.set(event.pointerId, { x: event.clientX, y: event.clientY });
      if (down.size === 2) {
        const [now, here] = [spread([...down.values()]), centre([...down.values()])];
        this.picture.zoom(now / apart);
        this.picture.shift(here.x - middle.x, here.y - middle.y);
        [apart, middle] = [now, here];
      } else if (event.buttons & 2 || event.shiftKey) this.picture.shift(dx, dy);
      else if (moved > 4) this.picture.turn(dx * 0.4, dy * 0.4);
    });
    const up = (event) => {
      const tapped = down.size === 1 && moved <= 4 && event.type === "pointerup";
      down.delete(event.pointerId);
      if (tapped) this.choose(this.picture.at(event.clientX, event.clientY));
    };
    this.canvas.addEventListener("pointerup", up);
    this.canvas.addEventListener("pointercancel", up);
    this.canvas.addEventListener("contextmenu", (event) => event.preventDefault());
    this.canvas.addEventListener("wheel", (event) => {
      event.preventDefault();
      this.picture.zoom(Math.exp(-event.deltaY / 400));
    }, { passive: false });
    this.canvas.addEventListener("dblclick", () => this.chosen?.page && location.assign(this.chosen.page));
  }

  /** Name what the mouse is over, once it stays there: to find it costs a picture. */
  hover(x, y) {
    clearTimeout(this.hovering);
    this.hovering = setTimeout(() => {
      this.root.querySelector(".near").textContent = this.picture.at(x, y)?.name ?? "";
    }, HOVER_MS);
  }

  keys() {
    const turns = { ArrowLeft: [-6, 0], ArrowRight: [6, 0], ArrowUp: [0, -6], ArrowDown: [0, 6] };
    this.canvas.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const turn = turns[event.key];
      if (turn && event.shiftKey) this.picture.shift(-turn[0] * 4, -turn[1] * 4);
      else if (turn) this.picture.turn(...turn);
      else if (event.key === "+" || event.key === "=") this.picture.zoom(STEP);
      else if (event.key === "-") this.picture.zoom(1 / STEP);
      else if (KEYS[event.key]) this.look(KEYS[event.key]);
      else return;
      event.preventDefault();
    });
  }

  /** A box for each kind of member there is, and for each side. */
  groups() {
    const place = this.root.querySelector(".parts div");
    const box = (text, rule) => {
      const label = document.createElement("label");
      const input = Object.assign(document.createElement("input"), { type: "checkbox", checked: true });
      label.append(input, text);
      input.addEventListener("change", () => {
        for (const body of this.scene.bodies) if (rule(body)) body.hidden = !input.checked;
        this.picture.draw();
      });
      place.append(label);
    };
    const kinds = new Set(this.scene.bodies.map((body) => body.kind));
    for (const [kind, text] of Object.entries(GROUPS)) if (kinds.has(kind)) box(text, (body) => body.kind === kind);
    const hands = new Set(this.scene.bodies.map((body) => body.hand));
    for (const [hand, text] of [["P", "port"], ["S", "starboard"]]) if (hands.has(hand)) box(text, (body) => body.hand === hand);
  }

  cuts() {
    for (const input of this.root.querySelectorAll("[data-cut]")) {
      const axis = { x: 0, z: 2 }[input.dataset.cut];
      const [low, high] = [this.scene.low[axis], this.scene.high[axis]];
      const told = this.root.querySelector(`[data-for=${input.dataset.cut}]`);
      const cut = () => {
        const share = input.value / 1000;
        const off = axis === 0 ? share === 0 : share === 1;
        const at = low + share * (high - low);
        this.picture.cut[input.dataset.cut] = off ? null : at;
        told.textContent = off ? inWords("nothing") : `${Math.round(at)} mm`;
        this.picture.draw();
      };
      input.addEventListener("input", cut);
      cut();
    }
  }

  states() {
    const legend = this.root.querySelector(".legend");
    if (!legend) return;
    for (const input of this.root.querySelectorAll("[name=by]")) {
      input.addEventListener("change", () => {
        this.picture.coloured = input.value === "colour";
        this.picture.draw();
        for (const each of legend.querySelectorAll("canvas")) this.picture.swatch(each, each.dataset.state);
      });
    }
    for (const state of new Set(this.scene.bodies.filter((body) => body.kind !== "hull").map((body) => body.state))) {
      const canvas = Object.assign(document.createElement("canvas"), { width: 40, height: 20 });
      canvas.dataset.state = state;
      this.picture.swatch(canvas, state);
      const line = item(state);
      line.prepend(canvas);
      legend.append(line);
    }
  }

  members() {
    const list = this.root.querySelector(".members");
    for (const [number, body] of this.scene.bodies.entries()) {
      if (body.kind === "hull") continue;
      const button = Object.assign(document.createElement("button"), { type: "button", textContent: body.name });
      button.dataset.member = number;
      button.setAttribute("aria-pressed", "false");
      const line = document.createElement("li");
      line.append(button);
      list.append(line);
    }
  }
}

function item(text) {
  return Object.assign(document.createElement("li"), { textContent: text });
}

async function start(root) {
  if (!Picture.possible()) {
    const asked = new URL(location.href);
    asked.searchParams.set("flat", "yes");
    location.replace(asked);
    return;
  }
  root.hidden = false;
  try {
    const answer = await fetch(root.dataset.bodies);
    if (!answer.ok) throw new Error((await answer.json()).error ?? answer.statusText);
    root.page = new Page(root, read(await answer.arrayBuffer()));
    root.dataset.ready = "yes";
  } catch (error) {
    root.querySelector(".waiting").textContent = inWords("The picture could not be drawn: {1}", error.message);
  }
}

for (const root of document.querySelectorAll(".round")) start(root);
