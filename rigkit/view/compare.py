"""One's own joints beside what is expected: a faint copy, and what differs as short labels in mm and degrees.

Of the differences above a limit the largest are labelled first; a label that has no room of its own is left
out, and the number table holds them all. Degrees are between the bones that end in the two joints, or between
the joints' frames where these are known. A joint that stands right as seen from its parent is off only because
its parent is: it is counted as carried along, and not labelled.
"""

from dataclasses import dataclass
from math import degrees

import numpy as np

from rigkit import mirror, rotation, words
from rigkit.view import joints, labels, marks
from rigkit.view.guides import Guide

LIMIT = 0.0005  # metres; less is no difference
TURN_LIMIT = np.radians(0.5)
MOST, ROWS = 6, 8  # labels, rows
FEW = 12  # a faint copy of so many joints is drawn whole
OFF = words.PALETTE["vermilion"]
TEXT = "#F2F2F2"
AROUND = ((1, 0), (1, 16), (1, -16), (0, 22), (0, -22), (-1, 0), (0, 40), (0, -40))  # where a label may stand: widths outward, pixels up
FAINT_MODEL = 0.34
CORNERS = 12_000  # of a faint model, at most: it is sent anew with every frame


@dataclass(frozen=True)
class Difference:
    """One joint: name, metres, radians (nan where no bone or frame tells), and whether it is only carried along by its parent."""

    name: str
    metres: float
    radians: float = float("nan")
    carried: bool = False

    @property
    def text(self):
        """The label: "left wrist 12.3 mm, 4.5 deg"."""
        parts = [words.millimetres(self.metres)] if self.metres > LIMIT else []
        parts += [f"{degrees(self.radians):.1f} deg"] if self.radians > TURN_LIMIT else []
        return f"{self.name.removesuffix('_joint').replace('_', ' ')} {', '.join(parts)}"


def differences(own, expected, parents=None, turns=None, expected_turns=None, limit=LIMIT):
    """The Differences of points {name: (3,)} above the limits, the largest first; names that one of the two lacks are left out.

    parents: name to the name of the joint a bone comes from. turns: {name: quaternion}, compared instead of bones where both sides have it.
    limit: metres.
    """
    found = []
    for name in (name for name in expected if name in own):
        gap = float(np.linalg.norm(np.subtract(own[name], expected[name])))
        angle = _angle(name, own, expected, parents or {}, turns or {}, expected_turns or {})
        if gap > limit or angle > TURN_LIMIT:
            carried = parents is not None and _carried_along(name, parents.get(name), (own, turns or {}), (expected, expected_turns or {}), limit)
            found.append(Difference(name, gap, angle, carried))
    return sorted(found, key=lambda one: (one.carried, -one.metres, -one.radians))


def _carried_along(name, parent, own, expected, limit):
    """Whether a joint stands in its parent's frame as expected; without frames: whether it is off by the same move."""
    if any(parent not in points for points, _ in (own, expected)):
        return False
    apart = [np.subtract(points[name], points[parent]) for points, _ in (own, expected)]
    if all(name in turns and parent in turns for _, turns in (own, expected)):
        back = [rotation.invert(turns[parent]) for _, turns in (own, expected)]
        local = [rotation.rotate(turn, way) for turn, way in zip(back, apart)]
        turned = [rotation.multiply(turn, turns[name]) for turn, (_, turns) in zip(back, (own, expected))]
        return bool(np.linalg.norm(local[0] - local[1]) <= limit and rotation.angle(*turned) <= TURN_LIMIT)
    return bool(np.linalg.norm(apart[0] - apart[1]) <= limit)


def _angle(name, own, expected, parents, turns, expected_turns):
    if name in turns and name in expected_turns:
        return float(rotation.angle(turns[name], expected_turns[name]))
    parent = parents.get(name)
    if parent not in own or parent not in expected:
        return float("nan")
    a, b = (np.subtract(points[name], points[parent]) for points in (own, expected))
    if min(np.linalg.norm(a), np.linalg.norm(b)) < 1e-9:
        return float("nan")
    return float(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b))


def guide(own, expected, parents, found, eye, size, model=None):
    """The Guide of a comparison: the faint copy of `expected` {name: (3,)}, a line from each joint to where it should be, labels, rows."""
    names = _drawn(expected, parents, found)
    tree = [names.index(parents[name]) if parents.get(name) in names else -1 for name in names]
    faint = joints.faint_layer(np.array([expected[name] for name in names]).reshape(-1, 3), tree, 18)
    layers = [faint, *([model] if model else [])]
    lines = [marks.strokes(own[one.name], expected[one.name], OFF, 3) for one in found if one.metres > LIMIT and not one.carried]
    told = laid(found, own, eye, size)
    layer = marks.Layer(
        tuple(g for one in layers for g in one.glyphs), tuple(s for one in layers for s in one.strokes) + tuple(lines), tuple(told),
        tuple(s for one in layers for s in one.sheets))
    return Guide(layer, rows(found, len([name for name in expected if name in own])))


def _drawn(expected, parents, found):
    """The joints of the faint copy: all of a few; of many those that differ by themselves, and where their bones come from."""
    if len(expected) <= FEW:
        return list(expected)
    wanted = {name for one in found if not one.carried for name in (one.name, parents.get(one.name))}
    return [name for name in expected if name in wanted]


def rows(found, count):
    """Rows of the number table."""
    if not found:
        return (("compared", f"{count} joints, no difference above {words.millimetres(LIMIT)} and {degrees(TURN_LIMIT):.1f} degrees"),)
    first = [one for one in found if not one.carried]
    told = [(f"{one.name} off by", _row(one)) for one in first[:ROWS]]
    more = [("further joints off", str(len(first) - ROWS))] if len(first) > ROWS else []
    carried = [("carried along", f"{len(found) - len(first)} joints")] if len(first) < len(found) else []
    return (("compared", f"{count} joints, {len(found)} differ"), *told, *more, *carried)


def _row(one):
    return words.millimetres(one.metres) + ("" if np.isnan(one.radians) else f", {degrees(one.radians):.1f} degrees")


def laid(found, points, eye, size):
    """Words for the largest differences, each beside its joint (3,) where no other word stands; what has no room is left out."""
    taken, told = [], []
    for one in [one for one in found if not one.carried][:MOST]:
        outward = 1 if eye.pixels(points[one.name], size)[0] >= size[0] / 2 else -1
        for across, up in AROUND:
            half = labels.LETTER * 12 * len(one.text) / 2 + 14
            word = marks.Word(one.text, tuple(points[one.name]), TEXT, (round(outward * across * half), up), 12)
            box = labels.box(word, word.point, eye, size)
            if _inside(box, size) and not any(_overlap(box, other) for other in taken):
                taken.append(box)
                told.append(word)
                break
    return told


def _inside(box, size):
    x, y, w, h = box
    return w <= x <= size[0] - w and h <= y <= size[1] - h


def _overlap(a, b):
    return abs(a[0] - b[0]) < a[2] + b[2] and abs(a[1] - b[1]) < a[3] + b[3]


# ---- what is compared -------------------------------------------------------------------------------------------


class Comparison:
    """What is expected, and how to find it again in every picture: `guide()` is a function for Viewer.guide.

    expected: a rig's Pose, {name: (3,)} or points (N, 3) with `names`. parts: names of parts to draw faintly too, as a Pose has them; True for all.
    """

    def __init__(self, viewer, expected, names=None, parents=None, parts=(), limit=LIMIT):
        self._viewer, self._limit = viewer, float(limit)
        self.expected, self._turns = _joints_of(viewer, expected, names)
        self._parents = _parents(viewer, list(self.expected), parents)
        self._model = _faint_model(viewer, expected, parts)

    def own(self):
        """One's own joints now: {name: (3,)}, {name: turn}."""
        return _own(self._viewer)

    def found(self):
        """The Differences now."""
        points, turns = self.own()
        return differences(points, self.expected, self._parents, turns, self._turns, self._limit)

    def guide(self):
        """The Guide as the scene stands."""
        return guide(self.own()[0], self.expected, self._parents, self.found(), self._viewer.eye, self._viewer.size, self._model)


class Sides(Comparison):
    """One side laid over the other: where the joints of the side `source` would be on the other side, mirrored over a plane."""

    def __init__(self, viewer, source="left", plane=None, limit=LIMIT):
        if source not in ("left", "right"):
            raise ValueError(f"source is {source!r}; expected 'left' or 'right': the side that is laid over the other")
        self._viewer, self._source, self._plane, self._limit = viewer, source, plane or mirror.Plane(), float(limit)
        self._turns, self._model = {}, None
        names = [name for name in self.own()[0] if words.side(name) == source]
        if not names:
            raise ValueError(f"no joint of the {source} side is drawn; draw joints of both sides first: viewer.joints(...) or viewer.rig(...)")
        self._parents = _parents(viewer, [mirror.names(name) for name in names], None)

    @property
    def expected(self):
        """The mirrored joints now, under the other side's names."""
        points = {name: point for name, point in self.own()[0].items() if words.side(name) == self._source}
        return dict(zip((mirror.names(name) for name in points), mirror.points(np.array(list(points.values())), self._plane)))

    def own(self):
        """Positions only: frames of two sides may be mirrored in more than one way."""
        return _own(self._viewer)[0], {}


class Switched(Comparison):
    """What a switch between before and after shows, beside what it does not show."""

    def __init__(self, viewer, panel, limit=LIMIT):
        self._viewer, self._panel, self._limit, self._model = viewer, panel, float(limit), None
        self._parents = _parents(viewer, list(self.expected), None)

    @property
    def expected(self):
        """The joints that are not shown."""
        return _joints_of(self._viewer, self._panel.other, None)[0]

    @property
    def _turns(self):
        return _joints_of(self._viewer, self._panel.other, None)[1]


def _joints_of(viewer, given, names):
    """{name: (3,)} and {name: turn} of a rig's Pose, of a mapping, or of points (N, 3) with names."""
    if not hasattr(given, "positions"):
        points, names, _ = joints.named(given, names)
        return dict(zip(names, points)), {}
    names = list(_skeleton(viewer).names)
    if np.shape(given.positions) != (len(names), 3):
        raise ValueError(f"the pose has joints of shape {np.shape(given.positions)}; expected ({len(names)}, 3): one pose of the character's skeleton")
    return dict(zip(names, np.asarray(given.positions))), dict(zip(names, np.asarray(given.rotations)))


def _own(viewer):
    """The joints a viewer shows now, and their turns where they are known: its panel's, if that has any, and those drawn by `joints`."""
    panel = viewer.panel
    if hasattr(panel, "compared"):
        return panel.compared()
    return viewer.drawn_joints() | ({} if panel is None else panel.joints()), {}


def _skeleton(viewer):
    if viewer.character is None:
        raise ValueError("a pose is compared with a character's skeleton; expected a viewer with a character, or points with their names")
    return viewer.character.skeleton


def _parents(viewer, names, parents):
    """Each name's parent's name: as given by number, else the character's, else none."""
    if parents is not None:
        numbers = joints.named(np.zeros((len(names), 3)), names, parents)[2]
        return {name: names[p] for name, p in zip(names, numbers) if p >= 0}
    skeleton = getattr(viewer.character, "skeleton", None)
    if skeleton is not None and set(names) <= set(skeleton.names):
        return {name: skeleton.parent(name) for name in names}
    return dict(zip(names[1:], names))


def _faint_model(viewer, pose, parts):
    """Parts of the character as they stand in a Pose, as see-through sheets; None where there are none to draw."""
    if not parts:
        return None
    if not hasattr(pose, "matrices"):
        raise ValueError("parts are drawn where a pose has them; expected a rig's Pose for `expected`, or no parts")
    character = viewer.character
    chosen = [part for part in character.parts if parts is True or part.name in set(parts)]
    for name in () if parts is True else parts:
        character.part(name)
    if (count := sum(len(part.mesh.vertices) for part in chosen)) > CORNERS:
        raise ValueError(f"the parts have {count} corners together; expected {CORNERS} at most: name fewer parts")
    rest, now = (np.asarray(one.matrices) for one in (viewer.figure.rest, pose))
    return marks.Layer(sheets=tuple(
        marks.Sheet(_carried(part, character.skeleton, now @ np.linalg.inv(rest)), np.asarray(part.mesh.triangles), "#9AA3AA", FAINT_MODEL) for part in chosen))


def _carried(part, skeleton, matrices):
    """A part's vertices, carried by the blend of its joints' matrices."""
    own = matrices[[skeleton.index(name) for name in part.joints]]
    points = np.column_stack([part.mesh.vertices, np.ones(len(part.mesh.vertices))])
    return np.einsum("vk,kab,vb->va", np.asarray(part.weights), own, points)[:, :3]
