"""One home for words, colours and labels: sides, the colours of sides, numbers as people read them, and whether only words are shown.

Colours come from the palette of Okabe and Ito (2002; Wong, Nature Methods 8:441,
2011). Cool for the character's left, warm for its right, neutral for the centre
(common practice in the trade, no source). A side is always told by a word and a
shape or line style too, never by colour alone.
"""

import math
import os

PALETTE = {
    "black": "#000000", "orange": "#E69F00", "sky": "#56B4E9", "green": "#009E73",
    "yellow": "#F0E442", "blue": "#0072B2", "vermilion": "#D55E00", "purple": "#CC79A7",
}
SCENE = "#111111"  # the near-black ground of every 3D view
SIDES = ("left", "right", "centre")
SIDE_COLOUR = {"left": PALETTE["sky"], "right": PALETTE["orange"], "centre": "#D8D8D8"}
OWN_COLOUR = dict(SIDE_COLOUR)  # whatever a course may change
SIDE_SHAPE = {"left": "round", "right": "square", "centre": "diamond"}
SIDE_LINE = {"left": "solid", "right": "dashed", "centre": "dotted"}
AXIS_COLOUR = {"x": PALETTE["orange"], "y": PALETTE["green"], "z": PALETTE["sky"]}


def text_only():
    """Whether panels and viewers are to be plain text (RIGKIT_OUTPUT=text): for builds, comparisons and grading."""
    return os.environ.get("RIGKIT_OUTPUT") == "text"


def colour_sides(colours):
    """Draw the sides in other colours from now on, a dict of side to "#rrggbb"; the sides that are left out have their own."""
    SIDE_COLOUR.update(OWN_COLOUR | dict(colours))


def luminance(colour):
    """The relative luminance of "#rrggbb", 0 for black to 1 for white (WCAG 2.2, W3C 2023, "relative luminance").

    >>> luminance("#FFFFFF"), luminance("#000000")
    (1.0, 0.0)
    """
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    """The contrast ratio of two colours, 1 to 21 (WCAG 2.2, "contrast ratio").

    >>> round(contrast("#FFFFFF", "#000000"), 6)
    21.0
    """
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def side(name):
    """Return the side a name tells, by whole words: 'left_elbow_joint' is 'left', 'uplift' is 'centre'.

    >>> side("left_elbow_joint"), side("bright_lamp")
    ('left', 'centre')
    """
    words = name.split("_")
    return next((s for s in ("left", "right") if s in words), "centre")


def millimetres(metres, digits=1):
    """A length in metres, written in millimetres: 0.0123 as '12.3 mm'.

    >>> millimetres(0.0123)
    '12.3 mm'
    """
    return f"{metres * 1000:.{digits}f} mm"


def told_length(metres):
    """A length in metres with three digits at any size, in millimetres below a metre.

    >>> told_length(0.0123456), told_length(2e-6), told_length(3.14159)
    ('12.3 mm', '0.002 mm', '3.14 m')
    """
    return f"{metres * 1000:.3g} mm" if metres < 1 else f"{metres:.3g} m"


def degrees(radians, digits=1):
    """An angle in radians, written in degrees.

    >>> degrees(math.pi / 8)
    '22.5 degrees'
    """
    return f"{math.degrees(radians):.{digits}f} degrees"


def point(p, digits=3):
    """A point in metres as '(0.123, 1.000, -0.050)'; what rounds to zero has no sign.

    >>> point([0.1234, 1, -0.05]), point([0, -1e-17, 0])
    ('(0.123, 1.000, -0.050)', '(0.000, 0.000, 0.000)')
    """
    return "(" + ", ".join(f"{round(float(c), digits) + 0.0:.{digits}f}" for c in p) + ")"
