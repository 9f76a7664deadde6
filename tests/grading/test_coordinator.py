"""A class from the command's side: exit codes, what is said, faults of the grader, a grader that is killed."""

import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

import rigkit.grading
from rigkit import cli
from rigkit.course import chapters
from rigkit.grading import box, coordinator, landlock, marking
from tests.grading import make_class
from tests.grading.conftest import LIMITS, RIGHT

ROOT = Path(__file__).resolve().parents[2]


def class_of(folder, *learners, cells=RIGHT, chapter="90"):
    """Write hand-ins of one chapter."""
    folder.mkdir(exist_ok=True)
    for learner in learners:
        make_class.hand_in(folder, learner, chapter, make_class.notebook(cells))
    return folder


def claims(out):
    """The claims told in grades.json."""
    return json.loads((out / "grades.json").read_text(encoding="utf-8"))["claims"]


@pytest.mark.box
def test_a_class_without_trouble_ends_with_0(tiny_chapter, tmp_path, capsys):
    """All were graded; a text that awaits its reader is no trouble."""
    folder = class_of(tmp_path / "class", "ada7", "bo")
    assert coordinator.grade(folder, tmp_path / "out", chapters=["90"], progress=False, limits=LIMITS, json=True) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["notebooks"], told["learners"], told["run now"], told["await a reader"], told["mode"]) == (2, 2, 2, 2, "box")
    assert sum(int(claim["points"]) for claim in claims(tmp_path / "out")) == 14


@pytest.mark.box
def test_one_hand_in_with_trouble_ends_with_1(tiny_chapter, tmp_path, capsys):
    """The others are graded."""
    folder = class_of(tmp_path / "class", "ada7")
    (folder / "bo").mkdir()
    (folder / "bo" / chapters.get("90").file).write_bytes(b"{")
    assert coordinator.grade(folder, tmp_path / "out", chapters=["90"], progress=False, limits=LIMITS) == 1
    assert "unreadable: 1" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda folder: None, "No such file"),
        (lambda folder: folder.mkdir(), "holds no hand-ins"),
        (lambda folder: folder.write_bytes(b""), "Not a directory"),
    ],
    ids=["missing", "empty", "a file"],
)
def test_nothing_to_grade_ends_with_3_and_says_why(tmp_path, capsys, make, words):
    """No results are left."""
    make(tmp_path / "class")
    assert coordinator.grade(tmp_path / "class", tmp_path / "out", progress=False) == 3
    assert words in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_an_unknown_chapter_ends_with_3_and_lists_those_there_are(tmp_path, capsys):
    """A typing error on the command line."""
    class_of(tmp_path / "class", "ada7", chapter="00")
    assert cli.main(["grade", str(tmp_path / "class"), "--out", str(tmp_path / "out"), "--chapters", "99"]) == 3
    assert f"there are: {', '.join(chapters.ids())}" in capsys.readouterr().err


def test_without_a_box_nothing_runs_unless_somebody_says_so(tiny_chapter, tmp_path, capsys, monkeypatch):
    """And then every report says it loudly."""
    monkeypatch.setattr(box, "trouble", lambda: "bubblewrap is not installed")
    monkeypatch.setattr(landlock, "trouble", lambda: "the kernel has no Landlock")
    folder, out = class_of(tmp_path / "class", "ada7"), tmp_path / "out"
    assert coordinator.grade(folder, out, chapters=["90"], progress=False, limits=LIMITS) == 3
    assert "--trust-submissions" in capsys.readouterr().err
    assert not out.exists()
    assert coordinator.grade(folder, out, chapters=["90"], progress=False, limits=LIMITS, trust_submissions=True) == 0
    assert "WARNING" in capsys.readouterr().out
    assert sum(int(claim["points"]) for claim in claims(out)) == 7
    assert all("Without a box" in path.read_text(encoding="utf-8") for path in (out / "pages").iterdir())


def test_a_fault_of_the_grader_costs_one_notebook_and_is_tried_again(tiny_chapter, tmp_path, capsys, monkeypatch):
    """A full disk, a process that can't be started: nothing the learner did."""
    folder, out, right = class_of(tmp_path / "class", "ada7", "bo"), tmp_path / "out", marking.grade

    def fails(data, ticket, copies):
        if ticket.learner == "ada7":
            raise OSError(28, "No space left on device")
        return marking.Graded(ticket.learner, ticket.chapter, "graded")

    monkeypatch.setattr(box, "trouble", lambda: "")
    monkeypatch.setattr(marking, "grade", fails)
    assert coordinator.grade(folder, out, chapters=["90"], progress=False, limits=LIMITS) == 1
    assert "run the command again: OSError: [Errno 28] No space left" in (out / "pages" / "class.html").read_text(encoding="utf-8")
    monkeypatch.setattr(marking, "grade", lambda data, ticket, copies: marking.Graded(ticket.learner, ticket.chapter, "graded"))
    capsys.readouterr()
    assert coordinator.grade(folder, out, chapters=["90"], progress=False, limits=LIMITS, json=True) == 0
    assert json.loads(capsys.readouterr().out)["run now"] == 1
    monkeypatch.setattr(marking, "grade", right)


def test_a_results_folder_that_can_not_be_made_ends_with_3(tiny_chapter, tmp_path, capsys, monkeypatch):
    """The path is a file."""
    monkeypatch.setattr(box, "trouble", lambda: "")
    (tmp_path / "out").write_bytes(b"")
    assert coordinator.grade(class_of(tmp_path / "class", "ada7"), tmp_path / "out", chapters=["90"], progress=False) == 3
    assert "out" in capsys.readouterr().err


@pytest.mark.box
@pytest.mark.slow
def test_a_grader_that_is_killed_goes_on_where_it_was(tmp_path):
    """Killed without a word after some notebooks; the same command grades the rest, nothing twice, nothing lost."""
    folder, out = tmp_path / "class", tmp_path / "out"
    learners = [f"learner-{i}" for i in range(8)]
    for learner in learners:
        class_of(folder, learner, cells=make_class.answered("00", learner), chapter="00")
    command = [
        sys.executable,
        "-m",
        "rigkit.cli",
        "grade",
        str(folder),
        "--out",
        str(out),
        "--chapters",
        "00",
        "--workers",
        "1",
        "--no-progress",
        "--json",
    ]
    grader = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE)
    before, end = 0, time.monotonic() + 120
    while before < 2 and time.monotonic() < end:
        time.sleep(0.05)
        before = _stored(out / "results.sqlite")
    os.kill(grader.pid, signal.SIGKILL)
    grader.wait()
    grader.stdout.close()
    before = _stored(out / "results.sqlite")
    assert 2 <= before < 8
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120, check=True)
    told = json.loads(done.stdout)
    assert (told["graded before"], told["run now"], told["notebooks"]) == (before, 8 - before, 8)
    assert {claim["learner"] for claim in claims(out)} == set(learners)
    assert {claim["points"] for claim in claims(out)} == {"1"}


def _stored(path):
    """How many notebooks a record holds."""
    if not path.exists():
        return 0
    with sqlite3.connect(path) as database:
        try:
            return database.execute("SELECT count(*) FROM notebooks").fetchone()[0]
        except sqlite3.OperationalError:  # the tables aren't there yet
            return 0


def test_the_package_s_call_is_the_command_s(monkeypatch):
    """`rigkit.grading.grade` and `rigkit grade` are one."""
    seen = {}
    monkeypatch.setattr(coordinator, "grade", lambda *args, **kwargs: seen.update(args=args, **kwargs) or 0)
    assert cli.main(["grade", "in", "--out", "out", "--chapters", "00", "06", "--workers", "3", "--no-progress"]) == 0
    assert (seen["args"], seen["chapters"], seen["workers"], seen["progress"]) == (("in", "out"), ["00", "06"], 3, False)
    assert rigkit.grading.grade("in", "out") == 0
