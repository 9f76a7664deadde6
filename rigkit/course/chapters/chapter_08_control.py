"""A control as plain data, for checkpoints 08.3 and 08.4: where it stands, what is left in its channels, and its outline.

What a control draws is home after channels after outline: at + axes (move + turn (size p)),
the order T R S of glTF 2.0 (Khronos; ISO/IEC 12113:2022).
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_04_vectors import between

SHORT = 2e-3  # how far an axis may be from length 1 before it is told


def fields(**expected):
    """A form: a dict with these names and no others, each value in its own form."""

    def form(value):
        if type(value) is not dict:
            raise forms.Wrong("wrong kind", forms.came(value, form.expected))
        for name in expected:
            if name not in value:
                raise forms.Wrong(
                    "wrong shape",
                    f"came a control without {name!r}; expected {form.expected}",
                )
        if more := [str(name) for name in value if name not in expected]:
            raise forms.Wrong(
                "wrong shape",
                f"came a control with {more[0][:30]!r} in it; expected {form.expected}",
            )
        return {name: _one(one, value[name], name) for name, one in expected.items()}

    form.expected = f"a dict with {', '.join(expected)}"
    return form


def _one(form, value, name):
    try:
        return form(value)
    except forms.Wrong as wrong:
        raise forms.Wrong(wrong.outcome, f"[{name!r}]: {wrong.line}") from None


def drawn(control):
    """The outline in the world, (N, 3); without `move` and `turn` they are at rest."""
    local = control["points"] * control["size"]
    local = local @ np.asarray(control.get("turn", np.eye(3))).T + control.get("move", 0.0)
    return local @ np.asarray(control["axes"]).T + control["at"]


def axes_gap(axes, right):
    """(degrees, words): how far three columns are from right ones at the worst; not of length 1 is told first."""
    sizes = np.linalg.norm(axes, axis=0)
    if np.abs(sizes - 1).max() > SHORT:
        worst = int(np.abs(sizes - 1).argmax())
        return 180.0, f"{'xyz'[worst]} has length {sizes[worst]:.4g}"
    off = np.degrees([between(axes[:, k], right[:, k]) for k in range(3)])
    return float(off.max()), f"{'xyz'[int(off.argmax())]} is {off.max():.4g} degrees off"


def points_gap(points, right):
    """(metres, words): how far the points of two outlines are from each other; another number of points has no gap but inf."""
    if points.shape != right.shape:
        return np.inf, f"{len(points)} points where there were {len(right)}"
    off = np.linalg.norm(points - right, axis=1)
    return float(off.max(initial=0.0)), ""
