"""Nothing is lost: an older record is brought along, a copy is whole, a full disk stops a run and the same command goes on."""

import contextlib
import json
import os
import shutil
import sqlite3
import subprocess
import sys
import textwrap
from fractions import Fraction
from pathlib import Path

import pytest

from rigkit import cli
from rigkit.grading import schema
from rigkit.grading.results import Results
from tests.grading import make_class
from tests.grading.test_coordinator import class_of
from tests.grading.test_reports import graded, put

ROOT = Path(__file__).resolve().parents[2]
# The tables as they were written by schema 1, never to be changed.
FIRST = """
CREATE TABLE meta (name TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE notebooks (
    key TEXT PRIMARY KEY, learner TEXT NOT NULL, chapter TEXT NOT NULL, status TEXT NOT NULL, lines TEXT NOT NULL, errors TEXT NOT NULL,
    variant INTEGER NOT NULL, mode TEXT NOT NULL, seconds REAL NOT NULL, course TEXT NOT NULL, graded_at TEXT NOT NULL);
CREATE TABLE checkpoints (
    key TEXT NOT NULL REFERENCES notebooks ON DELETE CASCADE, place INTEGER NOT NULL, checkpoint TEXT NOT NULL, title TEXT NOT NULL,
    outcome TEXT NOT NULL, line TEXT NOT NULL, PRIMARY KEY (key, checkpoint));
CREATE TABLE claims (
    key TEXT NOT NULL REFERENCES notebooks ON DELETE CASCADE, place INTEGER NOT NULL, checkpoint TEXT NOT NULL, claim TEXT NOT NULL,
    text TEXT NOT NULL, points INTEGER NOT NULL, earned TEXT NOT NULL, outcome TEXT NOT NULL, tried TEXT NOT NULL, expected TEXT NOT NULL,
    got TEXT NOT NULL, likely TEXT NOT NULL, look_at TEXT NOT NULL, mistake TEXT NOT NULL, PRIMARY KEY (key, checkpoint, claim));
CREATE TABLE texts (
    key TEXT NOT NULL REFERENCES notebooks ON DELETE CASCADE, checkpoint TEXT NOT NULL, name TEXT NOT NULL, text TEXT NOT NULL,
    PRIMARY KEY (key, checkpoint, name));
CREATE TABLE counting (
    learner TEXT NOT NULL, chapter TEXT NOT NULL, key TEXT NOT NULL REFERENCES notebooks, file TEXT NOT NULL,
    PRIMARY KEY (learner, chapter));
CREATE TABLE problems (learner TEXT NOT NULL, file TEXT NOT NULL, line TEXT NOT NULL);
CREATE TABLE by_hand (
    learner TEXT NOT NULL, checkpoint TEXT NOT NULL, claim TEXT NOT NULL, earned TEXT NOT NULL, note TEXT NOT NULL, given_at TEXT NOT NULL,
    PRIMARY KEY (learner, checkpoint, claim));
INSERT INTO notebooks VALUES ('k', 'ada7', '06', 'graded', '[]', '{}', 7, 'box', 0.5, '0.1.0', '2026-11-01');
INSERT INTO checkpoints VALUES ('k', 0, '06.1', 'A title', 'look', '');
INSERT INTO claims VALUES ('k', 0, '06.1', 'a', 'a claim', 2, '1', 'look', '', '', '', '', '', '');
INSERT INTO counting VALUES ('ada7', '06', 'k', '06-two-bones.ipynb');
INSERT INTO by_hand VALUES ('ada7', '06.1', 'a', '3/2', 'nearly', '2026-11-02');
PRAGMA user_version = 1;
"""


def test_an_older_record_is_brought_along_and_kept_as_it_was(tmp_path):
    """Points, points by hand and what counts; the old file stays beside it."""
    path = tmp_path / "results.sqlite"
    with contextlib.closing(sqlite3.connect(path)) as database:
        database.executescript(FIRST)
    results = Results(path)
    assert [(row.learner, row.file, row.earned) for row in results.rows()] == [("ada7", "06-two-bones.ipynb", Fraction(3, 2))]
    assert results.hand_ins() == [("ada7", "06", "06-two-bones.ipynb", "", Fraction(3, 2), True)]
    results.close()
    with contextlib.closing(sqlite3.connect(f"{path}.schema-1")) as old:
        assert old.execute("PRAGMA user_version").fetchone() == (1,)
        assert old.execute("SELECT count(*) FROM claims").fetchone() == (1,)
    assert Results(path).database.execute("PRAGMA user_version").fetchone() == (schema.SCHEMA,)


def test_a_change_of_form_that_fails_changes_nothing(tmp_path, monkeypatch):
    """One transaction."""
    path = tmp_path / "results.sqlite"
    with contextlib.closing(sqlite3.connect(path)) as database:
        database.executescript(FIRST)
    monkeypatch.setitem(schema.STEPS, 1, "DROP TABLE by_hand; SELECT nonsense;")
    with pytest.raises(sqlite3.OperationalError, match="nonsense"):
        Results(path)
    monkeypatch.undo()
    assert next(Results(path).rows()).earned == Fraction(3, 2)


def test_every_older_form_has_a_way_to_this_one():
    assert sorted(schema.STEPS) == list(range(1, schema.SCHEMA))


def test_a_copy_made_while_a_class_is_graded_is_whole(tmp_path, capsys):
    """A transaction that is not finished is not in it; the copy can take the record's place."""
    results = Results(tmp_path / "results.sqlite")
    put(results, "a", graded("ada7"))
    with results.writing() as db:
        db.execute("INSERT INTO meta VALUES ('half', 'done')")
        assert cli.main(["backup", str(tmp_path), str(tmp_path / "copy.sqlite")]) == 0
    results.close()
    copied = Results(tmp_path / "copy.sqlite")
    assert [row.learner for row in copied.rows()] == ["ada7"] and copied.meta() == {}
    copied.close()
    assert not list(tmp_path.glob("*.part"))
    assert cli.main(["backup", str(tmp_path), str(tmp_path / "copy.sqlite")]) == 3
    assert cli.main(["backup", str(tmp_path), str(tmp_path / "nowhere" / "copy.sqlite")]) == 3
    told = capsys.readouterr().err
    assert "is there already" in told and "can't be written" in told


FULL = """
mount -t tmpfs -o size=1536k none "$OUT"
grade() { "$PYTHON" -m rigkit.cli grade "$CLASS" --out "$OUT" --chapters 00 --workers 1 --no-progress --json; }
head -c 1380000 /dev/zero > "$OUT/other"
grade; echo "first $?"
cp "$OUT/results.sqlite" "$OUT/results.sqlite-wal" "$KEPT" 2>/dev/null
rm "$OUT/other"
grade; echo "second $?"
cp "$OUT/grades.json" "$KEPT"
"""


@pytest.mark.box
@pytest.mark.skipif(shutil.which("unshare") is None or shutil.which("mount") is None, reason="needs unshare and mount of util-linux")
def test_a_full_disk_stops_the_run_and_the_same_command_goes_on(tmp_path):
    """A disk of 1.5 MB, in memory: what was graded before it was full is kept, and nothing is run twice."""
    learners = [f"learner-{i}" for i in range(10)]
    for name in ("class", "out", "kept"):
        (tmp_path / name).mkdir()
    for learner in learners:
        class_of(tmp_path / "class", learner, cells=make_class.answered("00", learner), chapter="00")
    places = {"OUT": tmp_path / "out", "CLASS": tmp_path / "class", "KEPT": tmp_path / "kept"}
    done = subprocess.run(
        ["unshare", "--user", "--map-root-user", "--mount", "sh", "-c", textwrap.dedent(FULL)],
        cwd=ROOT,
        env={**os.environ, "PYTHON": sys.executable, **{name: str(path) for name, path in places.items()}},
        capture_output=True,
        text=True,
        timeout=240,
    )
    if "unshare" in done.stderr or "mount:" in done.stderr:
        pytest.skip(f"no disk of our own on this machine: {done.stderr[:200]}")
    first, _, second = done.stdout.partition("first 3\n")
    assert first == "" and second.endswith("second 0\n"), (done.stdout, done.stderr)
    assert "What was graded is kept; make room or repair, and run it again" in done.stderr and "full" in done.stderr
    told = json.loads(second.removesuffix("second 0\n"))
    with contextlib.closing(sqlite3.connect(tmp_path / "kept" / "results.sqlite")) as database:
        before = database.execute("SELECT count(*) FROM notebooks").fetchone()[0]
    assert 0 < before < len(learners)
    assert (told["graded before"], told["run now"], told["notebooks"]) == (before, len(learners) - before, len(learners))
    claims = json.loads((tmp_path / "kept" / "grades.json").read_text(encoding="utf-8"))["claims"]
    assert {claim["learner"] for claim in claims} == set(learners)
