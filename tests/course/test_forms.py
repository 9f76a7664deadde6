"""Forms take lists, tuples and arrays alike, give plain checked data back, and say what came."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigkit.course import forms
from rigkit.course.forms import Wrong

ALL = {
    "number": forms.number(), "integer": forms.integer(), "boolean": forms.boolean(), "point": forms.point(), "array": forms.array(2, 3),
    "open array": forms.array(None, 2), "several": forms.several(forms.point(), forms.number()), "listing": forms.listing(forms.integer()),
    "mapping": forms.mapping(forms.string()), "choice": forms.choice("a", "b"), "string": forms.string(), "text": forms.text(3),
}


class Sly(float):
    """A number that claims to equal everything."""

    def __eq__(self, other):
        return True

    __hash__ = float.__hash__


def wrong(form, value):
    with pytest.raises(Wrong) as caught:
        form(value)
    return caught.value.outcome, caught.value.line


@pytest.mark.parametrize("value", [[1, 2, 3], (1, 2, 3), np.array([1, 2, 3]), np.array([1, 2, 3], np.float32), [np.float64(1), 2.0, np.int8(3)]])
def test_a_point_may_be_a_list_a_tuple_or_an_array(value):
    out = forms.point()(value)
    assert out.dtype == np.float64 and out.tolist() == [1, 2, 3]


def test_what_comes_back_is_a_copy():
    given_array = np.zeros(3)
    forms.point()(given_array)[0] = 5
    assert given_array[0] == 0


@pytest.mark.parametrize(("form", "value", "outcome", "told"), [
    ("number", True, "wrong kind", "came True"),
    ("number", "3", "wrong kind", "the text '3'"),
    ("number", [3.0], "wrong shape", "a list of 1"),
    ("number", None, "wrong kind", "`return`"),
    ("number", math.nan, "not a number", "nan"),
    ("number", math.inf, "not a number", "inf"),
    ("number", 10**400, "not a number", "too large"),
    ("number", 1j, "wrong kind", "1j"),
    ("number", Sly(1), "wrong kind", "Sly"),
    ("integer", 2.5, "wrong kind", "2.5"),
    ("integer", math.nan, "not a number", "nan"),
    ("boolean", 1, "wrong kind", "came 1"),
    ("point", [1, 2], "wrong shape", "a list of 2"),
    ("point", [[1, 2, 3]], "wrong shape", "a list of 1"),
    ("point", [1, 2, math.nan], "not a number", "nan at [2]"),
    ("point", [1, 2, True], "wrong kind", "holds True"),
    ("point", [1, 2, Sly(3)], "wrong kind", "holds a Sly"),
    ("point", [1, 2, None], "wrong kind", "holds None"),
    ("point", np.array([True, False, True]), "wrong kind", "bool"),
    ("point", np.array(["a", "b", "c"]), "wrong kind", "type <U1"),
    ("point", np.array([1, 2, 3j]), "wrong kind", "complex"),
    ("point", 3.0, "wrong shape", "came 3.0"),
    ("point", {}, "wrong kind", "a dict of 0"),
    ("array", [[1, 2, 3], [4, 5]], "wrong shape", "rows of different length"),
    ("open array", [], "wrong shape", "a list of 0"),
    ("open array", np.zeros((3, 3)), "wrong shape", "(3, 3)"),
    ("several", [[1, 2, 3]], "wrong shape", "a list of 1"),
    ("several", [[1, 2, 3], "x"], "wrong kind", "value 2"),
    ("listing", [1, "x"], "wrong kind", "item 1"),
    ("listing", 3, "wrong kind", "came 3"),
    ("mapping", {1: "a"}, "wrong kind", "a dict of 1"),
    ("mapping", {"a": 1}, "wrong kind", "['a']"),
    ("choice", "c", "wrong kind", "'a', 'b'"),
    ("choice", 1, "wrong kind", "came 1"),
    ("text", "two words", "look", "2 words"),
    ("text", 7, "wrong kind", "came 7"),
])
def test_what_is_wrong_is_said_with_what_came_and_what_was_expected(form, value, outcome, told):
    got, line = wrong(ALL[form], value)
    assert got == outcome
    assert told in line
    assert "expected" in line


def test_an_answer_may_be_an_array_where_several_of_one_form_are_asked():
    mid, end = forms.several(forms.point(), forms.point())(np.arange(6.0).reshape(2, 3))
    assert mid.tolist() == [0, 1, 2] and end.tolist() == [3, 4, 5]


def test_an_empty_open_array_has_its_columns():
    assert forms.array(None, 2)(np.zeros((0, 2))).shape == (0, 2)


anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.complex_numbers() | st.text(max_size=5) | st.just(...)
    | st.sampled_from([object(), np.float32(1), np.bool_(True), np.array(None), np.array([object()]), np.zeros((0,)), Sly(2), len]),
    lambda inner: st.lists(inner, max_size=4) | st.tuples(inner, inner) | st.dictionaries(st.text(max_size=3), inner, max_size=3),
    max_leaves=8,
)


@given(anything, st.sampled_from(sorted(ALL)))
def test_whatever_comes_is_taken_or_told_and_never_a_crash(value, name):
    try:
        out = ALL[name](value)
    except Wrong as error:
        assert error.outcome in ("wrong kind", "wrong shape", "not a number", "look")
        assert error.line and "\n" not in error.line
    else:
        assert type(out) in (float, int, bool, str, list, tuple, dict, np.ndarray)
