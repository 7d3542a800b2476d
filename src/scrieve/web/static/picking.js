// Which of the lines and areas under a finger is meant: a line close by, else the area it lies in, else the nearest line.

const CLOSE = 10; // [px]
const kept = new WeakMap();

/** Points of a hit line, [[x, y], ...] in the drawing's own units. */
function points(path) {
  let found = kept.get(path);
  if (!found) {
    const numbers = (path.getAttribute("d").match(/-?[\d.]+/g) || []).map(Number);
    found = [];
    for (let i = 0; i + 1 < numbers.length; i += 2) found.push([numbers[i], numbers[i + 1]]);
    kept.set(path, found);
  }
  return found;
}

/** Distance from a point to a run of straight pieces. */
export function distance(at, run) {
  let least = Infinity;
  for (let i = 0; i < run.length; i += 1) {
    const [ax, ay] = run[i];
    const [bx, by] = run[Math.min(i + 1, run.length - 1)];
    const [dx, dy] = [bx - ax, by - ay];
    const square = dx * dx + dy * dy;
    const share = square ? Math.max(0, Math.min(1, ((at.x - ax) * dx + (at.y - ay) * dy) / square)) : 0;
    least = Math.min(least, Math.hypot(ax + share * dx - at.x, ay + share * dy - at.y));
  }
  return least;
}

/** Whether a point lies inside a ring (even-odd rule). */
function within(at, ring) {
  let inside = false;
  for (let i = 0, j = ring.length - 1; i < ring.length; j = i, i += 1) {
    const [[ax, ay], [bx, by]] = [ring[i], ring[j]];
    if (ay > at.y !== by > at.y && at.x < ax + ((at.y - ay) / (by - ay)) * (bx - ax)) inside = !inside;
  }
  return inside;
}

/** How far a link is from a point: an area that holds the point lies behind every line close by, but before others. */
function away(link, at, close) {
  const hit = link.querySelector("path.hit");
  if (!hit || link.querySelector("text")) return 0; // a letter's own box wins over a line that runs beside it
  const run = points(hit);
  if (!hit.getAttribute("d").endsWith("Z")) return distance(at, run);
  return within(at, run) ? close : close + distance(at, [...run, run[0]]);
}

/** The nearest link of a drawing to a place on the screen, or null where none lies under the finger. */
export function nearest(svg, clientX, clientY) {
  const under = new Set(
    document.elementsFromPoint(clientX, clientY).map((each) => each.closest?.("a.pick")).filter((a) => a && svg.contains(a)),
  );
  if (!under.size) return null;
  const screen = svg.getScreenCTM();
  const at = new DOMPoint(clientX, clientY).matrixTransform(screen.inverse());
  const close = CLOSE / Math.hypot(screen.a, screen.b);
  let best = null;
  let least = Infinity;
  for (const link of under) {
    const far = away(link, at, close);
    if (far < least) [best, least] = [link, far];
  }
  return best;
}
