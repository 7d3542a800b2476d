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
precision highp float;
uniform vec4 tint; uniform vec3 ink; uniform int hatch; uniform int way; uniform vec3 cut; uniform vec3 light;
in vec3 at; out vec4 colour;
float lines(float along, float apart) { return step(mod(along, apart), 1.2); }
void main() {
  if (at.x < cut.x || at.z > cut.z) discard;
  if (way == 1) { colour = tint; return; }
  vec3 square = normalize(cross(dFdx(at), dFdy(at)));
  float bright = 0.62 + 0.38 * abs(dot(square, light));
  vec3 body = tint.rgb * bright;
  vec2 p = gl_FragCoord.xy;
  float drawn = 0.0;
  if (hatch == 1 || hatch == 2) drawn = lines(p.x + p.y, 8.0);
  if (hatch == 2) drawn = max(drawn, lines(p.x - p.y, 8.0));
  if (hatch == 3) drawn = step(mod(p.x, 7.0), 1.6) * step(mod(p.y, 7.0), 1.6);
  colour = vec4(mix(body, ink, drawn * 0.7), tint.a);
}`;

/** How each state is hatched (1 one way, 2 crossed, 3 dots, 0 none) and tinted. */
const STATES = {
  "moulded surface": { hatch: 0, tint: [0.93, 0.91, 0.85], paper: [0.93, 0.91, 0.85] },
  "not designed": { hatch: 0, tint: [0.55, 0.55, 0.55], paper: [0.35, 0.36, 0.38] },
  "lined off": { hatch: 3, tint: [0.93, 0.87, 0.72], paper: [0.97, 0.95, 0.9] },
  designed: { hatch: 1, tint: [0.72, 0.83, 0.9], paper: [0.97, 0.95, 0.9] },
  made: { hatch: 2, tint: [0.55, 0.78, 0.62], paper: [0.97, 0.95, 0.9] },
  fitted: { hatch: 0, tint: [0.36, 0.52, 0.4], paper: [0.62, 0.6, 0.55] },
};
const OTHER = { hatch: 0, tint: [0.93, 0.9, 0.82], paper: [0.93, 0.9, 0.82] };
const INK = [0.12, 0.14, 0.16];
const LEAD = [0.76, 0.25, 0.11];
const FAR = 1e9;
const TURNING = 0.5; // of the picture's fineness while it is turned, where no graphics card draws it
const REST_MS = 250; // after the last turn it is drawn finely again
const REACH = 6; // how far from the finger a member is still meant [px]

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
    this.gl = canvas.getContext("webgl2", { antialias: !this.slow, preserveDrawingBuffer: true });
    this.program = this.compile();
    this.fill();
    this.middle = scene.low.map((low, i) => (low + scene.high[i]) / 2);
    this.size = Math.hypot(...scene.low.map((low, i) => scene.high[i] - low));
    this.larger = 1;
    this.moved = [0, 0];
    this.extent = [this.size, this.size];
    new ResizeObserver(() => this.draw()).observe(canvas);
    canvas.addEventListener("webglcontextlost", (event) => event.preventDefault());
    canvas.addEventListener("webglcontextrestored", () => {
      this.program = this.compile();
      this.numbers = null;
      this.fill();
      this.draw();
    });
  }

  compile() {
    const gl = this.gl;
    const program = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      gl.attachShader(program, shader);
    }
    gl.linkProgram(program);
    if (!gl.getProgramParameter(program, gl.LINK_STATUS) && !gl.isContextLost()) throw new Error(gl.getProgramInfoLog(program));
    this.where = Object.fromEntries(
      ["turn", "centre", "scale", "tint", "ink", "hatch", "way", "cut", "light"].map((name) => [name, gl.getUniformLocation(program, name)]),
    );
    return program;
  }

  fill() {
    const gl = this.gl;
    const put = (target, data) => {
      const buffer = gl.createBuffer();
      gl.bindBuffer(target, buffer);
      gl.bufferData(target, data, gl.STATIC_DRAW);
      return buffer;
    };
    this.shapes = ["faces", "edges"].map((name) => {
      const shape = gl.createVertexArray();
      gl.bindVertexArray(shape);
      put(gl.ARRAY_BUFFER, this.scene.points);
      const at = gl.getAttribLocation(this.program, "place");
      gl.enableVertexAttribArray(at);
      gl.vertexAttribPointer(at, 3, gl.FLOAT, false, 0, 0);
      put(gl.ELEMENT_ARRAY_BUFFER, this.scene[name]);
      return shape;
    });
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

  now() {
    const { gl, canvas } = this;
    const dots = Math.min(devicePixelRatio, 2) * (this.fineness ?? 1);
    const [width, height] = [Math.round(canvas.clientWidth * dots), Math.round(canvas.clientHeight * dots)];
    if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    gl.clearColor(0, 0, 0, 0);
    this.paint((body) => {
      const state = STATES[body.state] ?? OTHER;
      const chosen = body === this.chosen;
      const tint = chosen ? [0.95, 0.68, 0.55] : this.coloured ? state.tint : state.paper;
      return { tint, hatch: this.coloured ? 0 : state.hatch, line: chosen || body.doubted ? LEAD : body.kind === "line" ? state.paper : INK };
    });
  }

  /** Draw every body that shows; `style` tells how, or gives numbers to be read back. */
  paint(style, numbered = false) {
    const { gl, where, canvas } = this;
    const { right, up, eye } = this.axes;
    const k = this.perPixel;
    gl.viewport(0, 0, canvas.width, canvas.height);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    gl.useProgram(this.program);
    gl.uniformMatrix3fv(where.turn, false, [0, 1, 2].flatMap((i) => [right[i], up[i], eye[i]]));
    const centre = this.middle.map((m, i) => m - this.moved[0] * right[i] - this.moved[1] * up[i]);
    gl.uniform3fv(where.centre, centre);
    gl.uniform3f(where.scale, 2 / (k * canvas.clientWidth), 2 / (k * canvas.clientHeight), -1 / (2 * this.size));
    gl.uniform3f(where.cut, this.cut.x ?? -FAR, 0, this.cut.z ?? FAR);
    const light = eye.map((each, i) => each * 0.75 + up[i] * 0.55 - right[i] * 0.36);
    gl.uniform3fv(where.light, light);
    gl.uniform3fv(where.ink, INK);
    const bodies = this.scene.bodies.filter((body) => !body.hidden);
    gl.enable(gl.POLYGON_OFFSET_FILL);
    gl.cullFace(gl.FRONT);
    for (const [shape, name, mode, each] of [[0, "faces", gl.TRIANGLES, 3], [1, "edges", gl.LINES, 2]]) {
      gl.bindVertexArray(this.shapes[shape]);
      let run = null; // neighbours that look alike are drawn at once
      const put = () => {
        if (!run) return;
        // of the bare surface only the far side, seen from within, so that it hides no frame
        if (run.hull) gl.enable(gl.CULL_FACE);
        else gl.disable(gl.CULL_FACE);
        gl.polygonOffset(run.hull ? 3 : 1, run.hull ? 3 : 1);
        gl.uniform1i(where.way, numbered || shape ? 1 : 0);
        gl.uniform1i(where.hatch, run.hatch);
        gl.uniform4f(where.tint, ...run.colour, 1);
        gl.drawElements(mode, run.count * each, gl.UNSIGNED_INT, run.first * each * 4);
      };
      for (const body of bodies) {
        const [first, count] = body[name];
        // moved without a graphics card, edges are left to what would not be seen without, and to what is meant
        if (!count || (shape && this.fineness < 1 && body.faces[1] && body !== this.chosen)) continue;
        const { tint, hatch, line } = style(body);
        const [colour, hull] = [shape && !numbered ? line : tint, body.kind === "hull"];
        if (run && run.colour === colour && run.hatch === hatch && run.hull === hull && run.first + run.count === first) run.count += count;
        else {
          put();
          run = { first, count, colour, hatch, hull };
        }
      }
      put();
    }
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
    gl.clearColor(0, 0, 0, 0);
    this.paint((body) => {
      const number = body.kind === "hull" ? 0 : this.scene.bodies.indexOf(body) + 1;
      return { tint: [(number & 255) / 255, (number >> 8) / 255, 0], hatch: 0 };
    }, true);
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
    if (state.hatch === 3) for (let x = 3; x < width; x += 7) for (let y = 3; y < height; y += 7) pen.fillRect(x, y, 2, 2);
    for (const way of state.hatch === 2 ? [1, -1] : state.hatch === 1 ? [1] : []) {
      for (let x = -height; x < width + height; x += 8) {
        pen.beginPath();
        pen.moveTo(x, way > 0 ? height : 0);
        pen.lineTo(x + height, way > 0 ? 0 : height);
        pen.stroke();
      }
    }
  }
}
