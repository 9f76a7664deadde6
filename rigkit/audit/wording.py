"""Names of any make taken apart: the side they tell, and the words that are left.

Names of files come in many ways to write: `left_elbow_joint`, `LeftForearm`, `arm.L`. They are cut at separators, at digits
and where small letters meet capitals; a side is a whole word of the rule file's lists, or left or right at the start of a longer word.
"""

import re
from functools import lru_cache
from typing import NamedTuple

_WORD = re.compile(r"[A-Z]+(?=[A-Z][a-z])|[A-Z]?[a-z]+|[A-Z]+|\d+")
_KINDS = ("joint", "bone", "control", "marker", "target", "node")  # say nothing of which part it is


class Wording(NamedTuple):
    """side: "left", "right", "centre" or None. words: the rest, small letters, without kind and numbers. numbers: those in the name."""

    side: str | None
    words: tuple
    numbers: tuple


def taken_apart(name, names):
    """Return the Wording of a name; names: the rule file's table of side words.

    >>> sides = {"left": ["left", "l"], "right": ["right", "r"], "centre": ["centre", "c"]}
    >>> taken_apart("LeftForeArm_2", sides)
    Wording(side='left', words=('fore', 'arm'), numbers=(2,))
    >>> taken_apart("bright_lamp.R", sides)
    Wording(side='right', words=('bright', 'lamp'), numbers=())
    """
    return _apart(name, *(tuple(names[side]) for side in ("left", "right", "centre")))


@lru_cache(maxsize=4096)
def _apart(name, *side_words):
    words = [word.lower() for word in _WORD.findall(name[:500])]
    side, rest = None, []
    for word in words:
        found = next((s for s, known in zip(("left", "right", "centre"), side_words) if word in known), None)
        if found is None and side is None and (glued := re.fullmatch("(left|right)([a-z]{3,})", word)):
            side = glued[1]
            rest.append(glued[2])
        elif found is None or side is not None:
            rest.append(word)
        else:
            side = found
    return Wording(
        side, tuple(w for w in rest if not w.isdigit() and w not in _KINDS), tuple(int(w) for w in rest if w.isdigit() and len(w) < 10)
    )


def all_apart(names, table):
    """Return the Wording of every name of a set.

    A side told by a single letter (arm.L, waist_r) is believed where at least half of such names have a counterpart: elsewhere the
    letter means something else.

    >>> sides = {"left": ["left", "l"], "right": ["right", "r"], "centre": []}
    >>> [one.side for one in all_apart(["arm.L", "arm.R"], sides)], all_apart(["waist_r"], sides)[0].side
    (['left', 'right'], None)
    """
    apart = [taken_apart(name, table) for name in names]
    doubtful = _lettered(names, table, apart)
    paired = _paired(apart)
    if sum(i in paired for i in doubtful) * 2 >= len(doubtful):
        return apart
    return [one._replace(side=None) if i in doubtful else one for i, one in enumerate(apart)]


def pairs(names, table):
    """Return {place: place of the other side's} of names that differ in their side alone.

    >>> sides = {"left": ["left", "l"], "right": ["right", "r"], "centre": []}
    >>> pairs(["arm.L", "arm.R", "head"], sides)
    {0: 1, 1: 0}
    """
    return _paired(all_apart(names, table))


def _lettered(names, table, apart):
    """The places of names whose side is told by a single letter."""
    whole = {side: [word for word in table[side] if len(word) > 1] for side in ("left", "right", "centre")}
    return {i for i, name in enumerate(names) if apart[i].side in ("left", "right") and taken_apart(name, whole).side != apart[i].side}


def _paired(apart):
    place, found = {}, {}
    for i, (side, *rest) in enumerate(apart):
        if side in ("left", "right"):
            place.setdefault((side, *rest), i)
    for (side, *rest), i in place.items():
        other = place.get(("right" if side == "left" else "left", *rest))
        if other is not None:
            found[i] = other
    return found
