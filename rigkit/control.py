"""Controls: what the animator takes hold of.

A control is a frame that stands somewhere at rest (its *home* frame), *channels*
that move it from there, and an outline to see and pick. At home every move and turn
is zero and the size is one: nothing is left over on a control at rest, and its pivot is
where its frame stands, on the joint it serves (common practice, no source). Channels that
do nothing are closed.

A control of the other side is its mirror image: the home frame mirrored to a frame that is
still right-handed, the outline's points mirrored, the side in the name swapped. No scale is
involved, so none can be negative. Names: see `rigkit.naming`; outlines: `rigkit.outline`.
"""

from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from math import inf, pi

import numpy as np

from rigkit import arguments, frame, mirror, outline, words
from rigkit.naming import build as build_name  # noqa: F401 (part of this module's calls)
from rigkit.naming import check as check_names  # noqa: F401
from rigkit.naming import parse as parse_name  # noqa: F401
from rigkit.naming import problems as name_problems  # noqa: F401
from rigkit.outline import Outline
from rigkit.rotation import IDENTITY

MOVES = ("move_x", "move_y", "move_z")
TURNS = ("turn_x", "turn_y", "turn_z")
FAR = 100.0  # metres; a move has a range, but nobody meets its end


@dataclass(frozen=True)
class Channel:
    """One number of a control: its value at home, its range, and whether it is open to the animator.

    Moves are metres, turns radians. flips: whether a value changes its sign when the pose is
    flipped to the other side (moves and turns know that themselves). Raises ValueError where home is outside the range.
    """

    name: str
    home: float = 0.0
    low: float = -inf
    high: float = inf
    open: bool = True
    flips: bool = False

    def __post_init__(self):
        if not self.low <= self.home <= self.high:
            raise ValueError(f"channel {self.name} is {self.home:g} at home; expected a value in its range, {self.low:g} to {self.high:g}")


@dataclass(frozen=True, eq=False)
class Control:
    """A control: name, home frame in the world (position (3,) metres, rotation (4,)), channels, outline, rotation order.

    channels: those given; moves and turns that are not among them are there, closed. outline: in
    the control's own frame, metres, or None. order: of the three turns, for example "XYZ".
    Raises ValueError for a channel named twice.
    """

    name: str
    position: np.ndarray
    rotation: np.ndarray = field(default_factory=lambda: IDENTITY)
    channels: tuple = ()
    outline: Outline | None = None
    order: str = "XYZ"

    def __post_init__(self):
        for name, check, width in (("position", arguments.points, 3), ("rotation", arguments.quaternions, 4)):
            value = check(f"{name} of {self.name}", getattr(self, name)).copy()
            if value.shape != (width,):
                raise ValueError(f"{name} of {self.name} has shape {value.shape}; expected ({width},)")
            value.flags.writeable = False
            object.__setattr__(self, name, value)
        if sorted(self.order) != ["X", "Y", "Z"]:
            raise ValueError(f"order of {self.name} is {self.order!r}; expected X, Y and Z in any order, about moving axes")
        given = [channel.name for channel in self.channels]
        if twice := next((n for n in given if given.count(n) > 1), None):
            raise ValueError(f"{self.name} has two channels called {twice!r}; expected a name for each")
        closed = tuple(Channel(n, open=False) for n in (*MOVES, *TURNS) if n not in given)
        object.__setattr__(self, "channels", (*self.channels, *closed))

    def channel(self, name):
        """Return the channel called `name`; an unknown one is a ValueError that names near ones."""
        found = next((c for c in self.channels if c.name == name), None)
        if found is None:
            every = [c.name for c in self.channels]
            near = get_close_matches(str(name), every, n=3, cutoff=0.5) or [c.name for c in self.channels if c.open][:4]
            raise ValueError(f"{self.name} has no channel called {name!r}; near it: {', '.join(near)}")
        return found

    @property
    def open_channels(self):
        """The channels an animator can use."""
        return tuple(c for c in self.channels if c.open)

    @property
    def side(self):
        """ "left", "right" or "centre", by whole words of the name."""
        return words.side(self.name)

    @property
    def home(self):
        """The home frame as a pair (rotation, position)."""
        return self.rotation, self.position


def moves(axes="xyz", low=-FAR, high=FAR):
    """Return open move channels for these axes, metres.

    >>> [c.name for c in moves("xz")]
    ['move_x', 'move_z']
    """
    return tuple(Channel(f"move_{axis}", 0.0, low, high) for axis in axes)


def turns(axes="xyz", low=-pi, high=pi):
    """Return open turn channels for these axes, radians.

    >>> [c.name for c in turns("z")]
    ['turn_z']
    """
    return tuple(Channel(f"turn_{axis}", 0.0, low, high) for axis in axes)


def fit(control, shape, points, figure=None, margin=outline.MARGIN):
    """Return the control with the outline called `shape`, large enough to enclose a part and to be seen.

    points: the part's (N, 3), in the world. figure: all points of the model, (N, 3), for the
    smallest size that can be picked with the whole of it in view; None: no such size.

    >>> ring = fit(Control("left_hand_control", [0, 1, 0]), "ring", [[0.1, 1, 0], [-0.1, 1, 0]])
    >>> round(ring.outline.size, 3)
    0.24
    """
    least = 0.0 if figure is None else outline.least_size(figure)
    local = frame.to_local(control.home, points)
    return replace(control, outline=outline.fitted(shape, local, margin, least))


def clearance(control, points):
    """Return how far the control's outline stands out beyond a part's points (N, 3) in the world, metres; below zero it is inside.

    A control with no outline is a ValueError.
    """
    if control.outline is None:
        raise ValueError(f"{control.name} has no outline; expected one: see control.fit")
    return outline.clearance(control.outline, frame.to_local(control.home, points))


def drawn(control, rotation=None, position=None):
    """Return the outline's lines as world points, a list of (N, 3); closed ones end where they start.

    rotation, position: where the control stands; None: at home.

    >>> drawn(Control("left_hand_control", [0, 1, 0], outline=outline.shape("diamond")))[0][0]
    array([0., 1., 1.])
    """
    place = (control.rotation if rotation is None else rotation, control.position if position is None else position)
    if control.outline is None:
        return []
    lines = (np.vstack([line, line[:1]]) if closed else line for line, closed in zip(control.outline.lines, control.outline.closed))
    return [frame.to_world(place, line) for line in lines]


# ---- a set of controls ------------------------------------------------------------------------------------------


def styles(controls):
    """Return for each control's name how it is drawn: (colour, line style) of its side.

    The colour is never alone: the line style tells the side too, and so does the name.

    >>> styles([Control("left_hand_control", [0, 1, 0])])
    {'left_hand_control': ('#56B4E9', 'solid')}
    """
    return {c.name: (words.SIDE_COLOUR[c.side], words.SIDE_LINE[c.side]) for c in controls}


def count(controls):
    """Return (number of controls, number of open channels): what an animator has to keep in mind.

    >>> count([Control("left_hand_control", [0, 1, 0], channels=moves())])
    (1, 3)
    """
    controls = list(controls)
    return len(controls), sum(len(c.open_channels) for c in controls)


def mirrored(control, plane, how="parallel"):
    """Return the control of the other side: frame and outline mirrored over the plane, the side in the name swapped.

    how: "matched" for limbs (equal turns give the mirror image), "parallel" for the rest, see
    `rigkit.mirror`. A channel's range is mirrored with its sign. A name with no side is a ValueError.

    >>> other = mirrored(Control("left_hand_control", [0.3, 1, 0]), mirror.Plane())
    >>> other.name, other.position, other.rotation
    ('right_hand_control', array([-0.3,  1. ,  0. ]), array([0., 0., 0., 1.]))
    """
    name = mirror.names(control.name)
    if name == control.name:
        raise ValueError(f"{control.name!r} names no side; expected left or right: a control of the centre is its own mirror image")
    rotation, position = mirror.frames(control.home, plane, how)
    turn_signs, move_signs = mirror.channel_signs(control.rotation, rotation, plane)
    signs = dict(zip((*TURNS, *MOVES), (*turn_signs, *move_signs)))
    return replace(
        control,
        name=name,
        rotation=rotation,
        position=position,
        outline=_other_outline(control, (rotation, position), plane),
        channels=tuple(_other_channel(c, signs.get(c.name, -1 if c.flips else 1)) for c in control.channels),
    )


def both_sides(controls, plane, ways=None):
    """Return the controls with those of the other side added behind, in order.

    ways: control name to "matched" or "parallel"; those not named are parallel. Raises
    ValueError where a control of the other side is there already: two would share a name.

    >>> [c.name for c in both_sides([Control("left_hand_control", [0.3, 1, 0])], mirror.Plane())]
    ['left_hand_control', 'right_hand_control']
    """
    controls, ways = list(controls), dict(ways or {})
    names = {c.name for c in controls}
    if unknown := sorted(set(ways) - names):
        raise ValueError(f"ways names {unknown[0]!r}, which is no control here; expected one of {', '.join(sorted(names)[:6])}")
    sided = [c for c in controls if mirror.names(c.name) != c.name]
    if taken := next((c for c in sided if mirror.names(c.name) in names), None):
        raise ValueError(
            f"{mirror.names(taken.name)!r} is there already; expected one side only: leave out one of the two before mirroring"
        )
    return (*controls, *(mirrored(c, plane, ways.get(c.name, "parallel")) for c in sided))


def _other_channel(channel, sign):
    if sign > 0:
        return channel
    return replace(channel, home=-channel.home + 0.0, low=-channel.high, high=-channel.low)


def _other_outline(control, home, plane):
    if control.outline is None:
        return None
    lines = (frame.to_local(home, mirror.points(frame.to_world(control.home, line), plane)) for line in control.outline.lines)
    return Outline(tuple(lines), control.outline.closed)
