"""Checkpoints 05.3 and 05.4: which channels change their sign on the other side, and which way of mirroring fits what.

The image of axis k is M r_k, and the other frame's own axis is s_k times it. A move
along r_k is mirrored by s_k times the move along the other axis; a turn changes its
sense in a mirror besides, so it takes -s_k. Source: algebra. That limbs are matched
is common practice, no source; that a control of the middle is parallel follows: it
is its own counterpart.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_05_planes import BOOK, MATCHED, PARALLEL, YZ, between, some_turn, turn_off
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake

SIGNS = {"matched": MATCHED, "parallel": PARALLEL}
TURN, MOVE, PAIR, FITS = "idea 2, the sense of a turn", "idea 2, the rule for moves", "idea 2, faded step", "idea 2, which way fits"
REASONS = ("a", "b", "c", "d")


def pair(rng):
    """Two frames of the plane x = 0, {"left": (3, 3), "right": (3, 3)}; on the right y or z was turned round, so that it is no way with a name."""
    left = some_turn(rng)
    odd = np.ones(3)
    odd[rng.integers(1, 3)] = -1
    return {"left": left, "right": YZ @ left @ np.diag(odd)}


def own_signs(context):
    """S of the pair handed out, (3,)."""
    left, right = (np.asarray(context.given["pair"][side], float) for side in ("left", "right"))
    return np.sign(np.einsum("ij,ij->j", YZ @ left, right))


# ---- the claims ------------------------------------------------------------------------------------------------


def signs_told(name, signs):
    """The claim's measure for the turns and the moves of one way. signs(context): its S."""

    def measure(case, answer, context):
        s = signs(context)
        every = [told(f"{name}_{what}", answer[f"{name}_{what}"], right, s) for what, right in (("turns", -s), ("moves", s))]
        return next((one for one in every if not one.ok), every[-1])

    return measure


def told(name, got, right, s):
    """A Measure of three signs, told by what the first wrong one does to the other side."""
    wrong = np.abs(got - right) > 1e-9
    expected = f"{name}: three signs, 1 or -1, that make the other side the mirror image"
    if not wrong.any():
        return Measure(True, expected)
    if not np.isin(got, (-1, 1)).all():
        return Measure(False, expected, f"{got[~np.isin(got, (-1, 1))][0]:.4g}, which is no sign", 4.0)
    k = int(wrong.argmax())
    frame, other = np.eye(3), YZ @ np.diag(s)
    if name.endswith("turns"):
        off = np.degrees(turn_off(frame, other, YZ, k, got[k]))
        words = f"{name[:-6]}: +30 degrees about {'xyz'[k]}, with this sign on the other side, is {off:.0f} degrees off the image"
    else:
        off = np.degrees(between(YZ @ frame[:, k], got[k] * other[:, k]))
        words = f"{name[:-6]}: a move along {'xyz'[k]}, with this sign on the other side, points {off:.0f} degrees off the image"
    return Measure(False, expected, f"{words}; {int(wrong.sum())} of 3 signs wrong", float(wrong.sum()))


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def table(matched=MATCHED, parallel=PARALLEL, odd=own_signs, turns=-1, moves=1):
    """The answer of 05.3 as a function of the context; the defaults are right. turns, moves: what S is multiplied by."""

    def answer(context):
        return {
            f"{name}_{what}": by * s
            for name, s in (("matched", matched), ("parallel", parallel), ("odd", odd(context)))
            for what, by in (("turns", turns), ("moves", moves))
        }

    return answer


def always(signs):
    """S of the pair taken to be some way's."""
    return lambda context: signs


MISTAKES = (
    Mistake(
        "move sign",
        table(moves=-1),
        "moves were given the signs of the turns; a mirror changes the sense of a turn, not of a move",
        ("matched", "parallel", "odd"),
        MOVE,
    ),
    Mistake(
        "turns like moves",
        table(turns=1),
        "turns were given the signs of the moves; a mirror changes the sense of a turn once more",
        ("matched", "parallel", "odd"),
        TURN,
    ),
    Mistake(
        "turns and moves swapped",
        table(turns=1, moves=-1),
        "turns and moves are swapped: a move takes the sign of its axis, a turn the opposite one",
        ("matched", "parallel", "odd"),
        TURN,
    ),
    Mistake(
        "ways swapped",
        table(matched=PARALLEL, parallel=MATCHED),
        "the two ways are swapped: matched turns all three axes round, parallel x only",
        ("matched", "parallel"),
        "idea 2, step 1",
    ),
    Mistake(
        "pair taken for matched", table(odd=always(MATCHED)), "the pair is not matched: two of its axes lie on their images", ("odd",), PAIR
    ),
    Mistake(
        "pair taken for parallel",
        table(odd=always(PARALLEL)),
        "the pair is not parallel: it is another axis that was turned round",
        ("odd",),
        PAIR,
    ),
    Mistake(
        "nothing changes",
        table(matched=np.ones(3), parallel=np.ones(3), odd=always(np.ones(3)), turns=1),
        "no channel was given another sign: that would take the bare image M R, which is left-handed and no turn",
        ("matched", "parallel", "odd"),
        TURN,
    ),
)

NAMES = [f"{name}_{what}" for name in ("matched", "parallel", "odd") for what in ("turns", "moves")]
TABLE = Checkpoint(
    id="05.3",
    title="The sign table",
    kind="value",
    names={name: forms.array(3) for name in NAMES},
    claims=(
        Claim(
            "matched",
            "matched frames: turns and moves",
            2,
            signs_told("matched", lambda c: MATCHED),
            "",
            ("matched_turns", "matched_moves"),
            TURN,
        ),
        Claim(
            "parallel",
            "parallel frames: turns and moves",
            2,
            signs_told("parallel", lambda c: PARALLEL),
            "",
            ("parallel_turns", "parallel_moves"),
            TURN,
        ),
        Claim("odd", "the pair of somebody else: turns and moves", 2, signs_told("odd", own_signs), "", ("odd_turns", "odd_moves"), PAIR),
    ),
    worked=table(),
    mistakes=MISTAKES,
    hint="Ask of each own axis: does the other one lie on its image (s = 1), or against it (s = -1)?\n"
    "A move along the axis takes s. A turn about it takes -s.\n"
    "For the pair: channel_signs of the faded step, with both frames and the M of the plane x = 0.",
    closed=BOOK,
)


# ---- 05.4 --------------------------------------------------------------------------------------------------------


def chosen(name, right, expected):
    """The claim's measure of one choice."""

    def measure(case, answer, context):
        return Measure(answer[name] == right, expected, f"{answer[name]!r}", 1.0)

    return measure


def choices(arm="matched", arm_why="b", body="parallel", body_why="c"):
    """The answer of 05.4; the defaults are right."""
    return lambda context: {"arm_joints": arm, "arm_reason": arm_why, "body_control": body, "body_reason": body_why}


CHOICE = Checkpoint(
    id="05.4",
    title="Which way for what",
    kind="choice",
    names={
        "arm_joints": forms.choice("matched", "parallel"),
        "arm_reason": forms.choice(*REASONS),
        "body_control": forms.choice("matched", "parallel"),
        "body_reason": forms.choice(*REASONS),
    },
    claims=(
        Claim(
            "arm",
            "arm_joints: the way for joints that are turned",
            1,
            chosen("arm_joints", "matched", "the way in which equal turns are mirror images"),
            "",
            ("arm_joints",),
            FITS,
        ),
        Claim("arm_why", "arm_reason: why", 1, chosen("arm_reason", "b", "what the way does for turns"), "", ("arm_reason",), FITS),
        Claim(
            "body",
            "body_control: the way for the control in the middle",
            1,
            chosen("body_control", "parallel", "the way in which a frame of the middle can be its own counterpart"),
            "",
            ("body_control",),
            FITS,
        ),
        Claim(
            "body_why",
            "body_reason: why",
            1,
            chosen("body_reason", "c", "what the way does to a frame of the middle"),
            "",
            ("body_reason",),
            FITS,
        ),
    ),
    worked=choices(),
    mistakes=(
        Mistake(
            "arm parallel",
            choices(arm="parallel"),
            "with parallel frames turns about y and z need another sign on each side",
            ("arm",),
            FITS,
        ),
        Mistake(
            "arm reason a",
            choices(arm_why="a"),
            "moves of matched frames need the opposite sign, all three of them",
            ("arm_why",),
            "idea 2, the rule for moves",
        ),
        Mistake(
            "arm reason c",
            choices(arm_why="c"),
            "both ways turn x round: on the other side it runs back along the bone",
            ("arm_why",),
            FITS,
        ),
        Mistake(
            "arm reason d",
            choices(arm_why="d"),
            "parallel frames are turns as well; four choices of signs are",
            ("arm_why",),
            "idea 1, step 4",
        ),
        Mistake(
            "body matched",
            choices(body="matched"),
            "the matched frame of the middle is another frame than its own; yet there is one control only",
            ("body",),
            FITS,
        ),
        Mistake(
            "body reason a",
            choices(body_why="a"),
            "they do not: a body that turns to its left must turn to its right in the mirror",
            ("body_why",),
            FITS,
        ),
        Mistake(
            "body reason b",
            choices(body_why="b"),
            "matched frames have determinant +1 too, or they would be no frames",
            ("body_why",),
            "idea 1, step 4",
        ),
        Mistake(
            "body reason d",
            choices(body_why="d"),
            "moves along x do need another sign: to the left becomes to the right",
            ("body_why",),
            FITS,
        ),
    ),
    hint="Arm joints are turned, seldom moved. Which way lets an animator type the same turn on both sides?\n"
    "The body control has no partner: after mirroring it must be the very frame it was. Try both ways on np.eye(3).",
    closed=BOOK,
)
