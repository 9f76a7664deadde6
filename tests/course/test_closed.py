"""Closed book: the package's own answers raise while an answer is tried, and are themselves again afterwards."""

import re
import threading

import pytest

import rigkit._limb_fast
import rigkit.limb
import rigkit.placement
import rigkit.words
from rigkit.course import closed as closing
from rigkit.course.closed import ClosedBook, closed, functions


def test_a_function_is_closed_and_open_again():
    with closed(["words.degrees"]):
        with pytest.raises(ClosedBook, match="words.degrees"):
            rigkit.words.degrees(1.0)
        assert rigkit.words.side("left_arm") == "left"
    assert rigkit.words.degrees(0.0) == "0.0 degrees"


def test_it_makes_no_difference_how_the_function_was_reached():
    held, other = rigkit.words.degrees, [rigkit.words.degrees]
    with closed(["words.degrees"]):
        for function in (held, other[0]):
            with pytest.raises(ClosedBook):
                function(1.0)


def test_a_module_closes_everything_defined_in_it_and_nothing_imported():
    names = {name for name, _ in functions("limb")}
    assert "limb.solve" in names and "limb.pole_point" in names
    assert all(re.fullmatch(r"rigkit\.(limb|_limb_\w+)", function.__module__) for _, function in functions("limb"))
    with closed(["limb"]), pytest.raises(ClosedBook):
        rigkit.limb.solve([0, 1, 0], [0, 0.5, 0], [0, 0, 0], [0, 0.2, 0.1], [0, 0.5, -1])


def test_a_private_helper_module_closes_with_the_module_it_helps():
    assert any(function.__module__ == "rigkit._limb_fast" for _, function in functions("limb"))
    with closed(["limb.solve"]), pytest.raises(ClosedBook):
        rigkit._limb_fast.one([0, 1, 0], [0, 0.5, 0], [0, 0, 0], [0, 0.2, 0.1], [0, 0.5, -1], 0.0, 1.0)


def test_classes_close_with_their_methods_and_properties():
    assert {"course.forms.Wrong.__init__"} <= {name for name, _ in functions("course.forms.Wrong")}
    assert "course.checkpoint.Result.earned" in {name for name, _ in functions("course.checkpoint.Result")}


def test_closing_may_be_nested_and_ends_with_the_last():
    with closed(["words.degrees"]):
        with closed(["words.degrees", "words"]):
            pass
        with pytest.raises(ClosedBook):
            rigkit.words.degrees(1.0)
    assert rigkit.words.degrees(0.0) == "0.0 degrees"
    assert not closing._closed


def test_an_error_inside_opens_everything_again():
    with pytest.raises(ZeroDivisionError):
        with closed(["words"]):
            1 / 0
    assert rigkit.words.side("x") == "centre" and not closing._closed


def test_a_function_with_free_variables_and_defaults_can_be_closed(monkeypatch):
    def outer(scale):
        def inner(x, *, more=1):
            return x * scale + more
        return inner
    function = outer(3)
    monkeypatch.setattr(rigkit.words, "made", function, raising=False)
    function.__module__ = "rigkit.words"
    with closed(["words.made"]), pytest.raises(ClosedBook):
        function(2, more=5)
    assert function(2, more=5) == 11


@pytest.mark.parametrize("name", ["nothing.here", "limb.no_such", "words.math", "words.PALETTE"])
def test_a_name_that_is_not_there_is_an_error_and_closes_nothing(name):
    with pytest.raises(ValueError, match="no|not"):
        with closed(["words.degrees", name]):
            pass
    assert rigkit.words.degrees(0.0) == "0.0 degrees" and not closing._closed


def test_two_threads_may_close_at_once():
    wrong = []

    def work():
        for _ in range(200):
            with closed(["words"]):
                try:
                    rigkit.words.degrees(1.0)
                    wrong.append("open")
                except ClosedBook:
                    pass
    threads = [threading.Thread(target=work) for _ in range(4)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert not wrong and rigkit.words.degrees(0.0) == "0.0 degrees"
