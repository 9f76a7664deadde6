// A scene as pixels. One WebGL context for the whole page draws floor and model; its picture is laid into each scene's own
// canvas, and the marks (lines, glyphs, words) are drawn over it, as rigkit/view/picture.py does.

const LOOK = globalThis.rigkitLook;
const HEADER = "precision highp float;\n";
const MODEL_VERTEX = `
attribute vec3 place, normal; attribute vec4 slots, shares;
uniform sampler2D bones; uniform float count; uniform mat4 view; uniform vec3 low; uniform float stride;
varying vec3 vNormal_, vWorld, vTint; varying float vHeight;
vec4 texel(float slot, float row) { return texture2D(bones, vec2((row + 0.5) / 4.0, (slot + 0.5) / count)); }
void main() {
  vec4 at = vec4(low + place * stride, 1.0);
  vec3 p = vec3(0.0), n = vec3(0.0);
  for (int k = 0; k < 4; k++) {
    float share = shares[k];
    if (share > 0.0) {
      vec4 x = texel(slots[k], 0.0), y = texel(slots[k], 1.0), z = texel(slots[k], 2.0);
      p += share * vec3(dot(x, at), dot(y, at), dot(z, at));
      n += share * vec3(dot(x.xyz, normal), dot(y.xyz, normal), dot(z.xyz, normal));
    }
  }
  vNormal_ = n; vTint = texel(slots[0], 3.0).rgb; vHeight = p.y; vWorld = p;
  gl_Position = view * vec4(p, 1.0);
}`;
// The same, coloured by how much a corner hangs on one joint: its slots have a one behind their colour.
const WEIGHED_VERTEX = MODEL_VERTEX.replace("uniform mat4 view;", "uniform mat4 view; uniform vec3 ramp[33];").replace("vTint = texel(slots[0], 3.0).rgb;", `
  float weight = 0.0;
  for (int k = 0; k < 4; k++) weight += shares[k] * texel(slots[k], 3.0).a;
  float along = clamp(weight, 0.0, 1.0) * 32.0;
  int first = int(min(floor(along), 31.0));
  vTint = mix(ramp[first], ramp[first + 1], along - float(first));`);
const FLOOR_VERTEX = `
attribute vec3 place; attribute vec3 tint; uniform mat4 view; varying vec3 vTint; varying vec3 vAt;
void main() { vTint = tint; vAt = place; gl_Position = view * vec4(place, 1.0); }`;
const GROUND_FRAGMENT = `
varying vec3 vTint, vAt; uniform sampler2D contact; uniform float reach;
void main() {
  float pool = pow(clamp(1.0 - length(vAt.xz) / reach, 0.0, 1.0), 1.4);
  float shade = texture2D(contact, vAt.xz / (2.0 * reach) + 0.5).r;
  gl_FragColor = vec4(vec3(0.155, 0.165, 0.18) * (1.0 - shade), max(pool, shade) * 0.9);
}`;
const LINE_FRAGMENT = `
varying vec3 vTint, vAt;
void main() { gl_FragColor = vec4(vTint, 0.9); }`;

const bytesOf = text => Uint8Array.from(atob(text), c => c.charCodeAt(0));
const hexRgb = colour => [1, 3, 5].map(i => parseInt(colour.slice(i, i + 2), 16) / 255);
const mixed = (colour, other, share) => "rgb(" + hexRgb(colour).map((c, i) => Math.round(255 * ((1 - share) * c + share * hexRgb(other)[i]))).join() + ")";

let painter = null;

// The page's one painter; null where there is no WebGL.
function thePainter() {
  if (painter === null) {
    try { painter = new Painter(); } catch (error) { painter = false; console.warn("no 3D here:", error.message); }
  }
  return painter || null;
}

class Painter {
  constructor() {
    this.canvas = document.createElement("canvas");
    const gl = this.gl = this.canvas.getContext("webgl2", {antialias: true, alpha: true, premultipliedAlpha: true});
    if (!gl) throw new Error("the browser has no WebGL 2");
    this.canvas.addEventListener("webglcontextlost", event => { event.preventDefault(); this.lost = true; });
    this.models = new Map();
    this.programs = {
      lit: this._program(MODEL_VERTEX, LOOK.shaders.lit), glass: this._program(MODEL_VERTEX, LOOK.shaders.glass), flat: this._program(WEIGHED_VERTEX, LOOK.shaders.flat),
      ground: this._program(FLOOR_VERTEX, GROUND_FRAGMENT), line: this._program(FLOOR_VERTEX, LINE_FRAGMENT)};
    const r = LOOK.floor.reach;
    this.ground = this._floor([-r, 0, -r, r, 0, -r, -r, 0, r, r, 0, r], null);
    this.grid = this._floor(LOOK.floor.grid, LOOK.floor.gridColours);
    this.axes = this._floor(LOOK.floor.axes, LOOK.floor.axesColours);
    this.fineAxes = this._floor(LOOK.floor.fineAxes, LOOK.floor.fineAxesColours);
    this.bones = this._texture(gl.NEAREST);
    this.contact = this._texture(gl.LINEAR);
    this.shades = new Map();
  }

  _program(vertex, fragment) {
    const gl = this.gl, program = gl.createProgram();
    for (const [kind, source] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, "uniform vec3 cameraPosition;\n" + fragment]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, HEADER + source);
      gl.compileShader(shader);
      if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader));
      gl.attachShader(program, shader);
    }
    gl.linkProgram(program);
    if (!gl.getProgramParameter(program, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(program));
    return program;
  }

  _texture(filter) {
    const gl = this.gl, made = gl.createTexture();
    gl.bindTexture(gl.TEXTURE_2D, made);
    for (const [name, value] of [[gl.TEXTURE_MIN_FILTER, filter], [gl.TEXTURE_MAG_FILTER, filter], [gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE], [gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE]])
      gl.texParameteri(gl.TEXTURE_2D, name, value);
    return made;
  }

  _attribute(program, name, data, width, kind, normalized) {
    const gl = this.gl, at = gl.getAttribLocation(program, name);
    if (at < 0) return;
    gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
    gl.bufferData(gl.ARRAY_BUFFER, data, gl.STATIC_DRAW);
    gl.enableVertexAttribArray(at);
    gl.vertexAttribPointer(at, width, kind, normalized, 0, 0);
  }

  _floor(places, colours) {
    const gl = this.gl, array = gl.createVertexArray(), program = colours ? this.programs.line : this.programs.ground;
    gl.bindVertexArray(array);
    this._attribute(program, "place", new Float32Array(places), 3, gl.FLOAT, false);
    if (colours) this._attribute(program, "tint", new Float32Array(colours), 3, gl.FLOAT, false);
    return {array, count: places.length / 3};
  }

  // Unpack a model once; every scene of the page draws from it.
  async model(name) {
    if (name === null) return null;
    if (!this.models.has(name)) this.models.set(name, this._unpacked(globalThis.rigkitModels[name]));
    return this.models.get(name);
  }

  async _unpacked(told) {
    const stream = new Blob([bytesOf(told.data)]).stream().pipeThrough(new DecompressionStream("deflate"));
    const data = await new Response(stream).arrayBuffer(), v = told.corners, t = told.triangles;
    let at = 0;
    const next = (kind, count) => { const made = new kind(data, at, count); at += made.byteLength; return made; };
    const triangles = next(Uint32Array, 3 * t), points = next(Uint16Array, 3 * v), slots = next(Uint16Array, 4 * v);
    const shares = next(Uint8Array, 4 * v), normals = next(Int8Array, 3 * v);
    const gl = this.gl, arrays = {};
    for (const kind of ["lit", "glass", "flat"]) {
      const program = this.programs[kind];
      gl.bindVertexArray(arrays[kind] = gl.createVertexArray());
      this._attribute(program, "place", points, 3, gl.UNSIGNED_SHORT, false);
      this._attribute(program, "normal", normals, 3, gl.BYTE, true);
      this._attribute(program, "slots", slots, 4, gl.UNSIGNED_SHORT, false);
      this._attribute(program, "shares", shares, 4, gl.UNSIGNED_BYTE, true);
      gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, gl.createBuffer());
      gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, triangles, gl.STATIC_DRAW);
    }
    return {arrays, count: 3 * t, low: told.low, step: told.step, colours: told.colours};
  }

  // Draw floor and model; the picture is in this.canvas until the next call.
  // scene: {eye, size: [width, height] in CSS pixels, model, slots: Float32Array of twelve numbers a slot, tint: slots to warn of, glass, contact}.
  paint(scene, width, height) {
    const gl = this.gl, view = matrixOf(scene.eye, width / height);
    if (this.canvas.width !== width || this.canvas.height !== height) Object.assign(this.canvas, {width, height});
    gl.viewport(0, 0, width, height);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.BLEND);
    gl.blendFuncSeparate(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA, gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
    gl.disable(gl.DEPTH_TEST);
    this._useFloor(this.programs.ground, view, scene.contact);
    gl.bindVertexArray(this.ground.array);
    gl.drawArrays(gl.TRIANGLE_STRIP, 0, 4);
    this._useFloor(this.programs.line, view, null);
    gl.bindVertexArray(this.grid.array);
    gl.drawArrays(gl.LINES, 0, this.grid.count);
    const thick = scene.eye.height / scene.size[1] * 2 >= LOOK.floor.thick, axes = thick ? this.axes : this.fineAxes;
    gl.bindVertexArray(axes.array);
    gl.drawArrays(thick ? gl.TRIANGLES : gl.LINES, 0, axes.count);
    if (scene.model) this._paintModel(scene, view);
  }

  _useFloor(program, view, contact) {
    const gl = this.gl;
    gl.useProgram(program);
    gl.uniformMatrix4fv(gl.getUniformLocation(program, "view"), false, view);
    if (program !== this.programs.ground) return;
    gl.uniform1f(gl.getUniformLocation(program, "reach"), LOOK.floor.reach);
    gl.bindTexture(gl.TEXTURE_2D, this.contact);
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1);
    if (!this.shades.has(contact)) this.shades.set(contact, contact ? bytesOf(contact) : new Uint8Array(64 * 64));
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.R8, 64, 64, 0, gl.RED, gl.UNSIGNED_BYTE, this.shades.get(contact));
  }

  _paintModel({eye, model, slots, tint, glass, weighed}, view) {
    const gl = this.gl, kind = glass ? "glass" : weighed ? "flat" : "lit", program = this.programs[kind], count = model.colours.length, texels = new Float32Array(16 * count);
    const warn = hexRgb(LOOK.palette.vermilion);
    model.colours.forEach((colour, slot) => {
      texels.set(slots.subarray(12 * slot, 12 * slot + 12), 16 * slot);
      texels.set(tint.has(slot) ? colour.map((c, k) => 0.3 * c + 0.7 * warn[k]) : colour, 16 * slot + 12);
      texels[16 * slot + 15] = weighed?.has(slot) ? 1 : 0;
    });
    gl.useProgram(program);
    const place = name => gl.getUniformLocation(program, name);
    gl.uniformMatrix4fv(place("view"), false, view);
    gl.uniform3fv(place("low"), model.low);
    gl.uniform1f(place("stride"), model.step);
    gl.uniform1f(place("count"), count);
    gl.uniform3fv(place("cameraPosition"), eye.position);
    if (kind === "flat") gl.uniform3fv(place("ramp"), LOOK.ramp);
    gl.bindTexture(gl.TEXTURE_2D, this.bones);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA32F, 4, count, 0, gl.RGBA, gl.FLOAT, texels);
    gl.enable(gl.DEPTH_TEST);
    gl.depthMask(!glass);
    gl.bindVertexArray(model.arrays[kind]);
    gl.drawElements(gl.TRIANGLES, model.count, gl.UNSIGNED_INT, 0);
    gl.depthMask(true);
  }
}

// From the world to the clip space of WebGL, column by column: the same picture as `projector` gives.
function matrixOf(eye, aspect) {
  const {right, up, back} = axesOf(eye), distance = size(sub(eye.position, eye.target));
  const near = eye.parallel ? 0.01 : 0.02, far = 100, half = eye.height / 2;
  const rows = [right, up, times(-1, back)].map(axis => [...axis, -dot(axis, eye.position)]);  // right, up, depth
  const flat = eye.parallel ? 1 : distance, depth = rows[2], one = [0, 0, 0, 1], w = eye.parallel ? one : depth;
  const [a, b] = eye.parallel ? [2 / (far - near), -(far + near) / (far - near)] : [(far + near) / (far - near), -2 * far * near / (far - near)];
  const clip = [rows[0].map(x => x * flat / half / aspect), rows[1].map(x => x * flat / half), depth.map((x, i) => a * x + b * one[i]), w];
  return new Float32Array([0, 1, 2, 3].flatMap(c => clip.map(row => row[c])));
}

// ---- marks ---------------------------------------------------------------------------------------------------------------

// Draw layers of marks over a picture; `seen` is a projector, in the picture's pixels; words are `larger` times their size.
function drawMarks(context, layers, seen, larger) {
  for (const layer of layers) for (const sheet of layer.sheets) drawSheet(context, sheet, seen);
  for (const layer of layers) for (const group of layer.strokes) drawStrokes(context, group, seen);
  for (const layer of layers) for (const [shape, colour, across, points] of layer.glyphs)
    for (let i = 0; i < points.length; i += 3) {
      const [x, y, depth] = seen(points.slice(i, i + 3));
      if (depth > 0) drawGlyph(context, shape, colour, across, x, y);
    }
  for (const layer of layers) for (const word of layer.words) drawWord(context, word, seen, larger);
}

function drawSheet(context, [vertices, triangles, colour, opacity], seen) {
  context.fillStyle = colour;
  context.globalAlpha = opacity;
  context.beginPath();
  for (let i = 0; i < triangles.length; i += 3) {
    const corners = [0, 1, 2].map(k => seen(vertices.slice(3 * triangles[i + k], 3 * triangles[i + k] + 3)));
    if (corners.some(c => c[2] <= 0)) continue;
    corners.forEach(([x, y], k) => k ? context.lineTo(x, y) : context.moveTo(x, y));
    context.closePath();
  }
  context.fill();
  context.globalAlpha = 1;
}

function drawStrokes(context, [colour, wide, narrow, lines], seen) {
  context.strokeStyle = context.fillStyle = colour;
  context.lineWidth = wide;
  context.lineCap = context.lineJoin = "round";
  context.beginPath();
  for (const line of lines) {
    let open = false;
    const points = [];
    for (let i = 0; i < line.length; i += 3) points.push(seen(line.slice(i, i + 3)));
    if (wide !== narrow) { taper(context, points[0], points[1], wide / 2, narrow / 2); continue; }
    for (const [x, y, depth] of points) {
      if (depth > 0) open ? context.lineTo(x, y) : context.moveTo(x, y);
      open = depth > 0;
    }
  }
  wide === narrow ? context.stroke() : context.fill();
}

function taper(context, [x, y, depth], [u, v, other], wide, narrow) {
  const long = Math.hypot(u - x, v - y);
  if (depth <= 0 || other <= 0 || long < 1e-6) return;
  const a = -(v - y) / long, b = (u - x) / long;
  context.moveTo(x + a * wide, y + b * wide);
  context.lineTo(u + a * narrow, v + b * narrow);
  context.lineTo(u - a * narrow, v - b * narrow);
  context.lineTo(x - a * wide, y - b * wide);
  context.closePath();
}

function drawGlyph(context, shape, colour, across, x, y) {
  const r = across / 2, polygon = points => { context.moveTo(...points[0]); points.slice(1).forEach(p => context.lineTo(...p)); context.closePath(); };
  context.beginPath();
  context.fillStyle = context.strokeStyle = colour;
  if (shape === "square") polygon([[x - .88 * r, y - .88 * r], [x + .88 * r, y - .88 * r], [x + .88 * r, y + .88 * r], [x - .88 * r, y + .88 * r]]);
  else if (shape === "diamond") polygon([[x, y - 1.2 * r], [x + 1.2 * r, y], [x, y + 1.2 * r], [x - 1.2 * r, y]]);
  else if (shape === "triangle") polygon([[x, y - 1.1 * r], [x + 0.95 * r, y + 0.55 * r], [x - 0.95 * r, y + 0.55 * r]]);
  else if (shape === "cross") { context.moveTo(x - .8 * r, y - .8 * r); context.lineTo(x + .8 * r, y + .8 * r); context.moveTo(x + .8 * r, y - .8 * r); context.lineTo(x - .8 * r, y + .8 * r); }
  else if (shape === "target") { context.arc(x, y, .82 * r, 0, 7); for (const [a, b] of [[1, 0], [0, 1]]) { context.moveTo(x - 1.25 * r * a, y - 1.25 * r * b); context.lineTo(x + 1.25 * r * a, y + 1.25 * r * b); } }
  else context.arc(x, y, shape === "ring" ? .84 * r : r, 0, 7);
  if (["ring", "target", "cross"].includes(shape)) {
    context.lineWidth = shape === "ring" ? Math.max(2, .3 * r) + 2.5 : 5;
    context.strokeStyle = "rgba(10,10,10,.85)";
    context.stroke();
    context.lineWidth -= 2.5;
    context.strokeStyle = colour;
    context.stroke();
  } else {
    context.lineWidth = 2.4;
    context.strokeStyle = "rgba(10,10,10,.85)";
    context.stroke();
    context.fill();
  }
}

function drawWord(context, [text, point, colour, [right, up], own], seen, larger) {
  const height = own * larger;
  const [x, y, depth] = seen(point);
  if (depth <= 0) return;
  context.font = `${height}px ui-monospace, "DejaVu Sans Mono", Menlo, Consolas, monospace`;
  context.textAlign = "center";
  context.textBaseline = "middle";
  const wide = context.measureText(text).width + 6;
  context.fillStyle = "rgba(14,14,14,.8)";
  context.fillRect(x + right - wide / 2, y - up - 0.68 * height, wide, 1.36 * height);
  context.fillStyle = colour;
  context.fillText(text, x + right, y - up);
}
