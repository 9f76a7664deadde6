"""The document's fields, read with care: each is of its kind and in its range, or the error names the place.

A place is written as one would index the document: `skins[0].joints[3]`. Nothing here knows what a field means.
"""

import math

import numpy as np

from rigkit import arguments
from rigkit.gltf import limits

MUST = object()  # the default of a field that may not be missing


class Item:
    """A JSON object of the document and where it stands."""

    def __init__(self, value, place):
        self.value, self.place = value, place
        if not isinstance(value, dict):
            raise ValueError(f"{place} is {arguments.shorten(value)}; expected an object")

    def at(self, name):
        """The place of a field."""
        return f"{self.place}.{name}" if self.place else name

    def fail(self, name, expected):
        """Raise the ValueError for a field that is not as expected."""
        told = arguments.shorten(self.value[name]) if name in self.value else "missing"
        raise ValueError(f"{self.at(name)} is {told}; expected {expected}")

    def _read(self, name, default, good, expected):
        value = self.value.get(name, default)
        if value is MUST or (name in self.value and not good(value)):
            self.fail(name, expected)
        return value

    def text(self, name, default=MUST):
        """A text."""
        return self._read(name, default, lambda value: isinstance(value, str), "a text")

    def truth(self, name, default=False):
        """True or false."""
        return self._read(name, default, lambda value: isinstance(value, bool), "true or false")

    def choice(self, name, among, default=MUST):
        """One of the values of `among`."""
        return self._read(name, default, lambda value: type(value) in (str, int) and value in among, f"one of {', '.join(map(str, among))}")

    def integer(self, name, default=MUST, low=0, high=1 << 53):
        """A whole number from low to high."""
        value = self._read(name, default, lambda value: _whole(value) and low <= value <= high, f"a whole number from {low} to {high}")
        return int(value) if _whole(value) else value

    def index(self, name, count, default=None):
        """The number of one of `count` things, or the default."""
        return self._read(name, default, lambda value: _whole(value) and 0 <= value < count, _one_of(count))

    def number(self, name, default=MUST):
        """A finite number."""
        value = self._read(name, default, _finite, "a finite number")
        return float(value) if _finite(value) else value

    def numbers(self, name, length, default=None):
        """Finite numbers, (length,), or the default."""
        value = self._read(
            name,
            default,
            lambda value: isinstance(value, list) and len(value) == length and all(map(_finite, value)),
            f"{length} finite numbers",
        )
        return value if value is None else np.array(value, np.float64)

    def indices(self, name, count, least=0):
        """Numbers of things, each once, a list; a field that is missing is an empty list."""
        if name not in self.value and not least:
            return []
        value = self.list(name)
        if len(value) < least:
            self.fail(name, f"at least {least} numbers")
        for i, one in enumerate(value):
            if not (_whole(one) and 0 <= one < count):
                raise ValueError(f"{self.at(name)}[{i}] is {arguments.shorten(one)}; expected {_one_of(count)}")
        if len(set(value)) < len(value):
            self.fail(name, "each number once")
        return value

    def list(self, name):
        """A list, [] where there is none."""
        value = self._read(name, [], lambda value: isinstance(value, list), "a list")
        if len(value) > limits.LIST_ITEMS:
            raise ValueError(f"{self.at(name)} has {len(value)} items; expected at most {limits.LIST_ITEMS}")
        return value

    def items(self, name):
        """A list of objects, as Items."""
        return [Item(value, f"{self.at(name)}[{i}]") for i, value in enumerate(self.list(name))]

    def item(self, name):
        """An object, as an Item, or None."""
        return Item(self.value[name], self.at(name)) if name in self.value else None


def _one_of(count):
    return f"a number from 0 to {count - 1}" if count else "none, for there are 0 to point to"


def _finite(value):
    return type(value) in (int, float) and abs(value) <= 1e38 and math.isfinite(value)


def _whole(value):
    return type(value) is int  # `container.parsed` makes whole numbers integers
