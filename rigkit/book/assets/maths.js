// Vectors, the eye, and a limb of two bones: the sums of rigkit/view/eye.py, rigkit/limb.py and rigkit/view/limb_pose.py.
// A test runs these beside the Python ones. Points and vectors are arrays of three numbers, metres.

const add = (a, b) => [a[0] + b[0], a[1] + b[1], a[2] + b[2]];
const sub = (a, b) => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
const times = (k, a) => [k * a[0], k * a[1], k * a[2]];
const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const size = a => Math.sqrt(dot(a, a));
const unit = (a, otherwise, least = 1e-12) => size(a) > least ? times(1 / size(a), a) : otherwise;
const squareTo = (v, line) => { for (let i = 0; i < 2; i++) v = sub(v, times(dot(v, line), line)); return v; };
const between = (a, b) => Math.atan2(size(cross(a, b)), dot(a, b));

// The world axis most square to a direction.
function squarest(line) {
  const least = Math.min(...line.map(Math.abs));
  return [0, 1, 2].map(k => k === line.findIndex(x => Math.abs(x) === least) ? 1 : 0);
}

// v turned about an axis by an angle, right-handed (Rodrigues).
function turned(v, axis, angle) {
  const k = unit(axis, [0, 0, 0]), c = Math.cos(angle), s = Math.sin(angle);
  return add(add(times(c, v), times(s, cross(k, v))), times(dot(k, v) * (1 - c), k));
}

// The turn about an axis that carries the half plane of a to that of b, degrees.
function turnBetween(a, b, axis) {
  const k = unit(axis, [0, 0, 0]);
  a = sub(a, times(dot(k, a), k));
  b = sub(b, times(dot(k, b), k));
  return Math.min(size(a), size(b)) < 1e-9 ? 0 : Math.atan2(dot(k, cross(a, b)), dot(a, b)) * 180 / Math.PI;
}

// ---- quaternions, xyzw ---------------------------------------------------------------------------------------------------

const multiplied = ([a, b, c, d], [x, y, z, w]) => [d * x + a * w + b * z - c * y, d * y - a * z + b * w + c * x, d * z + a * y - b * x + c * w, d * w - a * x - b * y - c * z];
const aboutAxis = (axis, angle) => [...times(Math.sin(angle / 2), axis), Math.cos(angle / 2)];
const rotated = (q, v) => { const u = q.slice(0, 3), t = times(2, cross(u, v)); return add(add(v, times(q[3], t)), cross(u, t)); };

// Part of the way from one turn to another, the shorter way round.
function mixedTurn(p, q, share) {
  const sign = p.reduce((sum, x, i) => sum + x * q[i], 0) < 0 ? -1 : 1, mix = p.map((x, i) => (1 - share) * x + share * sign * q[i]), n = Math.hypot(...mix);
  return mix.map(x => x / n);
}

// Axis and angle of a turn, the angle from 0 to pi.
function axisAngle(q) {
  if (q[3] < 0) q = q.map(x => -x);
  const n = Math.hypot(q[0], q[1], q[2]);
  return [n > 0 ? [q[0] / n, q[1] / n, q[2] / n] : [1, 0, 0], 2 * Math.atan2(n, q[3])];
}

// ---- the eye: {position, target, height, parallel} -----------------------------------------------------------------------

const FIELD_OF_VIEW = 32, FAR = 12;
const VIEWS = {front: [0, 0, 1], side: [1, 0, 0], top: [0, 1, 1e-5], perspective: [0.62, 0.28, 1]};
const distanceFor = height => height / 2 / Math.tan(FIELD_OF_VIEW * Math.PI / 360);

function looking(view, target, height) {
  const parallel = view !== "perspective", away = unit(VIEWS[view]);
  return {position: add(target, times(parallel ? FAR : distanceFor(height), away)), target, height, parallel};
}

function axesOf(eye) {
  const back = unit(sub(eye.position, eye.target)), right = unit(cross([0, 1, 0], back), [1, 0, 0]);
  return {right, up: cross(back, right), back};
}

// A function that says where a point falls in a picture of width x height: [right, down, depth].
function projector(eye, width, height) {
  const {right, up, back} = axesOf(eye), distance = size(sub(eye.position, eye.target)), scale = height / eye.height;
  return point => {
    const d = sub(point, eye.position), depth = -dot(d, back);
    const k = eye.parallel ? scale : scale * distance / Math.max(depth, 1e-6);
    return [dot(d, right) * k + width / 2, height / 2 - dot(d, up) * k, depth];
  };
}

// The ray of a pixel: [origin, unit direction].
function rayOf(eye, width, height, x, y) {
  const {right, up, back} = axesOf(eye), step = eye.height / height;
  const seen = add(eye.target, add(times((x - width / 2) * step, right), times((height / 2 - y) * step, up)));
  return eye.parallel ? [add(seen, times(dot(sub(eye.position, seen), back), back)), times(-1, back)] : [eye.position, unit(sub(seen, eye.position))];
}

function onPlane([origin, direction], through, normal) {
  const along = dot(direction, normal), t = dot(sub(through, origin), normal) / along;
  return Math.abs(along) < 1e-9 || t <= 0 ? null : add(origin, times(t, direction));
}

function orbited(eye, sideways, upwards) {
  const {back} = axesOf(eye), distance = size(sub(eye.position, eye.target));
  const azimuth = Math.atan2(back[0], back[2]) + sideways;
  const rise = Math.max(-1.55, Math.min(1.55, Math.asin(Math.max(-1, Math.min(1, back[1]))) + upwards));
  const away = [Math.cos(rise) * Math.sin(azimuth), Math.sin(rise), Math.cos(rise) * Math.cos(azimuth)];
  return {...eye, position: add(eye.target, times(distance, away))};
}

function nearer(eye, factor) {
  const height = eye.height / factor;
  if (height < 0.01 || height > 40) return eye;
  return {...eye, height, position: eye.parallel ? eye.position : add(eye.target, times(1 / factor, sub(eye.position, eye.target)))};
}

function shifted(eye, right, up) {
  const axes = axesOf(eye), shift = add(times(right, axes.right), times(up, axes.up));
  return {...eye, position: add(eye.position, shift), target: add(eye.target, shift)};
}

// The whole figure again, seen from where the eye is.
function whole(eye, target, height) {
  const {back} = axesOf(eye);
  return {...eye, target, height, position: add(target, times(eye.parallel ? FAR : distanceFor(height), back))};
}

// ---- two bones -----------------------------------------------------------------------------------------------------------

// {mid, end}: where a limb of rest points [root, mid, end] goes for a target and a pole. No soft reach, no stretch.
function twoBones([root, mid, end], target, pole) {
  const upper = size(sub(mid, root)), lower = size(sub(end, mid)), first = unit(sub(mid, root));
  const restLine = unit(sub(end, root), first, 1e-9 * upper);
  const standIn = unit(cross(squarest(restLine), restLine));
  const hinge = unit(cross(first, restLine), standIn, 1e-9);
  const way = sub(target, root), far = size(way) > 1e-12 * upper ? size(way) : 0, line = unit(way, restLine, 1e-12 * upper);
  const kept = unit(cross(line, hinge), cross(restLine, hinge), 1e-9);
  const toPole = sub(pole, root), side = unit(squareTo(toPole, line), kept, 1e-9 * size(toPole));
  const thin = Math.abs(upper - lower) > 1e-12 * (upper + lower) ? Math.abs(upper - lower) : 0;
  const held = Math.min(Math.max(far, thin), upper + lower);
  if (held === 0) return {mid: add(root, times(upper, side)), end: root};
  const length = upper + lower, less = upper - lower, along = 0.5 * (less * (length / held) + held);  // written so that nothing cancels near full reach
  const off = Math.sqrt((length + held) * Math.max(length - held, 0)) * Math.sqrt(Math.max((held - less) * (held + less), 0)) / (2 * held);
  return {mid: add(root, add(times(along, line), times(off, side))), end: add(root, times(held, line))};
}

function hingeOf([root, mid, end], otherwise) {
  const a = sub(mid, root), b = sub(end, mid), axis = cross(a, b), n = size(axis);
  if (n > 1e-7 * size(a) * size(b) && n > 1e-12) return times(1 / n, axis);
  const along = times(1 / Math.max(size(sub(end, root)), 1e-12), sub(end, root));
  const across = sub(otherwise, times(dot(otherwise, along), along));
  return unit(across, unit(cross(along, squarest(along))), 1e-9);
}

// The frame of a bone as columns: x along it, z on the hinge.
function boneFrame(start, stop, axis) {
  const x = unit(sub(stop, start), [0, 0, 0]), z = unit(sub(axis, times(dot(axis, x), x)), [0, 0, 0]);
  return [x, cross(z, x), z];
}

// How each of the three joints carries what hangs on it from rest: three rows of four, as twelve numbers each.
function limbMotions(rest, now, nowHinge) {
  const before = hingeOf(rest, [1, 0, 0]), after = hingeOf(now, size(nowHinge) ? nowHinge : before);
  return [0, 1, 2].map(joint => {
    const bone = Math.min(joint, 1), was = boneFrame(rest[bone], rest[bone + 1], before), is = boneFrame(now[bone], now[bone + 1], after);
    const turn = [0, 1, 2].map(r => [0, 1, 2].map(c => is[0][r] * was[0][c] + is[1][r] * was[1][c] + is[2][r] * was[2][c]));
    return turn.flatMap((row, r) => [...row, now[joint][r] - dot(row, rest[joint])]);
  });
}
