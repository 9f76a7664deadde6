"""Progress: kept per claim, the best counts, nothing is lost when a file is damaged."""

import sqlite3
from fractions import Fraction

from rigkit.course.checkpoint import ClaimResult, Result
from rigkit.course.progress import FILE, Progress
from tests.course import tiny


def result(first, second, outcome="look"):
    claims = (ClaimResult("half way", "x", 2, Fraction(first), "ok" if first else "look"), ClaimResult("equal", "y", 1, Fraction(second), "look"))
    return Result("90.1", "t", outcome, "", claims, 0)


def test_the_best_of_every_claim_is_kept_over_sessions(tmp_path):
    one = Progress(tmp_path)
    one.attempt(result(2, 0))
    one.attempt(result(0, "1/3"))
    one.close()
    again = Progress(tmp_path)
    assert again.best("90.1") == {"half way": 2, "equal": Fraction(1, 3)} and again.attempts("90.1") == 2
    assert again.table([tiny.MIDDLE, tiny.LENGTH])[0][2:] == (Fraction(7, 3), 3, 2, False)
    assert again.table([tiny.LENGTH]) == [("90.2", "A length and a centre", 0, 3, 0, False)]


def test_an_untouched_check_is_no_attempt():
    memory = Progress()
    memory.attempt(result(0, 0, "not started"))
    memory.attempt(result(0, 0, "name missing"))
    assert memory.attempts("90.1") == 0 and memory.best("90.1") == {}


def test_without_a_folder_nothing_is_written(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Progress().attempt(result(2, 1))
    assert not list(tmp_path.iterdir())


def test_two_open_chapters_write_side_by_side(tmp_path):
    one, two = Progress(tmp_path), Progress(tmp_path)
    for _ in range(5):
        one.attempt(result(2, 0))
        two.attempt(result(0, 1))
    assert one.attempts("90.1") == 10 and two.best("90.1") == {"half way": 2, "equal": 1}


def test_the_first_prediction_stays():
    memory = Progress()
    assert memory.predict("06.a", "left") == "left"
    assert memory.predict("06.a", "right") == "left"


def test_sources_of_passed_functions_are_kept(tmp_path):
    Progress(tmp_path).attempt(result(2, 1, "ok"), {"middle": "def middle(a, b): ..."})
    assert Progress(tmp_path).source("90.1", "middle") == "def middle(a, b): ..."
    assert Progress(tmp_path).source("90.1", "other") is None


def test_a_damaged_file_is_set_aside_and_said(tmp_path):
    for number in (1, 2):
        (tmp_path / FILE).write_bytes(b"this is no database, number %d" % number * 50)
        found = Progress(tmp_path)
        found.attempt(result(2, 1))
        aside = tmp_path / f"progress-set-aside-{number}.sqlite"
        assert aside.read_bytes().startswith(b"this is no database, number %d" % number)
        assert aside.name in found.note and Progress(tmp_path).attempts("90.1") == 1
        found.close()


def test_a_file_of_another_version_is_set_aside(tmp_path):
    base = sqlite3.connect(tmp_path / FILE)
    with base:
        base.execute("create table about (schema integer)")
        base.execute("insert into about values (999)")
    base.close()
    found = Progress(tmp_path)
    assert "schema 999" in found.note and (tmp_path / "progress-set-aside-1.sqlite").exists()


def test_a_folder_that_cannot_be_written_keeps_progress_in_memory(tmp_path):
    (tmp_path / FILE).mkdir()
    found = Progress(tmp_path)
    found.attempt(result(2, 1))
    assert found.attempts("90.1") == 1 and "memory" in found.note


def test_a_good_file_gives_no_note(tmp_path):
    assert Progress(tmp_path).note == "" and Progress(tmp_path).note == "" and Progress().note == ""


def test_a_step_that_cannot_be_kept_becomes_a_note_and_stops_nobody(tmp_path):
    found = Progress(tmp_path)
    found.attempt(result(1, 0))
    found.close()
    found.attempt(result(2, 1))
    found.hint("90.1")
    assert found.predict("90.a", "left") == "left"
    assert found.attempts("90.1") == 0 and found.best("90.1") == {} and not found.hinted("90.1")
    assert "could not be" in found.note
    assert Progress(tmp_path).best("90.1") == {"half way": 1, "equal": 0}


def test_a_file_locked_by_another_program_stops_nobody(tmp_path, monkeypatch):
    connect = sqlite3.connect
    monkeypatch.setattr(sqlite3, "connect", lambda *args, **more: connect(*args, **{**more, "timeout": 0.05}))
    found = Progress(tmp_path)
    other = connect(tmp_path / FILE)
    other.execute("begin exclusive")
    found.attempt(result(2, 1))
    assert "locked" in found.note
    other.rollback()
    other.close()
    found.attempt(result(2, 1))
    assert found.attempts("90.1") == 1
