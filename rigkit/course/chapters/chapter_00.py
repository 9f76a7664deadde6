"""Chapter 00, start here: a tour with one warm-up checkpoint about units, sides and angles."""

import numpy as np

from rigkit.course import forms
from rigkit.course.checkpoint import Chapter, Checkpoint, Claim, Measure, Mistake
from rigkit.words import millimetres, point

LEFT = np.array([1.0, 0, 0])  # a character faces +Z with +Y up (glTF 2.0, "Coordinate System and Units"), so its left is +X


def extent(robot, axis):
    """The robot's size along one world axis, metres: 0 width, 1 height, 2 depth."""
    corners = np.concatenate([part.mesh.vertices for part in robot.parts])
    return float(np.ptp(corners[:, axis]))


def height_right(case, answer, context):
    """The height in metres, within a millimetre."""
    off = abs(answer["height"] - extent(context.robot, 1))
    gap = millimetres(off) if off < 10 else f"{off:.1f} m"
    return Measure(
        off <= 0.001,
        "the highest corner's y minus the lowest corner's y, in metres",
        f"height = {answer['height']:.4f}   ({gap} off; tolerance 1 mm)",
        off,
    )


def left_right(case, answer, context):
    """The direction to the robot's left, within a tenth of a degree; its length makes no difference."""
    given = answer["towards_left"]
    size = np.linalg.norm(given)
    if size == 0:
        return Measure(
            False, "a direction: three numbers, not all 0", f"towards_left = {point(given)}   (length 0; tolerance 0.1 degree)", 180.0
        )
    off = float(np.degrees(np.arctan2(np.linalg.norm(np.cross(given, LEFT)), given @ LEFT)))
    return Measure(
        off <= 0.1,
        "the direction from Tally's middle to its left arm",
        f"towards_left = {point(given)}   ({off:.1f} degrees off; tolerance 0.1 degree)",
        off,
    )


def quarter_right(case, answer, context):
    """A quarter turn in radians."""
    off = abs(answer["quarter_turn"] - np.pi / 2)
    return Measure(
        off <= 0.001,
        "a quarter of a full turn, in radians; a full turn is 2 pi",
        f"quarter_turn = {answer['quarter_turn']:.4f}   ({off:.4f} rad off; tolerance 0.001 rad)",
        off,
    )


def answer(**other):
    """Return the answer of 00.1 as a function of the context: right but for `other`, each a function of the robot."""
    right = {"height": lambda robot: extent(robot, 1), "towards_left": lambda robot: LEFT.copy(), "quarter_turn": lambda robot: np.pi / 2}
    return lambda context: {name: value(context.robot) for name, value in {**right, **other}.items()}


def show_measures(viewer, answer, context):
    """Draw the height as a line beside the robot and the answer's left as a line from its middle, over faint ones."""
    low, high = np.array([0.5, 0, 0]), np.array([0.5, extent(context.robot, 1), 0])
    middle = np.array([0, high[1] / 2, 0.2])
    viewer.clear()
    viewer.look("front")
    viewer.see_through(False)
    viewer.faint(np.array([low, high, middle, middle + 0.4 * LEFT]), [-1, 0, -1, 2])
    lines = {}
    if "height" in answer:
        lines["your height"] = np.array([low, low + [0, np.clip(answer["height"], 0.0, 3.0), 0]])
    if "towards_left" in answer and np.linalg.norm(answer["towards_left"]) > 0:
        lines["your left"] = np.array([middle, middle + 0.4 * answer["towards_left"] / np.linalg.norm(answer["towards_left"])])
    viewer.lines(lines)
    viewer.caption("00.1: your height and your left, over a faint copy of Tally's.")
    viewer.say("Faint: Tally's height and its left. Drawn over them: yours (a height is cut off at 3 m).")


WARM_UP = Checkpoint(
    id="00.1",
    title="Metres, sides, radians",
    kind="value",
    names={"height": forms.number(), "towards_left": forms.point(), "quarter_turn": forms.number()},
    claims=(
        Claim("height", "Tally's height, in metres", 1, height_right, "1 mm", ("height",), "step 4, the height", settable=True),
        Claim("left", "the direction to Tally's left", 1, left_right, "0.1 degree", ("towards_left",), "step 2, say whose left", settable=True),
        Claim("quarter", "a quarter turn, in radians", 1, quarter_right, "0.001 rad", ("quarter_turn",), "step 4, the angle"),
    ),
    worked=answer(),
    mistakes=(
        Mistake(
            "millimetres",
            answer(height=lambda robot: 1000 * extent(robot, 1)),
            "these are millimetres; lengths here are in metres",
            ("height",),
            "the convention strip",
        ),
        Mistake(
            "centimetres",
            answer(height=lambda robot: 100 * extent(robot, 1)),
            "these are centimetres; lengths here are in metres",
            ("height",),
            "the convention strip",
        ),
        Mistake(
            "width for height",
            answer(height=lambda robot: extent(robot, 0)),
            "this is the width, along x: up is y, column 1",
            ("height",),
            "step 4, the height",
        ),
        Mistake(
            "depth for height",
            answer(height=lambda robot: extent(robot, 2)),
            "this is the depth, along z: up is y, column 1",
            ("height",),
            "step 4, the height",
        ),
        Mistake(
            "your own left",
            answer(towards_left=lambda robot: -LEFT),
            "this is your left as you face Tally; Tally's own left is on your right",
            ("left",),
            "step 2, say whose left",
        ),
        Mistake(
            "forward for left",
            answer(towards_left=lambda robot: np.array([0, 0, 1.0])),
            "this is forward: Tally faces +z",
            ("left",),
            "the convention strip",
        ),
        Mistake(
            "degrees",
            answer(quarter_turn=lambda robot: 90.0),
            "these are degrees; code uses radians here",
            ("quarter",),
            "the convention strip",
        ),
        Mistake(
            "half a turn",
            answer(quarter_turn=lambda robot: np.pi),
            "pi is half a turn; a quarter is half of that",
            ("quarter",),
            "step 4, the angle",
        ),
    ),
    hint="The height: up is y, the column after x. Take the smallest number of that column away from the largest.\n"
    "The left: the numbers of the left wrist in step 2 say on which side of x = 0 it lies. "
    "Its direction is 1 or -1 along x, 0 along y and z.\n"
    "The angle: a full turn is 2 * np.pi. What is a quarter of it?",
    show=show_measures,
)

CHAPTER = Chapter(
    id="00",
    slug="start-here",
    title="Start here",
    minutes=25,
    checkpoints=(WARM_UP,),
    idea="turn the robot, read a check, take a hint, hand in",
    wrap_up=(
        (
            'A panel shows no line that begins with "likely". What does that mean?',
            ("the check is broken", "the mistake is not one the check can be sure of", "the answer is nearly right"),
            1,
            "A likely cause is printed only when a known mistake gives exactly your result, or when the measurement proves "
            "it. Otherwise the line is left out.",
        ),
        (
            "A panel says 1 of 3 points. What do you lose if you check again?",
            ("nothing", "a point", "the hint"),
            0,
            "You may check as often as you like; your best result is kept.",
        ),
        (
            "Where does Tally's left arm lie?",
            ("at negative x", "at positive x", "at positive z"),
            1,
            "Facing +Z with +Y up, the left is +X: on your right when you look at Tally's face.",
        ),
    ),
)
