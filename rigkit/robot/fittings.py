"""What Tally's limbs and body are fitted with: hard parts, ribbed sleeves, bolts, bands, and the colours of all.

A hard part follows one joint. A sleeve is a row of ribs around a middle joint;
its narrowest loop, the *fold*, stands in that joint, and its loops are D-shaped:
the flat of the D is parallel to the hinge and lies on the side to which a
positive turn about the hinge folds (front of the elbow, back of the knee, sole
of the foot). Its weights run from the upper joint to the lower one, the same
around each loop.
"""

from math import pi, sin

import numpy as np

from rigkit.character import Part
from rigkit.mesh import joined
from rigkit.robot.shapes import circle, d_outline, loft, place, ring, turned

FOG, TEAL, CREAM, SLATE = "#A3B1B6", "#2F6C74", "#E8DFC8", "#4A555B"
BRASS, BRICK, LAMP, GLASS = "#C2A367", "#B25A44", "#F6DFA8", "#14232A"
STEPS = 4  # loops from one valley of a sleeve to the next; the crest of a rib is the second
TUBE = 16  # vertices around a tube
D_OUTLINE = d_outline()


def hard(name, joint, mesh, colour, smooth=True, **loops):
    """Return a part on one joint, and its loops.

    loops: landmark = (place, vertices around), the loop of the mesh that lies in the
    plane u, v of that place. Returns (part, {landmark: vertex numbers}).
    """
    part = Part(name, mesh, (joint,), np.ones((len(mesh.vertices), 1)), "hard", colour, smooth)
    return part, {landmark: _loop_in(mesh, *where) for landmark, where in loops.items()}


def sleeve(name, joints, landmark, places, pitch, ribs, radii, outline=D_OUTLINE):
    """Return a ribbed sleeve and its fold, as `hard` does.

    joints: upper and lower. landmark: the name of the fold. places: of the upper bone, the
    fold and the lower bone, all with w along the limb. ribs: how many before and after the
    fold. radii: of the fold, the other valleys and the crests, metres, for an outline of radius one.
    """
    first, last = -STEPS * ribs[0], STEPS * ribs[1]
    steps = range(first, last + 1)
    rings = [ring(outline * _radius(k, radii), _along(places, k / STEPS, pitch)) for k in steps]
    ramp = np.repeat([_ramp(k, first, last) for k in steps], len(outline))
    ramp = np.concatenate([ramp, ramp[[0, -1]]])
    part = Part(name, loft(rings), tuple(joints), np.stack([1.0 - ramp, ramp], axis=1), "sleeve", SLATE, True)
    return part, {landmark: np.arange(len(outline)) - first * len(outline)}


def _along(places, ribs, pitch):
    """The place so many ribs along the bent middle line of a sleeve; it turns over from bone to bone within one pitch."""
    before, fold, after = places
    if ribs == 0:
        return fold
    bone, share = before if ribs < 0 else after, min(abs(ribs), 1.0)
    return place(fold.origin + ribs * pitch * bone.w, (1.0 - share) * fold.w + share * bone.w, fold.u)


def _radius(k, radii):
    fold, valley, crest = radii
    low = fold if abs(k) < STEPS / 2 else valley
    return low + (crest - low) * abs(sin(pi * k / STEPS))


def _ramp(k, first, last):
    """0 at the first ring, 1/2 at the fold, 1 at the last, smooth and rising."""
    t = 0.5 - 0.5 * k / first if k < 0 else 0.5 + 0.5 * k / last
    return t * t * (3.0 - 2.0 * t)


def _loop_in(mesh, where, count):
    rows = mesh.vertices[: len(mesh.vertices) // count * count].reshape(-1, count, 3)
    off = np.abs((rows - where.origin) @ where.w).max(axis=1)
    row = int(np.argmax(off < 1e-9))
    return np.arange(row * count, (row + 1) * count)


def bolts(where, count, radius, size=0.0045, height=0.004):
    """A ring of six-sided bolt heads that stand on `where`."""
    spots = radius * circle(count, pi / count)
    return joined([turned([(0, size, 0), (height, 0.8 * size, 0)], where.moved(a, b), 6) for a, b in spots])


def band(where, s, radius, width=0.010, proud=0.0016):
    """A raised band around a tube, from height s."""
    low, high = radius - 0.001, radius + proud
    profile = [(s, low), (s + 0.0005, high), (s + width - 0.0005, high), (s + width, low)]
    return turned(profile, where, TUBE, 0.0)
