"""Reports: what came from a hand-in is escaped, figures are those of the definitions, a record is kept and forgotten."""

import csv
import io
import json
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from rigkit.course.checkpoint import ClaimResult, Result
from rigkit.grading import reports, telling
from rigkit.grading.marking import Graded
from rigkit.grading.results import Results

EVIL = "<script>alert(1)</script><img src=x onerror=alert(1)>\"'&=cmd|calc\x1b[2J"


def graded(learner, earned=(1, 0), outcome="look", **more):
    """A graded notebook of chapter 06 with one claim of two points for each number of `earned`."""
    results = tuple(
        Result(
            f"06.{i + 1}",
            "A title",
            "ok" if points == 2 else outcome,
            EVIL,
            (
                ClaimResult(
                    "a",
                    "a claim",
                    2,
                    Fraction(points),
                    "ok" if points == 2 else outcome,
                    EVIL,
                    EVIL,
                    EVIL,
                    EVIL,
                    EVIL,
                    "sign" if outcome == "look" else "",
                ),
            ),
            7,
        )
        for i, points in enumerate(earned)
    )
    return Graded(learner, "06", results=results, variant=7, **{"status": "graded", **more})


@pytest.fixture
def record(tmp_path):
    """An empty record."""
    results = Results(tmp_path / "results.sqlite")
    yield results
    results.close()


def put(record, key, one):
    """Store a notebook and let it count."""
    record.save(key, one, "0.1.0")
    record.count(one.learner, one.chapter, key, "06-two-bones.ipynb")


def test_nothing_from_a_hand_in_is_markup_or_a_formula(record, tmp_path):
    """Scripts, quotes, formulas, terminal codes."""
    from rigkit.grading.intake import Problem

    put(record, "k", graded("=cmd", status="look", lines=(EVIL,), errors={1: EVIL}, texts={("06.1", EVIL): EVIL}))
    for file in (EVIL, EVIL + "2"):
        record.hand_in("=cmd", "06", file, "k")
    record.add_changes([("=cmd", EVIL, Fraction(1), Fraction(2), EVIL)])
    record.set_problems([Problem("@x", EVIL, EVIL)])
    reports.write(record, tmp_path)
    pages = [path.read_text(encoding="utf-8") for path in (tmp_path / "pages").iterdir()]
    assert len(pages) == 2
    assert not any("<script" in page or "<img" in page for page in pages)
    rows = list(csv.reader(io.StringIO((tmp_path / "grades.csv").read_text(encoding="utf-8"))))
    assert not [cell for row in rows for cell in row if cell.startswith(reports.FORMULA)]
    assert [row[0] for row in rows] == ["learner", "'=cmd", "'@x"]


def test_nothing_from_a_hand_in_commands_the_terminal(capsys):
    """Names of files and learners, and whatever a notebook made the grader say."""
    from rigkit.grading.intake import Problem, Source

    wild = "\x1b]0;owned\x07\u202e\r\n\x9b2J"
    told = {"run now": 1, "graded before": 0, "notebooks": 1, "learners": 1}
    telling.summary(told | dict.fromkeys(telling.NAMES, 1), [telling.line(wild, wild, wild)], Path("out"), True, False)
    telling.plan([Source(wild, "06", wild, wild)], [], [Problem(wild, wild, wild)], False)
    telling.trouble(wild)
    out, err = capsys.readouterr()
    assert all(line.isprintable() for line in (out + err).split("\n")) and "owned" in out


@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_any_text_is_one_cell_that_is_no_formula(text):
    """Read back by a reader of tables it is the text, at most with a quote before it."""
    stream = io.StringIO()
    csv.writer(stream, lineterminator="\n").writerow([reports.cell(text), "x"])
    ((back, _),) = csv.reader(io.StringIO(stream.getvalue(), newline=""))
    seen = "".join(c if c.isprintable() else " " for c in text)
    assert back in (seen, "'" + seen)
    assert not back.startswith(("=", "+", "-", "@", "\t", "\r"))


def test_points_are_exact_in_json_and_decimal_in_the_table(record, tmp_path):
    """A third is 1/3, and 0.3333."""
    put(record, "k", graded("ada7", earned=(Fraction(1, 3), 2)))
    reports.write(record, tmp_path)
    told = json.loads((tmp_path / "grades.json").read_text(encoding="utf-8"))
    assert [claim["points"] for claim in told["claims"]] == ["1/3", "2"]
    assert told["notebooks"][0]["points"] == "7/3"
    assert "ada7,06,2.3333,4,graded" in (tmp_path / "grades.csv").read_text(encoding="utf-8")


@pytest.mark.source("SciPy")
def test_facility_and_discrimination_are_those_of_classical_test_theory():
    """Against SciPy's Pearson correlation on made-up scores: the point-biserial one of an item with the rest score."""
    rng = np.random.default_rng(3)
    own, rest = rng.integers(0, 3, 40), rng.integers(0, 30, 40)
    scores = [(Fraction(int(a)), 2, Fraction(int(a + b))) for a, b in zip(own, rest)]
    assert reports.facility(scores) == pytest.approx(own.mean() / 2)
    assert reports.discrimination(scores) == pytest.approx(stats.pearsonr(own, rest).statistic)
    assert reports.discrimination([(1, 1, 2), (1, 1, 3), (1, 1, 4)]) is None


def test_unreadable_notebooks_and_unread_texts_stay_out_of_the_figures(record):
    """They say nothing about a task."""
    put(record, "a", graded("a", earned=(2, 2)))
    put(record, "b", graded("b", earned=(0, 0), status="unreadable"))
    assert [(row[0], row[2], row[3]) for row in reports.items(list(record.rows()))] == [("06.1", 1, 1.0), ("06.2", 1, 1.0)]
    put(record, "c", graded("c", earned=(2, 0), outcome="awaits a reader"))
    assert [row[0] for row in reports.items(list(record.rows()))] == ["06.1"]


def test_what_was_missed_counts_planned_mistakes(record):
    """By how many of those who tried."""
    for learner, outcome in (("a", "look"), ("b", "look"), ("c", "not started")):
        put(record, learner, graded(learner, earned=(0,), outcome=outcome))
    assert reports.missed(list(record.rows())) == [("06.1", "a claim", 2, 2, [(EVIL, 2)])]


def test_pages_of_learners_with_like_names_don_t_meet():
    """Capitals, odd signs, the class itself."""
    names = reports.page_names({"Ada", "ada", "class", "a.b", "a_b", "CLASS"})
    assert len({name.casefold() for name in names.values()}) == 6
    assert "class.html" not in {name.casefold() for name in names.values()}


def test_a_record_of_a_newer_rigkit_is_left_alone(tmp_path):
    """Older programs don't write into it."""
    record = Results(tmp_path / "results.sqlite")
    record.database.execute("PRAGMA user_version = 99")
    record.close()
    with pytest.raises(ValueError, match="newer rigkit"):
        Results(tmp_path / "results.sqlite")


def test_forgetting_a_learner_leaves_nothing_of_them(record, tmp_path):
    """In any table, nor in the file's bytes that a reader of the database sees."""
    put(record, "a", graded("ada7", texts={("06.1", "why"): "mine"}))
    put(record, "b", graded("bo"))
    record.give_points("ada7", "06.1", "a", "1/2")
    record.forget("ada7")
    tables = [name for (name,) in record.database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    rows = {table: record.database.execute(f"SELECT * FROM {table}").fetchall() for table in tables}
    assert "ada7" not in repr(rows) and "mine" not in repr(rows)
    assert [row.learner for row in record.rows()] == ["bo"]


def test_a_write_that_fails_leaves_the_record_as_it_was(record):
    """One transaction a notebook."""
    put(record, "a", graded("ada7"))
    broken = graded("ada7", texts={("06.1", "why"): "x", ("06.2",): "too short a key"})
    with pytest.raises(Exception, match="binding|values"):
        record.save("a", broken, "0.1.0")
    assert [row.learner for row in record.rows()] == ["ada7"]
