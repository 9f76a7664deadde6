"""Controls as they are drawn: the lines of their outlines, in the colour and the line style of their side.

A solid, a dashed and a dotted line can be told apart without their colours. Dashes are laid
by the length of the line, so that they look alike whatever the outline's corners.
"""

import numpy as np

from rigkit import control as controls
from rigkit.view import marks

DASHES = {
    "dashed": (24, 0.62),
    "dotted": (48, 0.30),
}  # pieces of a line, and the share of each that is drawn
WIDTH = 3.0  # pixels
LIT = 6.0


def layer(lines, looks):
    """The marks of outlines {name: [(N, 3), ...]}; looks: name to (colour, line style)."""
    return marks.Layer(
        strokes=tuple(
            styled(line, *looks[name])
            for name, every in lines.items()
            for line in every
        )
    )


def lines_of(given):
    """{name: [(N, 3), ...]} of some Controls at home; closed lines end where they start."""
    return {control.name: controls.drawn(control) for control in given}


def styled(line, colour, style, width=WIDTH):
    """Strokes along a line (N, 3): "solid", "dashed" or "dotted"; another style is a ValueError."""
    if style == "solid":
        return marks.path(line, colour, width)
    if style not in DASHES:
        raise ValueError(
            f"line style is {style!r}; expected solid, {' or '.join(DASHES)}"
        )
    count, share = DASHES[style]
    begin = np.arange(count) / count
    return marks.strokes(
        along(line, begin), along(line, begin + share / count), colour, width
    )


def along(line, shares):
    """Points (M, 3) at shares (M,) of the length of a line (N, 3)."""
    line = np.asarray(line, dtype=float)
    gone = np.concatenate(
        [[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))]
    )
    return np.stack(
        [np.interp(np.asarray(shares) * gone[-1], gone, line[:, k]) for k in range(3)],
        axis=1,
    )


def nearest(lines, eye, size, pixel, within=12):
    """The name of the outline that falls nearest to `pixel` (x, y), or None beyond `within` pixels."""
    gaps = {
        name: min(_gap(eye.pixels(line, size)[:, :2], pixel) for line in every)
        for name, every in lines.items()
        if every
    }
    best = min(gaps, key=gaps.get, default=None)
    return best if best is not None and gaps[best] <= within else None


def _gap(line, pixel):
    """How far a pixel (2,) is from a line (N, 2)."""
    start, way = line[:-1], np.diff(line, axis=0)
    long = np.maximum((way**2).sum(axis=1), 1e-12)
    share = np.clip(((pixel - start) * way).sum(axis=1) / long, 0.0, 1.0)
    return float(np.linalg.norm(start + share[:, None] * way - pixel, axis=1).min())
