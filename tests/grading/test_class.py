"""A class of 40 from folder to reports: the points each must get, resumed runs, and what the files hold."""

import csv
import io
import json
import re
import shutil
from fractions import Fraction

import pytest

from rigkit.course import chapters
from rigkit.grading import box, coordinator
from rigkit.grading.results import Results
from tests.grading import make_class

pytestmark = [pytest.mark.box, pytest.mark.slow]
LIMITS = box.Limits(cell=3.0, grace=1.0)


@pytest.fixture(scope="module")
def graded(tmp_path_factory):
    """(learner to Expected, the folder, the results, the exit code) of the class, graded once."""
    folder, out = tmp_path_factory.mktemp("class"), tmp_path_factory.mktemp("out")
    expected = make_class.make(folder)
    code = coordinator.grade(folder, out, progress=False, limits=LIMITS)
    return expected, folder, out, code


@pytest.fixture(scope="module")
def told(graded):
    """grades.json."""
    return json.loads((graded[2] / "grades.json").read_text(encoding="utf-8"))


def table(out):
    """grades.csv as {(learner, chapter): row}."""
    rows = csv.DictReader(io.StringIO((out / "grades.csv").read_text(encoding="utf-8")))
    return {(row["learner"], row["chapter"]): row for row in rows}


def test_the_class_has_at_least_forty_learners_and_every_planned_mistake(graded):
    """Counted on what was made."""
    expected = graded[0]
    assert len(expected) >= 40
    planned = {(c.id, m.name) for one in make_class.CHAPTERS for c in chapters.get(one).checkpoints for m in c.mistakes}
    assert {(checkpoint, name) for one in expected.values() for (checkpoint, _), name in one.missed.items()} == planned


def test_everybody_gets_the_points_they_must_get(graded):
    """Points and status of every learner and chapter, in the table."""
    expected, _, out, code = graded
    rows = table(out)
    wrong = {}
    for learner, one in expected.items():
        for chapter, (points, status) in one.points.items():
            row = rows[learner, chapter]
            if (
                Fraction(row["points"]) != points
                or row["status"] != status
                or Fraction(row["max"]) != sum(c.points for c in chapters.get(chapter).checkpoints)
            ):
                wrong[learner, chapter] = (dict(row), points, status)
    assert not wrong
    assert code == 1  # some need a look
    assert {learner for learner, _ in rows} == set(expected)  # nobody is lost, nobody is added


def test_every_planned_mistake_misses_its_claims_and_is_named(graded, told):
    """By its own name, on the learner's own robot and hidden inputs."""
    claims = {(row["learner"], row["checkpoint"], row["claim"]): row for row in told["claims"]}
    wrong = {
        (learner, *where): (name, claims[learner, *where]["mistake"])
        for learner, one in graded[0].items()
        for where, name in one.missed.items()
        if claims[learner, *where]["points"] != "0" or claims[learner, *where]["mistake"] != name
    }
    assert not wrong


def test_every_trouble_is_a_named_line(graded, told):
    """About the right learner."""
    lines = {}
    for notebook in told["notebooks"]:
        lines.setdefault(notebook["learner"], []).extend(notebook["lines"])
    for problem in told["problems"]:
        lines.setdefault(problem["learner"], []).append(problem["line"])
    wanting = [
        (learner, line) for learner, one in graded[0].items() for line in one.lines if line not in " | ".join(lines.get(learner, []))
    ]
    assert not wanting
    quiet = [learner for learner, one in graded[0].items() if not one.lines]
    assert not [learner for learner in quiet if lines.get(learner)]  # and nobody else has one


def test_the_table_and_the_claims_agree(graded, told):
    """Points of the claims add up to those of the table; fractions are exact texts."""
    sums, most = {}, {}
    for row in told["claims"]:
        key = row["learner"], row["chapter"]
        sums[key], most[key] = sums.get(key, 0) + Fraction(row["points"]), most.get(key, 0) + Fraction(row["max"])
    for key, row in table(graded[2]).items():
        assert (Fraction(row["points"]), Fraction(row["max"])) == (sums.get(key, 0), most.get(key, 0))
    assert told["schema"] == "rigkit-grades-1"


def test_every_learner_has_a_page_and_the_class_has_one(graded, told):
    """Self-contained: nothing is loaded, nothing runs."""
    pages = graded[2] / "pages"
    learners = {notebook["learner"] for notebook in told["notebooks"]}
    assert {path.stem for path in pages.iterdir()} == learners | {"class"}
    for path in pages.iterdir():
        page = path.read_text(encoding="utf-8")
        assert "default-src 'none'" in page
        assert not re.search(r"<script|<link|<img|<iframe|https?://| src=| on\w+=", page)
    perfect = (pages / "perfect-1.html").read_text(encoding="utf-8")
    assert all(f"Checkpoint {checkpoint.id}" in perfect for one in make_class.CHAPTERS for checkpoint in chapters.get(one).checkpoints)


def test_the_class_page_tells_what_was_missed_and_by_which_mistake(graded):
    """The diagnosis of a planned mistake, the checkpoints' figures, and who needs a look."""
    page = (graded[2] / "pages" / "class.html").read_text(encoding="utf-8")
    for words in ("centimetres; lengths here are in metres", "facility", "discrimination", "Needs a look", "fork-bomb", "it is a link"):
        assert words in page


def test_the_same_command_again_runs_nothing_and_tells_the_same(graded, capsys):
    """Every notebook is known by what its points depend on."""
    _, folder, out, _ = graded
    before = {path.name: path.read_bytes() for path in [out / "grades.csv", out / "grades.json", *(out / "pages").iterdir()]}
    assert coordinator.grade(folder, out, progress=False, limits=LIMITS, json=True) == 1
    assert json.loads(capsys.readouterr().out)["run now"] == 0
    assert before == {path.name: path.read_bytes() for path in [out / "grades.csv", out / "grades.json", *(out / "pages").iterdir()]}


def test_a_changed_notebook_alone_is_run_again(graded, tmp_path, capsys):
    """The others are known; the new one counts from now on."""
    _, folder, out, _ = graded
    learner, name = "partly-1", chapters.get("00").file
    kept = (folder / learner / name).read_bytes()
    try:
        (folder / learner / name).write_bytes(make_class.notebook(make_class.learner_cells("00")))
        coordinator.grade(folder, out, progress=False, limits=LIMITS, json=True)
        assert json.loads(capsys.readouterr().out)["run now"] == 1
        assert table(out)[learner, "00"]["points"] == "0"
    finally:
        (folder / learner / name).write_bytes(kept)
    coordinator.grade(folder, out, progress=False, limits=LIMITS, json=True)
    assert json.loads(capsys.readouterr().out)["run now"] == 0
    assert table(out)[learner, "00"]["points"] == "3"


def test_points_given_by_hand_survive_every_new_run(graded, capsys):
    """A text's points come from a reader; a new run leaves them."""
    _, folder, out, _ = graded
    text = next(c for c in chapters.get("01").checkpoints if c.kind == "text")
    claims, before = text.claims, Fraction(table(out)["perfect-1", "01"]["points"])
    results = Results(out / "results.sqlite")
    for claim in claims:
        results.give_points("perfect-1", text.id, claim.id, Fraction(claim.points, 2), "half of it")
    results.close()
    coordinator.grade(folder, out, progress=False, limits=LIMITS)
    row = table(out)["perfect-1", "01"]
    assert (Fraction(row["points"]), row["status"]) == (before + Fraction(text.points, 2), "graded")
    results = Results(out / "results.sqlite")
    for table_name in ("counting", "hand_ins", "notebooks"):
        results.database.execute(f"DELETE FROM {table_name} WHERE learner = 'perfect-1'")
    results.close()
    capsys.readouterr()
    coordinator.grade(folder, out, progress=False, limits=LIMITS, json=True)
    assert json.loads(capsys.readouterr().out)["run now"] == len(make_class.CHAPTERS)
    assert Fraction(table(out)["perfect-1", "01"]["points"]) == before + Fraction(text.points, 2)


def test_a_secret_of_the_course_changes_the_hidden_inputs(graded, tmp_path):
    """A wrong solver is told other cases; a right one stays right."""
    folder, shown = graded[1], []
    (tmp_path / "secret").write_bytes(b"of this year")
    for learner in ("mistake-01", "perfect-1"):
        shutil.copytree(folder / learner, tmp_path / "class" / learner)
    for secret in (None, str(tmp_path / "secret")):
        out = tmp_path / f"out-{bool(secret)}"
        coordinator.grade(tmp_path / "class", out, chapters=["06"], progress=False, limits=LIMITS, secret=secret)
        assert table(out)["perfect-1", "06"]["points"] == table(out)["perfect-1", "06"]["max"]
        rows = json.loads((out / "grades.json").read_text(encoding="utf-8"))["claims"]
        shown.append({row["got"] for row in rows if row["learner"] == "mistake-01" and row["checkpoint"] == "06.2" and row["got"]})
    assert shown[0] and not shown[0] & shown[1]
