// What moves a scene: tables of settings, a limb with a target, places for joints, a motion.

let serial = 0;

// A labelled slider with a number field: told(value) is called on each change.
function slider(label, low, high, step, value, told, about) {
  const id = `dial-${++serial}`, digits = step < 0.01 ? 3 : step < 1 ? 2 : 0;
  const range = made("input", {type: "range", id, min: low, max: high, step, value, "aria-label": about || label});
  const number = made("input", {type: "number", min: low, max: high, step, value: Number(value).toFixed(digits), "aria-label": `${about || label}, as a number`});
  const take = text => {
    const next = Math.min(high, Math.max(low, Number(text)));
    if (text === "" || !Number.isFinite(next)) return;
    range.value = next;
    told(Number(range.value));
  };
  range.addEventListener("input", () => { number.value = Number(range.value).toFixed(digits); take(range.value); });
  number.addEventListener("change", () => { take(number.value); number.value = Number(range.value).toFixed(digits); });
  const row = made("div", {class: "dial"}, made("label", {for: id}, label), range, number);
  row.put = next => {  // show a value that came from elsewhere
    for (const end of ["min", "max"]) if (end === "min" ? next < range.min : next > range.max) range[end] = number[end] = next;
    range.value = next;
    number.value = Number(next).toFixed(digits);
  };
  return row;
}

function choice(label, options, at, told, rows = 1) {
  const id = `dial-${++serial}`, select = made("select", {id, size: Math.min(rows, options.length), onchange: () => told(select.selectedIndex)}, ...options.map(text => made("option", {}, text)));
  select.selectedIndex = at;
  const row = made("div", {class: "dial"}, made("label", {for: id}, label), select);
  row.put = index => { select.selectedIndex = index; };
  return row;
}

function panelBox(scene, note, ...children) {
  const box = made("div", {class: "panel", role: "group", "aria-label": "What can be moved"}, ...(note ? [made("p", {class: "note"}, note)] : []), ...children);
  scene.beside.prepend(box);
  return box;
}

class NotePanel {
  constructor(scene, told) { panelBox(scene, told.note); }
}

// Each setting of the dials is a state that Python wrote down.
class TablePanel {
  constructor(scene, told) {
    const at = told.dials.map(dial => dial.at);
    const counts = told.dials.map(dial => (dial.values ?? dial.options).length);
    const set = (k, index) => {
      at[k] = index;
      scene.show(told.states[at.reduce((number, here, i) => number * counts[i] + here, 0)]);
    };
    panelBox(scene, told.note, ...told.dials.map((dial, k) => dial.options
      ? choice(dial.label, dial.options, dial.at, index => set(k, index), dial.rows)
      : slider(dial.label, dial.values[0], dial.values.at(-1), dial.values.length > 1 ? dial.values[1] - dial.values[0] : 1, dial.values[dial.at],
        value => set(k, dial.values.reduce((best, v, i) => Math.abs(v - value) < Math.abs(dial.values[best] - value) ? i : best, 0)), dial.told)));
  }
}

const fixed = (x, digits) => (Math.abs(x) < 0.5 * 10 ** -digits ? 0 : x).toFixed(digits);
const pointText = (p, digits = 3) => `(${p.map(x => fixed(x, digits)).join(", ")})`;
const millimetres = x => `${fixed(1000 * x, 1)} mm`;
const degreesText = x => `${fixed(x * 180 / Math.PI, 1)} degrees`;

// A target and a pole that can be dragged; the limb is solved at every step.
class LimbPanel {
  constructor(scene, told) {
    Object.assign(this, {scene, told, rest: [0, 1, 2].map(k => told.rest.slice(3 * k, 3 * k + 3)), target: told.target, pole: told.pole, swivel: 0});
    this.colours = {target: LOOK.palette.vermilion, pole: LOOK.palette.yellow};
    this.base = told.marks.map(i => scene.pool[i]);
    const reach = size(sub(this.rest[1], this.rest[0])) + size(sub(this.rest[2], this.rest[1]));
    this.sliders = {};
    const rows = [];
    for (const name of ["target", "pole"]) {
      rows.push(made("p", {class: "dials"}, made("span", {class: "spot", style: `background:${this.colours[name]}`, "aria-hidden": "true"}), name[0].toUpperCase() + name.slice(1)));
      this.sliders[name] = [0, 1, 2].map(k => {
        const middle = Math.round(100 * this.rest[0][k]) / 100, half = 1.6 * reach, grid = x => Math.round(1000 * x) / 1000;
        return slider(`${"xyz"[k]} (m)`, Math.min(grid(middle - half), grid(this[name][k])), Math.max(grid(middle + half), grid(this[name][k])), 0.001, this[name][k],
          value => { this[name] = this[name].map((x, i) => i === k ? value : x); this.update(); }, `${name} ${"xyz"[k]}, metres`);
      });
      rows.push(...this.sliders[name]);
    }
    this.swivelSlider = slider("turn (deg)", -180, 180, 1, 0, degrees => this.turn(degrees), "turn of the pole about the line from root to target; 0 is where it began");
    panelBox(scene, told.note, ...rows, made("p", {class: "dials"}, "Swivel, from where the pole began"), this.swivelSlider);
    this.update();
  }

  // Turn the pole about the line from root to target.
  turn(degrees) {
    const root = this.rest[0];
    this.pole = add(root, turned(sub(this.pole, root), sub(this.target, root), (degrees - this.swivel) * Math.PI / 180));
    this.update(degrees);
  }

  update(swivel = null) {
    const root = this.rest[0], {target, pole, told} = this;
    const solved = twoBones(this.rest, target, pole);
    this.now = [root, solved.mid, solved.end];
    this.swivel = swivel ?? turnBetween(sub(told.began, root), sub(pole, root), sub(target, root));
    for (const name of ["target", "pole"]) this.sliders[name].forEach((one, k) => one.put(this[name][k]));
    this.swivelSlider.put(Math.round(this.swivel));
    const motions = limbMotions(this.rest, this.now, times(-1, cross(sub(target, root), sub(pole, root))));
    const owners = this.scene.pool[told.owners];
    this.scene.carry(owners.map(owner => owner < 0 ? IDENTITY : motions[owner]));
    this.scene.layers = this.base;
    this.scene.numbers([...this.scene.pool[told.rows], ...this.numbers()]);
    this.scene.say(this.sentence());
  }

  numbers() {
    const [root, mid, end] = this.now, [name, last] = this.told.names, {target, pole, rest} = this;
    const bones = rest.slice(1).map((p, i) => size(sub(p, rest[i])));
    return [
      ["target", `${pointText(target)} m`], ["pole", `${pointText(pole)} m`], [name, `${pointText(mid)} m`], [last, `${pointText(end)} m`],
      ["upper bone", `${millimetres(size(sub(mid, root)))} (rest ${millimetres(bones[0])})`],
      ["lower bone", `${millimetres(size(sub(end, mid)))} (rest ${millimetres(bones[1])})`],
      ["root to target", `${millimetres(size(sub(target, root)))} of ${millimetres(bones[0] + bones[1])}`],
      [`${last} to target`, millimetres(size(sub(end, target)))],
      ["target to pole", `${degreesText(between(sub(target, root), sub(pole, root)))} apart, seen from the root`],
      ...(this.told.expected ? [[`${name} to expected`, millimetres(0)]] : [])];
  }

  sentence() {
    const [root, mid, end] = this.now, [name, last] = this.told.names, gap = size(sub(end, this.target));
    const bend = between(sub(mid, root), sub(end, mid));
    return `${name} bent ${fixed(bend * 180 / Math.PI, 1)} degrees; the ${last} ${gap < 1e-4 ? "is on the target" : `misses the target by ${millimetres(gap)}`}`;
  }

  layers() {
    const [root, mid, end] = this.now, {target, pole, colours, held} = this, side = LOOK.sides[this.told.side];
    const line = (colour, wide, narrow, ...points) => [colour, wide, narrow, [points.flat()]];
    const dashed = (colour, from, to, count = 15) => [colour, 1.5, 1.5, Array.from({length: count}, (_, i) => [0, 1].flatMap(k => add(from, times((2 * i + k) / (2 * count - 1), sub(to, from)))))];
    const expected = this.told.expected ? {strokes: [dashed("#9AA3AA", root, mid, 9), dashed("#9AA3AA", mid, end, 9)], glyphs: [["ring", "#9AA3AA", 20, this.now.flat()]]} : {strokes: [], glyphs: []};
    const bone = mixed(side.colour, LOOK.scene, 0.1);
    return [{
      sheets: [[[root, target, pole].flat(), [0, 1, 2], colours.pole, 0.1]],
      strokes: [...expected.strokes, dashed("#7F8A93", root, target), dashed(mixed(colours.pole, LOOK.scene, 0.35), mid, pole),
        ...(size(sub(end, target)) > 1e-4 ? [line(colours.target, 2.5, 2.5, end, target)] : []), line(bone, 8, 2.5, root, mid), line(bone, 8, 2.5, mid, end)],
      glyphs: [...expected.glyphs, [side.shape, side.colour, 14, this.now.flat()], ["target", colours.target, held === "target" ? 24 : 19, target], ["triangle", colours.pole, held === "pole" ? 24 : 19, pole]],
      words: [["target", target, colours.target, [0, 22], 12], ["pole", pole, colours.pole, [0, 22], 12]]}];
  }

  over(at) {
    const gaps = ["target", "pole"].map(name => [name, Math.hypot(...sub2(this.scene.seen(this[name]), at))]).sort((a, b) => a[1] - b[1]);
    return gaps[0][1] <= GRIP ? gaps[0][0] : null;
  }

  // A drag moves the handle in the plane through it that faces the eye.
  press(at) {
    this.held = this.over(at);
    if (!this.held) return null;
    const {eye} = this.scene, through = this[this.held], normal = axesOf(eye).back;
    this.plane = [through, normal, sub(through, onPlane(rayOf(eye, ...this.scene.size, ...at), through, normal))];
    this.scene.ask();
    return this.held;
  }

  drag(name, at) {
    const hit = onPlane(rayOf(this.scene.eye, ...this.scene.size, ...at), this.plane[0], this.plane[1]);
    if (hit) { this[name] = add(hit, this.plane[2]); this.update(); }
  }

  release() {
    this.held = null;
    this.scene.ask();
  }
}

// Sliders that turn a joint, with what one turn they make together: as rigkit/view/turn_panel.py.
class TurnPanel {
  constructor(scene, told) {
    Object.assign(this, {scene, told, degrees: told.sliders.map(one => one.value), base: scene.pool[told.base], below: new Set(scene.pool[told.below])});
    this.marks = told.marks.map(i => scene.pool[i]);
    this.counts = told.sliders.map(one => Math.round((one.high - one.low) / one.step) + 1);
    panelBox(scene, told.note, ...told.sliders.map((one, k) => slider(one.label, one.low, one.high, one.step, one.value, value => { this.degrees[k] = value; this.update(); }, `${one.label}, degrees`)));
    this.update();
  }

  // The number of a setting in the tables.
  node(degrees) { return degrees.reduce((number, value, k) => number * this.counts[k] + Math.round((value - this.told.sliders[k].low) / this.told.sliders[k].step), 0); }

  // The product of the first factors, for angles in degrees.
  carried(degrees, first) { return this.told.factors.slice(0, first).reduce((q, [k, axis]) => multiplied(q, aboutAxis(axis, degrees[k] * Math.PI / 180)), [0, 0, 0, 1]); }

  turn(degrees) {
    const {told} = this;
    if (!told.factors) return told.turns.slice(4 * this.node(degrees), 4 * this.node(degrees) + 4);
    const q = this.carried(degrees, told.factors.length);
    return told.upright && q[3] < 0 ? q.map(x => -x) : q;
  }

  arrows() {
    const {told, degrees} = this;
    return told.factors ? told.arrows.map(([label, first, way]) => [label, rotated(this.carried(degrees, first), way)])
      : told.arrows.map(([label, ways]) => [label, ways.slice(3 * this.node(degrees), 3 * this.node(degrees) + 3)]);
  }

  // Where the tip has been, one slider after the other.
  way() {
    const {told, degrees} = this, tip = q => add(told.pivot, rotated(q, sub(told.start, told.pivot))), points = [];
    degrees.forEach((end, k) => {
      if (end === 0) return;
      const at = value => degrees.map((own, i) => i < k ? own : i === k ? value : 0), pieces = told.factors ? 24 : Math.round(Math.abs(end) / told.sliders[k].step);
      for (let i = 0; i <= pieces; i++) {
        const here = this.turn(at(told.factors ? end * i / pieces : Math.sign(end) * told.sliders[k].step * i));
        if (!told.factors && i) for (const share of [0.25, 0.5, 0.75]) points.push(tip(mixedTurn(this.last, here, share)));
        points.push(tip(here));
        this.last = here;
      }
    });
    return points.length ? points : [tip(this.turn(degrees))];
  }

  update() {
    const {told, degrees, scene} = this, q = this.now = this.turn(degrees);
    const columns = [[1, 0, 0], [0, 1, 0], [0, 0, 1]].map(axis => rotated(q, axis)), rows = [0, 1, 2].map(r => columns.map(c => c[r]));
    const shift = sub(told.pivot, rotated(q, told.pivot));
    const moved = m => rows.flatMap((row, r) => [0, 1, 2, 3].map(c => row[0] * m[c] + row[1] * m[4 + c] + row[2] * m[8 + c] + (c === 3 ? shift[r] : 0)));
    scene.layers = this.marks;
    scene.carry(this.base.map((m, slot) => this.below.has(slot) ? moved(m) : m));
    const [axis, angle] = axisAngle(q), some = angle > 1e-9, tip = told.start && this.way().at(-1);
    scene.numbers([...scene.pool[told.rows], ...told.sliders.map((one, k) => [one.label, `${fixed(degrees[k], 0)} degrees`]),
      ["one turn", some ? `${degreesText(angle)} about ${pointText(axis)}` : "none"], ["quaternion", pointText(q)], ...(tip ? [[told.tip, `${pointText(tip)} m`]] : [])]);
    scene.say(some ? `all in all one turn by ${degreesText(angle)} about the axis ${pointText(axis)}` : "no turn yet");
  }

  layers() {
    const {told, now} = this, {pivot} = told, axes = [[1, 0, 0], [0, 1, 0], [0, 0, 1]], purple = LOOK.palette.purple, yellow = LOOK.palette.yellow;
    const line = (colour, wide, narrow, from, to) => [colour, wide, narrow, [[...from, ...to]]];
    const frame = multiplied(now, told.frame), strokes = axes.map(axis => line("#6B747B", 2, 2, pivot, add(pivot, times(0.13, rotated(told.frame, axis)))));
    const glyphs = [["ring", "#ECECEC", 14, pivot]], words = [];
    for (const [label, way] of this.arrows()) {
      const tip = add(pivot, times(0.22, way));
      strokes.push(line(purple, 2, 2, sub(pivot, times(0.1, way)), tip));
      glyphs.push(["triangle", purple, 10, tip]);
      words.push([label, tip, purple, [0, 12], 12]);
    }
    if (told.start) {
      const way = this.way();
      if (way.length > 1) strokes.push([yellow, 2.2, 2.2, [way.flat()]]);
      glyphs.push(["ring", yellow, 12, way[0]], ["round", yellow, 10, way.at(-1)]);
    }
    axes.forEach((axis, k) => {
      const tip = add(pivot, times(0.13, rotated(frame, axis)));
      strokes.push(line(LOOK.axes["xyz"[k]], 3, 2, pivot, tip));
      words.push(["xyz"[k], tip, LOOK.axes["xyz"[k]], [0, 9], 12]);
    });
    return [{sheets: [], strokes, glyphs, words}];
  }
}

// Sliders that bend chains: each turns what hangs below it about one axis, and the turns follow one another (rigkit/book/chains.py).
// A mask says which sliders carry a slot or a point: bit k for slider k.
class ChainPanel {
  constructor(scene, told) {
    Object.assign(this, {scene, told, degrees: told.sliders.map(one => one.value), base: scene.pool[told.base], slots: scene.pool[told.slots]});
    Object.assign(this, {marks: told.marks.map(i => scene.pool[i]), masks: scene.pool[told.masks]});
    panelBox(scene, told.note, ...told.sliders.map((one, k) => slider(one.label, one.low, one.high, one.step, one.value, value => { this.degrees[k] = value; this.update(); }, `${one.label}, in degrees`)));
    scene.layers = [];
    this.update();
  }

  // The turns of the sliders in a mask, one after the other: [quaternion, move].
  product(mask) {
    let turn = [0, 0, 0, 1], move = [0, 0, 0];
    for (const k of this.told.order) {
      if (!(mask >> k & 1)) continue;
      const [axis, point] = this.told.screws[k], own = aboutAxis(axis, this.degrees[k] * Math.PI / 180);
      move = add(rotated(turn, sub(point, rotated(own, point))), move);
      turn = multiplied(turn, own);
    }
    return [turn, move];
  }

  update() {
    const {told, scene, degrees} = this, known = new Map(), of = mask => known.get(mask) ?? known.set(mask, this.product(mask)).get(mask);
    const moved = (mask, p) => mask ? add(rotated(of(mask)[0], p), of(mask)[1]) : p;
    scene.carry(this.base.map((m, slot) => {
      const mask = this.slots[slot];
      if (!mask) return m;
      const columns = [0, 1, 2].map(c => rotated(of(mask)[0], [m[c], m[4 + c], m[8 + c]])), place = moved(mask, [m[3], m[7], m[11]]);
      return [0, 1, 2].flatMap(r => [columns[0][r], columns[1][r], columns[2][r], place[r]]);
    }));
    let at = 0;  // the points come in the order of rigkit/book/chains.py
    const list = flat => { const out = []; for (let i = 0; i < flat.length; i += 3) out.push(...moved(this.masks[at++], flat.slice(i, i + 3))); return out; };
    this.shown = this.marks.map(layer => ({
      sheets: layer.sheets.map(([vertices, ...rest]) => [list(vertices), ...rest]),
      strokes: layer.strokes.map(([colour, wide, narrow, lines]) => [colour, wide, narrow, lines.map(list)]),
      glyphs: layer.glyphs.map(([shape, colour, across, points]) => [shape, colour, across, list(points)]),
      words: layer.words.map(([text, point, ...rest]) => [text, list(point), ...rest])}));
    scene.numbers(told.rows.map(([kind, label, value, mask]) => [label, kind === "text" ? value : kind === "slider" ? `${fixed(degrees[value], 0)} degrees` : `${pointText(moved(mask, value), 4)} m`]));
    scene.say(told.sliders.map((one, k) => `${one.label} ${fixed(degrees[k], 0)} degrees`).join(", "));
  }

  layers() { return this.shown; }
}

// Joints are placed on the centres of loops, by lists or by a click; the code to paste follows.
class PlacePanel {
  constructor(scene, told) {
    Object.assign(this, {scene, told, places: {...told.places}, current: 0, base: told.marks.map(i => scene.pool[i])});
    const flat = scene.pool[told.centres];
    this.centres = told.labels.map((_, i) => flat.slice(3 * i, 3 * i + 3));
    this.loops = scene.pool[told.loops];
    this.name = choice("joint", told.names, 0, index => { this.current = index; this.update(); });
    this.loop = choice("loop", ["choose a loop", ...told.labels], 0, index => { if (index) this.put(index - 1); });
    this.code = made("textarea", {readonly: true, rows: told.names.length, "aria-label": "Code to paste into the answer cell"});
    panelBox(scene, told.note, this.name, this.loop, made("button", {type: "button", onclick: () => { this.places = {...told.places}; this.current = 0; this.say("all places are taken back"); this.update(); }}, "Begin again"), this.code);
    scene.layers = this.base;
    this.update();
  }

  put(index) {
    const name = this.told.names[this.current], first = !this.places[name];
    this.places[name] = this.centres[index];
    this.say(`${name} at ${pointText(this.centres[index], 4)} m, on the centre of ${this.told.labels[index]}`);
    const waiting = this.told.names.findIndex(one => !this.places[one]);
    if (first && waiting >= 0) this.current = waiting;
    this.update();
  }

  say(text) { this.scene.say(text); }

  update() {
    const {told, places} = this;
    this.name.put(this.current);
    this.loop.put(0);
    this.code.value = told.names.map(name => `${name} = ${places[name] ? `(${places[name].map(x => fixed(x, 5)).join(", ")})` : "..."}`).join("\n");
    this.scene.numbers([...this.scene.pool[told.rows], ...told.names.map(name => [name, places[name] ? `${pointText(places[name], 4)} m` : "not placed yet"])]);
    this.scene.ask();
  }

  nearest(at) {
    const gaps = this.centres.map(p => Math.hypot(...sub2(this.scene.seen(p), at))), best = gaps.indexOf(Math.min(...gaps));
    return gaps[best] <= SNAP ? best : -1;
  }

  over(at) {
    const lit = this.nearest(at);
    if (lit !== this.lit) { this.lit = lit; this.scene.ask(); }
    return lit >= 0;
  }

  click(at) {
    const index = this.nearest(at);
    index >= 0 ? this.put(index) : this.say("no loop's centre is near; choose one from the list, or click nearer to one");
  }

  layers() {
    const placed = this.told.names.filter(name => this.places[name]), points = placed.map(name => this.places[name]);
    const look = name => LOOK.sides[["left", "right"].find(side => name.split("_").includes(side)) ?? "centre"], lit = this.lit >= 0;
    return [{
      sheets: [],
      strokes: [...points.slice(1).map((p, i) => [mixed(look(placed[i + 1]).colour, LOOK.scene, 0.15), 7, 2, [[...points[i], ...p]]]),
        ...(lit ? [[LOOK.palette.yellow, 3.5, 3.5, [[...this.loops[this.lit], ...this.loops[this.lit].slice(0, 3)]]]] : [])],
      glyphs: [...points.map((p, i) => [look(placed[i]).shape, look(placed[i]).colour, 14, p]), ...(lit ? [["cross", LOOK.palette.yellow, 14, this.centres[this.lit]]] : [])],
      words: lit ? [[this.told.labels[this.lit], this.centres[this.lit], LOOK.palette.yellow, [0, 26], 12]] : []}];
  }
}

// A motion: frames at even times, played and scrubbed, straightened out between them. It never starts by itself.
// told.rows and told.said: what Python counted and said at each frame; the walk of the first page has neither.
class MotionPanel {
  constructor(scene, told) {
    Object.assign(this, {scene, told, time: 0, playing: false});
    this.owners = scene.pool[told.owners];
    this.frames = bytesFloats(told.frames);
    this.count = this.frames.length / (12 * told.joints);
    this.button = made("button", {type: "button", onclick: () => this.playing ? this.stop() : this.play()}, "Play");
    const step = (text, by) => made("button", {type: "button", onclick: () => this.step(by)}, text);
    this.slider = slider("time (s)", 0, told.length, 0.01, 0, value => { this.stop(); this.at(value); this.tell(); }, "time in the motion, seconds");
    this.speeds = [2, 1, 0.5, 0.25];
    this.speed = choice("speed", this.speeds.map(speed => `${speed} times`), matchMedia("(prefers-reduced-motion: reduce)").matches ? 3 : 1, () => {});
    this.again = made("input", {type: "checkbox", checked: told.loop ?? true});
    const buttons = made("p", {}, this.button, " ", step("One back", -1), " ", step("One on", 1), " ", made("label", {}, this.again, " again and again"));
    const box = panelBox(scene, told.note, buttons, this.slider, this.speed);
    if (told.chart) {
      box.insertAdjacentHTML("beforeend", told.chart);
      this.chart = box.querySelector("svg");
    }
    if (told.marks) {
      scene.layers = told.marks.map(i => scene.pool[i]);
      scene.contact = null;  // the shade would stay behind
    }
    this.at((told.at ?? 0) / (this.count - 1) * told.length);
    this.slider.put(this.time);
    if (told.said) this.tell();
    document.addEventListener("visibilitychange", () => { if (document.hidden) this.stop(); });
  }

  at(time) {
    const {told} = this, joints = told.joints, place = time / told.length * (this.count - 1);
    const one = Math.min(Math.floor(place), this.count - 2), share = place - one;
    this.time = time;
    const matrix = joint => Array.from({length: 12}, (_, k) => (1 - share) * this.frames[12 * (one * joints + joint) + k] + share * this.frames[12 * ((one + 1) * joints + joint) + k]);
    this.moved = Array.from({length: joints}, (_, joint) => matrix(joint));
    this.scene.carry(this.owners.map(joint => this.moved[joint]));
    if (this.chart) {
      const {left, wide} = this.chart.dataset;
      this.chart.querySelector(".now").setAttribute("transform", `translate(${Number(left) + Number(wide) * time / told.length} 0)`);
      this.chart.querySelector(".dots").replaceChildren();
    }
  }

  frame() { return Math.round(this.time / this.told.length * (this.count - 1)); }

  step(by) {
    this.stop();
    const last = this.count - 1, next = this.frame() + by;
    this.at((this.again.checked ? (next + last + 1) % (last + 1) : Math.min(Math.max(next, 0), last)) / last * this.told.length);
    this.slider.put(this.time);
    this.tell();
  }

  // What stands on the floor now, and where the joints of trails are.
  layers() {
    const {spots = [], dots = []} = this.told, now = this.time + 1e-9;
    const seen = ([joint, rest, colour]) => ["target", colour, 16, [0, 1, 2].map(r => dot(this.moved[joint].slice(4 * r, 4 * r + 3), rest) + this.moved[joint][4 * r + 3])];
    return [{sheets: spots.filter(([, from, to]) => from <= now && now <= to + 2e-9).map(([sheet]) => sheet), strokes: [], glyphs: dots.map(seen), words: []}];
  }

  tell() {
    const {told} = this;
    if (told.rows) this.scene.numbers(this.scene.pool[told.rows[this.frame()]]);
    if (told.said) return this.scene.say(told.said[this.frame()]);
    const phase = told.phases.filter(([from, to]) => from <= this.time && this.time <= to).map(([, , words]) => words);
    this.scene.say(`${fixed(this.time, 2)} of ${fixed(told.length, 2)} s${phase.length ? `: ${phase.join(", ")}` : ""}`);
  }

  play() {
    this.playing = true;
    this.button.textContent = "Stop";
    this.scene.say("playing");
    if (this.time >= this.told.length) this.at(0);
    let before = null, counted = 0;
    const step = now => {
      if (!this.playing) return;
      if (before !== null) {
        const next = this.time + this.speeds[this.speed.querySelector("select").selectedIndex] * (now - before) / 1000;
        this.at(this.again.checked ? next % this.told.length : Math.min(next, this.told.length));
        this.slider.put(this.time);
        if (this.told.rows && now - counted > 250) { counted = now; this.scene.numbers(this.scene.pool[this.told.rows[this.frame()]]); }
        if (!this.again.checked && this.time >= this.told.length) return this.stop();
      }
      before = now;
      requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
  }

  stop() {
    if (!this.playing) return;
    this.playing = false;
    this.button.textContent = "Play";
    this.tell();
  }
}

const bytesFloats = text => new Float32Array(bytesOf(text).buffer);
