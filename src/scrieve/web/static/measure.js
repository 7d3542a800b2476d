// Measuring on a drawing: two places are tapped, or moved to with the arrow keys, and how far apart they lie is told.
// A drawing is in millimetres of the boat; one drawn larger across or up says how many times in data-times.
import { say } from "./lengths.js";
import { distance } from "./picking.js";
import { inWords } from "./words.js";

const NEAR_PX = 10; // a line within this of the finger is meant
const SVG = "http://www.w3.org/2000/svg";

export class Measure {
  constructor(svg, tell) {
    [this.svg, this.tell, this.ends] = [svg, tell, []];
    this.times = (svg.dataset.times ?? "1 1").split(" ").map(Number);
    this.group = svg.appendChild(document.createElementNS(SVG, "g"));
    this.group.setAttribute("class", "measure");
    tell(inWords("tap two places"));
  }

  end() {
    this.group.remove();
  }

  /** Take a place of the screen; a third starts anew. */
  tap(clientX, clientY) {
    const matrix = this.svg.getScreenCTM();
    const at = new DOMPoint(clientX, clientY).matrixTransform(matrix.inverse());
    if (this.ends.length === 2) this.ends = [];
    this.ends.push(this.near({ x: at.x, y: at.y }, NEAR_PX / matrix.a));
    this.show();
  }

  /** The nearest place on a line of the drawing within reach, else the place itself. */
  near(at, reach) {
    let [best, least] = [at, reach];
    for (const path of this.svg.querySelectorAll("path:not(.hit):not(.measure path)")) {
      const box = path.getBBox();
      if (at.x < box.x - reach || at.x > box.x + box.width + reach || at.y < box.y - reach || at.y > box.y + box.height + reach) continue;
      for (const piece of pieces(path)) {
        const far = distance(at, piece);
        if (far < least) [best, least] = [foot(at, piece), far];
      }
    }
    return best;
  }

  /** How far apart the two places lie, along each axis and straight [mm]. */
  get apart() {
    const [a, b] = this.ends;
    const [across, up] = [(b.x - a.x) / this.times[0], (a.y - b.y) / this.times[1]];
    return { across, up, straight: Math.hypot(across, up) };
  }

  show() {
    const k = 1 / this.svg.getScreenCTM().a;
    const cross = ({ x, y }) => `M${x - 8 * k} ${y}h${16 * k}M${x} ${y - 8 * k}v${16 * k}`;
    const path = document.createElementNS(SVG, "path");
    const [a, b] = this.ends;
    path.setAttribute("d", this.ends.map(cross).join("") + (b ? `M${a.x} ${a.y}L${b.x} ${b.y}` : ""));
    path.setAttribute("vector-effect", "non-scaling-stroke");
    this.group.replaceChildren(path);
    if (!b) {
      this.tell(inWords("tap the second place"));
      return;
    }
    const { across, up, straight } = this.apart;
    this.tell(inWords("{1} ({2} across, {3} up)", say(straight), say(Math.abs(across)), say(Math.abs(up))));
  }
}

/** The straight pieces of a path, [[ax, ay], [bx, by]] each: it may hold several lines, and closed ones. */
function* pieces(path) {
  for (const run of path.getAttribute("d").split("M")) {
    const numbers = (run.match(/-?[\d.]+/g) || []).map(Number);
    if (run.endsWith("Z")) numbers.push(numbers[0], numbers[1]);
    for (let i = 0; i + 3 < numbers.length; i += 2) yield [[numbers[i], numbers[i + 1]], [numbers[i + 2], numbers[i + 3]]];
  }
}

function foot(at, [[ax, ay], [bx, by]]) {
  const [dx, dy] = [bx - ax, by - ay];
  const square = dx * dx + dy * dy;
  const share = square ? Math.max(0, Math.min(1, ((at.x - ax) * dx + (at.y - ay) * dy) / square)) : 0;
  return { x: ax + share * dx, y: ay + share * dy };
}
