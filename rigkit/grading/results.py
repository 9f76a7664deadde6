"""The record of a class: one SQLite file that one process writes, a transaction for each notebook.

A graded notebook is stored under its key, a hash of everything its points depend
on, so that the same one is never run twice. Which notebook counts for a learner
and chapter stands apart, and so do points that a reader gave by hand: they
survive every new run.
"""

import contextlib
import json
import sqlite3
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from fractions import Fraction

from rigkit.course.checkpoint import ClaimResult, Result

SCHEMA = 1
TABLES = """
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
"""


@dataclass(frozen=True)
class Row:
    """A notebook that counts, as the reports read it: points by hand are in its results."""

    learner: str
    chapter: str
    file: str
    status: str
    lines: tuple
    errors: dict
    results: tuple
    texts: dict
    variant: int
    mode: str

    @property
    def earned(self):
        """Points earned, an exact fraction."""
        return sum((result.earned for result in self.results), Fraction(0))

    @property
    def points(self):
        """Points there are."""
        return sum(result.points for result in self.results)

    @property
    def waits(self):
        """Whether a text answer awaits its reader."""
        return any(result.outcome == "awaits a reader" for result in self.results)


class Results:
    """The open record of a class."""

    def __init__(self, path):
        self.database = sqlite3.connect(path, isolation_level=None, timeout=30)
        self.database.execute("PRAGMA journal_mode = WAL")
        self.database.execute("PRAGMA synchronous = NORMAL")
        self.database.execute("PRAGMA foreign_keys = ON")
        version = self.database.execute("PRAGMA user_version").fetchone()[0]
        if version > SCHEMA:
            raise ValueError(
                f"{path} was written by a newer rigkit (schema {version}, this one knows {SCHEMA}); update rigkit, or choose another --out"
            )
        if version == 0:
            self.database.executescript(f"BEGIN; {TABLES} PRAGMA user_version = {SCHEMA}; COMMIT;")

    def close(self):
        """Close the file."""
        self.database.close()

    @contextlib.contextmanager
    def writing(self):
        """One transaction."""
        self.database.execute("BEGIN IMMEDIATE")
        try:
            yield self.database
        except BaseException:
            self.database.execute("ROLLBACK")
            raise
        self.database.execute("COMMIT")

    def known(self, key):
        """Whether a notebook was graded under this key."""
        return self.database.execute("SELECT 1 FROM notebooks WHERE key = ?", (key,)).fetchone() is not None

    def save(self, key, graded, course):
        """Store a graded notebook under its key; one stored before under the same key is replaced."""
        with self.writing() as db:
            db.execute("DELETE FROM counting WHERE key = ?", (key,))
            db.execute("DELETE FROM notebooks WHERE key = ?", (key,))
            db.execute(
                "INSERT INTO notebooks VALUES (?,?,?,?,?,?,?,?,?,?,?)",
                (
                    key,
                    graded.learner,
                    graded.chapter,
                    graded.status,
                    _json(list(graded.lines)),
                    _json({str(k): v for k, v in graded.errors.items()}),
                    graded.variant,
                    graded.mode,
                    graded.seconds,
                    course,
                    _now(),
                ),
            )
            for place, result in enumerate(graded.results):
                db.execute(
                    "INSERT INTO checkpoints VALUES (?,?,?,?,?,?)",
                    (key, place, result.checkpoint, _text(result.title), result.outcome, _text(result.line)),
                )
                db.executemany(
                    "INSERT INTO claims VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?)",
                    [
                        (
                            key,
                            i,
                            result.checkpoint,
                            c.id,
                            c.text,
                            c.points,
                            str(c.earned),
                            c.outcome,
                            *map(_text, (c.tried, c.expected, c.got, c.likely, c.look_at, c.mistake)),
                        )
                        for i, c in enumerate(result.claims)
                    ],
                )
            db.executemany("INSERT INTO texts VALUES (?,?,?,?)", [(key, *where, _text(text)) for where, text in graded.texts.items()])

    def count(self, learner, chapter, key, file):
        """From now on this notebook counts for the learner's chapter."""
        with self.writing() as db:
            db.execute("INSERT OR REPLACE INTO counting VALUES (?,?,?,?)", (learner, chapter, key, file))

    def set_problems(self, problems):
        """Replace the lines about hand-ins that could not be taken in."""
        with self.writing() as db:
            db.execute("DELETE FROM problems")
            db.executemany("INSERT INTO problems VALUES (?,?,?)", [(_text(p.learner), _text(p.name), _text(p.line)) for p in problems])

    def set_meta(self, **values):
        """Remember facts about the last run."""
        with self.writing() as db:
            db.executemany("INSERT OR REPLACE INTO meta VALUES (?,?)", [(name, str(value)) for name, value in values.items()])

    def give_points(self, learner, checkpoint, claim, earned, note=""):
        """Keep points that a reader gives for a claim; earned: a Fraction, or what Fraction takes ("3/2")."""
        with self.writing() as db:
            db.execute(
                "INSERT OR REPLACE INTO by_hand VALUES (?,?,?,?,?,?)", (learner, checkpoint, claim, str(Fraction(earned)), note, _now())
            )

    def forget(self, learner):
        """Delete everything about one learner."""
        with self.writing() as db:
            for table in ("counting", "by_hand", "problems", "notebooks"):
                db.execute(f"DELETE FROM {table} WHERE learner = ?", (learner,))

    def meta(self):
        """Facts about the last run."""
        return dict(self.database.execute("SELECT name, value FROM meta"))

    def problems(self):
        """(learner, file, line) of every hand-in that could not be taken in."""
        return self.database.execute("SELECT learner, file, line FROM problems ORDER BY learner, file, line").fetchall()

    def rows(self):
        """Every notebook that counts, by learner and chapter, as a Row."""
        query = """SELECT n.learner, n.chapter, c.file, n.status, n.lines, n.errors, n.variant, n.mode, n.key
                   FROM counting c JOIN notebooks n ON n.key = c.key ORDER BY n.learner, n.chapter"""
        for learner, chapter, file, status, lines, errors, variant, mode, key in self.database.execute(query).fetchall():
            texts = {
                (checkpoint, name): text
                for checkpoint, name, text in self.database.execute(
                    "SELECT checkpoint, name, text FROM texts WHERE key = ? ORDER BY checkpoint, name", (key,)
                )
            }
            yield Row(
                learner,
                chapter,
                file,
                status,
                tuple(json.loads(lines)),
                json.loads(errors),
                self._results(key, learner, variant),
                texts,
                variant,
                mode,
            )

    def _results(self, key, learner, variant):
        given = {
            (checkpoint, claim): Fraction(earned)
            for checkpoint, claim, earned in self.database.execute(
                "SELECT checkpoint, claim, earned FROM by_hand WHERE learner = ?", (learner,)
            )
        }
        results = []
        for checkpoint, title, outcome, line in self.database.execute(
            "SELECT checkpoint, title, outcome, line FROM checkpoints WHERE key = ? ORDER BY place", (key,)
        ).fetchall():
            claims = tuple(
                ClaimResult(claim, text, points, Fraction(earned), *rest)
                for claim, text, points, earned, *rest in self.database.execute(
                    "SELECT claim, text, points, earned, outcome, tried, expected, got, likely, look_at, mistake FROM claims "
                    "WHERE key = ? AND checkpoint = ? ORDER BY place",
                    (key, checkpoint),
                )
            )
            result = Result(checkpoint, title, outcome, line, claims, variant)
            results.append(with_points(result, {claim: earned for (where, claim), earned in given.items() if where == checkpoint}))
        return tuple(results)


def with_points(result, given):
    """A Result with the points a reader gave. given: claim id to Fraction."""
    if not given:
        return result
    claims = tuple(
        replace(
            c,
            earned=given[c.id],
            outcome="ok" if given[c.id] == c.points else "look",
            got="" if given[c.id] == c.points else "points given by a reader",
        )
        if c.id in given
        else c
        for c in result.claims
    )
    waiting = any(c.outcome == "awaits a reader" for c in claims)
    outcome = result.outcome if waiting else "ok" if all(c.outcome == "ok" for c in claims) else "look"
    return replace(result, claims=claims, outcome=outcome, line=result.line if waiting else "")


def _json(value):
    return json.dumps(value, ensure_ascii=True)


def _text(value):
    """A text that SQLite can store: half characters replaced."""
    return str(value).encode("utf-8", "replace").decode("utf-8")


def _now():
    return datetime.now(UTC).isoformat(timespec="seconds")
