"""Results in OneRoster's CSV binding: the standard's columns, and rows that find each other."""

import csv
import io
import re
import zipfile
from fractions import Fraction

import pytest

from rigkit import cli
from rigkit.course.checkpoint import ClaimResult, Result
from rigkit.grading import marking
from rigkit.grading.results import Results

# 1EdTech, OneRoster CSV Binding 1.2.1, the tables of these files (memory)
HEADS = {
    "categories.csv": "sourcedId,status,dateLastModified,title,weight",
    "lineItems.csv": "sourcedId,status,dateLastModified,title,description,assignDate,dueDate,classSourcedId,categorySourcedId,"
    "academicSessionSourcedId,resultValueMin,resultValueMax,schoolSourcedId",
    "results.csv": "sourcedId,status,dateLastModified,lineItemSourcedId,studentSourcedId,scoreStatus,score,scoreDate,comment,textScore,"
    "classSourcedId,inProgress,incomplete,late,missing",
    "manifest.csv": "propertyName,value",
}
STATUS = {"exempt", "fully graded", "not submitted", "partially graded", "submitted"}  # its enumeration of scoreStatus (memory)


def notebook(learner, chapter, earned, status="graded", outcome="ok", lines=()):
    """A graded notebook of one claim of four points."""
    claim = ClaimResult("a", "a claim", 4, Fraction(earned), outcome, "", "", "", "", "", "")
    return marking.Graded(learner, chapter, status, lines, (Result(f"{chapter}.1", "A title", outcome, "", (claim,), 7),), variant=7)


@pytest.fixture
def out(tmp_path):
    """Results of three learners, one of whom is still to be read, one that failed and one that nobody can read."""
    results = Results(tmp_path / "results.sqlite")
    for one in (
        notebook("ada7", "06", "7/2"),
        notebook("ada7", "00", 4),
        notebook("bo", "06", 1, outcome="awaits a reader"),
        notebook("cy", "06", 0, "look", lines=("grading itself failed, run the command again: x",)),
        notebook("di", "06", 0, "unreadable", lines=("it is empty",)),
    ):
        key = f"{one.learner}{one.chapter}"
        results.save(key, one, "1")
        results.hand_in(one.learner, one.chapter, "x.ipynb", key)
        results.choose(one.learner, one.chapter, ["x.ipynb"])
    results.close()
    return tmp_path


def tables(path):
    """Name of a file to (its first line, its rows)."""
    with zipfile.ZipFile(path) as archive:
        texts = {name: archive.read(name).decode() for name in archive.namelist()}
    return {name: (text.partition("\r\n")[0], list(csv.DictReader(io.StringIO(text)))) for name, text in texts.items()}


COMMAND = ("--school", "s1", "--class", "c7", "--term", "t1", "--due", "2026-11-20")


@pytest.mark.source("OneRoster")
def test_the_files_have_the_standard_s_columns_and_the_manifest_says_which_there_are(out, capsys):
    assert cli.main(["oneroster", str(out), str(out / "g.zip"), *COMMAND]) == 0
    assert "5 results" in capsys.readouterr().out
    found = tables(out / "g.zip")
    assert {name: head for name, (head, _) in found.items()} == HEADS
    manifest = {row["propertyName"]: row["value"] for row in found["manifest.csv"][1]}
    assert (manifest.pop("manifest.version"), manifest.pop("oneroster.version")) == ("1.0", "1.2")
    assert len(manifest) == 21 and {name for name, value in manifest.items() if value == "delta"} == {
        "file.categories",
        "file.lineItems",
        "file.results",
    }
    assert set(manifest.values()) == {"delta", "absent"}


@pytest.mark.source("OneRoster")
def test_results_find_their_line_items_and_what_has_no_points_gets_none(out):
    roster = out / "roster.csv"
    roster.write_text("id,name,sourcedId\nada7,Ada,stu-1\nbo,Bo,\n")
    assert cli.main(["oneroster", str(out), str(out / "g.zip"), *COMMAND, "--category", "k2", "--roster", str(roster)]) == 0
    found = tables(out / "g.zip")
    assert "categories.csv" not in found
    items = {row["sourcedId"]: row for row in found["lineItems.csv"][1]}
    results = found["results.csv"][1]
    assert {row["lineItemSourcedId"] for row in results} == set(items) == {"rigkit-c7-00", "rigkit-c7-06"}
    told = [(row["studentSourcedId"], row["lineItemSourcedId"], row["scoreStatus"], row["score"]) for row in results]
    assert told == [
        ("stu-1", "rigkit-c7-00", "fully graded", "4"),
        ("stu-1", "rigkit-c7-06", "fully graded", "3.5"),
        ("bo", "rigkit-c7-06", "partially graded", "1"),
        ("cy", "rigkit-c7-06", "submitted", ""),
        ("di", "rigkit-c7-06", "submitted", ""),
    ]
    assert len({row["sourcedId"] for row in results}) == 5 and {row["scoreStatus"] for row in results} <= STATUS
    for row in items.values():
        assert (row["resultValueMin"], row["resultValueMax"], row["dueDate"], row["categorySourcedId"]) == ("0", "4", "2026-11-20", "k2")
        assert (row["schoolSourcedId"], row["classSourcedId"], row["academicSessionSourcedId"]) == ("s1", "c7", "t1")
    for row in [*items.values(), *results]:
        assert row["status"] == "active" and re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", row["dateLastModified"])


def test_a_roster_without_the_school_s_ids_is_named(out, capsys):
    (out / "roster.csv").write_text("id,name\nada7,Ada\n")
    assert cli.main(["oneroster", str(out), str(out / "g.zip"), *COMMAND, "--roster", str(out / "roster.csv")]) == 3
    assert "has the columns id, name; expected id and sourcedid" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("change", "words"),
    [(("--due", "friday"), "'friday' is no day"), (("--school", "s1"), "is there already"), ((), "grade ... --out")],
)
def test_what_can_not_be_written_is_told(out, capsys, change, words):
    (out / "there.zip").write_bytes(b"")
    name = "there.zip" if change[:1] == ("--school",) else "new.zip"
    folder = out if change else out / "nowhere"
    assert cli.main(["oneroster", str(folder), str(out / name), *COMMAND, *change]) == 3
    assert re.search(words, capsys.readouterr().err) and not (out / "new.zip").exists()
