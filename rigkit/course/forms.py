"""The form an answer has: one number, a point, an array, several of them, a choice, a text.

A form is a function: it takes what the learner's code made and returns it as
plain, checked data, or raises Wrong with an outcome and a line that says what
came and what was expected. Lists, tuples and arrays are taken alike. Types are
exact: a subclass may answer anything it likes when asked, so it is refused, and
True is not the number 1.
"""

import math

import numpy as np

from rigkit.arguments import shorten

LONGEST = 2_000_000  # numbers in one answer


class Wrong(Exception):
    """An answer that does not have its form: `outcome` (as in checkpoint.OUTCOMES) and a line about it."""

    def __init__(self, outcome, line):
        super().__init__(f"{outcome}: {line}")
        self.outcome, self.line = outcome, line


def _named(expected):
    """Give a form the words for what it expects, for messages and for the list of checkpoints."""
    def mark(form):
        form.expected = expected
        return form
    return mark


def number():
    """One finite number; comes back as a float.

    >>> number()(np.float32(0.5))
    0.5
    >>> number()(True)
    Traceback (most recent call last):
    ...
    rigkit.course.forms.Wrong: wrong kind: came True; expected one number
    """
    @_named("one number")
    def form(value):
        value = _scalar(value, form.expected)
        if type(value) not in (int, float):
            raise Wrong("wrong kind", came(value, form.expected))
        return _finite_float(value, form.expected)
    return form


def integer():
    """One whole number; comes back as an int. 4.0 is one too: so numpy's ceil, floor and round give it.

    >>> integer()(np.int64(7)), integer()(np.ceil(3.2))
    (7, 4)
    """
    @_named("one whole number")
    def form(value):
        value = _scalar(value, form.expected)
        if type(value) is float and not math.isfinite(value):
            raise Wrong("not a number", came(value, form.expected))
        if type(value) is not int and not (type(value) is float and value.is_integer()):
            raise Wrong("wrong kind", came(value, form.expected))
        return int(value)
    return form


def boolean():
    """True or False.

    >>> boolean()(np.bool_(True))
    True
    """
    @_named("True or False")
    def form(value):
        value = _scalar(value, form.expected)
        if type(value) is not bool:
            raise Wrong("wrong kind", came(value, form.expected))
        return value
    return form


def array(*shape):
    """Finite numbers of this shape; None in the shape leaves that length open. Comes back as float64.

    >>> array(None, 3)([[0, 1, 2], (3, 4, 5)]).shape
    (2, 3)
    >>> array(2, 2)([1, 2])
    Traceback (most recent call last):
    ...
    rigkit.course.forms.Wrong: wrong shape: came a list of 2; expected numbers of shape (2, 2)
    """
    return _array(shape, f"numbers of shape ({', '.join('any' if n is None else str(n) for n in shape)}{',' * (len(shape) == 1)})")


def point():
    """Three finite numbers; comes back as float64 of shape (3,).

    >>> point()((1, 2, 3))
    array([1., 2., 3.])
    """
    return _array((3,), "a point: three numbers x, y, z")


def several(*forms):
    """A fixed number of answers in one tuple, each with its own form; comes back as a tuple.

    >>> several(number(), boolean())([1, False])
    (1.0, False)
    """
    @_named(f"{len(forms)} values: " + ", then ".join(form.expected for form in forms))
    def form(value):
        items = _items(value, form.expected)
        if len(items) != len(forms):
            raise Wrong("wrong shape", came(value, form.expected))
        return tuple(_item(one, item, f"value {i + 1}") for i, (one, item) in enumerate(zip(forms, items)))
    return form


def listing(of):
    """Any number of answers of one form; comes back as a list.

    >>> listing(integer())((3, 1, 2))
    [3, 1, 2]
    """
    @_named(f"a list; each item {of.expected}")
    def form(value):
        return [_item(of, item, f"item {i}") for i, item in enumerate(_items(value, form.expected))]
    return form


def mapping(of):
    """Names to answers of one form; comes back as a dict.

    >>> mapping(string())({"left_shin_tube": "left_knee_joint"})
    {'left_shin_tube': 'left_knee_joint'}
    """
    @_named(f"a dict of names; each value {of.expected}")
    def form(value):
        if type(value) is not dict or not all(type(key) is str for key in value):
            raise Wrong("wrong kind", came(value, form.expected))
        return {key: _item(of, item, f"[{key!r}]") for key, item in value.items()}
    return form


def choice(*options):
    """One of these words; comes back as the option itself. Capitals and outer blanks don't matter.

    >>> choice("a", "b")(" B ")
    'b'
    """
    @_named("one of " + ", ".join(repr(option) for option in options))
    def form(value):
        if type(value) is not str:
            raise Wrong("wrong kind", came(value, form.expected))
        found = next((option for option in options if option.casefold() == value.strip().casefold()), None)
        if found is None:
            raise Wrong("wrong kind", came(value, form.expected))
        return found
    return form


def string():
    """A piece of text on one line, such as a name.

    >>> string()("left_elbow_joint")
    'left_elbow_joint'
    """
    @_named("a text in quotes")
    def form(value):
        if type(value) is not str:
            raise Wrong("wrong kind", came(value, form.expected))
        return value
    return form


def text(min_words=1):
    """A short text of at least so many words; comes back with outer blanks taken off.

    >>> text(3)("A shell is stiff.")
    'A shell is stiff.'
    """
    @_named(f"a text of at least {min_words} words")
    def form(value):
        if type(value) is not str:
            raise Wrong("wrong kind", came(value, form.expected))
        words = len(value.split())
        if words < min_words:
            raise Wrong("look", f"came a text of {words} {'word' if words == 1 else 'words'}; expected {form.expected}")
        return value.strip()
    return form


def came(value, expected):
    """The line that says what came and what was expected.

    >>> came([1, 2], "a point: three numbers x, y, z")
    'came a list of 2; expected a point: three numbers x, y, z'
    """
    tail = " (is a `return` missing?)" if value is None else ""
    return f"came {describe(value)}{tail}; expected {expected}"


def describe(value):
    """A value in a few words.

    >>> describe(np.zeros((2, 3))), describe("elbow"), describe({}), describe(0.25)
    ('an array of shape (2, 3)', "the text 'elbow'", 'a dict of 0', '0.25')
    """
    kind = type(value)
    if kind in (list, tuple, dict):
        return f"a {kind.__name__} of {len(value)}"
    if kind is str:
        return f"the text {shorten(value, 40)}"
    if kind is np.ndarray:
        return f"an array of shape {value.shape}" + ("" if value.dtype.kind in "iuf" else f" and type {value.dtype}")
    if value is None or kind in (bool, int, float, complex):
        return shorten(value, 40) if kind is not int or abs(value) < 1e30 else "a whole number of more than 30 digits"
    return f"a {kind.__name__}"


# -- helpers


def _array(shape, expected):
    @_named(expected)
    def form(value):
        out = _numbers(value, expected)
        if out.ndim != len(shape) or any(n is not None and n != m for n, m in zip(shape, out.shape)):
            raise Wrong("wrong shape", came(value, expected))
        if not np.isfinite(out).all():
            row = tuple(int(i) for i in np.argwhere(~np.isfinite(out))[0])
            place = f" at [{', '.join(str(i) for i in row)}]" if row else ""
            raise Wrong("not a number", f"came {out[row]}{place}; expected {expected}, all finite")
        return out
    return form


def _numbers(value, expected):
    if type(value) is not np.ndarray:
        _leaves(value, expected, value, [0])
        try:
            value = np.array(value)
        except (ValueError, OverflowError):  # rows of different length
            raise Wrong("wrong shape", f"came {describe(value)} with rows of different length; expected {expected}") from None
    if value.dtype.kind == "O":
        raise Wrong("not a number", f"came a number too large to compute with; expected {expected}")
    if value.dtype.kind not in "iuf":
        if value.size == 0:
            raise Wrong("wrong shape", came(value, expected))
        raise Wrong("wrong kind", came(value, expected))
    return np.array(value, dtype=np.float64)


def _leaves(value, expected, whole, count):
    """Raise unless nested lists and tuples hold nothing but plain numbers and arrays of numbers."""
    count[0] += 1
    if count[0] > LONGEST:
        raise Wrong("wrong shape", f"came more than {LONGEST} numbers; expected {expected}")
    kind = type(value)
    if kind in (list, tuple):
        for item in value:
            _leaves(item, expected, whole, count)
    elif kind is np.ndarray:
        if value.dtype.kind not in "iuf":
            raise Wrong("wrong kind", f"came {describe(whole)} that holds {describe(value)}; expected {expected}")
    elif kind not in (int, float) and not issubclass(kind, (np.integer, np.floating)):
        held = "" if value is whole else f"{describe(whole)} that holds "
        raise Wrong("wrong kind", came(value, expected) if not held else f"came {held}{describe(value)}; expected {expected}")


def _scalar(value, expected):
    """A numpy scalar or an array with no axes as a Python one; a longer array is a wrong shape."""
    if type(value) is np.ndarray:
        if value.ndim:
            raise Wrong("wrong shape", came(value, expected))
        value = value[()]
    if isinstance(value, np.generic) and value.dtype.kind in "biuf":
        return value.item()
    if type(value) in (list, tuple):
        raise Wrong("wrong shape", came(value, expected))
    return value


def _finite_float(value, expected):
    try:
        out = float(value)
    except OverflowError:
        raise Wrong("not a number", f"came a number too large to compute with; expected {expected}") from None
    if not math.isfinite(out):
        raise Wrong("not a number", came(value, expected + ", finite"))
    return out


def _items(value, expected):
    if type(value) in (list, tuple) or (type(value) is np.ndarray and value.ndim):
        return value
    raise Wrong("wrong kind", came(value, expected))


def _item(form, value, place):
    try:
        return form(value)
    except Wrong as wrong:
        raise Wrong(wrong.outcome, f"{place}: {wrong.line}") from None
