"""Names in a rig: `side_part_kind`, so that a stranger finds every control by its name.

Small letters and whole words between underscores: `left_elbow_joint`,
`centre_body_control`. The first word is the side, the last the kind, the words
between say which part. Members of a series carry two digits inside the name
(`centre_hose_03_joint`). The rule is the course's own; a rule file may give another.
"""

import re
from typing import NamedTuple

from rigkit.words import SIDES

KINDS = ("joint", "control", "marker", "target")
LEAST_LETTERS = 3  # a part's word of fewer letters is a short form
WHOLE_SHORT_WORDS = ("of", "to", "up")


class Name(NamedTuple):
    """The parts of a name: side, part (words joined by underscores), kind, and number in a series or None."""

    side: str
    part: str
    kind: str
    number: int | None = None


def build(side, part, kind, number=None):
    """Return the name of a part: number, 1 to 99, is its place in a series.

    A part of several words may hold its number inside: it goes behind the first word.
    Raises ValueError for what `problems` would find in the name.

    >>> build("left", "elbow", "joint"), build("centre", "hose", "joint", 3), build("left", "finger_base", "joint", 1)
    ('left_elbow_joint', 'centre_hose_03_joint', 'left_finger_01_base_joint')
    """
    words = part.split("_")
    if number is not None:
        if not 1 <= number <= 99:
            raise ValueError(f"number is {number}; expected 1 to 99: a series carries two digits")
        words.insert(1, f"{number:02d}")
    name = "_".join([side, *words, kind])
    _refuse(name)
    return name


def parse(name):
    """Return the Name that a text tells; a text that breaks the rule is a ValueError that says how.

    >>> parse("left_finger_01_base_joint")
    Name(side='left', part='finger_base', kind='joint', number=1)
    """
    _refuse(name)
    side, *words, kind = name.split("_")
    number = next((int(word) for word in words if word.isdigit()), None)
    return Name(side, "_".join(word for word in words if not word.isdigit()), kind, number)


def problems(name):
    """Return what is wrong with a name by the course's rule, a sentence each; an empty list for a good one.

    >>> problems("left_elbow_joint")
    []
    >>> problems("left_elbow_joint_2")
    ["'left_elbow_joint_2' ends in a counter, '2', left by copying; expected a side swapped, or two digits inside the name for a series"]
    """
    if not isinstance(name, str) or not name:
        return [f"{name!r} is no name; expected a text such as 'left_elbow_joint'"]
    if counter := re.search(r"(?:(?<=[a-z])\d+|[_. ]\d+|[_. ](?:copy|dup|duplicate)\d*)$", name, re.IGNORECASE):
        told = counter[0].strip("_. ")
        return [
            f"{name!r} ends in a counter, {told!r}, left by copying; expected a side swapped, or two digits inside the name for a series"
        ]
    if not re.fullmatch(r"[a-z]+(?:_(?:[a-z]+|\d+))*", name):
        return [f"{name!r} holds more than small letters and underscores; expected whole words: 'left_elbow_joint'"]
    return _word_problems(name, name.split("_"))


def check(names):
    """Return the problems of a whole set of names, the same name given twice among them, in order.

    >>> check(["left_hand_control", "left_hand_control"])
    ["'left_hand_control' is there 2 times; expected a name for each"]
    """
    names = list(names)
    found = [problem for name in dict.fromkeys(names) for problem in problems(name)]
    return found + [
        f"{name!r} is there {names.count(name)} times; expected a name for each" for name in dict.fromkeys(names) if names.count(name) > 1
    ]


def _word_problems(name, words):
    if len(words) < 3:
        return [f"{name!r} has {len(words)} words; expected side, part and kind: 'left_elbow_joint'"]
    found = []
    if words[0] not in SIDES:
        found.append(f"{name!r} starts with {words[0]!r}; expected a side first: {', '.join(SIDES)}")
    if words[-1] not in KINDS:
        found.append(f"{name!r} ends with {words[-1]!r}; expected a kind last: {', '.join(KINDS)}")
    inside = words[1:-1]
    if second := next((word for word in inside if word in SIDES), None):
        found.append(f"{name!r} holds a second side, {second!r}; expected one side, the first word")
    if odd := next((word for word in inside if word.isdigit() and len(word) != 2), None):
        found.append(f"{name!r} holds the number {odd!r}; expected two digits for a member of a series: '{int(odd):02d}'")
    if short := next((word for word in inside if _cryptic(word)), None):
        found.append(f"{name!r} holds the short form {short!r}; expected a whole word: say where it is and what it does")
    return found


def _cryptic(word):
    if word.isdigit() or word in WHOLE_SHORT_WORDS:
        return False
    return len(word) < LEAST_LETTERS or not re.search("[aeiouy]", word)


def _refuse(name):
    if found := problems(name):
        raise ValueError(found[0])
