"""Checkpoints 08.6 and 08.7: which channels stay open, how many there are, and what would confuse an animator.

A channel is dead where nothing answers it. It harms where it pulls a joint out of its
parent, or bends a hinge across its axis. Both are measured: every move and turn of every
control is opened, tried from a few poses, and what the joints do is written down.
Budgets are the audit's (common practice, no source): 40 controls, 14 channels a control.
"""

from dataclasses import replace
from functools import cache

import numpy as np

from rigkit import rotation
from rigkit.control import MOVES, TURNS, moves, turns
from rigkit.course import forms
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.rig import Rig
from rigkit.robot.rig import tally_rig

SOME = 0.1  # millimetres or degrees that count as something
CONTROLS, CHANNELS = 40, 14  # rules control_count and channel_count of the audit
SET = (
    "centre_whole_control",
    "centre_body_control",
    "centre_head_control",
    "centre_hose_control",
    "left_shoulder_control",
    "left_elbow_control",
    "left_wrist_control",
    "left_hand_control",
    "left_elbow_marker",
    "left_hip_control",
    "left_knee_control",
    "left_ankle_control",
    "left_ball_control",
    "left_foot_control",
    "left_knee_marker",
)
HINGES = ("left_elbow_joint", "left_knee_joint", "left_ball_joint")
STEP = {"move": 0.05, "turn": np.radians(20)}  # how far a channel is tried
STANCE = {
    "centre_body_control.move_y": -0.06,
    "left_hand_control.move_z": 0.10,
    "left_hand_control.move_y": 0.08,
    "left_foot_control.move_z": 0.10,
    "left_shoulder_control.turn_y": 0.3,
    "left_elbow_control.turn_z": 0.5,
    "left_hip_control.turn_z": 0.3,
    "left_knee_control.turn_z": 0.5,
}
LEFTOVERS = (
    "centre_trial_control",
    "left_spare_control",
    "centre_helper_control",
    "left_copied_control",
    "centre_hidden_control",
)
TRIED = ("moved", "torn", "sideways")


def given_channels(variant):
    """What is handed out: control to channel to what its trial did, {"moved": mm, "torn": mm, "sideways": degrees}.

    A few controls that nothing follows are among them, others for each variant.
    """
    rng = np.random.default_rng([86, variant])
    found = {name: {channel: dict(told) for channel, told in channels.items()} for name, channels in effects().items()}
    nothing = dict.fromkeys(TRIED, 0.0)
    for name in rng.choice(LEFTOVERS, int(rng.integers(2, 4)), replace=False):
        found[str(name)] = {channel: dict(nothing) for channel in (*MOVES, *TURNS)}
    return {name: found[name] for name in sorted(found)}


@cache
def effects():
    """The same for the controls of SET, measured on the printed robot; the largest over a few poses."""
    rig = opened(tally_rig(0))
    names = [f"{name}.{channel}" for name in SET for channel in (*MOVES, *TURNS)]
    most = np.max(
        [tried(rig, names, {**rig.home(), **stance, **blended(rig, blend)}) for stance in ({}, STANCE) for blend in (0.0, 1.0)],
        axis=0,
    )
    told = {name: {} for name in SET}
    for full, row in zip(names, most.round(1) + 0.0):
        name, channel = full.split(".")
        told[name][channel] = dict(zip(TRIED, row.tolist()))
    return told


def opened(rig):
    """The rig with every move and turn of every control open."""
    controls = [
        replace(
            c,
            channels=(
                *moves(),
                *turns(),
                *(one for one in c.channels if one.name not in (*MOVES, *TURNS)),
            ),
        )
        for c in rig.controls
    ]
    return Rig(rig.skeleton, controls, rig.links)


def blended(rig, blend):
    """Every limb on its turned controls (0), or on its target (1)."""
    return {name: blend for name in rig.home() if name.endswith(".blend")}


def tried(rig, names, values):
    """What each channel of `names` does from a pose: (N, 3), millimetres and degrees as TRIED has them."""
    batch = {name: np.full(len(names) + 1, value) for name, value in values.items()}
    for row, name in enumerate(names):
        batch[name][row] += STEP[name.split(".")[1][:4]]
    pose, skeleton = rig.pose(batch), rig.skeleton
    moved = 1000 * np.linalg.norm(pose.positions[:-1] - pose.positions[-1], axis=-1).max(axis=1)
    rotations, places = skeleton.local(pose.rotations, pose.positions)
    hung = np.asarray(skeleton.parents) >= 0
    torn = 1000 * np.linalg.norm(places[:-1, hung] - places[-1, hung], axis=-1).max(axis=1)
    own = [skeleton.index(name) for name in HINGES]
    lean = rotation.rotate(rotations[:, own], [0.0, 0.0, 1.0]) * rotation.rotate(skeleton.rest_rotations[own], [0.0, 0.0, 1.0])
    lean = np.degrees(np.arccos(np.clip(lean.sum(axis=-1), -1, 1)))
    return np.stack([moved, torn, np.abs(lean[:-1] - lean[-1]).max(axis=1)], axis=1)


def useful(told):
    """Whether a channel of the table is to stay open."""
    return told["moved"] >= SOME and max(told["torn"], told["sideways"]) < SOME


def both_sides(channels):
    """(number of controls, number of open channels) where every left control has a right one."""
    times = {name: 2 if name.startswith("left") else 1 for name in channels}
    return sum(times.values()), sum(times[name] * len(open_ones) for name, open_ones in channels.items())


# ---- the claims ------------------------------------------------------------------------------------------------


def sound(answer, context):
    """A Measure for names that are not in the table, or None."""
    table = context.given["channels"]
    for name, channels in answer["open_channels"].items():
        if name not in table:
            other = "the table lists the left side only: the right side is counted, not listed" if name.startswith("right") else ""
            return Measure(False, "controls of the table", f"{name[:40]!r}, which is none of them", np.inf, other)
        if odd := [channel for channel in channels if channel not in table[name]]:
            return Measure(
                False,
                f"channels of the table for {name}",
                f"{odd[0][:30]!r}, which is none of them",
                np.inf,
            )
        if len(set(channels)) < len(channels):
            return Measure(
                False,
                f"each channel of {name} once",
                f"{len(channels)} names, {len(set(channels))} of them different",
                np.inf,
            )
    return None


def listed(found, first):
    """(A Measure's got): how many, and the first."""
    return f"{len(found)} {first}, the first: {'.'.join(found[0])}" if found else f"no {first}"


def closed_ones(case, answer, context):
    """No dead channel and none that harms is open."""
    if wrong := sound(answer, context):
        return wrong
    table = context.given["channels"]
    left = [
        (name, channel) for name, open_ones in answer["open_channels"].items() for channel in open_ones if not useful(table[name][channel])
    ]
    proves = ""
    if left:
        told = table[left[0][0]][left[0][1]]
        harm = (
            f"it pulls a joint {told['torn']} mm out of its place"
            if told["torn"] >= SOME
            else f"it bends a hinge {told['sideways']} degrees across"
        )
        proves = f"{'.'.join(left[0])}: {harm if max(told['torn'], told['sideways']) >= SOME else 'nothing answers it'}"
    return Measure(
        not left,
        "no open channel that is dead or harms",
        listed(left, "too many open"),
        len(left),
        proves,
    )


def kept_ones(case, answer, context):
    """Every channel that does something, and no harm, is open."""
    if wrong := sound(answer, context):
        return wrong
    table, opens = context.given["channels"], answer["open_channels"]
    gone = [
        (name, channel)
        for name, every in table.items()
        for channel, told in every.items()
        if useful(told) and channel not in opens.get(name, ())
    ]
    return Measure(not gone, "every useful channel open", listed(gone, "missing"), len(gone))


def nothing_left_over(case, answer, context):
    """Controls without an open channel are taken out."""
    if wrong := sound(answer, context):
        return wrong
    empty = [name for name, channels in answer["open_channels"].items() if not channels]
    dead = [name for name in answer["open_channels"] if not any(useful(told) for told in context.given["channels"][name].values())]
    left = empty or dead
    return Measure(
        not left,
        "no control that does nothing",
        f"{len(left)} of them, the first: {left[0]}" if left else "none",
        len(left),
    )


def counted(case, answer, context):
    """The learner's own set, both sides, counted."""
    if wrong := sound(answer, context):
        return wrong
    right = both_sides(answer["open_channels"])
    got = answer["control_count"], answer["channel_count"]
    one = (
        len(answer["open_channels"]),
        sum(len(c) for c in answer["open_channels"].values()),
    )
    proves = "only one side is counted" if got == one and got != right else ""
    expected = f"{right[0]} controls and {right[1]} channels in your set, both sides"
    return Measure(
        got == right,
        expected,
        f"{got[0]} and {got[1]}",
        abs(got[0] - right[0]) + abs(got[1] - right[1]),
        proves,
    )


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def answer(keep=useful, empty=False, count=both_sides):
    """An answer as a function of the context: the channels that `keep` keeps; empty: whether controls without any stay."""

    def answer_of(context):
        every = {
            name: [channel for channel, told in channels.items() if keep(told)] for name, channels in context.given["channels"].items()
        }
        opens = {name: channels for name, channels in every.items() if channels or empty}
        controls, channels = count(opens)
        return {
            "open_channels": opens,
            "control_count": controls,
            "channel_count": channels,
        }

    return answer_of


def is_alive(told):
    """Something answers, whatever it is."""
    return told["moved"] >= SOME


def one_side(opens):
    """Counted as they stand: the right side is not there."""
    return len(opens), sum(map(len, opens.values()))


MISTAKES = (
    Mistake(
        "harm left open",
        answer(is_alive),
        "only dead channels were closed: some of the rest pull a joint out, or bend a hinge across",
        ("closed",),
        "the whole set, dead or harmful",
    ),
    Mistake(
        "hinges forgotten",
        answer(lambda told: is_alive(told) and told["torn"] < SOME),
        "a hinge can still be bent across: look at sideways too",
        ("closed",),
        "the whole set, dead or harmful",
    ),
    Mistake(
        "empty controls left",
        answer(empty=True),
        "controls that nothing follows are still in the set: take them out",
        ("gone",),
        "the whole set, a budget",
    ),
    Mistake(
        "one side counted",
        answer(count=one_side),
        "the right side is left out of the count: a left control stands for two",
        ("count",),
        "the whole set, a budget",
    ),
    Mistake(
        "all six counted",
        answer(count=lambda opens: (both_sides(opens)[0], 6 * both_sides(opens)[0])),
        "closed channels are counted too: six for every control",
        ("count",),
        "the whole set, a budget",
    ),
    Mistake(
        "joints forgotten",
        answer(lambda told: is_alive(told) and told["sideways"] < SOME),
        "a joint can still be pulled out of its place: look at torn too",
        ("closed",),
        "the whole set, dead or harmful",
    ),
    Mistake(
        "all left open",
        answer(lambda told: True),
        "nothing is closed: every control shows all its six channels",
        ("closed", "gone"),
        "the whole set, dead or harmful",
    ),
)

CHECKPOINT = Checkpoint(
    id="08.6",
    title="Dead channels and a budget",
    kind="value",
    names={
        "open_channels": forms.mapping(forms.listing(forms.string())),
        "control_count": forms.integer(),
        "channel_count": forms.integer(),
    },
    claims=(
        Claim(
            "closed",
            "open_channels: none that is dead, none that harms",
            2,
            closed_ones,
            "",
            ("open_channels",),
            "the whole set, dead or harmful",
        ),
        Claim(
            "kept",
            "open_channels: every useful one is there",
            2,
            kept_ones,
            "",
            ("open_channels",),
            "the whole set, dead or harmful",
        ),
        Claim(
            "gone",
            "open_channels: controls that do nothing are taken out",
            1,
            nothing_left_over,
            "",
            ("open_channels",),
            "the whole set, a budget",
        ),
        Claim(
            "count",
            "control_count and channel_count: your set on both sides",
            1,
            counted,
            "",
            ("open_channels", "control_count", "channel_count"),
            "the whole set, a budget",
        ),
    ),
    worked=answer(),
    hint='For each control go through its channels: told = chapter.given["channels"][name][channel] has three numbers.\n'
    "It is alive where moved is 0.1 or more; it harms where torn or sideways is 0.1 or more.\n"
    'A control whose list is empty goes. Then count: a name that starts with "left" stands for two.',
    mistakes=MISTAKES,
)

# ---- 08.7 --------------------------------------------------------------------------------------------------------


CONFUSED_TEXT = (
    "Eight of ten names say nothing: new_7 is a foot, and the left and the right hand are called grip and grip_copy. In the game I needed "
    "more than ten seconds and several wrong presses, and an animator does that search hundreds of times a day. All rings are grey and of one size, so "
    "left and right look the same, and a pose goes onto the wrong arm. The marker of the left elbow stands in front, on the wrong side: switched on, the "
    "arm bends backward. I would name each by side, part and kind, colour it by its side, fit it to its part, and put the marker behind."
)

CONFUSED = Checkpoint(
    id="08.7",
    title="What would confuse an animator",
    kind="text",
    names={"confusing": forms.text(50)},
    claims=(
        Claim(
            "what",
            "names three faults of the stray set, at least one with a number",
            1,
            lambda case, answer, context: Measure(True),
        ),
        Claim(
            "whom",
            "says what an animator will do wrong because of them, and when",
            1,
            lambda case, answer, context: Measure(True),
        ),
        Claim(
            "instead",
            "says what to do instead for each",
            1,
            lambda case, answer, context: Measure(True),
        ),
    ),
    worked=lambda context: {"confusing": CONFUSED_TEXT},
    hint="Run the game of idea 1 once more with the eyes of somebody who did not build it. What did you press first, and why? "
    "Three sentences on what is wrong, one on what happens to a pose, three on what you would change.",
)
