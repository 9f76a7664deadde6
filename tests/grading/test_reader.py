"""A reader at work: texts that wait are listed, points are given within their range, a learner can be deleted."""

import json

import pytest

from rigkit import cli
from rigkit.grading import coordinator, reader
from tests.grading.conftest import LIMITS
from tests.grading.test_coordinator import class_of

pytestmark = pytest.mark.box


@pytest.fixture
def out(tiny_chapter, tmp_path):
    """The results of two learners whose texts wait."""
    out = tmp_path / "out"
    assert coordinator.grade(class_of(tmp_path / "class", "ada7", "bo"), out, chapters=["90"], progress=False, limits=LIMITS) == 0
    return out


def points(out):
    """Learner to points, from the table of grades."""
    rows = [line.split(",") for line in (out / "grades.csv").read_text(encoding="utf-8").splitlines()[1:]]
    return {row[0]: float(row[2]) for row in rows}


def test_a_waiting_text_is_listed_and_given_points_that_survive_a_second_run(out, tmp_path, capsys):
    assert cli.main(["points", str(out)]) == 0
    told = capsys.readouterr().out
    assert "ada7  90.4" in told and "because both halves are equal" in told and "said=0..2" in told
    before = points(out)
    assert cli.main(["points", str(out), "ada7", "90.4", "said=3/2", "--note", "nearly"]) == 0
    assert points(out) == {**before, "ada7": before["ada7"] + 1.5}
    assert [one[0] for one in reader.waiting(out)] == ["bo"]
    coordinator.grade(tmp_path / "class", out, chapters=["90"], progress=False, limits=LIMITS)
    assert points(out)["ada7"] == before["ada7"] + 1.5


@pytest.mark.parametrize(
    ("learner", "checkpoint", "given", "words"),
    [
        ("eve", "90.4", {"said": "1"}, "nobody called 'eve' was graded here"),
        ("ada7", "90.9", {"said": "1"}, "ada7 has no checkpoint '90.9' here"),
        ("ada7", "90.4", {"sung": "1"}, "there is no claim 'sung'; there are: said"),
        ("ada7", "90.4", {"said": "3"}, "said=3 is out of range; expected 0 to 2"),
        ("ada7", "90.4", {"said": "many"}, "said=many is no number"),
    ],
)
def test_points_that_can_not_be_given_change_nothing(out, learner, checkpoint, given, words):
    before = points(out)
    with pytest.raises(ValueError, match=words):
        reader.give(out, learner, checkpoint, given)
    assert points(out) == before


def test_a_learner_is_forgotten_everywhere(out, capsys):
    receipts = out / "receipts.csv"
    receipts.write_text("file,learner,receipt,state\nada7.zip,ada7,x,whole\nbo.zip,bo,x,whole\n")
    assert cli.main(["forget", str(out), "ada7"]) == 0
    assert receipts.read_text() == "file,learner,receipt,state\nbo.zip,bo,x,whole\n"
    assert set(points(out)) == {"bo"}
    assert not (out / "pages" / "ada7.html").exists() and (out / "pages" / "bo.html").exists()
    assert "ada7" not in json.dumps(json.loads((out / "grades.json").read_text(encoding="utf-8")))
    assert cli.main(["forget", str(out), "ada7"]) == 3
    assert "nobody called 'ada7'" in capsys.readouterr().err


def test_a_folder_without_results_is_named(tmp_path, capsys):
    assert cli.main(["points", str(tmp_path)]) == 3
    assert "expected a folder that `rigkit grade ... --out` wrote" in capsys.readouterr().err
