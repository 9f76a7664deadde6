// A scene on the page: its canvas, its buttons, and what moves it. The figure is there already, with caption, numbers,
// readout and (for where no script runs) a still picture; here it comes to life.

const IDENTITY = [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0];
const GRIP = 18, SNAP = 22, CLICK = 4;  // pixels
const data = () => data.told ??= JSON.parse(document.getElementById("rigkit-scenes").textContent);

function made(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes))
    name.startsWith("on") ? node.addEventListener(name.slice(2), value) : value === false || node.setAttribute(name, value === true ? "" : value);
  node.append(...children);
  return node;
}

class Scene {
  constructor(figure, told) {
    const pool = this.pool = data().pool;
    Object.assign(this, {figure, told, size: told.size, eye: told.eye, glass: told.glass, contact: told.contact === null ? null : pool[told.contact]});
    this.tint = new Set();
    this.weighed = told.weighed ? new Set(told.weighed) : null;
    this.layers = [];
    this.canvas = made("canvas", {tabindex: 0, role: "img", "aria-label": `3D picture: ${told.caption} Arrow keys turn it, plus and minus bring it nearer or farther.`});
    this.stage = figure.querySelector(".stage");
    this.stage.replaceChildren(this.canvas);
    this.stage.before(this._toolbar());
    this.beside = figure.querySelector(".beside");
    this.readout = figure.querySelector(".told");
    this._listen();
    this.panel = {limb: LimbPanel, place: PlacePanel, turn: TurnPanel, chain: ChainPanel, table: TablePanel, motion: MotionPanel, none: NotePanel}[told.panel?.kind];
    this.show(told.state);
    if (this.panel) this.panel = new this.panel(this, told.panel);
    new ResizeObserver(() => this.ask()).observe(this.stage);
  }

  // How the model stands and what is drawn over it, from a state of the data.
  show(state) {
    const {pool} = this;
    this.carry(pool[state.of].map(kind => pool[state.matrices[kind]]));
    this.layers = state.marks.map(i => pool[i]);
    this.tint = new Set(pool[state.tint]);
    this.numbers(pool[state.rows]);
    this.say(state.told);
    if (state.eye) this.look(state.eye);
  }

  // Carry each slot by its twelve numbers.
  carry(matrices) {
    this.slots = new Float32Array(12 * matrices.length);
    matrices.forEach((matrix, i) => this.slots.set(matrix, 12 * i));
    this.ask();
  }

  numbers(rows) {
    const table = this.beside.querySelector("tbody");
    table.closest("table").hidden = !rows.length;
    table.replaceChildren(...rows.map(([label, value]) => made("tr", {}, made("th", {scope: "row"}, label), made("td", {}, value))));
  }

  say(text) {
    if (this.readout.textContent !== text) this.readout.textContent = text;
  }

  // Draw soon; many asks between two frames are one drawing.
  ask() {
    this.asked ??= requestAnimationFrame(() => { this.asked = null; this.draw(); });
  }

  async draw() {
    const wide = this.stage.clientWidth, paint = thePainter();
    if (!wide || !paint) return;
    if (this.model === undefined) {
      this.model = null;
      this.model = await paint.model(this.told.model);
    }
    const [w, h] = this.size, scale = wide / w, fine = Math.min(2, globalThis.devicePixelRatio || 1), tall = Math.round(wide * h / w);
    const across = Math.round(wide * fine), down = Math.round(tall * fine);
    if (this.canvas.width !== across || this.canvas.height !== down) Object.assign(this.canvas, {width: across, height: down});
    paint.paint(this, across, down);
    const context = this.canvas.getContext("2d");
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.fillStyle = LOOK.scene;
    context.fillRect(0, 0, across, down);
    context.drawImage(paint.canvas, 0, 0);
    context.setTransform(scale * fine, 0, 0, scale * fine, 0, 0);
    this.seen = projector(this.eye, w, h);
    drawMarks(context, [...this.layers, ...(this.panel?.layers?.() ?? [])], this.seen, Math.max(1, 0.9 / scale));
    this.figure.dataset.drawn = (Number(this.figure.dataset.drawn) || 0) + 1;
  }

  look(eye) {
    this.eye = eye;
    this.ask();
  }

  _toolbar() {
    const button = (text, told, act) => made("button", {type: "button", title: told, onclick: act}, text);
    const {target, height} = this.told.whole;
    const named = (view, told) => button(view[0].toUpperCase() + view.slice(1), told, () => {
      this.look(looking(view, this.eye.target, this.eye.height));
      this.say(`${view} view${view === "perspective" ? "" : ", parallel: lengths across the view can be compared"}`);
    });
    const glass = button("See through", "Draw the model as glass", () => {
      this.glass = !this.glass;
      glass.setAttribute("aria-pressed", this.glass);
      this.ask();
    });
    glass.setAttribute("aria-pressed", this.glass);
    return made("div", {class: "bar", role: "group", "aria-label": "View"},
      named("front", "Look from the front, parallel"), named("side", "Look from the character's left, parallel"),
      named("top", "Look from above, parallel"), named("perspective", "Look from the front left, in perspective"), glass,
      button("Nearer", "Bring the view nearer", () => this.look(nearer(this.eye, 1.25))),
      button("Farther", "Move the view farther away", () => this.look(nearer(this.eye, 0.8))),
      button("Turn left", "Carry the eye to the left", () => this.look(orbited(this.eye, -0.2618, 0))),
      button("Turn right", "Carry the eye to the right", () => this.look(orbited(this.eye, 0.2618, 0))),
      button("Whole", "Frame the whole figure", () => this.look(whole(this.eye, target, height))));
  }

  // Where a pointer is, in the picture's own pixels.
  at(event) {
    const box = this.canvas.getBoundingClientRect();
    return [(event.clientX - box.left) * this.size[0] / box.width, (event.clientY - box.top) * this.size[1] / box.height];
  }

  _listen() {
    const {canvas} = this;
    let last = null, began = null, held = null;
    canvas.addEventListener("pointerdown", event => {
      canvas.setPointerCapture(event.pointerId);
      last = began = this.at(event);
      held = event.button === 0 ? this.panel?.press?.(last) : null;
    });
    canvas.addEventListener("pointermove", event => {
      const at = this.at(event);
      if (last === null) { canvas.style.cursor = this.panel?.over?.(at) ? "pointer" : "grab"; return; }
      const [dx, dy] = [at[0] - last[0], at[1] - last[1]], step = this.eye.height / this.size[1];
      if (held) this.panel.drag(held, at);
      else if (event.shiftKey || event.buttons & 2) this.look(shifted(this.eye, -dx * step, dy * step));
      else this.look(orbited(this.eye, -dx * 0.008, dy * 0.008));
      last = at;
    });
    const end = event => {
      if (last !== null && event.type === "pointerup" && Math.hypot(...sub2(this.at(event), began)) <= CLICK) this.panel?.click?.(began);
      if (held) this.panel.release();
      last = held = null;
    };
    for (const kind of ["pointerup", "pointercancel"]) canvas.addEventListener(kind, end);
    canvas.addEventListener("contextmenu", event => event.preventDefault());
    canvas.addEventListener("wheel", event => {  // a page is for scrolling: the wheel zooms what was taken up, or with Ctrl
      if (document.activeElement !== canvas && !event.ctrlKey) return;
      event.preventDefault();
      this.look(nearer(this.eye, Math.exp(-event.deltaY * 0.001)));
    }, {passive: false});
    const keys = {ArrowLeft: e => orbited(e, -0.1, 0), ArrowRight: e => orbited(e, 0.1, 0), ArrowUp: e => orbited(e, 0, 0.1), ArrowDown: e => orbited(e, 0, -0.1),
      "+": e => nearer(e, 1.15), "=": e => nearer(e, 1.15), "-": e => nearer(e, 1 / 1.15)};
    canvas.addEventListener("keydown", event => {
      if (!keys[event.key] || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault();
      this.look(keys[event.key](this.eye));
    });
  }
}

const sub2 = (a, b) => [a[0] - b[0], a[1] - b[1]];

// Bring to life the scenes that come near the window; a folded part waits until it is unfolded.
function begin() {
  const started = new Map();
  const near = new IntersectionObserver(entries => {
    for (const {isIntersecting, target} of entries) {
      if (!isIntersecting || started.has(target)) continue;
      near.unobserve(target);
      if (!thePainter()) { target.querySelector(".stage").innerHTML = target.querySelector("noscript").textContent; continue; }
      started.set(target, new Scene(target, data().scenes[Number(target.dataset.scene)]));
    }
  }, {rootMargin: "400px"});
  for (const figure of document.querySelectorAll("figure[data-scene]")) near.observe(figure);
  addEventListener("beforeprint", () => { for (const scene of started.values()) scene.draw(); });
  return started;
}
