"""Trails: the way a joint goes, with a dot at even times, so that where dots lie far apart it is fast."""

import numpy as np

from rigkit import arguments, words
from rigkit.view import marks
from rigkit.view.guides import Guide

COLOURS = tuple(words.PALETTE[name] for name in ("yellow", "purple", "green", "vermilion", "sky"))


def trails(ways, now=None, every=0):
    """Trails {label: (N, 3)}, metres; the first is solid, the second dashed, the third dotted, and again.

    now: the place to mark, 0 to N - 1. every: places from dot to dot.
    """
    drawn, dots, told, rows = [], [], [], []
    for i, (label, way) in enumerate(ways.items()):
        way, colour = (arguments.points(f"trails[{label!r}]", way).reshape(-1, 3), COLOURS[i % len(COLOURS)])
        drawn += line(way, colour, i)
        dots += [marks.glyphs(way[::every], "round", colour, 5)] if every else []
        dots += [marks.glyphs(way[now], "target", colour, 16)] if now is not None else []
        told.append(marks.Word(label, tuple(way[-1]), colour, (0, 13 if i % 2 == 0 else -13), 12))
        length = float(np.linalg.norm(np.diff(way, axis=0), axis=1).sum())
        rows.append(
            (f"way of {label}", f"{words.told_length(length)} long" + (f", now at {words.point(way[now])} m" if now is not None else ""))
        )
    return Guide(marks.Layer(glyphs=tuple(dots), strokes=tuple(drawn), words=tuple(told)), tuple(rows))


def line(way, colour, style, width=2.2):
    """Strokes along a way (N, 3): whole for style 0, dashes for 1, dots for 2, and so on from the start."""
    if len(way) < 2:
        return []
    if style % 3 == 0:
        return [marks.path(way, colour, width)]
    gone = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(way, axis=0), axis=1))])
    if gone[-1] == 0:
        return []
    step, share = ((0.024, 0.6), (0.014, 0.25))[style % 3 - 1]
    starts = np.arange(0, gone[-1], max(step, gone[-1] / 400))
    ends = np.minimum(starts + share * max(step, gone[-1] / 400), gone[-1])
    at = lambda lengths: np.stack([np.interp(lengths, gone, column) for column in way.T], axis=-1)
    return [marks.strokes(at(starts), at(ends), colour, width)]
