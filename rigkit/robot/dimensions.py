"""The dimensions of a variant: the table's values for variant 0, and values from its ranges for every other.

A *variant* takes each dimension from its range by a rule that depends on nothing but
the variant's number and the row's name, so that a new row changes no other. A course
may change rows of the table: `change` makes its robots the ones that are built.
"""

import hashlib
import math
import operator
import tomllib
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from rigkit import files

KEYS = ("value", "low", "high")  # what a course may change in a row
FARTHEST = 2.0  # times smaller or larger than the table's own value
_changes = {}


@lru_cache(maxsize=1)
def printed():
    """Return data/tally.toml: name to a row of value, unit, why and, where variants differ, low and high."""
    return MappingProxyType(tomllib.loads(files.shared("data", "tally.toml").read_text(encoding="utf-8")))


def table():
    """Return the table in use: the printed one, with what a course changes."""
    return changed(_changes) if _changes else printed()


def change(rows):
    """Build all robots from now on with these changes; {} is the printed table. rows: as `changed` takes them."""
    global _changes
    changed(rows)
    _changes = {name: dict(row) for name, row in rows.items()}


def changed(rows):
    """Return the table with changes: name of a row to a dict with some of value, low and high.

    Raises ValueError for an unknown row or key, for what is no number, and for a value outside its range or more than
    twice as large or small as the table's own.

    >>> changed({"forearm": {"value": 0.17}})["forearm"]["value"]
    0.17
    """
    return MappingProxyType({**printed(), **{name: _row(name, row) for name, row in rows.items()}})


def measures(variant=0):
    """Return the dimensions of a variant: the table's names to numbers, metres, degrees or ribs, read-only.

    >>> measures(0)["forearm"]
    0.166
    """
    number = number_of(variant)
    return MappingProxyType({name: _value(row, name, number) for name, row in table().items()})


def number_of(variant):
    """A variant as a whole number from 0 up, or a ValueError."""
    try:
        number = -1 if isinstance(variant, (bool, np.bool_)) else operator.index(variant)
    except TypeError:
        number = -1
    if number < 0:
        raise ValueError(f"variant is {variant!r}; expected a whole number from 0 up: 0 is the robot printed in the workbook")
    return number


def _row(name, told):
    if name not in printed():
        raise ValueError(f"the robot has no dimension {name!r}; expected one of {', '.join(printed())}")
    own = printed()[name]
    allowed = [key for key in KEYS if key in own]
    if not isinstance(told, dict) or not told or not set(told) <= set(allowed):
        raise ValueError(f"robot.{name} is {told!r}; expected some of {', '.join(allowed)}")
    for key, value in told.items():
        if type(value) not in (int, float) or not math.isfinite(value):
            raise ValueError(f"robot.{name}.{key} is {value!r}; expected a number, {own['unit']}")
        if not own[key] == 0 and not 1 / FARTHEST <= value / own[key] <= FARTHEST:
            raise ValueError(f"robot.{name}.{key} is {value}; expected {own[key] / FARTHEST:g} to {own[key] * FARTHEST:g}, for it is {own[key]:g} in the table")
    row = {**own, **told}
    if "low" in row and not row["low"] <= row["value"] <= row["high"]:
        raise ValueError(f"robot.{name} has value {row['value']:g}, low {row['low']:g} and high {row['high']:g}; expected low <= value <= high")
    return row


def _value(row, name, variant):
    if variant == 0 or "low" not in row:
        return row["value"]
    share = _share(f"{variant} {name}")
    if row["unit"] == "ribs":
        return row["low"] + int(share * (row["high"] + 1 - row["low"]))
    return round(row["low"] + share * (row["high"] - row["low"]), 2 if row["unit"] == "deg" else 4)


def _share(text):
    """A number from 0 up to 1 that depends on the text alone, the same on every machine and with every version of numpy."""
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:6]) / 2**48
