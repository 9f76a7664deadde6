"""Checkpoint 07.3: one number for the roll, and what heel, ball and toe take of it.

Below zero the heel takes all of it, up to the turn-over angle the ball does, and
past it the ball keeps that angle and the toe takes the rest. So the three always
add up to the roll, nothing jumps, and the heel goes on rising. The heel off the
floor at the ball and then at the toe: Perry, *Gait Analysis*, the rockers of the
foot (memory).
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_07_show import show_roll
from rigkit.course.chapters.chapter_07_sole import BOOK, CLOSE, FLOOR, depth, foot_of, stood
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

BACK, UP, OVER, SUM = "idea 3, heel", "idea 3, ball", "idea 3, past the turn-over angle", "idea 3, one number"
NAMES = ("heel", "ball", "toe")
ORDER = ("swivel", "edges", "heel", "toe", "ball")


def roll_of(case):
    """(roll, turn_over) of a case."""
    return float(case.inputs["roll"]), float(case.inputs["turn_over"])


def right(roll, turn_over):
    """What heel, ball and toe take."""
    return np.array([min(roll, 0.0), min(max(roll, 0.0), turn_over), max(roll - turn_over, 0.0)])


def back(case):
    """Whether the roll is below zero."""
    return roll_of(case)[0] < 0


def up(case):
    """From zero to the turn-over angle."""
    return 0 <= roll_of(case)[0] <= roll_of(case)[1]


def past(case):
    """Beyond it."""
    return roll_of(case)[0] > roll_of(case)[1]


# ---- the claims ------------------------------------------------------------------------------------------------


def in_words(shares):
    """Three angles in degrees."""
    return ", ".join(f"{name} {np.degrees(angle) + 0.0:.5g}" for name, angle in zip(NAMES, np.clip(shares, -1e6, 1e6)))


def adds_up(case, answer, context):
    """The three add up to the roll."""
    roll, turn_over = roll_of(case)
    gap = abs(sum(answer) - roll)
    twice = abs(gap - turn_over) <= CLOSE and abs(answer[2] - roll) <= CLOSE
    return Measure(
        gap <= CLOSE,
        f"heel, ball and toe together {np.degrees(roll):.5g} degrees",
        f"{in_words(answer)}: together {np.degrees(np.clip(sum(answer), -1e6, 1e6)):.5g}",
        gap,
        "past the turn-over angle the toe takes the whole roll; only what is past it is its own" if twice and turn_over else "",
    )


def shared(expected):
    """The claim's measure: each of the three has its own; the panel tells what it does to Tally's foot."""

    def measure(case, answer, context):
        roll, turn_over = roll_of(case)
        off = np.abs(np.array(answer) - right(roll, turn_over))
        return Measure(
            bool(off.max() <= CLOSE),
            expected,
            f"{in_words(answer)} degrees{consequence(answer, roll, turn_over, context)}",
            float(off.max()),
        )

    return measure


def consequence(answer, roll, turn_over, context):
    """What these shares do to Tally's left foot: how far it is under the floor, or how far the heel drops."""
    one = foot_of(context.robot, "left")
    heel = one.pivots["heel"][None]

    def height(shares):
        return float(stood(one, heel, np.array([True]), ORDER, shares)[0, 1])

    if np.abs(answer).max() > 7:
        return ""
    deep = depth(stood(one, one.sole, one.behind, ORDER, answer))
    if deep > FLOOR:
        return f": the sole is {told_length(deep)} under the floor"
    drop = height(right(min(roll, turn_over), turn_over)) - height(answer)
    return f": the heel is {told_length(drop)} lower than at {np.degrees(turn_over):.3g}" if roll > turn_over and drop > FLOOR else ""


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """Rolls back, up and past the turn-over angle, a hair on either side of it and of zero, and no turn-over angle at all."""
    turn_over = float(rng.uniform(25, 40))
    hair = 1e-3
    rows = [
        ("rolled back", -rng.uniform(10, 35), turn_over),
        ("rolled back further than the turn-over angle", -turn_over - rng.uniform(5, 20), turn_over),
        ("at rest", 0.0, turn_over),
        ("a hair up", hair, turn_over),
        ("half way", rng.uniform(0.3, 0.7) * turn_over, turn_over),
        ("at the turn-over angle", turn_over, turn_over),
        ("a hair past it", turn_over + hair, turn_over),
        ("past it", turn_over + rng.uniform(8, 20), turn_over),
        ("twice as far", 2 * turn_over, turn_over),
        ("far past it", 2 * turn_over + rng.uniform(8, 15), turn_over),
        ("another turn-over angle", 50.0, float(rng.uniform(12, 20))),
        ("no turn-over angle", rng.uniform(10, 40), 0.0),
    ]
    return [Case(about, {"roll": float(np.radians(roll)), "turn_over": float(np.radians(over))}) for about, roll, over in rows]


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def shares(roll, turn_over):
    """The worked answer."""
    heel = min(roll, 0.0)
    ball = min(max(roll, 0.0), turn_over)
    toe = max(roll - turn_over, 0.0)
    return heel, ball, toe


def heel_turned_round(roll, turn_over):
    """The heel's share without its sign."""
    heel, ball, toe = shares(roll, turn_over)
    return -heel, ball, toe


def ball_fades_alone(roll, turn_over):
    """Past the turn-over angle the ball goes back to zero, and no toe turns."""
    heel, ball, toe = shares(roll, turn_over)
    return heel, max(0.0, ball - toe), 0.0


def ball_fades(roll, turn_over):
    """Past the turn-over angle the ball goes back to zero as fast as it came, and the toe makes up for it."""
    heel, ball, toe = shares(roll, turn_over)
    faded = max(0.0, ball - toe)
    return heel, faded, max(roll, 0.0) - faded


def ball_fades_toe_lags(roll, turn_over):
    """The ball fades, the toe takes only what is past the turn-over angle."""
    heel, ball, toe = shares(roll, turn_over)
    return heel, max(0.0, ball - toe), toe


def jumps(roll, turn_over):
    """Past the turn-over angle the toe takes all."""
    return (min(roll, 0.0), 0.0, roll) if roll > turn_over else shares(roll, turn_over)


def toe_takes_all_as_well(roll, turn_over):
    """Past it the toe takes the whole roll, and the ball keeps its own."""
    heel, ball, toe = shares(roll, turn_over)
    return heel, ball, roll if toe > 0 else 0.0


def no_turn_over(roll, turn_over):
    """The ball has no limit."""
    return min(roll, 0.0), max(roll, 0.0), 0.0


def ball_goes_on(roll, turn_over):
    """The ball has no limit, and the toe turns as well."""
    return min(roll, 0.0), max(roll, 0.0), max(roll - turn_over, 0.0)


def ball_below_zero(roll, turn_over):
    """The ball is not kept from going below zero."""
    return min(roll, 0.0), min(roll, turn_over), max(roll - turn_over, 0.0)


def turn_over_below_zero_too(roll, turn_over):
    """Back as well as forward: the heel's share stops at the turn-over angle."""
    heel, ball, toe = shares(roll, turn_over)
    return max(heel, -turn_over), ball, toe


def halves(roll, turn_over):
    """Past the turn-over angle ball and toe go halves."""
    heel, ball, toe = shares(roll, turn_over)
    return (heel, ball, toe) if toe == 0 else (heel, roll / 2, roll / 2)


def in_degrees(roll, turn_over):
    """Degrees."""
    return tuple(float(np.degrees(angle)) for angle in shares(roll, turn_over))


def toe_before_ball(roll, turn_over):
    """The right shares in another order."""
    heel, ball, toe = shares(roll, turn_over)
    return heel, toe, ball


MISTAKES = (
    Mistake(
        "heel turned round",
        heel_turned_round,
        "the heel has the wrong sign: a roll below zero stays below zero, for that is what brings the toes up",
        ("sum", "back"),
        BACK,
    ),
    Mistake(
        "ball fades out",
        ball_fades,
        "the ball lets go of its angle past the turn-over: it adds up, but the toe turns twice as fast and the fold closes",
        ("past",),
        OVER,
    ),
    Mistake(
        "ball fades, no toe",
        ball_fades_alone,
        "the ball fades out and the toe does nothing: the heel drops while the roll goes on",
        ("sum", "past"),
        OVER,
    ),
    Mistake(
        "ball fades, toe lags",
        ball_fades_toe_lags,
        "the ball fades out and the toe takes only what is past the turn-over: the heel part stops turning",
        ("sum", "past"),
        OVER,
    ),
    Mistake("jump", jumps, "at the turn-over angle the ball lets go at once: everything jumps to the toe", ("past",), OVER),
    Mistake(
        "toe takes all as well",
        toe_takes_all_as_well,
        "past the turn-over angle the toe takes the whole roll; only what is past it is its own",
        ("sum", "past"),
        OVER,
    ),
    Mistake("no turn-over", no_turn_over, "the ball has no limit: the turn-over angle is not used", ("past",), UP),
    Mistake(
        "ball goes on", ball_goes_on, "the ball has no limit, so what is past the turn-over angle is turned twice", ("sum", "past"), UP
    ),
    Mistake(
        "ball below zero", ball_below_zero, "below zero heel and ball both turn: the ball's share must not go below 0", ("sum", "back"), UP
    ),
    Mistake(
        "heel limited",
        turn_over_below_zero_too,
        "the heel stops at the turn-over angle; that angle is the ball's alone",
        ("sum", "back"),
        BACK,
    ),
    Mistake("toe before ball", toe_before_ball, "ball and toe are exchanged: the order is heel, ball, toe", ("up", "past"), UP),
    Mistake("halves", halves, "ball and toe go halves: at the turn-over angle the ball jumps from all of it to a half", ("past",), OVER),
    Mistake(
        "degrees", in_degrees, "the shares are in degrees; code uses radians here", ("sum", "back", "up", "past"), "the convention strip"
    ),
)

CHECKPOINT = Checkpoint(
    id="07.3",
    title="One number for the roll",
    kind="function",
    names={"shares": forms.several(forms.number(), forms.number(), forms.number())},
    claims=(
        Claim("sum", "heel, ball and toe add up to the roll", 1, adds_up, "1e-6 rad", look_at=SUM),
        Claim(
            "back",
            "below zero the heel takes all of it",
            1,
            shared("all of it on the heel, with its sign; ball and toe 0"),
            "1e-6 rad",
            look_at=BACK,
            applies=back,
        ),
        Claim(
            "up",
            "from zero to the turn-over angle the ball takes all of it",
            1,
            shared("all of it on the ball; heel and toe 0"),
            "1e-6 rad",
            look_at=UP,
            applies=up,
        ),
        Claim(
            "past",
            "past it the ball keeps the turn-over angle, and the toe takes the rest",
            2,
            shared("the turn-over angle on the ball, what is past it on the toe"),
            "1e-6 rad",
            look_at=OVER,
            applies=past,
        ),
    ),
    worked=shares,
    mistakes=MISTAKES,
    hint="Three lines, one for each. min(x, 0.0) keeps what is below zero, max(x, 0.0) what is above.\n"
    "The ball: what is above zero, but no more than turn_over. A min around a max.\n"
    "The toe: what is left of the roll past turn_over, and never below zero.",
    cases=cases,
    closed=BOOK,
    show=show_roll,
)
