// One picture in the round, drawn true (no perspective), so that views from port, ahead and above are the usual plans.
// State is told by hatching in the plane of the paper, or by tint; the member pointed at is found by drawing numbers.

const VERTEX = `#version 300 es
uniform mat3 turn; uniform vec3 centre; uniform vec3 scale;
in vec3 place; out vec3 at;
void main() {
  at = place;
  gl_Position = vec4(turn * (place - centre) * scale, 1.0);
}`;

const FRAGMENT = `#version 300 es
#define CUT
precision highp float;
uniform vec4 tint; uniform vec3 ink; uniform float fine; uniform int hatch; uniform int way; uniform vec3 cut; uniform vec3 light;
in vec3 at; out vec4 colour;
float lines(float along, float apart) { return step(mod(along, apart), 1.2); }
void main() {
#ifdef CUT
  if (at.x < cut.x || at.z > cut.z) discard;
#endif
  if (way == 1) { colour = tint; return; }
  vec3 square = normalize(cross(dFdx(at), dFdy(at)));
  float bright = 0.62 + 0.38 * abs(dot(square, light));
  vec3 body = tint.rgb * bright;
  vec2 p = gl_FragCoord.xy / fine;
  float drawn = 0.0;
  if ((hatch & 1) != 0) drawn = lines(p.x + p.y, 8.0);
  if ((hatch & 2) != 0) drawn = max(drawn, lines(p.x - p.y, 8.0));
  if ((hatch & 4) != 0) drawn = max(drawn, lines(p.y, 6.0));
  if ((hatch & 8) != 0) drawn = max(drawn, lines(p.x, 6.0));
  if ((hatch & 16) != 0) drawn = step(mod(p.x, 7.0), 1.6) * step(mod(p.y, 7.0), 1.6);
  colour = vec4(mix(body, ink, drawn * 0.7), 1.0);
}`;

/** How each state is hatched, as the tiles of the pages are (1 one way, 2 the other, 4 level, 8 upright, 16 dots), and
    tinted. */
const [TIMBER, SURFACE] = [[0.97, 0.95, 0.9], [0.93, 0.91, 0.85]];
const STATES = {
  "moulded surface": { hatch: 0, tint: SURFACE, paper: SURFACE },
  "not designed": { hatch: 0, tint: [0.55, 0.55, 0.55], paper: [0.35, 0.36, 0.38] },
  "lined off": { hatch: 16, tint: [0.93, 0.87, 0.72], paper: TIMBER },
  designed: { hatch: 1, tint: [0.72, 0.83, 0.9], paper: TIMBER },
  "on the jig": { hatch: 5, tint: [0.85, 0.75, 0.9], paper: TIMBER },
  glued: { hatch: 3, tint: [0.95, 0.8, 0.55], paper: TIMBER },
  released: { hatch: 4, tint: [0.75, 0.88, 0.6], paper: TIMBER },
  ripped: { hatch: 12, tint: [0.5, 0.74, 0.6], paper: TIMBER },
  fitted: { hatch: 0, tint: [0.36, 0.52, 0.4], paper: [0.62, 0.6, 0.55] },
};
const OTHER = { hatch: 0, tint: [0.93, 0.9, 0.82], paper: [0.93, 0.9, 0.82] };
const INK = [0.12, 0.14, 0.16];
const LEAD = [0.76, 0.25, 0.11];
const MEANT = [0.95, 0.68, 0.55];
const FAR = 1e9;
const TURNING = 0.5; // of the picture's fineness while it is turned, where no graphics card draws it
const REST_MS = 250; // after the last turn it is drawn finely again
const NUMBERED = [0, 0, 0];
const REACH = 6; // how far from the finger a member is still meant [px]
const UNIFORMS = ["turn", "centre", "scale", "tint", "ink", "fine", "hatch", "way", "cut", "light"];

/** Whether no graphics card draws: smoothed edges then cost two pictures in three. */
function bySoftware() {
  const gl = document.createElement("canvas").getContext("webgl2");
  const told = gl?.getExtension("WEBGL_debug_renderer_info");
  return Boolean(told) && /swiftshader|llvmpipe|software/i.test(gl.getParameter(told.UNMASKED_RENDERER_WEBGL));
}

export class Picture {
  static possible() {
    return Boolean(document.createElement("canvas").getContext("webgl2"));
  }

  constructor(canvas, scene) {
    Object.assign(this, { canvas, scene, chosen: null, coloured: false, cut: { x: null, z: null }, turned: [35, 25] });
    this.slow = bySoftware();
    // nothing shines through: by software that costs a quarter of an empty picture
    this.gl = canvas.getContext("webgl2", { antialias: !this.slow, alpha: false });
    this.begin();
    this.middle = scene.low.map((low, i) => (low + scene.high[i]) / 2);
    this.size = Math.hypot(...scene.low.map((low, i) => scene.high[i] - low));
    this.larger = 1;
    this.moved = [0, 0];
    this.extent = [this.size, this.size];
    new ResizeObserver(() => this.draw()).observe(canvas);
    canvas.addEventListener("webglcontextlost", (event) => event.preventDefault());
    canvas.addEventListener("webglcontextrestored", () => {
      this.begin();
      this.draw();
    });
    const themed = () => {
      this.ground = null;
      this.draw();
    };
    new MutationObserver(themed).observe(document.documentElement, { attributeFilter: ["data-theme"] });
    addEventListener("beforeprint", () => this.now([1, 1, 1]));
    addEventListener("afterprint", () => this.draw());
  }

  begin() {
    // without a cut no dot is thrown away, so that what lies behind is left out early
    [this.whole, this.cutting] = [this.compile(FRAGMENT.replace("#define CUT\n", "")), this.compile(FRAGMENT)];
    this.numbers = this.ordered = null;
    this.fill();
  }

  compile(fragment) {
    const gl = this.gl;
    const program = gl.createProgram();
    gl.bindAttribLocation(program, 0, "place");
    for (const [kind, text] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, fragment]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      gl.attachShader(program, shader);
    }
    gl.linkProgram(program);
    if (!gl.getProgramParameter(program, gl.LINK_STATUS) && !gl.isContextLost()) throw new Error(gl.getProgramInfoLog(program));
    return { program, ...Object.fromEntries(UNIFORMS.map((name) => [name, gl.getUniformLocation(program, name)])) };
  }

  fill() {
    const gl = this.gl;
    const corners = gl.createBuffer();
    gl.bindBuffer(gl.ARRAY_BUFFER, corners);
    gl.bufferData(gl.ARRAY_BUFFER, this.scene.points, gl.STATIC_DRAW);
    const shape = (data) => {
      const made = gl.createVertexArray();
      gl.bindVertexArray(made);
      gl.bindBuffer(gl.ARRAY_BUFFER, corners);
      gl.enableVertexAttribArray(0);
      gl.vertexAttribPointer(0, 3, gl.FLOAT, false, 0, 0);
      gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, gl.createBuffer());
      if (data) gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, data, gl.STATIC_DRAW);
      return made;
    };
    this.shapes = Object.fromEntries(["faces", "edges", "coarse"].map((name) => [name, shape(this.scene[name])]));
    this.alike = [shape(), shape()]; // triangles, lines: what looks alike put together
  }

  // -- looking

  /** Look from somewhere, everything in the picture. The size then stays as it is while the boat is turned. */
  look(round, down) {
    this.turned = [round, down];
    const { right, up } = this.axes;
    const { points } = this.scene;
    const box = [Infinity, -Infinity, Infinity, -Infinity];
    for (let i = 0; i < points.length; i += 3) {
      const [x, y, z] = [points[i] - this.middle[0], points[i + 1] - this.middle[1], points[i + 2] - this.middle[2]];
      const across = x * right[0] + y * right[1] + z * right[2];
      const high = x * up[0] + y * up[1] + z * up[2];
      box[0] = Math.min(box[0], across);
      box[1] = Math.max(box[1], across);
      box[2] = Math.min(box[2], high);
      box[3] = Math.max(box[3], high);
    }
    this.extent = [box[1] - box[0], box[3] - box[2]];
    this.moved = [-(box[0] + box[1]) / 2, -(box[2] + box[3]) / 2];
    this.larger = 1;
    this.draw();
  }

  turn(round, down) {
    this.coarsely();
    this.turned = [this.turned[0] + round, Math.max(-89.9, Math.min(89.9, this.turned[1] + down))];
    this.draw();
  }

  /** While it moves fewer dots do: a picture that follows the hand is worth more than a fine one. */
  coarsely() {
    if (!this.slow) return;
    clearTimeout(this.resting);
    this.fineness = TURNING;
    this.resting = setTimeout(() => {
      this.fineness = 1;
      this.draw();
    }, REST_MS);
  }

  zoom(by) {
    this.coarsely();
    this.larger = Math.max(0.3, Math.min(60, this.larger * by));
    this.draw();
  }

  shift(dx, dy) {
    this.coarsely();
    const k = this.perPixel;
    this.moved = [this.moved[0] + dx * k, this.moved[1] - dy * k];
    this.draw();
  }

  /** Right, up and towards the eye, as unit vectors: from port the bow is to the left. */
  get axes() {
    const [a, p] = this.turned.map((degrees) => (degrees * Math.PI) / 180);
    const level = [-Math.sin(a), -Math.cos(a), 0];
    const right = [Math.cos(a), -Math.sin(a), 0];
    const eye = [Math.cos(p) * level[0], Math.cos(p) * level[1], Math.sin(p)];
    const up = [-Math.sin(p) * level[0], -Math.sin(p) * level[1], Math.cos(p)];
    return { right, up, eye };
  }

  /** Millimetres of the boat to a pixel of the screen. */
  get perPixel() {
    const [across, high] = this.extent;
    const fits = Math.max(across / Math.max(1, this.canvas.clientWidth), high / Math.max(1, this.canvas.clientHeight));
    return (fits * 1.08) / this.larger;
  }

  // -- drawing

  draw() {
    if (this.asked) return;
    this.asked = requestAnimationFrame(() => {
      this.asked = 0;
      this.now();
    });
  }

  now(ground = null) {
    const { gl, canvas } = this;
    // without a graphics card edges are not smoothed: at rest twice the dots do that instead
    const dots = this.slow ? (this.fineness < 1 ? TURNING * Math.min(devicePixelRatio, 2) : 2) : Math.min(devicePixelRatio, 2);
    this.fine = Math.max(1, dots / Math.min(devicePixelRatio, 2));
    const [width, height] = [Math.round(canvas.clientWidth * dots), Math.round(canvas.clientHeight * dots)];
    if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    this.ground ??= (getComputedStyle(canvas.parentElement).backgroundColor.match(/[\d.]+/g) ?? [255, 255, 255]).slice(0, 3).map((one) => one / 255);
    const where = this.lookFrom(ground ?? this.ground);
    for (const [lines, groups] of this.together().entries()) {
      gl.bindVertexArray(this.alike[lines]);
      for (const { first, count, colour, hatch, hull } of groups) this.put(where, lines ? gl.LINES : gl.TRIANGLES, first, count, { colour, hatch, hull, plain: lines });
    }
  }

  /** How a body is drawn: what looks alike has the same of each. */
  style(body) {
    const state = STATES[body.state] ?? OTHER;
    const chosen = body === this.chosen;
    const [colour, hatch] = [chosen ? MEANT : this.coloured ? state.tint : state.paper, this.coloured ? 0 : state.hatch];
    return { colour, hatch, line: chosen || body.doubted ? LEAD : body.kind === "line" ? state.paper : INK, hull: body.kind === "hull" };
  }

  /** Triangles and lines that look alike, put together to be drawn at once: anew only when what shows has changed. */
  together() {
    const { gl, scene } = this;
    const moving = this.fineness < 1; // without a graphics card: fewer triangles, and edges only of what has no other
    const bodies = scene.bodies.filter((body) => !body.hidden);
    const shown = [moving, this.coloured, scene.bodies.indexOf(this.chosen), ...bodies.map((body) => body.key)].join("\n");
    if (this.ordered?.shown === shown) return this.ordered.groups;
    const groups = [[moving ? "coarse" : "faces", 3], ["edges", 2]].map(([name, each], lines) => {
      const found = new Map();
      for (const body of bodies) {
        const [first, count] = body[name];
        if (!count || (lines && moving && body.faces[1] && body !== this.chosen)) continue;
        const { colour, hatch, line, hull } = this.style(body);
        const how = lines ? { colour: line, hatch: 0, hull: false } : { colour, hatch, hull };
        const key = [...how.colour, how.hatch, how.hull].join();
        if (!found.has(key)) found.set(key, { ...how, parts: [], count: 0 });
        const group = found.get(key);
        group.parts.push(scene[name].subarray(first * each, (first + count) * each));
        group.count += count * each;
      }
      const all = new Uint32Array([...found.values()].reduce((sum, group) => sum + group.count, 0));
      let at = 0;
      // what stands before the surface first: what lies behind is then left out early
      const inOrder = [...found.values()].sort((one, other) => one.hull - other.hull);
      for (const group of inOrder) {
        group.first = at;
        for (const part of group.parts) {
          all.set(part, at);
          at += part.length;
        }
        delete group.parts;
      }
      gl.bindVertexArray(this.alike[lines]);
      gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, all, gl.DYNAMIC_DRAW);
      return inOrder;
    });
    this.ordered = { shown, groups };
    return groups;
  }

  /** Begin a picture on a ground: clear it and tell the program where it is looked from. */
  lookFrom(ground) {
    const { gl, canvas } = this;
    const where = this.cut.x === null && this.cut.z === null ? this.whole : this.cutting;
    const { right, up, eye } = this.axes;
    const k = this.perPixel;
    gl.viewport(0, 0, canvas.width, canvas.height);
    gl.clearColor(...ground, ground === NUMBERED ? 0 : 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    gl.enable(gl.POLYGON_OFFSET_FILL);
    gl.useProgram(where.program);
    gl.uniformMatrix3fv(where.turn, false, [0, 1, 2].flatMap((i) => [right[i], up[i], eye[i]]));
    const centre = this.middle.map((m, i) => m - this.moved[0] * right[i] - this.moved[1] * up[i]);
    gl.uniform3fv(where.centre, centre);
    gl.uniform3f(where.scale, 2 / (k * canvas.clientWidth), 2 / (k * canvas.clientHeight), -1 / (2 * this.size));
    gl.uniform3f(where.cut, this.cut.x ?? -FAR, 0, this.cut.z ?? FAR);
    gl.uniform3fv(where.light, eye.map((each, i) => each * 0.75 + up[i] * 0.55 - right[i] * 0.36));
    gl.uniform3fv(where.ink, INK);
    gl.uniform1f(where.fine, this.fine);
    return where;
  }

  /** Draw a run of triangles or lines. */
  put(where, mode, first, count, { colour, hatch, hull, plain }) {
    const { gl } = this;
    // of the bare surface only the far side, seen from within, so that it hides no frame; of bodies that are not cut
    // open only what faces the eye
    if (hull || where === this.whole) gl.enable(gl.CULL_FACE);
    else gl.disable(gl.CULL_FACE);
    gl.cullFace(hull ? gl.FRONT : gl.BACK);
    gl.polygonOffset(hull ? 3 : 1, hull ? 3 : 1);
    gl.uniform1i(where.way, plain ? 1 : 0);
    gl.uniform1i(where.hatch, hatch);
    gl.uniform4f(where.tint, ...colour, 1);
    gl.drawElements(mode, count, gl.UNSIGNED_INT, first * 4);
  }

  /** The body under a place of the screen, or nearest to it within reach of a finger; null where there is none. */
  at(clientX, clientY) {
    const { gl, canvas } = this;
    if (!canvas.width || !canvas.height) return null;
    this.numbers ??= { frame: gl.createFramebuffer(), picture: gl.createRenderbuffer(), depth: gl.createRenderbuffer() };
    const { frame, picture, depth } = this.numbers;
    gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
    for (const [buffer, kind, place] of [[picture, gl.RGBA8, gl.COLOR_ATTACHMENT0], [depth, gl.DEPTH_COMPONENT24, gl.DEPTH_ATTACHMENT]]) {
      gl.bindRenderbuffer(gl.RENDERBUFFER, buffer);
      gl.renderbufferStorage(gl.RENDERBUFFER, kind, canvas.width, canvas.height);
      gl.framebufferRenderbuffer(gl.FRAMEBUFFER, place, gl.RENDERBUFFER, buffer);
    }
    const box = canvas.getBoundingClientRect();
    const dots = canvas.width / box.width;
    const reach = Math.round(REACH * dots);
    const [x, y] = [Math.round((clientX - box.left) * dots), Math.round((box.bottom - clientY) * dots)];
    gl.enable(gl.SCISSOR_TEST);
    gl.scissor(x - reach, y - reach, 2 * reach + 1, 2 * reach + 1);
    const where = this.lookFrom(NUMBERED);
    for (const [name, mode, each] of [[this.slow ? "coarse" : "faces", gl.TRIANGLES, 3], ["edges", gl.LINES, 2]]) {
      gl.bindVertexArray(this.shapes[name]);
      for (const [index, body] of this.scene.bodies.entries()) {
        const [first, count] = body[name];
        if (body.hidden || !count) continue;
        const number = body.kind === "hull" ? 0 : index + 1;
        this.put(where, mode, first * each, count * each, { colour: [(number & 255) / 255, (number >> 8) / 255, 0], hatch: 0, hull: !number, plain: true });
      }
    }
    gl.disable(gl.SCISSOR_TEST);
    const wide = 2 * reach + 1;
    const seen = new Uint8Array(wide * wide * 4);
    gl.readPixels(x - reach, y - reach, wide, wide, gl.RGBA, gl.UNSIGNED_BYTE, seen);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    let [best, least] = [0, Infinity];
    for (let i = 0; i < wide * wide; i += 1) {
      const number = seen[4 * i] + 256 * seen[4 * i + 1];
      const far = Math.hypot((i % wide) - reach, Math.floor(i / wide) - reach);
      if (number && far < least) [best, least] = [number, far];
    }
    return best ? this.scene.bodies[best - 1] : null;
  }

  /** A sample of how a state is drawn, for the key. */
  swatch(canvas, name) {
    const state = STATES[name] ?? OTHER;
    const pen = canvas.getContext("2d");
    const css = ([r, g, b]) => `rgb(${r * 255} ${g * 255} ${b * 255})`;
    pen.fillStyle = css(this.coloured ? state.tint : state.paper);
    pen.fillRect(0, 0, canvas.width, canvas.height);
    if (this.coloured) return;
    pen.fillStyle = pen.strokeStyle = css(INK);
    const { width, height } = canvas;
    if (state.hatch & 16) for (let x = 3; x < width; x += 7) for (let y = 3; y < height; y += 7) pen.fillRect(x, y, 2, 2);
    const line = (...ends) => {
      pen.beginPath();
      pen.moveTo(ends[0], ends[1]);
      pen.lineTo(ends[2], ends[3]);
      pen.stroke();
    };
    if (state.hatch & 4) for (let y = 2; y < height; y += 6) line(0, y, width, y);
    if (state.hatch & 8) for (let x = 2; x < width; x += 6) line(x, 0, x, height);
    for (const way of [state.hatch & 1 ? 1 : 0, state.hatch & 2 ? -1 : 0].filter(Boolean)) {
      for (let x = -height; x < width + height; x += 8) line(x, way > 0 ? height : 0, x + height, way > 0 ? 0 : height);
    }
  }
}
