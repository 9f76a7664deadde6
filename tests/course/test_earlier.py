"""What was built in an earlier chapter comes back in a later one: one's own where it passed, ours where not."""

import json
from dataclasses import replace

import numpy as np
import pytest

from rigkit.course import chapters, context, earlier
from rigkit.course.collect import collect
from rigkit.course.judge import judge
from rigkit.course.notebook import Session
from rigkit.course.progress import Progress
from rigkit.robot import tally
from tests.course import tiny

HALF = 0.5
STEPS = np.array([[0.5, 0.25], [1.0, 0.0]])


def halved(point):
    """A helper that a function leans on, with a constant of its own."""
    return np.asarray(point) * HALF


def leaning(a, b, scale=HALF):
    """Leans on a helper, an array and a default."""
    return halved(a) + STEPS[0, 0] * np.asarray(b) + 0 * scale


class Kind:
    """No plain value."""


KIND = Kind()


def uses_an_object(a):
    return KIND


def quarter(a):
    return half(half(a))  # noqa: F821 (there while a test runs)


def calls_itself(n):
    return 1 if n < 2 else n * calls_itself(n - 1)


@pytest.fixture
def later(monkeypatch):
    """A later chapter that uses two answers of the tiny one, both known to the course; makes its Session for a progress file."""
    every, known = chapters.all_checkpoints(), chapters.get
    monkeypatch.setattr(chapters, "all_checkpoints", lambda: {**every, **{one.id: one for one in tiny.CHAPTER.checkpoints}})
    monkeypatch.setattr(chapters, "get", lambda one, printed=False: tiny.CHAPTER if one == "90" else known(one, printed))
    chapter = replace(tiny.CHAPTER, id="91", checkpoints=(), uses=("90.1", "90.2"))
    return lambda progress: Session(chapter, tiny.context(), progress, {})


def passed(tmp_path, **answers):
    """The progress of a learner who gave these answers to the tiny chapter."""
    chapter = tiny.session(tmp_path, "ada7", answers)
    chapter.check("90.1")
    chapter.check("90.2")
    return Progress(tmp_path)


def test_ours_stands_in_until_yours_has_passed(later, tmp_path, capsys):
    chapter = later(passed(tmp_path, middle=lambda a, b: a, length=1.0))
    capsys.readouterr()
    assert chapter.earlier("90.1") is tiny.middle
    assert capsys.readouterr().out == "middle: ours; yours has not passed 90.1\n"
    assert chapter.earlier("90.2")["centre"] == pytest.approx([1, 1, 2])
    assert "length, centre: ours; yours has not passed 90.2" in capsys.readouterr().out


def test_yours_comes_back_without_its_notebook(later, tmp_path, capsys):
    right = tiny.values(tiny.context())
    chapter = later(passed(tmp_path, middle=leaning, **right))
    capsys.readouterr()
    function = chapter.earlier("90.1")
    assert function is not leaning and function.__globals__ is not leaning.__globals__
    assert function([0, 0, 2], [4, 0, 0]) == pytest.approx([2, 0, 1])
    assert capsys.readouterr().out == "middle: yours, as it passed 90.1\n"
    values = chapter.earlier("90.2")
    assert values["length"] == right["length"] and np.array_equal(values["centre"], right["centre"])
    assert chapter.earlier("90.1", yours=False) is tiny.middle
    assert "as you asked" in capsys.readouterr().out


def test_a_later_failing_answer_leaves_the_one_that_passed(later, tmp_path):
    progress = passed(tmp_path, middle=leaning)
    chapter = tiny.session(tmp_path, "ada7", {"middle": lambda a, b: a})
    chapter.check("90.1")
    assert later(progress).earlier("90.1")([0, 0, 2], [4, 0, 0]) == pytest.approx([2, 0, 1])


def test_an_old_text_that_no_longer_runs_gives_way_to_ours(later, tmp_path):
    progress = passed(tmp_path, middle=leaning)
    progress._base.execute("update sources set source = 'import nothing_of_this_name'")
    assert later(progress).earlier("90.1") is tiny.middle


def test_only_what_the_chapter_uses_is_given(later, tmp_path):
    with pytest.raises(ValueError, match=r"uses the answers to 90.1, 90.2; came '90.3'"):
        later(Progress()).earlier("90.3")


def test_a_function_is_written_with_all_it_needs():
    text = earlier.function_text(leaning)
    alone = earlier.run(text, "leaning", "90.1")
    assert np.array_equal(alone([1, 2, 3], [3, 2, 1]), leaning([1, 2, 3], [3, 2, 1]))
    assert text.index("HALF = 0.5") < text.index("def halved") < text.index("def leaning")
    assert earlier.run(earlier.function_text(calls_itself), "calls_itself", "x")(5) == 120


def test_a_function_that_leans_on_an_earlier_chapter_s_is_kept_with_it(monkeypatch):
    """As in a notebook: what chapter.earlier handed on is called by the next chapter's answer."""
    monkeypatch.setitem(globals(), "half", earlier.run("SHARE = 0.5\n\n\ndef half(a):\n    return a * SHARE", "half", "90.1"))
    assert earlier.run(earlier.function_text(quarter), "quarter", "91.1")(8.0) == 2.0


@pytest.mark.parametrize("function,why", [
    (uses_an_object, "KIND, which is no plain value"), (lambda a: a, "no function with a name"), (len, "no function with a name"),
])
def test_what_can_not_be_written_says_why(function, why):
    with pytest.raises(earlier.NotKept, match=why):
        earlier.function_text(function)


def test_values_are_kept_as_json_and_read_by_their_form():
    record = collect(tiny.LENGTH, tiny.values(tiny.context()), [None])
    assert json.loads(earlier.kept(tiny.LENGTH, record, {})["centre"]) == [1.0, 1.0, 2.0]


@pytest.mark.parametrize("chapter", chapters.ids())
def test_what_a_chapter_uses_comes_from_before_it_and_travels_to_the_box(chapter):
    found = chapters.get(chapter)
    for one in found.uses:
        assert one.partition(".")[0] < chapter
    known = context.context(found, 0, tally(0))
    for one, told in earlier.handed(found, known).items():
        checkpoint = chapters.all_checkpoints()[one]
        if checkpoint.kind != "function":
            assert set(told["values"]) == set(checkpoint.names)
            continue
        cases = context.cases(checkpoint, earlier.context_of(one, known))
        function = earlier.run(told["text"], told["name"], one)
        record = collect(replace(checkpoint, closed=()), {told["name"]: function}, cases)
        result = judge(checkpoint, record, earlier.context_of(one, known), cases, strict=True)
        assert result.earned == result.points, one


FUNCTIONS = [name for name, one in chapters.all_checkpoints().items() if one.kind == "function"]


@pytest.mark.parametrize("name", FUNCTIONS)
def test_every_worked_function_can_travel_as_text(name):
    checkpoint = chapters.all_checkpoints()[name]
    (answer,) = checkpoint.names
    assert callable(earlier.run(earlier.function_text(checkpoint.worked, answer), answer, name))
