"""Guides of a limb of two bones: its bend plane, the line on which it flips, the circle its middle joint can swivel on.

All three are about what a target leaves open. Root, middle and end span the *bend plane*. With root and end held, the middle
joint can still go round a *circle*; the swivel angle says where on it. And where target and pole point stand in one line with
the root there is no plane to choose: on that *flip line* the swivel gain is without bound (see `rigkit.limb`).
"""

import numpy as np

from rigkit import arguments, bend, limb, words
from rigkit.view import marks
from rigkit.view.guides import Guide

PLANE, FLIP, SWIVEL = (words.PALETTE["yellow"], words.PALETTE["vermilion"], words.PALETTE["green"])
FAINT = "#8A9299"


def plane(root, mid, end, hinge=None):
    """The bend plane through root, mid and end, (3,) each, metres, with its normal; a straight limb needs its `hinge` axis (3,)."""
    root, mid, end = (arguments.points(name, p) for name, p in (("root", root), ("mid", mid), ("end", end)))
    normal = bend.normal(root, mid, end) if hinge is None else arguments.directions("hinge", hinge)
    line = end - root
    size = np.linalg.norm(line)
    side = np.cross(line / size, normal)
    side *= np.sign(side @ (mid - root)) or 1.0
    reach = max(0.28 * size, side @ (mid - root) + 0.1 * size)
    corners = [root - 0.08 * size * side, root + reach * side, end + reach * side, end - 0.08 * size * side]
    tip = mid + 0.25 * size * normal
    layer = marks.Layer(
        sheets=(marks.Sheet(np.array(corners), np.array([[0, 1, 2], [0, 2, 3]]), PLANE, 0.18),),
        strokes=(marks.path(corners, PLANE, 1.5, closed=True), marks.dashes(root, end, FAINT, 1.5, 11), *arrow(mid, tip, PLANE)),
        words=(marks.Word("bend plane", tuple(corners[2]), PLANE, (0, 12), 12), marks.Word("normal", tuple(tip), PLANE, (0, 12), 12)),
    )
    return Guide(layer, (("bend", words.degrees(bend.angle(root, mid, end))), ("normal of the bend plane", words.point(normal))))


def flip_line(root, pole, target=None):
    """The line through root and pole point, (3,) each, metres, on which the limb flips; with a target, how far off it that is."""
    root, pole = arguments.points("root", root), arguments.points("pole", pole)
    ahead, behind = root + 1.15 * (pole - root), root - 0.6 * (pole - root)
    strokes = [marks.dashes(behind, ahead, FLIP, 2.5, 21)]
    told, rows = [marks.Word("flip line", tuple(ahead), FLIP, (0, 14), 12)], []
    if target is not None:
        target = arguments.points("target", target)
        gain = float(limb.swivel_gain(root, target, pole))
        angle = float(np.arctan2(1.0, gain)) if np.isfinite(gain) else 0.0
        way = arc(root, target - root, pole - root, 0.45 * np.linalg.norm(target - root))
        strokes += [marks.path(way, FLIP, 2), marks.dashes(root, target, FAINT, 1.5, 11)]
        told.append(marks.Word(words.degrees(angle, 0), tuple(way[len(way) // 2]), FLIP, (0, 12), 12))
        turned = "without bound" if not np.isfinite(gain) else f"{abs(gain):.2f} degrees a degree of the target"
        rows = [("target to flip line", words.degrees(angle)), ("swivel gain", turned)]
    return Guide(marks.Layer(glyphs=(marks.glyphs(root, "cross", FLIP, 14),), strokes=tuple(strokes), words=tuple(told)), tuple(rows))


def swivel_circle(root, mid, end, reference):
    """The circle that mid can go round, root and end being held, (3,) each, metres; the angle from the direction `reference` (3,)."""
    angle = float(limb.swivel_angle(root, mid, end, reference))
    root, mid, end = (np.asarray(p, dtype=float) for p in (root, mid, end))
    axis = (end - root) / np.linalg.norm(end - root)
    centre = root + axis * (axis @ (mid - root))
    radius = np.linalg.norm(mid - centre)
    zero = np.asarray(reference, dtype=float) - axis * (axis @ np.asarray(reference, dtype=float))
    zero = radius * zero / np.linalg.norm(zero)
    turns = np.linspace(0, angle, 25)[:, None]
    swept = centre + np.cos(turns) * zero + np.sin(turns) * np.cross(axis, zero)
    layer = marks.Layer(
        glyphs=(marks.glyphs(centre, "ring", SWIVEL, 9), marks.glyphs(mid, "ring", SWIVEL, 20)),
        strokes=(
            marks.circle(centre, axis, radius, SWIVEL, 1.6), marks.path(swept, SWIVEL, 4.5), marks.dashes(root, end, FAINT, 1.5, 11),
            marks.dashes(centre, centre + 1.25 * zero, SWIVEL, 1.5, 7), marks.strokes(centre, mid, SWIVEL, 2)),
        words=(
            marks.Word("0", tuple(centre + 1.25 * zero), SWIVEL, (0, 12), 12),
            marks.Word(f"swivel {words.degrees(angle, 0)}", tuple(swept[12] + 0.35 * (swept[12] - centre)), SWIVEL, (0, 12), 12)),
    )  # fmt: skip
    return Guide(
        layer,
        (
            ("swivel", f"{words.degrees(angle)} from the direction {words.point(reference)}"),
            ("circle", f"radius {words.millimetres(radius)}"),
        ),
    )


def arc(centre, start, stop, radius, count=25):
    """Points (count, 3) from the direction `start` (3,) the short way to `stop` (3,), metres from the centre."""
    start, stop = (np.asarray(v, dtype=float) / np.linalg.norm(v) for v in (start, stop))
    across = stop - (stop @ start) * start
    size = np.linalg.norm(across)
    if size < 1e-9:
        return np.tile(centre + radius * start, (count, 1))
    turns = np.linspace(0, np.arctan2(size, stop @ start), count)[:, None]
    return centre + radius * (np.cos(turns) * start + np.sin(turns) * across / size)


def arrow(start, tip, colour, width=2.0):
    """Strokes of an arrow from start to tip, (3,) each: its head is one stroke that tapers to nothing."""
    start, tip = np.asarray(start, dtype=float), np.asarray(tip, dtype=float)
    neck = start + 0.82 * (tip - start)
    cuts = np.linspace(neck, tip, 5)  # in pieces: a still picture gives each piece one width
    head = [marks.strokes(a, b, colour, width + w, width + w - 2) for a, b, w in zip(cuts[:-1], cuts[1:], (6, 4, 2, 0.5))]
    return (marks.strokes(start, neck, colour, width), *head)
