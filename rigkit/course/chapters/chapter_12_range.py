"""Checkpoint 12.3: a range-of-motion test, judged by what it goes through, so that any order of channels and ends passes."""

from rigkit.course import forms
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake

CLOSE = 1e-9
RULES = "idea 3, four rules"


def ranges(case):
    """Channel name to (home, low, high)."""
    return case.inputs["channels"]


def off_home(case, pose):
    """The channels of a pose that are not at home."""
    known = ranges(case)
    return {name for name, value in pose.items() if name not in known or abs(value - known[name][0]) > CLOSE}


def some(answer):
    """None, or the Measure of a test with no pose in it."""
    return None if answer else Measure(False, "a list of poses", "an empty list", 99.0)


def both_ends(case, answer, context):
    """Every channel is somewhere at its low end, and somewhere at its high end."""
    lacking = [
        (name, word)
        for name, (home, low, high) in ranges(case).items()
        for word, end in (("low", low), ("high", high))
        if not any(abs(pose.get(name, home) - end) <= CLOSE for pose in answer)
    ]
    got = f"{len(lacking)} missing, the first: the {lacking[0][1]} end of {lacking[0][0]}" if lacking else "all reached"
    return some(answer) or Measure(not lacking, "every channel at both its ends", got, len(lacking))


def home_between(case, answer, context):
    """Home at the start, at the end, and between two channels."""
    if some(answer):
        return some(answer)
    off = [off_home(case, pose) for pose in answer]
    ends = [word for word, one in (("first", off[0]), ("last", off[-1])) if one]
    joined = [k for k in range(1, len(off)) if off[k - 1] and off[k] and off[k - 1] != off[k]]
    if ends:
        return Measure(False, "home first and last", f"the {ends[0]} pose is not home", len(ends) + len(joined))
    got = f"poses {joined[0] - 1} and {joined[0]} are of two channels, with no home between" if joined else "home between"
    return Measure(not joined, "home between two channels", got, len(joined))


def one_at_a_time(case, answer, context):
    """No pose has two channels off home."""
    many = [(k, len(off_home(case, pose))) for k, pose in enumerate(answer) if len(off_home(case, pose)) > 1]
    got = f"pose {many[0][0]} has {many[0][1]} channels off home" if many else "one at a time"
    return some(answer) or Measure(not many, "one channel off home at a time", got, len(many))


def within(case, answer, context):
    """No value is beyond its range, and no channel is unknown."""
    known, worst = ranges(case), (0.0, "")
    for k, pose in enumerate(answer):
        for name, value in pose.items():
            if name not in known:
                return Measure(False, "channels of the case only", f"pose {k} has {name[:40]!r}, which is none", 99.0)
            _, low, high = known[name]
            beyond = max(low - value, value - high)
            worst = max(worst, (beyond, f"pose {k}: {name} = {value:.4g}, its range is {low:.4g} to {high:.4g}"))
    return some(answer) or Measure(worst[0] <= CLOSE, "nothing beyond its range", worst[1] or "nothing", worst[0])


def cases(rng, context):
    """Two channels by hand; one at home at its end; ranges that are not even; and a limb with its own homes."""
    turn = lambda: (0.0, -float(rng.uniform(0.3, 1.0)), float(rng.uniform(1.1, 2.0)))
    arm = {f"left_{part}_control.turn_{axis}": turn() for part in ("shoulder", "wrist") for axis in "xyz"}
    arm["left_elbow_control.turn_z"] = (0.0, -float(rng.uniform(0.1, 0.2)), float(rng.uniform(1.3, 1.6)))
    special = {
        "left_hand_control.blend": (1.0, 0.0, 1.0),
        "centre_whole_control.size": (1.0, float(rng.uniform(0.1, 0.5)), float(rng.uniform(2, 4))),
    }
    rows = [
        ("two channels", {"centre_head_control.turn_x": (0.0, -0.5, 0.75), "left_hand_control.curl": (0.0, -1.0, 1.0)}),
        ("one channel at home at its end", {"left_hand_control.soft": (0.0, 0.0, 0.1)}),
        ("homes that are not zero", special),
        ("an arm", {**arm, **special}),
    ]
    return [Case(about, {"channels": channels}, tell=("_",)) for about, channels in rows]


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def range_test(channels):
    """The worked answer."""
    home = {name: ends[0] for name, ends in channels.items()}
    poses = [home]
    for name, (_, low, high) in channels.items():
        poses += [{**home, name: low}, {**home, name: high}, home]
    return poses


def all_together(channels):
    """All channels low, then all high."""
    home = {name: ends[0] for name, ends in channels.items()}
    return [home, {name: ends[1] for name, ends in channels.items()}, {name: ends[2] for name, ends in channels.items()}, home]


def no_home(channels):
    """From one channel straight to the next."""
    home = {name: ends[0] for name, ends in channels.items()}
    middle = [{**home, name: end} for name, ends in channels.items() for end in ends[1:]]
    return [home, *middle, home]


def zero_for_home(channels):
    """Back to zero, not to home."""
    zero = dict.fromkeys(channels, 0.0)
    poses = [zero]
    for name, (_, low, high) in channels.items():
        poses += [{**zero, name: low}, {**zero, name: high}, zero]
    return poses


def high_only(channels):
    """The high end alone."""
    home = {name: ends[0] for name, ends in channels.items()}
    return [home] + [pose for name, ends in channels.items() for pose in ({**home, name: ends[2]}, home)]


def same_both_ways(channels):
    """As far down as up."""
    home = {name: ends[0] for name, ends in channels.items()}
    poses = [home]
    for name, (_, _, high) in channels.items():
        poses += [{**home, name: -high}, {**home, name: high}, home]
    return poses


def stays_there(channels):
    """No home at the end."""
    return range_test(channels)[:-1]


MISTAKES = (
    Mistake("all together", all_together, "all channels go at once: what breaks then has no name. One at a time", ("single",), RULES),
    Mistake("no home between", no_home, "from one channel straight into the next: the poses between them mix both", ("home",), RULES),
    Mistake("zero for home", zero_for_home, "channels go back to 0, but some have another home, such as 1 for a size", ("home", "single"), RULES),
    Mistake("high only", high_only, "only the high end is tried; a hinge breaks at either", ("ends",), RULES),
    Mistake("same both ways", same_both_ways, "minus high is not low: a hinge goes a long way on one side only", ("ends", "range"), RULES),
    Mistake("stays there", stays_there, "the test ends with the last channel off home: end at home", ("home",), RULES),
)  # fmt: skip

CHECKPOINT = Checkpoint(
    id="12.3",
    title="A range-of-motion test",
    kind="function",
    names={"range_test": forms.listing(forms.mapping(forms.number()))},
    claims=(
        Claim("ends", "every channel is taken to both its ends", 2, both_ends, "", look_at=RULES),
        Claim("home", "home first, last, and between two channels", 2, home_between, "", look_at=RULES),
        Claim("single", "one channel off home at a time", 1, one_at_a_time, "", look_at=RULES),
        Claim("range", "nothing beyond its range", 1, within, "", look_at=RULES),
    ),
    worked=range_test,
    hint="home = {name: ends[0] for name, ends in channels.items()} is a pose. Begin the list with it.\n"
    "For each channel add three poses: home with this channel at low, home with it at high, home.\n"
    "{**home, name: low} is home with one channel changed; home itself stays as it is.",
    mistakes=MISTAKES,
    cases=cases,
)
