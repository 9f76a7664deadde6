"""Checkpoint 10.1: how far the elbow turns over the last percent of reach, and over one in the middle.

The law of cosines in four numbers. Over the last percent an elbow turns by 16 degrees, ten times as far as over a
percent in the middle; half of that turn happens in the last quarter of it, for the bend goes with the root of what is left.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_10_limbs import ARM, BOOK, LEG, bend, bones, rest, turn
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake

DEGREES, SHARE = 0.1, 0.02  # degrees; percent of the reach
NAMES = ("arm_last", "leg_last", "arm_middle", "half_left")
BEND, TURNED, ROOT = "idea 1, worked step", "idea 1, from a bend to a turn", "idea 1, why it snaps"


def half_left(a, b):
    """What is left of the reach, percent, where the elbow has half of the last percent's turn still to go."""
    half = np.radians(turn(a, b, 0.99, 1.0) / 2)
    return float(100 * (1 - np.sqrt(a * a + b * b + 2 * a * b * np.cos(half)) / (a + b)))


def last_answer(turned=turn, left=half_left, scale=1.0):
    """Return the answer of 10.1 as a function of the context; the defaults are right, every other choice is one planned mistake."""

    def answer(context):
        arm, leg = (bones(rest(context.robot, names)) for names in (ARM, LEG))
        values = (
            scale * turned(*arm, 0.99, 1.0),
            scale * turned(*leg, 0.99, 1.0),
            scale * turned(*arm, 0.70, 0.71),
            left(*arm),
        )
        return dict(zip(NAMES, map(float, values)))

    return answer


def measure(name):
    """A measure of one of the four numbers."""
    limit, unit = (SHARE, "percent") if name == "half_left" else (DEGREES, "degrees")
    words = {
        "arm_last": "how far the elbow turns from 99 % of the reach to straight",
        "leg_last": "how far the knee turns from 99 % of the leg's reach to straight",
        "arm_middle": "how far the elbow turns from 70 % to 71 % of the reach",
        "half_left": "what is left of the reach at half of that turn",
    }[name]

    def measure_number(case, answer, context):
        right, got = last_answer()(context)[name], answer[name]
        off = abs(got - right)
        side = "too large" if got > right else "too small"
        proves = "a turn is asked for, not a direction: above 0" if abs(got + right) <= limit else ""
        if name == "half_left" and off > limit and abs(got / 10 / sum(bones(rest(context.robot))) - right) <= limit:
            proves = "this is in millimetres; a percentage of the reach is asked for"
        return Measure(off <= limit, words, f"{name} = {got:.5g} {unit}, {off:.3g} {side}", off, proves)

    return measure_number


def inner(a, b, distance):
    """The angle inside the triangle, degrees."""
    return 180 - bend(a, b, distance)


MISTAKES = (
    Mistake(
        "inner angle",
        last_answer(lambda a, b, start, stop: inner(a, b, start * (a + b))),
        "this is the angle inside the triangle at the start; the bend is 180 degrees minus it, and a turn is a difference of two",
        ("arm_last", "leg_last", "arm_middle"),
        BEND,
    ),
    Mistake(
        "the bend, not the turn",
        last_answer(lambda a, b, start, stop: bend(a, b, start * (a + b))),
        "this is the bend at the start; how far the elbow turns is the bend at the start less the bend at the end",
        ("arm_middle",),
        TURNED,
    ),
    Mistake(
        "in proportion",
        last_answer(lambda a, b, start, stop: 180 * (stop - start)),
        "1 % of 180 degrees: as if the elbow turned evenly. It does not, its cosine goes with the square of the distance",
        ("arm_last", "leg_last"),
        ROOT,
    ),
    Mistake(
        "the upper bone alone",
        last_answer(lambda a, b, start, stop: turn(a, b, start, stop) / 2),
        "this is half: what one bone turns by against the line. The elbow's bend is both bones' together",
        ("arm_last", "leg_last", "arm_middle"),
        BEND,
    ),
    Mistake(
        "one centimetre",
        last_answer(lambda a, b, start, stop: turn(a, b, stop - 0.01 / (a + b), stop)),
        "this is the last centimetre; a percent of the reach is 0.01 times the reach",
        ("arm_last", "leg_last"),
        TURNED,
    ),
    Mistake(
        "radians",
        last_answer(scale=np.pi / 180),
        "these are radians; degrees are asked for (np.degrees)",
        ("arm_last", "leg_last", "arm_middle"),
        "the convention strip",
    ),
    Mistake(
        "half of the percent",
        last_answer(left=lambda a, b: 0.5),
        "half of the way is not half of the turn: the bend goes with the root of what is left",
        ("half_left",),
        ROOT,
    ),
    Mistake(
        "a share, not percent",
        last_answer(left=lambda a, b: half_left(a, b) / 100),
        "this is a share of the reach; in percent it is 100 times as much",
        ("half_left",),
        ROOT,
    ),
    Mistake(
        "metres",
        last_answer(left=lambda a, b: half_left(a, b) / 100 * (a + b)),
        "this is a length in metres; in percent it is 100 times its share of the reach",
        ("half_left",),
        ROOT,
    ),
    Mistake(
        "what has gone",
        last_answer(left=lambda a, b: 1 - half_left(a, b)),
        "this is what has gone by of the last percent; asked for is what is left",
        ("half_left",),
        ROOT,
    ),
)


def show_last(viewer, answer, context):
    """The arm at 99 % and straight, faint, and bent by the answer's turn."""
    viewer.clear()
    viewer.see_through(True)
    viewer.look("side")
    points = rest(context.robot)
    a, b = bones(points)
    way = (points[2] - points[0]) / np.linalg.norm(points[2] - points[0])
    out = np.cross(way, np.cross(points[1] - points[0], way))
    out /= np.linalg.norm(out)

    def bent(degrees):
        lower = np.sqrt(a * a + b * b + 2 * a * b * np.cos(np.radians(degrees)))
        along = (a * a + lower**2 - b * b) / (2 * lower)
        return np.array([points[0], points[0] + along * way + np.sqrt(max(a * a - along**2, 0)) * out, points[0] + lower * way])

    viewer.faint(bent(bend(a, b, 0.99 * (a + b))))
    if "arm_last" in answer:
        viewer.joints(bent(float(np.clip(answer["arm_last"], 0, 170))), list(ARM))
    viewer.lines({"_straight": np.array([points[0], points[0] + (a + b) * way])})
    viewer.focus(points[1], 0.5)
    viewer.caption("10.1: the arm bent by your arm_last, over a faint copy of the arm at 99 % of its reach. The line is the straight arm.")
    viewer.say(", ".join(f"{name} {answer[name]:.4g}" for name in NAMES if name in answer))


CHECKPOINT = Checkpoint(
    id="10.1",
    title="The last percent",
    kind="value",
    names=dict.fromkeys(NAMES, forms.number()),
    claims=(
        Claim(
            "arm_last",
            "arm_last: the elbow over the last percent",
            2,
            measure("arm_last"),
            "0.1 degrees",
            ("arm_last",),
            BEND,
            settable=True,
        ),
        Claim(
            "leg_last",
            "leg_last: the knee over the last percent",
            1,
            measure("leg_last"),
            "0.1 degrees",
            ("leg_last",),
            BEND,
            settable=True,
        ),
        Claim(
            "arm_middle",
            "arm_middle: the elbow over a percent in the middle",
            1,
            measure("arm_middle"),
            "0.1 degrees",
            ("arm_middle",),
            TURNED,
            settable=True,
        ),
        Claim("half_left", "half_left: where half of the turn is left", 1, measure("half_left"), "0.02 percent", ("half_left",), ROOT),
    ),
    worked=last_answer(),
    hint="The bend of the arm at any distance: np.arccos((d**2 - a**2 - b**2) / (2 * a * b)), in radians. d is a share of a + b.\n"
    "A turn is a difference: the bend at the start less the bend at the end. At full reach the bend is 0.\n"
    "half_left goes the other way: the bend is known, arm_last / 2, and d = np.sqrt(a**2 + b**2 + 2 * a * b * np.cos(bend)).",
    mistakes=MISTAKES,
    closed=BOOK,
    show=show_last,
)
