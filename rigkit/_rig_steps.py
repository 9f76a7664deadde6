"""The steps of a rig: what each finds, in which order, and what is not there yet.

Under `rigkit.rig`, which puts the steps of its links and its controls together. See `rigkit.links.Step`.
"""

from rigkit import _rows as rows
from rigkit.arithmetic import product_rows
from rigkit.control import MOVES, TURNS
from rigkit.links import WORLD, Step


def own(name, order, used):
    """The step in which a frame's own channels move it from where it stands; those that are never used cost nothing."""
    base, still, sized, turn = f"{name}:base", used.isdisjoint(MOVES), "size" in used, f"{name}.turn"
    (x, y, z), (a, b, c) = ([f"{name}.{channel}" if channel in used else "" for channel in group] for group in (MOVES, TURNS))
    letters = "".join(axis for axis in order if f"turn_{axis.lower()}" in used)

    def run(frames, values):
        frame, value = frames[base], values.get
        q = value(turn) or rows.from_turns(letters, value(a, 0.0), value(b, 0.0), value(c, 0.0)) if letters else None
        place = frame[1]
        if not still:
            move = value(x, 0.0), value(y, 0.0), value(z, 0.0)
            if type(move[0]) is not float or type(move[1]) is not float or type(move[2]) is not float or move != rows.ORIGIN:
                place = rows.at(frame, move)
        if q is None and not sized:
            return (frame,) if place is frame[1] else ((frame[0], place, frame[2]),)
        return ((product_rows(frame[0], q) if q else frame[0], place, frame[2] * values[size] if sized else frame[2]),)

    size = f"{name}.size"
    return Step((name,), (base,), run)


class Frames(dict):
    """Frames by name; one that is missing is made by its step."""

    def __init__(self, makers, values):
        super().__init__({WORLD: rows.WORLD})
        self._makers, self._values = makers, values

    def __missing__(self, name):
        step = self._makers[name]
        self.update(zip(step.gives, step.run(self, self._values)))
        return self[name]


def drivers(links):
    """Each driven frame's link; one with two is a ValueError."""
    driven = {}
    for link in links:
        for name in link.drives:
            if name in driven:
                raise ValueError(
                    f"{name} is driven by {type(driven[name]).__name__} and {type(link).__name__}; "
                    "expected one link a frame: blend the two, or drop one"
                )
            driven[name] = link
    return driven


def ordered(steps):
    """The steps in an order in which each finds what it needs; a cycle is a ValueError that names it."""
    maker = {name: step for step in steps for name in step.gives}
    order, placed = [], {WORLD}

    def visit(name, climb):
        if name in placed:
            return
        if name in climb:
            ring = [n.removesuffix(":base") for n in [*climb[climb.index(name) :], name]]
            told = [n for i, n in enumerate(ring) if i == 0 or n != ring[i - 1]]
            raise ValueError(
                f"links form a cycle: {' -> '.join(told)} (each needs the next); "
                "expected frames that end at the world: let one of them follow something else"
            )
        step = maker[name]
        for need in (*step.needs, *step.maybe):
            visit(need, [*climb, name])
        if name not in placed:
            order.append(step)
            placed.update(step.gives)

    for step in steps:
        visit(step.gives[0], [])
    return order
