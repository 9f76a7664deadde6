"""Several hand-ins of one learner: times come from the collecting side, a rule says which counts, all are kept, changes are told."""

import json
from fractions import Fraction

import pytest

from rigkit.course.checkpoint import ClaimResult, Result
from rigkit.grading import box, coordinator, intake, marking, times
from rigkit.grading.results import Results
from tests.grading.make_class import notebook

EARLY, LATE, TOO_LATE = "2026-11-01T10:00:00+00:00", "2026-11-02T10:00:00+00:00", "2026-11-09T10:00:00+00:00"


def table(path, text):
    path.write_text(text, encoding="utf-8")
    return path


def test_a_list_of_times_is_read_in_utc(tmp_path):
    """Other columns are left alone, blank lines too; a table program's mark at the start is no letter."""
    text = "\ufefffile,who,time\nada7/06-a.ipynb,x,2026-11-20T17:00+01:00\n\n./bo.zip,,2026-11-20 17:00\n"
    assert times.read(table(tmp_path / "t.csv", text)) == {
        "ada7/06-a.ipynb": "2026-11-20T16:00:00+00:00",
        "bo.zip": "2026-11-20T17:00:00+00:00",
    }


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "has the columns none; expected file and time"),
        ("name,when\n", "has the columns name, when; expected file and time"),
        ("file,time\na,yesterday\n", "line 2: 'yesterday' is no time; expected one as 2026-11-20T17:00"),
        ("file,time\na,2026-11-20\na,2026-11-21\n", "line 3: a is there twice"),
    ],
)
def test_a_list_that_can_not_be_read_names_the_line(tmp_path, text, words):
    with pytest.raises(ValueError, match=words):
        times.read(table(tmp_path / "t.csv", text))


@pytest.mark.parametrize(
    ("hand_ins", "deadline", "last", "best"),
    [
        ([(EARLY, 3), (LATE, 2)], "", 1, 0),
        ([(EARLY, 3), (LATE, 3)], "", 1, 1),  # the later of equals
        ([(EARLY, 3), (LATE, 2), (TOO_LATE, 9)], LATE, 1, 0),  # the deadline itself is in time
        ([(TOO_LATE, 9)], LATE, None, None),
        ([("", 9), (EARLY, 1)], "", 1, 0),
        ([("", 9), (EARLY, 1)], LATE, 1, 1),  # what nobody knows the time of can't be shown to be in time
        ([("", 1), ("", 1)], "", 0, 0),
    ],
)
def test_the_rule_says_which_counts(hand_ins, deadline, last, best):
    assert (times.chosen(hand_ins, "last", deadline), times.chosen(hand_ins, "best", deadline)) == (last, best)


@pytest.fixture
def quick(monkeypatch, tiny_chapter):
    """Grading without a box: a notebook earns the number in its one cell. Gives a list of what was run."""
    run = []

    def grade(data, ticket, copies):
        (cell,) = intake.cells(data)
        run.append((ticket.learner, cell))
        claim = ClaimResult("a", "a claim", 9, Fraction(cell), "look", "", "", "", "", "", "")
        return marking.Graded(ticket.learner, "90", "graded", results=(Result("90.1", "A title", "ok", "", (claim,), 7),), variant=7)

    monkeypatch.setattr(box, "trouble", lambda: "")
    monkeypatch.setattr(marking, "grade", grade)
    return run


@pytest.fixture
def folder(tmp_path):
    """ada7 handed in three times and bo once; the times are known."""
    for place, points in {
        "ada7/first/90-tiny.ipynb": 3,
        "ada7/second/90-tiny.ipynb": 2,
        "ada7/90-tiny.ipynb": 5,
        "bo/90-tiny.ipynb": 1,
    }.items():
        path = tmp_path / "class" / place
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(notebook([str(points)]))
    table(
        tmp_path / "t.csv", f"file,time\nada7/first,{EARLY}\nada7/second,{LATE}\nada7/90-tiny.ipynb,{TOO_LATE}\nbo/90-tiny.ipynb,{EARLY}\n"
    )
    return tmp_path


def graded(folder, **how):
    """(exit code, grades.json, points by learner)."""
    code = coordinator.grade(folder / "class", folder / "out", chapters=["90"], progress=False, **how)
    told = json.loads((folder / "out" / "grades.json").read_text(encoding="utf-8"))
    return code, told, {one["learner"]: int(one["points"]) for one in told["notebooks"]}


def test_all_hand_ins_are_kept_and_one_counts(quick, folder):
    how = {"times": folder / "t.csv", "deadline": LATE}
    code, told, points = graded(folder, **how, rule="last")
    assert (code, points) == (0, {"ada7": 2, "bo": 1})
    assert [(one["file"], one["points"], one["counts"]) for one in told["hand_ins"] if one["learner"] == "ada7"] == [
        ("first/90-tiny.ipynb", "3", False),
        ("second/90-tiny.ipynb", "2", True),
        ("90-tiny.ipynb", "5", False),
    ]
    page = (folder / "out" / "pages" / "ada7.html").read_text(encoding="utf-8")
    assert "Every hand-in" in page and EARLY in page
    assert len(quick) == 4
    _, told, points = graded(folder, **how, rule="best")
    assert points == {"ada7": 3, "bo": 1} and len(quick) == 4  # another rule runs nothing again
    assert [(one["learner"], one["before"], one["after"], one["why"]) for one in told["changes"]] == [
        ("ada7", "2", "3", "another hand-in counts")
    ]


def test_nothing_in_time_counts_nothing_and_says_so(quick, folder):
    code, told, points = graded(folder, times=folder / "t.csv", deadline="2026-10-01")
    assert (code, points) == (1, {})
    assert {(one["learner"], one["line"]) for one in told["problems"]} == {
        (learner, "nothing of chapter 90 was handed in by 2026-10-01T00:00:00+00:00") for learner in ("ada7", "bo")
    }


def test_a_hand_in_nobody_knows_the_time_of_is_named(quick, folder):
    table(folder / "t.csv", f"file,time\nada7,{EARLY}\n")
    code, told, points = graded(folder, times=folder / "t.csv", deadline=LATE)
    assert (code, points) == (1, {"ada7": 5})  # of equal times the notebook in the learner's own folder
    assert [one["line"] for one in told["problems"] if one["file"]] == ["no time is known for it, so it doesn't count"]


def test_a_deadline_without_times_is_an_error(quick, folder, capsys):
    assert coordinator.grade(folder / "class", folder / "out", chapters=["90"], progress=False, deadline=LATE) == 3
    assert "--times FILE" in capsys.readouterr().err and not quick


def test_only_names_learners_and_chapters_and_leaves_the_others_as_they_are(quick, folder, capsys):
    assert graded(folder)[2] == {"ada7": 5, "bo": 1}
    (folder / "class" / "bo" / "90-tiny.ipynb").write_bytes(notebook(["4"]))
    (folder / "class" / "ada7" / "90-tiny.ipynb").write_bytes(notebook(["6"]))
    assert graded(folder, only=["bo/90"])[2] == {"ada7": 5, "bo": 4}
    assert graded(folder, only=["/90"])[2] == {"ada7": 6, "bo": 4}
    assert coordinator.grade(folder / "class", folder / "out", chapters=["90"], only=["eve"], progress=False) == 3
    assert "nothing handed in is called eve; expected LEARNER, LEARNER/NN or /NN" in capsys.readouterr().err


def test_a_dry_run_tells_and_writes_nothing(quick, folder, capsys):
    assert coordinator.grade(folder / "class", folder / "out", chapters=["90"], progress=False, dry_run=True) == 0
    assert "would run ada7/90-tiny.ipynb" in capsys.readouterr().out
    assert not quick and not (folder / "out").exists()
    graded(folder)
    capsys.readouterr()
    coordinator.grade(folder / "class", folder / "out", chapters=["90"], progress=False, dry_run=True, json=True)
    told = json.loads(capsys.readouterr().out)
    assert (told["to run"], len(told["graded before"])) == ([], 2)


def test_a_fix_of_the_course_shows_who_gains_and_who_loses(quick, folder, monkeypatch, capsys):
    """The same hand-ins under a new version: run again, and compared."""
    graded(folder)
    monkeypatch.setattr("rigkit.grading.versions.of_chapter", lambda chapter: "mended")
    right = marking.grade

    def mended(data, ticket, copies):
        one = right(data, ticket, copies)
        (result,) = one.results
        new = {"ada7": Fraction(9, 2), "bo": Fraction(7)}[ticket.learner]
        claims = (ClaimResult("a", "a claim", 9, new, "look", "", "", "", "", "", ""),)
        return marking.Graded(
            ticket.learner, "90", "graded", results=(Result("90.1", "A title", "ok", "", claims, 7),), variant=result.variant
        )

    monkeypatch.setattr(marking, "grade", mended)
    capsys.readouterr()
    coordinator.grade(folder / "class", folder / "out", chapters=["90"], progress=False)
    assert "gained points: 1" in (out := capsys.readouterr().out) and "lost points: 1" in out
    told = json.loads((folder / "out" / "grades.json").read_text(encoding="utf-8"))["changes"]
    assert [(one["learner"], one["before"], one["after"], one["why"]) for one in told] == [
        ("ada7", "5", "9/2", "the same hand-in, graded anew"),
        ("bo", "1", "7", "the same hand-in, graded anew"),
    ]
    page = (folder / "out" / "pages" / "class.html").read_text(encoding="utf-8")
    assert "Points that changed" in page and "<td class=number>4.5</td>" in page


def test_the_same_notebook_handed_in_twice_is_run_once(quick, folder):
    """By one learner, in two files."""
    (folder / "class" / "ada7" / "second" / "90-tiny.ipynb").write_bytes(
        (folder / "class" / "ada7" / "first" / "90-tiny.ipynb").read_bytes()
    )
    graded(folder, times=folder / "t.csv")
    assert sorted(quick) == [("ada7", "3"), ("ada7", "5"), ("bo", "1")]
    with_results = Results(folder / "out" / "results.sqlite")
    assert len(with_results.hand_ins()) == 4
    with_results.close()
