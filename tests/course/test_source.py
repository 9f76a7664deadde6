"""A value whose cell calls a closed function is told so, straight or through a function of the learner's own."""

import linecache

import pytest

import rigkit
import rigkit.words
from rigkit.course.source import closed_calls


def ran(*cells):
    """(cells, namespace) after running cells as a notebook does, their sources known to tracebacks."""
    space = {"rk": rigkit}
    for number, source in enumerate(cells):
        name = f"<cell {number} of {id(space)}>"
        linecache.cache[name] = (len(source), None, source.splitlines(keepends=True), name)
        exec(compile(source, name, "exec"), space)
    return list(cells), space


@pytest.mark.parametrize("cells", [
    ["size = rk.words.millimetres(1.0)"],
    ["from rigkit import words\nsize = words.millimetres(1.0)"],
    ["from rigkit.words import millimetres as m", "a = 1\nsize = [m(a)]"],
    ["f = rk.words.millimetres", "size, other = f(1.0), 2"],
    ["def mine(x):\n    return rk.words.millimetres(x)", "def again(x): return mine(x)", "size = again(2.0)"],
    ["size = 3", "size = rk.words.millimetres(1.0)"],
    ["for size in [rk.words.millimetres(1.0)]: pass"],
])
def test_a_call_of_a_closed_function_is_found(cells):
    assert closed_calls(["size"], *ran(*cells), ["words.millimetres"]) == {"size": "words.millimetres"}


@pytest.mark.parametrize("cells", [
    ["size = 3.0"],
    ["size = rk.words.degrees(1.0)"],
    ["text = rk.words.millimetres(1.0)", "size = 2"],
    ["size = rk.words.millimetres(1.0)", "size = 2"],
    ["keep = rk.words.millimetres\nsize = 1"],
    ["def millimetres(x): return x", "size = millimetres(3)"],
    ["def loop(n): return n and loop(n - 1)", "size = loop(3)"],
])
def test_anything_else_is_left_alone(cells):
    assert closed_calls(["size"], *ran(*cells), ["words.millimetres"]) == {}


def test_cells_that_are_no_python_are_passed_over():
    cells, space = ran("size = rk.words.millimetres(1.0)")
    assert closed_calls(["size"], [*cells, "%time size", "!ls", "size = ("], space, ["words"]) == {"size": "words.millimetres"}
    assert closed_calls(["size"], [], space, ["words"]) == {}
