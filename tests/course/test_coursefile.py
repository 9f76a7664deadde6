"""A class can change the course without Python: a second course from a file, laid out, worked on, and tried."""

import json

import numpy as np
import pytest

from rigkit import cli, robot, words
from rigkit.course import chapters, coursefile, lab, open_chapter
from rigkit.course import context as contexts
from rigkit.course.collect import collect
from rigkit.course.forms import Wrong
from rigkit.course.judge import judge
from rigkit.course.panel import panel

SECOND = """
name = "Short course"
chapters = ["00", "06", "01"]

[points]
"01.4.left_elbow" = 4
"06.3.steady" = 0

[tolerances]
"01.4.left_elbow" = "8 mm"
"01.1.facing" = "2 degrees"

[colours]
left = "#cc79a7"

[robot.forearm]
value = 0.19
low = 0.18
high = 0.2
"""
SETTABLE = {f"{one.id}.{claim.id}": (one, claim) for one in chapters.all_checkpoints().values() for claim in one.claims if claim.settable}


@pytest.fixture(autouse=True)
def printed_again():
    yield
    coursefile.use()


@pytest.fixture
def second(tmp_path):
    path = tmp_path / "course.toml"
    path.write_text(SECOND, encoding="utf-8")
    return path


def test_a_second_course_has_chapters_points_tolerances_colours_and_a_robot_of_its_own(second):
    elbow, forearm = robot.tally().landmarks["left_elbow"], robot.measures()["forearm"]
    coursefile.use(coursefile.read(second))
    assert chapters.ids() == ["00", "06", "01"]
    claims = {claim.id: claim for claim in chapters.all_checkpoints()["01.4"].claims}
    assert (claims["left_elbow"].points, claims["left_elbow"].tolerance, claims["left_elbow"].limit) == (4, "8 mm", 0.008)
    assert claims["left_wrist"].points == 1 and claims["left_wrist"].limit is None
    assert words.SIDE_COLOUR["left"] == "#CC79A7" and words.SIDE_COLOUR["right"] == words.OWN_COLOUR["right"]
    assert robot.measures()["forearm"] == 0.19 and 0.18 <= robot.measures(5)["forearm"] <= 0.2
    own = robot.tally()
    length = np.linalg.norm(own.landmarks["left_wrist"] - own.landmarks["left_elbow"])
    assert length == pytest.approx(0.19, abs=1e-4) and forearm == 0.166
    coursefile.use()
    assert "02" in chapters.ids() and words.SIDE_COLOUR == words.OWN_COLOUR
    assert np.array_equal(robot.tally().landmarks["left_elbow"], elbow) and robot.measures()["forearm"] == forearm


def test_a_learner_gets_the_course_and_is_told_what_differs_from_the_text(second, tmp_path, capsys):
    folder = tmp_path / "mine"
    assert cli.main(["lab", "--folder", str(folder), "--learner", "ada7", "--course", str(second), "--prepare-only"]) == 0
    assert sorted(path.name[:2] for path in folder.glob("*.ipynb")) == ["00", "01", "06"]
    capsys.readouterr()
    chapter = open_chapter("01", folder)
    told = capsys.readouterr().out
    assert "Course: Short course. It differs from the text in:" in told
    assert "01.4, the elbow is in its place: 4 points (the text says 1), within 8 mm (the text says 5 mm)" in told
    chapter.close()
    cli.main(["lab", "--folder", str(folder), "--prepare-only"])
    assert (folder / "course.toml").read_bytes() == second.read_bytes()


@pytest.mark.parametrize("off, outcome", [(0.007, "ok"), (0.009, "look")])
def test_a_wider_tolerance_is_what_the_check_goes_by_and_tells(second, tmp_path, capsys, off, outcome):
    coursefile.use(coursefile.read(second))
    chapter, one = chapters.get("01"), chapters.all_checkpoints()["01.4"]
    known = contexts.context(chapter, 3)
    answer = one.worked(known)
    answer["left_elbow"] = answer["left_elbow"] + [0, 0, off]
    result = judge(one, collect(one, answer, contexts.cases(one, known)), known, contexts.cases(one, known))
    elbow = next(claim for claim in result.claims if claim.id == "left_elbow")
    assert elbow.outcome == outcome and elbow.points == 4
    if outcome == "look":
        assert "8 mm" in panel(result).text and "5 mm" not in panel(result).text


@pytest.mark.parametrize("text, told", [
    ("colour = 1", "colour is no key of a course; expected some of name, chapters"),
    ("name = 3", "name is 3; expected one line"),
    ('chapters = ["00", "77"]', "expected ids, each once, of 00, 01"),
    ('chapters = ["00", "00"]', "each once"),
    ("points = 3", "points is 3; expected a table"),
    ('[points]\n"01.4.left_toe" = 1', 'there is no claim "01.4.left_toe"; expected one of 01.4.left_shoulder'),
    ('[points]\n"elbow" = 1', "`rigkit checkpoints --json` lists"),
    ('[points]\n"01.4.left_elbow" = 1.5', "expected a whole number from 0 to 100"),
    ('[points]\n"01.4.left_elbow" = -1', "expected a whole number from 0 to 100"),
    ('[tolerances]\n"06.2.lengths" = "1 mm"', "can't be set: 1e-6 m"),
    ('[tolerances]\n"01.4.left_elbow" = 8', 'expected a number above 0 and its unit, as "5 mm"'),
    ('[tolerances]\n"01.4.left_elbow" = "8 degrees"', 'as "5 mm"'),
    ('[tolerances]\n"01.4.left_elbow" = "0 mm"', "a number above 0"),
    ('[colours]\nleft = "blue"', "a colour as"),
    ('[colours]\nup = "#FFFFFF"', "expected left, right or centre"),
    ('[colours]\nleft = "#222222"', "a contrast of 1.2 to the scene's ground; expected 3 at least"),
    ('[colours]\nleft = "#E69F00"', "expected another one for each side"),
    ("[robot.tail]\nvalue = 1.0", "the robot has no dimension 'tail'"),
    ("[robot.forearm]\nlength = 1.0", "expected some of value, low, high"),
    ("[robot.forearm]\nvalue = 16.6", "expected 0.083 to 0.332"),
    ("[robot.forearm]\nvalue = nan", "expected a number"),
    ("[robot.forearm]\nvalue = 0.3", "expected low <= value <= high"),
    ("name = ", "can't be read"),
])
def test_a_course_that_can_not_be_so_says_which_key_what_came_and_what_was_expected(tmp_path, text, told):
    path = tmp_path / "course.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ValueError) as why:
        coursefile.read(path)
    assert told in str(why.value) and str(path) in str(why.value)


def test_a_file_that_is_not_there_is_named(tmp_path):
    with pytest.raises(ValueError, match="none.toml can't be read"):
        lab.prepare(tmp_path / "mine", course=tmp_path / "none.toml")
    assert not (tmp_path / "mine").exists()


def test_a_course_is_tried_and_what_it_breaks_is_told(second, tmp_path, capsys):
    assert cli.main(["course", str(second), "--variants", "1"]) == 0
    out = capsys.readouterr().out
    assert "Short course: 3 chapters" in out and "every worked answer earns full marks" in out
    tight = tmp_path / "tight.toml"
    tight.write_text('chapters = ["06"]\n[tolerances]\n"06.3.arm" = "1e-17 degrees"\n', encoding="utf-8")
    assert cli.main(["course", str(tight), "--variants", "1", "--json"]) == 1
    assert any("06.3" in line for line in json.loads(capsys.readouterr().out)["findings"])
    assert chapters.ids() == chapters.ids(printed=True)


def moved(value, size, rng):
    """A value with every real number in it moved by about `size`."""
    if isinstance(value, dict):
        return {key: moved(one, size, rng) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return type(value)(moved(one, size, rng) for one in value)
    if isinstance(value, np.ndarray):
        return value + size * rng.normal(size=value.shape) if value.dtype.kind == "f" else value
    return float(value) + size * rng.normal() if isinstance(value, (float, np.floating)) else value


@pytest.mark.parametrize("name", SETTABLE)
def test_a_tolerance_that_may_be_set_is_the_one_the_claim_goes_by(name):
    """The claim holds just when the gap it tells is within the limit; else another limit would change something else."""
    one, claim = SETTABLE[name]
    known, limit = contexts.context(chapters.get(one.id[:2]), 0), coursefile.limit_of(claim.tolerance)
    (case,), rng, seen = contexts.cases(one, known), np.random.default_rng(0), set()
    right = one.worked(**case.inputs) if one.kind == "function" else one.worked(known)
    for size in np.geomspace(1e-5, 10.0, 40):
        try:
            if one.kind == "function":
                answer = moved(right, size, rng)
            else:
                answer = {key: form(moved(right[key], size, rng)) for key, form in one.names.items()}
        except Wrong:  # not of its form any more, a direction of no length
            continue
        measure = claim.measure(case, answer, known)
        assert bool(measure.ok) == (measure.gap <= limit), (size, measure)
        seen.add(bool(measure.ok))
    assert seen == {True, False}
