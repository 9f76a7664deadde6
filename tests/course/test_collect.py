"""Collecting: the learner's code is run and nothing it does gets further than an outcome with one line."""

import subprocess
import sys
import threading
import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import rigkit.words
from rigkit.course import collect as collecting
from rigkit.course.checkpoint import Case
from rigkit.course.collect import call, collect, not_started, plain, same
from tests.course import tiny


def notebook(source):
    """The names of a notebook in which one cell was run."""
    space = {"np": np, "rigkit": rigkit}
    exec(compile(source, "<cell>", "exec"), space)
    return space


def tried(source, checkpoint=tiny.MIDDLE):
    context = tiny.context()
    return collect(checkpoint, notebook(source), checkpoint.cases(np.random.default_rng(0), context))


def outcomes(record):
    return {one.outcome for one in record.calls} | ({record.outcome} if record.outcome != "ok" else set())


@pytest.mark.parametrize("source", [
    "middle = ...",
    "def middle(a, b): ...",
    "def middle(a, b):\n    'Half way.'\n    ...",
    "def middle(a, b):\n    return ...",
    "def middle(a, b):\n    half = ...\n    return a + half",
    "def middle(a, b):\n    half = ...\n    return half * (a + b)",
    "def middle(a, b):\n    return [..., 0, 0]",
])
def test_an_untouched_function_is_not_started(source):
    assert tried(source).outcome == "not started"


@pytest.mark.parametrize("source", [
    "def middle(a, b):\n    return 3", "def middle(a, b):\n    'Text.'\n    return 'other'", "def middle(a, b): return a[...]",
])
def test_a_function_that_gives_something_was_started(source):
    assert outcomes(tried(source)) == {"ok"}


def test_a_function_that_only_raises_was_started():
    assert not not_started(notebook("def middle(a, b): raise NotImplementedError")["middle"])


@pytest.mark.parametrize(("source", "outcome", "told"), [
    ("other = 1", "name missing", "there is no middle"),
    ("middle = 3", "wrong kind", "a int (3)"),
    ("def middle(a): return a", "wrong kind", "(a, b)"),
    ("def middle(a, b):\n    c = a + b\n    return c / nothing", "stopped with an error", "(line 3 of your cell"),
    ("def middle(a, b): raise SystemExit", "stopped with an error", "SystemExit"),
    ("def middle(a, b): return middle(a, b)", "stopped with an error", "RecursionError"),
    ("def middle(a, b):\n    a += b\n    return a / 2", "changed its input", "a.copy()"),
    ("def middle(a, b): return (a + b for _ in a)", "wrong kind", "list(...)"),
    ("def middle(a, b): return {1, 2}", "wrong kind", "a set; put list(...) around it"),
    ("def middle(a, b): return np.array(['a'])", "wrong kind", "an array of texts; put .tolist() behind it"),
    ("class Odd(float): pass\ndef middle(a, b): return Odd(1)", "wrong kind", "a Odd"),
    ("def middle(a, b): return rigkit.words.point(a)", "closed book", "rigkit.words.point"),
    ("middle = lambda a, b: rigkit.words.point(a)", "closed book", "rigkit.words.point"),
    ("def middle(a, b):\n    x = []\n    x.append(x)\n    return x", "wrong kind", "nested"),
    ("def middle(a, b): return np.array([None])", "wrong kind", "object"),
])
def test_each_way_to_go_wrong_has_its_outcome(source, outcome, told):
    record = tried(source)
    assert outcomes(record) == {outcome}
    line = record.line or record.calls[0].line
    assert told in line and "\n" not in line


def test_an_answer_that_is_the_packages_own_function_is_closed_book():
    record = collect(tiny.MIDDLE, {"middle": rigkit.words.point}, [Case("", {"p": np.zeros(3)})])
    assert outcomes(record) == {"closed book"}
    assert rigkit.words.point([0, 0, 0]) == "(0.000, 0.000, 0.000)"


@pytest.mark.parametrize("source", [
    "def middle(a, b):\n    while True: pass",
    "def middle(a, b):\n    while True:\n        try:\n            b + a\n        except Exception: pass",
    "def middle(a, b):\n    while True:\n        try:\n            b + a\n        except: pass",
    "import time\ndef middle(a, b): time.sleep(30)",
])
def test_an_endless_answer_took_too_long(source):
    began = time.monotonic()
    record = tried(source)
    assert outcomes(record) == {"took too long"} and "1 s for all 5 cases" in record.calls[0].line
    assert time.monotonic() - began < 4


def test_an_endless_loop_ends_in_a_second_thread_too():
    space, found = notebook("def middle(a, b):\n    while True: pass"), []
    work = threading.Thread(target=lambda: found.append(call(space["middle"], Case("", {"a": 1, "b": 2}), 0.2)))
    work.start()
    work.join(20)
    assert found[0].outcome == "took too long"


@pytest.mark.parametrize("limit", ["_by_signal", "_by_thread"])
def test_a_time_limit_that_just_runs_out_leaves_nothing_behind(limit):
    """The alarm falls on every place of the work and of the code after it; none may escape to what follows."""
    for wait in np.linspace(2e-4, 1.2e-3, 60):
        try:
            getattr(collecting, limit)(wait, lambda: sum(range(20_000)))
        except collecting.TookTooLong:
            pass
    time.sleep(0.25)  # longer than the time between two alarms
    assert sum(range(100_000)) == 4999950000


def test_an_interrupt_from_the_keyboard_passes_through():
    with pytest.raises(KeyboardInterrupt):
        tried("def middle(a, b): raise KeyboardInterrupt")


def test_a_timer_that_ran_before_goes_on_afterwards():
    code = """
import signal, time
from rigkit.course.collect import limited
signal.signal(signal.SIGALRM, lambda *a: print("rang"))
signal.setitimer(signal.ITIMER_REAL, 0.6)
limited(5, lambda: time.sleep(0.2))
assert 0.1 < signal.getitimer(signal.ITIMER_REAL)[0] < 0.5
time.sleep(0.6)
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert (done.stdout, done.returncode) == ("rang\n", 0), done.stderr


def test_inputs_are_copies_and_random_numbers_stay_as_they_were():
    case = Case("", {"a": np.zeros(3), "b": np.ones(3)})
    np.random.seed(7)
    before = np.random.get_state()[1].copy()
    space = notebook("def middle(a, b):\n    np.random.rand(5)\n    np.seterr(all='raise')\n    a[0] = 9\n    return a")
    settings = np.geterr()
    assert call(space["middle"], case).outcome == "changed its input"
    assert case.inputs["a"].tolist() == [0, 0, 0]
    assert (np.random.get_state()[1] == before).all()
    assert np.geterr() == settings


def test_random_answers_are_the_same_on_every_run():
    space = notebook("def middle(a, b): return np.random.rand(3)")
    case = Case("", {"a": 1, "b": 2})
    assert same(call(space["middle"], case).value, call(space["middle"], case).value)


def test_prints_of_an_answer_do_not_reach_the_page(capsys):
    tried("def middle(a, b):\n    print('x' * 10000)\n    return a")
    assert capsys.readouterr().out == ""


def test_values_are_collected_name_by_name():
    context = tiny.context()
    record = collect(tiny.LENGTH, {"length": np.float64(3)}, tiny.LENGTH.cases(None, context))
    assert record.outcome == "ok"
    assert record.values["length"].value == 3 and type(record.values["length"].value) is float
    assert record.values["centre"].outcome == "name missing"


def test_values_all_untouched_are_not_started():
    assert collect(tiny.LENGTH, {"length": ..., "centre": [..., ..., ...]}, []).outcome == "not started"


def test_an_error_in_a_helper_of_the_learners_is_told_with_the_helpers_line():
    record = tried("def helper(x):\n    return x.nothing\ndef middle(a, b):\n    return helper(a)")
    assert "AttributeError" in record.calls[0].line and "line 2" in record.calls[0].line


def test_an_error_inside_numpy_is_told_with_the_learners_line():
    record = tried("def middle(a, b):\n    c = np.zeros(4)\n    return np.cross(a, c) + np.linalg.inv(np.zeros((3, 3)))")
    assert "line 3" in record.calls[0].line


def test_what_is_plain_is_copied_deeply():
    inner = np.arange(3)
    out = plain({"a": [inner, (1, None, "x")]})
    inner[0] = 99
    assert same(out, {"a": [np.array([0, 1, 2]), (1, None, "x")]})


@given(st.recursive(st.none() | st.booleans() | st.integers() | st.floats() | st.text(), lambda i: st.lists(i) | st.dictionaries(st.text(), i) | st.tuples(i)))
def test_plain_data_comes_through_the_same(value):
    assert same(plain(value), value)


def test_nearly_the_same_numbers_are_the_same_within_a_tolerance():
    assert same([1.0, np.ones(2)], [1.0 + 1e-12, np.ones(2) - 1e-12], 1e-9)
    assert not same([1.0, np.ones(2)], [1.0, np.ones(2) + 1e-6], 1e-9)
    assert same(float("nan"), float("nan")) and same(np.array([np.nan]), np.array([np.nan]))
    assert not same(True, 1) and not same("1", 1) and not same([1], (1,))


def test_collecting_needs_no_chapters_and_no_viewer():
    code = "import sys, rigkit.course.collect; print([m for m in sys.modules if 'chapters' in m or 'pythreejs' in m or 'ipywidgets' in m or 'matplotlib' in m])"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60).stdout.strip() == "[]"
