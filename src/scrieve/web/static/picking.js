// Which of the lines under a finger is meant: the nearest, not the one drawn last.

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

/** The nearest link of a drawing to a place on the screen, or null where none lies under the finger. */
export function nearest(svg, clientX, clientY) {
  const under = new Set(
    document.elementsFromPoint(clientX, clientY).map((each) => each.closest?.("a.pick")).filter((a) => a && svg.contains(a)),
  );
  if (!under.size) return null;
  const at = new DOMPoint(clientX, clientY).matrixTransform(svg.getScreenCTM().inverse());
  let best = null;
  let least = Infinity;
  for (const link of under) {
    // a letter's own box wins over a line that runs beside it
    const hit = link.querySelector("path.hit");
    const far = hit && !link.querySelector("text") ? distance(at, points(hit)) : 0;
    if (far < least) [best, least] = [link, far];
  }
  return best;
}
