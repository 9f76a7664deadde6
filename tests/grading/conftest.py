"""The tiny chapter as a chapter of the course, and notebooks for it."""

import pytest

from rigkit.course import chapters
from rigkit.grading import box, marking
from tests.course import tiny
from tests.grading.make_class import notebook

RIGHT = (
    "def middle(a, b):\n    return (np.asarray(a) + b) / 2",
    "a, b = chapter.given['a'], chapter.given['b']\nlength = np.linalg.norm(b - a)\ncentre = (a + b) / 2\ncheck('90.2')",
    "best = 'b'\ncheck('90.3')",
    "why = 'because both halves are equal'\ncheck('90.4')",
)
POINTS = {"90.1": 3, "90.2": 3, "90.3": 1, "90.4": 0}  # what RIGHT earns without a reader
LIMITS = box.Limits(cell=2.0, grace=1.0, notebook=40.0)


@pytest.fixture
def tiny_chapter(monkeypatch):
    """The tiny chapter, known to the course under its id while a test runs."""
    known, ids = chapters.get, chapters.ids
    monkeypatch.setattr(chapters, "get", lambda one, printed=False: tiny.CHAPTER if one == "90" else known(one, printed))
    monkeypatch.setattr(chapters, "ids", lambda printed=False: [*ids(), "90"])
    return tiny.CHAPTER


@pytest.fixture(scope="session")
def copies(tmp_path_factory):
    """Where the box's copies of the package are kept during the tests."""
    return str(tmp_path_factory.mktemp("copies"))


@pytest.fixture
def run(tiny_chapter, copies):
    """Grade code cells as a notebook of the tiny chapter: run(cell, ...) -> Graded."""

    def grade(*cells, learner="ada7", limits=LIMITS, mode="box"):
        return marking.grade(notebook(cells), marking.ticket(learner, "90", limits=limits, mode=mode), copies)

    return grade


def earned(graded):
    """Checkpoint id to points."""
    return {result.checkpoint: int(result.earned) for result in graded.results}
