"""Chains once more, for speed: one chain of ball joints without a cone, on plain floats.

Read `rigkit.chain` first; `fabrik`, `sweep`, `damped` and `close` here are its
`fabrik_pass`, `sweep`, `_damped` and `_close`, and a test holds them equal. Points are lists of lists of
three floats.
"""

from math import cos, dist, inf, sin, sqrt

from numpy import ndarray

STRIDE = 0.3  # of the chain's length: no step of damped least squares asks for more
DAMPING = 2e-4  # times what is left of the way, times the length, is the damping squared: large steps careful, small ones exact
SLOW = 0.8  # passes that leave more than this share of the error are slow
LEAP = 10.0  # times the way that is left: no pass of FABRIK is asked for more


def one(step, points, target, steps, tolerance, closing=()):
    """Return (points, error, steps made) of one chain, or None where the clear form must look.

    That is where input is odd, the chain lies in one line with its target, or the target is out of reach.
    closing: the steps after which a slow chain is closed (see `rigkit.chain`). Chains that may be closed leap, too.
    """
    try:
        points, target = (x.tolist() if type(x) is ndarray and x.ndim == axes else x for x, axes in ((points, 2), (target, 1)))
        lengths = [dist(points[i], points[i + 1]) for i in range(len(points) - 1)]
        length, error, used = sum(lengths), dist(points[-1], target), 0
        sound = (
            len(target) == len(points[0]) == 3
            and 1e-12 * length < min(lengths)
            and 2 * max(lengths) - length < dist(points[0], target) < length < inf
        )
        if not (sound and 0.0 < tolerance and type(steps) is int and steps > 0 and _crooked(points, target, 1e-6 * length)):
            return None
        gain = 1.0
        while error > tolerance and used < steps:
            tip, before = points[-1], error
            points = step(points, lengths, [a + gain * (b - a) for a, b in zip(tip, target)] if gain > 1.0 else target)
            error, used = dist(points[-1], target), used + 1
            gain = leap(tip, points[-1], target, gain) if closing else 1.0
            if used in closing and error > tolerance and (error > SLOW * before or used == steps):
                closed = close(points, lengths, target)
                if dist(closed[-1], target) < error:
                    points, error = closed, dist(closed[-1], target)
        return (points, error, used) if error < inf else None
    except (TypeError, ValueError, IndexError):
        return None


def leap(tip, now, target, gain):
    """How many times the way left the next pass is asked for: as many as the last one, asked for `gain` times, went too short."""
    along = whole = 0.0
    for a, b, c in zip(tip, now, target):
        along, whole = along + (b - a) * (c - a), whole + (c - a) * (c - a)
    return min(max(gain * whole / along, 1.0), LEAP) if along > 0.0 else 1.0


def fabrik(points, lengths, target):
    """One pass of FABRIK. Where the root would go when the tip is dragged nobody asks: it is put back."""
    x, y, z = target
    back = [target]
    for (px, py, pz), length in zip(points[-2:0:-1], lengths[:0:-1]):
        dx, dy, dz = px - x, py - y, pz - z
        size = sqrt(dx * dx + dy * dy + dz * dz)
        if not size:
            (ax, ay, az), size = points[-len(back)], length
            dx, dy, dz = px - ax, py - ay, pz - az
        scale = length / size
        x, y, z = x + dx * scale, y + dy * scale, z + dz * scale
        back.append((x, y, z))
    back.reverse()
    x, y, z = points[0]
    out = [points[0]]
    for (px, py, pz), length in zip(back, lengths):
        dx, dy, dz = px - x, py - y, pz - z
        size = sqrt(dx * dx + dy * dy + dz * dz)
        if not size:
            (ax, ay, az), (bx, by, bz), size = points[len(out) - 1], points[len(out)], length
            dx, dy, dz = bx - ax, by - ay, bz - az
        scale = length / size
        x, y, z = x + dx * scale, y + dy * scale, z + dz * scale
        out.append((x, y, z))
    return out


def sweep(points, lengths, target):
    """One sweep of cyclic coordinate descent, tip joint first."""
    for i in range(len(lengths) - 1, -1, -1):
        points = _swung(points, i, target)
        if points is None:
            return [[inf] * 3] * (len(lengths) + 1)  # a half turn has no axis of its own: the clear form chooses one
    return points


def damped(points, lengths, target):
    """One step of damped least squares, with the damping that `rigkit.chain` takes when none is given."""
    (ex, ey, ez), (tx, ty, tz) = points[-1], target
    wx, wy, wz = tx - ex, ty - ey, tz - ez
    left, length = sqrt(wx * wx + wy * wy + wz * wz), sum(lengths)
    part = min(1.0, STRIDE * length / left)
    wx, wy, wz = wx * part, wy * part, wz * part
    arms = [(ex - x, ey - y, ez - z) for x, y, z in points[:-1]]
    xx = yy = zz = DAMPING * min(left, length) * length
    xy = xz = yz = 0.0
    for ax, ay, az in arms:
        xx, yy, zz = xx + ay * ay + az * az, yy + ax * ax + az * az, zz + ax * ax + ay * ay
        xy, xz, yz = xy - ax * ay, xz - ax * az, yz - ay * az
    cxx, cxy, cxz = yy * zz - yz * yz, xz * yz - xy * zz, xy * yz - xz * yy
    determinant = xx * cxx + xy * cxy + xz * cxz
    cyy, cyz, czz = xx * zz - xz * xz, xy * xz - xx * yz, xx * yy - xy * xy
    if not determinant > 1e-30 * (xx + yy + zz) ** 3:
        return [[inf] * 3] * len(points)
    px, py, pz = (
        (cxx * wx + cxy * wy + cxz * wz) / determinant,
        (cxy * wx + cyy * wy + cyz * wz) / determinant,
        (cxz * wx + cyz * wy + czz * wz) / determinant,
    )
    x, y, z = points[0]
    turn_x = turn_y = turn_z = 0.0
    out = [points[0]]
    for (ax, ay, az), (qx, qy, qz), (sx, sy, sz) in zip(arms, points, points[1:]):
        turn_x, turn_y, turn_z = turn_x + ay * pz - az * py, turn_y + az * px - ax * pz, turn_z + ax * py - ay * px
        angle = sqrt(turn_x * turn_x + turn_y * turn_y + turn_z * turn_z)
        vx, vy, vz = sx - qx, sy - qy, sz - qz
        cosine, sine = cos(angle), sin(angle) / angle if angle else 1.0
        share = 2.0 * (sin(0.5 * angle) / angle) ** 2 if angle else 0.5
        along = share * (turn_x * vx + turn_y * vy + turn_z * vz)
        x += cosine * vx + sine * (turn_y * vz - turn_z * vy) + along * turn_x
        y += cosine * vy + sine * (turn_z * vx - turn_x * vz) + along * turn_y
        z += cosine * vz + sine * (turn_x * vy - turn_y * vx) + along * turn_z
        out.append((x, y, z))
    return out


def close(points, lengths, target):
    """Bend or straighten all links alike until the tip is as far from the root as the target, then swing the chain there."""
    root, tip = points[0], points[-1]
    distance, now = dist(root, target), dist(root, tip)
    if not (distance and now):
        return points
    ux, uy, uz = ((b - a) / now for a, b in zip(root, tip))
    ways = [[(b - a) / length for a, b in zip(p, q)] for p, q, length in zip(points, points[1:], lengths)]

    def bent(amount):
        x, y, z = root
        out = [root]
        for (vx, vy, vz), length in zip(ways, lengths):
            vx, vy, vz = vx + amount * (vx - ux), vy + amount * (vy - uy), vz + amount * (vz - uz)
            scale = length / (sqrt(vx * vx + vy * vy + vz * vz) or inf)
            x, y, z = x + vx * scale, y + vy * scale, z + vz * scale
            out.append((x, y, z))
        return out

    low, high = 0.0, 1.0  # the square of 1 + amount: near straight, the distance is a straight line of it
    f_low, f_high = sum(lengths) - distance, now - distance
    while f_high > 0.0 and high < 4096.0:
        low, f_low, high = high, f_high, 4.0 * high
        f_high = dist(bent(sqrt(high) - 1.0)[-1], root) - distance
    chain = points
    for _ in range(60):  # false position, halving the value of an end that stays (the Illinois rule)
        middle = (low * f_high - high * f_low) / (f_high - f_low) if f_high != f_low else 0.5 * (low + high)
        chain = bent(sqrt(max(middle, 0.0)) - 1.0)
        f = dist(chain[-1], root) - distance
        if abs(f) <= 1e-12 * distance or not low < middle < high:
            break
        if f > 0.0:
            low, f_low, f_high = middle, f, 0.5 * f_high
        else:
            high, f_high, f_low = middle, f, 0.5 * f_low
    return _swung(chain, 0, target) or points


def _swung(points, i, target):
    """The chain with everything beyond joint i swung so that the tip points at the target; None where that is a half turn."""
    (x, y, z), (ex, ey, ez), (tx, ty, tz) = points[i], points[-1], target
    ax, ay, az, bx, by, bz = ex - x, ey - y, ez - z, tx - x, ty - y, tz - z
    size = sqrt((ax * ax + ay * ay + az * az) * (bx * bx + by * by + bz * bz))
    if not size:
        return points
    cx, cy, cz = (ay * bz - az * by) / size, (az * bx - ax * bz) / size, (ax * by - ay * bx) / size
    cosine = (ax * bx + ay * by + az * bz) / size
    if cosine < -0.999999:
        return None
    share = 1.0 / (1.0 + cosine)
    out = list(points[: i + 1])
    for vx, vy, vz in points[i + 1 :]:
        vx, vy, vz = vx - x, vy - y, vz - z
        along = (cx * vx + cy * vy + cz * vz) * share
        out.append(
            (
                x + cosine * vx + cy * vz - cz * vy + along * cx,
                y + cosine * vy + cz * vx - cx * vz + along * cy,
                z + cosine * vz + cx * vy - cy * vx + along * cz,
            )
        )
    return out


def _crooked(points, target, least):
    """Whether a point or the target lies off the line of the first link."""
    (x, y, z), (qx, qy, qz) = points[0], points[1]
    dx, dy, dz = qx - x, qy - y, qz - z
    least *= least * (dx * dx + dy * dy + dz * dz)
    for px, py, pz in [target, *points[2:]]:
        px, py, pz = px - x, py - y, pz - z
        if (dy * pz - dz * py) ** 2 + (dz * px - dx * pz) ** 2 + (dx * py - dy * px) ** 2 > least:
            return True
    return False
