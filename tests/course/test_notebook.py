"""A session as a learner meets it: what each call prints, what it keeps, and that nothing they do is a traceback."""

import subprocess
import sys
import zipfile
from dataclasses import replace

import numpy as np
import pytest

import rigkit
from rigkit.course import learner, notebook
from rigkit.course.panel import panel
from tests.course import tiny


@pytest.fixture
def space():
    return {}


@pytest.fixture
def chapter(space):
    return tiny.session(namespace=space)


def said(capsys):
    return capsys.readouterr().out


def test_check_shows_the_panel_and_returns_nothing(chapter, space, capsys):
    assert chapter.check("90.1") is None
    assert "there is no middle yet" in said(capsys)
    space["middle"] = lambda a, b: a + b
    assert chapter.check("90.1") is None
    out = said(capsys)
    assert out.startswith("Checkpoint 90.1  The middle of two points") and "likely    the sum was not halved" in out
    space["middle"] = tiny.middle
    chapter.check("90.1")
    assert "3 of 3 points" in said(capsys)


def test_the_same_check_says_the_same_every_time(chapter, space, capsys):
    space["middle"] = lambda a, b: a + 0.1
    chapter.check("90.1")
    first = said(capsys)
    chapter.check("90.1")
    assert said(capsys) == first


def test_a_hint_needs_one_attempt(chapter, space, capsys):
    chapter.hint("90.1")
    assert "needs one attempt first" in said(capsys)
    space["middle"] = ...
    chapter.check("90.1")
    chapter.hint("90.1")
    assert "needs one attempt first" in said(capsys)
    space["middle"] = lambda a, b: a
    chapter.check("90.1")
    said(capsys)
    chapter.hint("90.1")
    assert said(capsys) == "Hint 90.1: Add them, then halve.\n"


@pytest.mark.parametrize("call", ["check", "hint", "show"])
def test_an_unknown_checkpoint_lists_those_there_are(chapter, capsys, call):
    getattr(chapter, call)("90.9")
    assert "there are: 90.1, 90.2, 90.3, 90.4" in said(capsys)


def test_show_without_a_drawing_or_an_answer_says_so(chapter, space, capsys):
    chapter.show("90.1")
    assert "nothing to draw" in said(capsys)
    chapter.show("90.2")
    assert "name missing" in said(capsys)
    space.update(length="x", centre="y")
    chapter.show("90.2")
    assert 'check("90.2") says why' in said(capsys)


def test_show_draws_in_the_one_viewer(chapter, space):
    class Viewer:
        drawn, shown, closed = None, 0, 0

        def joints(self, points):
            self.drawn = points

        def show(self):
            self.shown += 1

        def close(self):
            self.closed += 1
    chapter._viewer = viewer = Viewer()
    space.update(tiny.values(tiny.context()))
    chapter.show("90.2")
    chapter.show("90.2")
    assert viewer.shown == 2 and viewer.drawn[0].tolist() == [1, 1, 2]
    chapter.close()
    assert viewer.closed == 1


def test_predictions_are_kept_before_anything_moves(chapter, capsys):
    chapter.predict("90.a", ..., choices=["left: on my left", "right"])
    out = said(capsys)
    assert "put yours in place" in out and "a) left: on my left" in out and "b) right" in out
    chapter.predict("90.a", "Left", choices=["left: on my left", "right"])
    assert said(capsys) == "Prediction 90.a: a) left: on my left. It is kept; now look.\n"
    chapter.predict("90.a", "b", choices=["left: on my left", "right"])
    assert "(at first: a) left: on my left)" in said(capsys)
    chapter.predict("90.a", "up", choices=["left", "right"])
    assert "none of these" in said(capsys)
    chapter.predict("90.b", 0.25)
    assert said(capsys) == "Prediction 90.b: 0.25. It is kept; now look.\n"


def test_questions_are_asked_answered_and_told_why(chapter, capsys):
    chapter.recall()
    assert "1. Which is even?" in said(capsys)
    chapter.recall(1, ...)
    assert 'chapter.recall(1, "a")' in said(capsys)
    for answer in ("b", "B", "b)", "4"):
        chapter.recall(1, answer)
        assert "right. 4 is 2 + 2." in said(capsys)
    chapter.recall(1, "a")
    assert "not this one" in said(capsys)
    chapter.recall(1, "z")
    assert "has the answers a, b" in said(capsys)
    chapter.recall(9, "a")
    assert "There is no question 9" in said(capsys)
    chapter.wrap_up(1, "a")
    assert "right. 1 + 1 is 2." in said(capsys)


def test_progress_tells_points_attempts_and_hints(chapter, space, capsys):
    space["middle"] = lambda a, b: tiny.middle(a, b) + np.cross(a - b, [0, 0, 1])  # off to the side, so equally far from both
    chapter.check("90.1")
    chapter.hint("90.1")
    said(capsys)
    chapter.progress()
    out = said(capsys)
    assert "1 of 3   1 attempt, hint taken" in out and "not started" in out and "core: 1 of 7 points" in out


def test_progress_says_what_awaits_a_reader(chapter, space, capsys):
    space["why"] = "because both halves are equal"
    chapter.check("90.4")
    said(capsys)
    chapter.progress()
    assert "0 of 2   awaits a reader" in said(capsys)


def test_pointers_lead_back_to_the_claims_that_do_not_hold(chapter, space, capsys):
    chapter.pointers()
    assert said(capsys) == "Nothing has been tried yet.\n"
    space["middle"] = lambda a, b: tiny.middle(a, b) + np.cross(a - b, [0, 0, 1])
    chapter.check("90.1")
    said(capsys)
    chapter.pointers()
    assert said(capsys) == "Look again at:\n  90.1  the point lies half way: step 1a\n"
    space["middle"] = tiny.middle
    chapter.check("90.1")
    said(capsys)
    chapter.pointers()
    assert said(capsys) == "Every claim that was tried holds.\n"


def test_an_explanation_is_kept(chapter, capsys):
    chapter.explain("90.c", ...)
    assert "in one sentence of your own" in said(capsys)
    chapter.explain("90.c", "Halves\nare equal.")
    assert "90.c, in your words: Halves are equal." in said(capsys)
    assert chapter._progress.predict("90.c explained", "later") == "Halves are equal."


def test_a_trial_prints_one_result_and_never_a_traceback(chapter, space, capsys):
    chapter.trial(tiny.middle, np.zeros(3), np.ones(3))
    assert said(capsys) == "[0.5 0.5 0.5]\n"
    chapter.trial(lambda a: {"length": 1 / 3, "list": [a]}, 2.0)
    assert said(capsys) == "length  0.333333\nlist    2\n"
    chapter.trial(lambda a: 1 / 0, 1)
    assert said(capsys).startswith("stopped with an error: ZeroDivisionError")


@pytest.mark.parametrize("fails", (lambda v, u: v @ u, lambda v, u: v * u, lambda v, u: u @ v))
def test_a_trial_that_stops_on_none_says_so(chapter, space, capsys, fails):
    def unit(v):
        return None

    chapter.trial(lambda v: fails(v, None), np.ones(3))
    assert "likely: a value is None" in said(capsys)
    scope = {"unit": unit, "fails": fails}
    exec("def side(v):\n    return fails(v, unit(v))", scope)
    chapter.trial(scope["side"], np.ones(3))
    assert "likely: `unit` gave None" in said(capsys)


def test_a_trial_of_an_empty_function_is_not_started(chapter, space, capsys):

    def later(a):
        ...
    chapter.trial(later, 1)
    assert said(capsys).startswith("not started")


def test_the_case_of_the_panel_can_be_had(chapter, space, capsys):
    space["middle"] = lambda a, b: tiny.middle(a, b) if a[1] == 0 else a + b
    chapter.check("90.1")
    told = said(capsys)
    case = chapter.case("90.1")
    assert list(case) == ["a", "b"] and f"a ({case['a'][0]:.4g}, {case['a'][1]:.4g}" in told
    assert chapter.case("90.9") is None


def test_ready_tells_a_kernel_that_is_not_fresh(capsys):
    tiny.session().ready()
    assert "kernel: fresh" in said(capsys)
    tiny.session(namespace={"middle": 1}).ready()
    assert "not fresh" in said(capsys)


def test_handing_in_without_a_learner_is_refused_politely(chapter, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    chapter.hand_in()
    assert "rigkit lab --learner" in said(capsys) and not list(tmp_path.iterdir())


def test_handing_in_packs_the_chapters_and_nothing_else(tmp_path, capsys):
    who = learner.write(tmp_path, "ada7")
    for name in ("00-start-here.ipynb", "06-two-bones.ipynb", "06-two-bones-newer.ipynb", "06-two-bones-older2.ipynb", "notes.ipynb", "00-Copy1.ipynb.bak", "99 x.ipynb"):
        (tmp_path / name).write_text("{}")
    chapter = tiny.session(tmp_path, who)
    for _ in range(2):
        chapter.hand_in()
        assert str(tmp_path / "hand-in" / "ada7.zip") in said(capsys)
        with zipfile.ZipFile(tmp_path / "hand-in" / "ada7.zip") as archive:
            assert archive.namelist() == ["hand-in.json", "00-start-here.ipynb", "06-two-bones.ipynb"]
    assert sorted(path.name for path in (tmp_path / "hand-in").iterdir()) == ["ada7.zip", "receipts.txt"]


def test_progress_is_kept_beside_the_notebook_of_a_learner(tmp_path, capsys):
    who = learner.write(tmp_path, "ada7")
    first = tiny.session(tmp_path, who, {"middle": tiny.middle})
    first.check("90.1")
    first.close()
    assert tiny.session(tmp_path, who)._progress.best("90.1") == {"half way": 2, "equal": 1}


def test_a_value_that_calls_a_closed_function_is_told_as_grading_tells_it(chapter, space, capsys):
    space.update(rk=rigkit, length=1.0, centre=np.zeros(3), In=["", "length = rk.words.point([0, 0, 0])\ncentre = 1"])
    chapter.check("90.2")
    assert "closed book: the answer calls rigkit.words.point" in said(capsys)
    space["In"] = ["", "length = len(rk.tally(0).parts)", "centre = 2"]
    chapter.check("90.2")
    assert "closed book: the answer calls rigkit.robot.tally" in said(capsys)


def test_a_function_may_not_call_what_any_checkpoint_of_its_chapter_closes(chapter, space, capsys):
    """In grading all of a chapter's closed functions are closed at once, so they are here."""
    other = replace(tiny.CHOICE, closed=("words.degrees",))
    chapter.chapter = replace(tiny.CHAPTER, checkpoints=(tiny.MIDDLE, other))
    space["middle"] = lambda a, b: [rigkit.words.degrees(1), a, b]
    chapter.check("90.1")
    assert "closed book: the answer calls rigkit.words.degrees" in said(capsys)
    assert "robot" in chapter.chapter.closed


def test_what_happens_to_the_progress_file_is_said_once(chapter, space, capsys):
    chapter._progress.close()
    space["middle"] = tiny.middle
    chapter.check("90.1")
    assert "3 of 3 points" in (out := said(capsys)) and "could not be" in out


def test_open_chapter_takes_the_learners_variant_and_the_callers_names(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(notebook.chapters, "get", lambda chapter: replace(tiny.CHAPTER, id=chapter))
    who = learner.write(tmp_path, "ada7")
    code = "from rigkit.course import open_chapter\nchapter = open_chapter('90', folder)\nmiddle = ...\nchapter.check('90.1')"
    space = {"folder": tmp_path}
    exec(code, space)
    assert space["chapter"].variant == who.variant and "not started" in said(capsys)
    assert repr(space["chapter"]) == f"chapter 90, Tiny; variant {who.variant}, 4 checkpoints"
    exec(code, {"folder": tmp_path / "elsewhere"})
    assert "variant 0;" in said(capsys)


def test_a_second_run_of_the_set_up_cell_closes_the_first_viewer(tmp_path, monkeypatch):
    monkeypatch.setattr(notebook.chapters, "get", lambda chapter: replace(tiny.CHAPTER, id=chapter))
    closed = []
    first = notebook.open_chapter("91", tmp_path)
    first._viewer = type("Viewer", (), {"close": lambda self: closed.append(1)})()
    notebook.open_chapter("91", tmp_path)
    assert closed == [1]


def test_opening_a_chapter_loads_no_viewer():
    code = ("import sys\nfrom rigkit.course import open_chapter, catalogue\nopen_chapter('00')\n"
            "print([m for m in ('pythreejs', 'matplotlib', 'jupytext', 'nbclient') if m in sys.modules])")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120)
    assert done.stdout.strip() == "[]", done.stderr


def test_the_panel_is_what_a_page_shows_too(chapter, space):
    """The session prints what panel() makes; grading uses the same."""
    result = notebook.judge.judge(tiny.CHOICE, notebook.collect(tiny.CHOICE, {"best": "b"}, []), tiny.context(), [])
    assert panel(result).text.startswith("Checkpoint 90.3")


CELLS = r"""
from IPython.core.interactiveshell import InteractiveShell
shell = InteractiveShell.instance()
for cell in [
    "import rigkit as rk\nfrom rigkit.course import open_chapter\nchapter = open_chapter('06')",
    "def two_bones(root, mid, end, target, pole):\n    side = mid - root\n    return side, nothing",
    "chapter.check('06.2')",
    "def two_bones(*five):\n    s = rk.limb.solve(*five)\n    return s.mid, s.end",
    "chapter.check('06.2')",
    "arm_pole = rk.limb.pole_point([0, 1, 0], [0, 0.5, 0.1], [0, 0, 0], 1)\nleg_pole = [1, 2, 3]",
    "chapter.check('06.3')",
    "def two_bones(root, mid, end, target, pole):\n    while True:\n        try:\n            mid = mid + 0\n        except Exception:\n            pass",
    "import threading, time, _thread\nwaiting = True\ndef press():\n    while waiting:\n        time.sleep(1.0)\n        waiting and _thread.interrupt_main()\n"
    "threading.Thread(target=press, daemon=True).start()\ntry:\n    chapter.check('06.2')\nfinally:\n    waiting = False",
]:
    shell.run_cell(cell, store_history=True)
"""
# It is pressed once a second until it holds, as a person does: Python drops an interrupt that comes while it clears an object away.


def test_a_real_shell_tells_lines_closed_books_and_interrupts():
    done = subprocess.run([sys.executable, "-c", CELLS], capture_output=True, text=True, timeout=180, check=False)
    out = " ".join(done.stdout.split())
    assert "name 'nothing' is not defined (line 3 of your cell:" in out, out + done.stderr
    assert "closed book: the answer calls rigkit.limb.solve" in out
    assert "closed book: the answer calls rigkit.limb.pole_point" in out
    assert "checkpoint 06.2 was interrupted; nothing was kept" in out and "In[8]" not in out and "took too long" not in out
