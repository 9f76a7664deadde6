"""The record of a class: one SQLite file that one process writes, a transaction for each notebook.

A graded notebook is stored under its key, a hash of everything its points depend
on, so that the same one is never run twice. Every hand-in is kept; which one counts
for a learner and chapter stands apart, and so do points that a reader gave by hand:
they survive every new run.
"""

import contextlib
import json
import os
import sqlite3
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from fractions import Fraction
from urllib.parse import quote

from rigkit.course.checkpoint import ClaimResult, Result
from rigkit.grading import schema, times


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
        self.database = schema.open_database(path)

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
            db.execute("PRAGMA defer_foreign_keys = ON")  # what points to it finds the new one under the same key
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
        self._put("counting", {"learner": learner, "chapter": chapter, "key": key, "file": _text(file)})

    def hand_in(self, learner, chapter, file, key, content="", time=""):
        """Remember a hand-in: under which key it was graded, the hash of its bytes, when it came ("" where nobody knows)."""
        row = {"learner": learner, "chapter": chapter, "file": _text(file), "key": key, "content": content, "time": time}
        self._put("hand_ins", row)

    def _put(self, table, row):
        """Write a row unless it is there as it is."""
        same = " AND ".join(f"{name} = ?" for name in row)
        if self.database.execute(f"SELECT 1 FROM {table} WHERE {same}", (*row.values(),)).fetchone() is None:
            with self.writing() as db:
                db.execute(f"INSERT OR REPLACE INTO {table} ({', '.join(row)}) VALUES ({', '.join('?' * len(row))})", (*row.values(),))

    def hand_ins(self):
        """Every hand-in: (learner, chapter, file, time, points, whether it counts), by learner, chapter, time and file."""
        query = """SELECT h.learner, h.chapter, h.file, h.time, h.key, c.file IS NOT NULL FROM hand_ins h
                   LEFT JOIN counting c ON c.learner = h.learner AND c.chapter = h.chapter AND c.file = h.file
                   ORDER BY h.learner, h.chapter, h.time, h.file"""
        return [
            (learner, chapter, file, time, self._points(key, learner), bool(counts))
            for learner, chapter, file, time, key, counts in self.database.execute(query).fetchall()
        ]

    def choose(self, learner, chapter, files, rule="last", deadline=""):
        """Let one of the hand-ins `files` count by the rule (times.chosen); return its file, or None when none came in time."""
        found = []
        for file in files:
            query = "SELECT file, time, key FROM hand_ins WHERE learner = ? AND chapter = ? AND file = ?"
            found += self.database.execute(query, (learner, chapter, _text(file))).fetchall()
        place = times.chosen([(time, self._points(key, learner)) for _, time, key in found], rule, deadline)
        if place is None:
            with self.writing() as db:
                db.execute("DELETE FROM counting WHERE learner = ? AND chapter = ?", (learner, chapter))
            return None
        self.count(learner, chapter, found[place][2], found[place][0])
        return found[place][0]

    def standing(self):
        """(learner, chapter) to (points, hash of the bytes) of what counts now."""
        query = """SELECT c.learner, c.chapter, c.key, coalesce(h.content, '') FROM counting c
                   LEFT JOIN hand_ins h ON h.learner = c.learner AND h.chapter = c.chapter AND h.file = c.file"""
        return {
            (learner, chapter): (self._points(key, learner), content)
            for learner, chapter, key, content in self.database.execute(query).fetchall()
        }

    def add_changes(self, changes):
        """Remember who gained or lost in a run: (learner, chapter, points before, after, why) of each."""
        with self.writing() as db:
            now = _now()
            db.executemany("INSERT INTO changes VALUES (?,?,?,?,?,?)", [(a, b, str(c), str(d), why, now) for a, b, c, d, why in changes])

    def changes(self):
        """The changes of points by learner: (learner, chapter, before, after, why, when), the newest first."""
        rows = self.database.execute(
            "SELECT learner, chapter, before, after, why, told_at FROM changes ORDER BY told_at DESC, learner, chapter"
        ).fetchall()
        return [(learner, chapter, Fraction(before), Fraction(after), why, when) for learner, chapter, before, after, why, when in rows]

    def backup(self, path):
        """Copy the record to a file while it may be in use, whole or not at all."""
        schema.copy(self.database, path)

    def set_problems(self, problems, about=None):
        """Replace the lines about hand-ins that could not be taken in; about: of these learners only."""
        with self.writing() as db:
            if about is None:
                db.execute("DELETE FROM problems")
            else:
                db.executemany("DELETE FROM problems WHERE learner = ?", [(learner,) for learner in about])
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
            for table in ("counting", "hand_ins", "changes", "by_hand", "problems", "notebooks"):
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

    def _points(self, key, learner):
        """The points of one notebook, those by hand in place of the others."""
        earned = self.database.execute(
            """SELECT coalesce(b.earned, c.earned) FROM claims c LEFT JOIN by_hand b
               ON b.learner = ? AND b.checkpoint = c.checkpoint AND b.claim = c.claim WHERE c.key = ?""",
            (learner, key),
        )
        return sum((Fraction(one) for (one,) in earned), Fraction(0))

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


def known_in(path):
    """The keys a record holds, without changing or making it."""
    if not os.path.exists(path):
        return set()
    with contextlib.closing(sqlite3.connect(f"file:{quote(str(path))}?mode=ro", uri=True)) as database:
        return {key for (key,) in database.execute("SELECT key FROM notebooks")}


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
