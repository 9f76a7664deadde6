"""Checkpoint 12.2: five complaints, five culprits, found by numbers; another case for every learner.

A complaint tells how a fault feels; the panel tells of a wrong name what was measured there, so that it teaches
what to measure and gives no name away.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_01_loops import loop_centre
from rigkit.course.chapters.chapter_12_faults import KINDS, LETTERS, LIMITS, MEASURES, beyond, case_of, other_side
from rigkit.course.chapters.chapter_12_pieces import CLOSED, named
from rigkit.course.chapters.chapter_12_show import show_hunt
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake

PLACES, TABLE = "idea 2, what to measure", "the convention strip"
CLOSE = {"mm": 0.1, "degrees": 0.1, "": 0.001}
SAID = {
    "off": "a joint that is off its fold",
    "hinge": "a joint whose z axis is turned over against its parent's",
    "past": "an elbow's or knee's control whose low end is past straight",
    "hand": "a joint whose axes are left-handed",
    "short": "a sleeve with a row of weights that does not add up to one",
    "home": "a control with a move left over",
    "marker": "a marker off the plane of its limb",
    "pivot": "a control that is off the joint it serves",
}


def culprit(letter):
    """The measure of one letter's culprit."""

    def measure(case, answer, context):
        sheet, _, truth = case_of(context.robot, context.variant)
        kind, name, _ = truth[letter]
        got = answer["culprits"][letter]
        return Measure(got == name, f"{letter}: {SAID[kind]}", seen(kind, sheet, got), float(got != name), upstream(kind, sheet, got, name))

    return measure


def seen(kind, sheet, name):
    """What one measures at a name, in words."""
    name = name[:40]
    try:
        value = MEASURES[kind](sheet, name)
    except (KeyError, ValueError, IndexError):
        return f"{name!r}: the sheet has no such number of it"
    if not beyond(kind, sheet, name):
        return f"{name} is sound: {value:.4g} {KINDS[kind].unit}".rstrip()
    return f"{name}: {value:.4g} {KINDS[kind].unit}"


def upstream(kind, sheet, got, name):
    """A child of a joint that is turned over looks turned over itself; the measurement proves it."""
    if kind == "hinge" and sheet["joints"].get(got, {}).get("parent") == name:
        return "it is against its parent, but along with the joint before that: the parent is turned over"
    return ""


def amounts_right(case, answer, context):
    """All five numbers, each in the unit that its complaint asks for."""
    _, _, truth = case_of(context.robot, context.variant)
    off = {}
    for letter, (kind, _, right) in truth.items():
        off[letter] = abs(answer["amounts"][letter] - right) / CLOSE[KINDS[kind].unit]
    letter = max(off, key=off.get)
    got, unit = answer["amounts"][letter], KINDS[truth[letter][0]].unit
    count = sum(gap > 1 for gap in off.values())
    more = f", and {count - 1} more" if count > 1 else ""
    told = f"within {CLOSE[unit]:g} {unit}".rstrip()
    return Measure(off[letter] <= 1, f"the five amounts, {letter} {told}", f"{letter}: {got:.6g}{more} off", off[letter])


def answer(name=lambda truth: truth, amount=lambda kind, unit, value: value):
    """The answer of 12.2 as a function of the context; every choice but ours is one planned mistake."""

    def found(context):
        _, _, truth = case_of(context.robot, context.variant)
        names = name({letter: one for letter, (_, one, _) in truth.items()})
        numbers = {letter: float(amount(kind, KINDS[kind].unit, value)) for letter, (kind, _, value) in truth.items()}
        return {"culprits": names, "amounts": numbers}

    return found


def flipped_names(names):
    """The other side of each."""
    return {letter: other_side(one) for letter, one in names.items()}


def shifted(names):
    """Each culprit at the next letter."""
    return {letter: names[LETTERS[(k + 1) % 5]] for k, letter in enumerate(LETTERS)}


def one_coordinate(context):
    """For a joint off its fold, the largest coordinate in place of the length."""
    right = answer()(context)
    sheet, _, truth = case_of(context.robot, context.variant)
    for letter, (kind, name, _) in truth.items():
        if kind == "off":
            gap = sheet["joints"][name]["at"] - loop_centre(sheet["folds"][name])
            right["amounts"][letter] = 1000 * float(np.abs(gap).sum())
    return right


MISTAKES = (
    Mistake(
        "metres",
        answer(amount=lambda kind, unit, value: value / 1000 if unit == "mm" else value),
        "amounts are in metres where millimetres are asked for: times 1000",
        ("amounts",),
        TABLE,
    ),
    Mistake(
        "radians",
        answer(amount=lambda kind, unit, value: np.radians(value) if unit == "degrees" else value),
        "an angle is in radians; the complaint asks for degrees",
        ("amounts",),
        TABLE,
    ),
    Mistake(
        "added up",
        one_coordinate,
        "the distance off the fold is the length of the gap, np.linalg.norm, not its coordinates added up",
        ("amounts",),
        PLACES,
    ),
    Mistake(
        "limits",
        answer(amount=lambda kind, unit, value: LIMITS[kind]),
        "these are the limits of the audit; asked for is what you measured",
        ("amounts",),
        PLACES,
    ),
    Mistake(
        "one letter on",
        answer(name=shifted),
        "all five are guilty, but each of another complaint",
        tuple(LETTERS),
        PLACES,
    ),
)
CHECKPOINT = Checkpoint(
    id="12.2",
    title="Five complaints",
    kind="value",
    names={"culprits": named(LETTERS, forms.string()), "amounts": named(LETTERS, forms.number())},
    claims=(
        *(Claim(letter, f"complaint {letter}: the culprit", 1, culprit(letter), "", ("culprits",), PLACES) for letter in LETTERS),
        Claim("amounts", "the five amounts", 2, amounts_right, "0.1 mm, 0.1 degrees, 0.001", ("amounts",), PLACES),
    ),
    worked=answer(),
    hint="Read a complaint, and ask which number of the sheet would show it. Idea 2 has one line for each of the eight kinds.\n"
    "Measure that number for every name there is, and print the largest five: the culprit stands out, by far.\n"
    "The worked step measures joints against folds. Change one line, and it measures controls against the joints they serve.",
    mistakes=MISTAKES,
    closed=CLOSED,
    show=show_hunt,
)
