"""What a learner has done so far, kept in a small database beside their notebooks.

Attempts, the best of every claim, hints taken, predictions, answers to the
small questions, and the source of functions that passed. It never leaves the
machine. Without a learner.toml it is kept in memory and gone with the kernel.
"""

import contextlib
import datetime
import sqlite3
import sys
from fractions import Fraction
from pathlib import Path

FILE = "progress.sqlite"
SCHEMA = 1
_TABLES = """
create table if not exists about (schema integer not null);
create table if not exists attempts (id integer primary key, checkpoint text not null, at text not null, outcome text not null,
    earned text not null, points integer not null);
create table if not exists claims (checkpoint text, claim text, earned text not null, points integer not null, primary key (checkpoint, claim));
create table if not exists hints (checkpoint text primary key, at text not null);
create table if not exists predictions (key text primary key, first text not null, last text not null, at text not null);
create table if not exists answers (chapter text, list text, number integer, answer text not null, right integer not null, at text not null,
    primary key (chapter, list, number));
create table if not exists sources (checkpoint text, name text, source text not null, at text not null, primary key (checkpoint, name));
"""


class Progress:
    """One learner's progress. Every call is one short transaction, so that two open chapters don't wait for each other."""

    def __init__(self, folder=None):
        """Open the database in `folder`; None keeps it in memory. A damaged file is set aside, not deleted, and said so."""
        self.path = None if folder is None else Path(folder) / FILE
        self.note = ""
        try:
            self._base = _open(self.path)
        except sqlite3.OperationalError as error:
            self.note = f"progress can't be kept in {self.path} ({error}); it is kept in memory until the kernel stops"
            self.path, self._base = None, _open(None)
        except (sqlite3.DatabaseError, ValueError) as error:
            aside = _set_aside(self.path)
            self.note = f"{self.path.name} could not be read ({error}); it was set aside as {aside.name} and a new one begun"
            self._base = _open(self.path)

    @contextlib.contextmanager
    def _writing(self):
        """One transaction; one that can't be written becomes a note and stops nobody."""
        try:
            yield self._base
            self._base.commit()
        except sqlite3.Error as error:
            self.note = f"this step could not be kept in {self.path or 'memory'} ({error}); checks go on as before"
        finally:
            with contextlib.suppress(sqlite3.Error):
                self._base.rollback()  # nothing is left of a step that failed half-way

    def close(self):
        """Close the database."""
        self._base.close()

    def attempt(self, result, sources=None):
        """Keep a judged Result: an attempt, and the best of every claim. sources: answer name to the text of a function that passed."""
        if result.outcome in ("not started", "name missing"):
            return
        with self._writing() as base:
            base.execute("insert into attempts (checkpoint, at, outcome, earned, points) values (?, ?, ?, ?, ?)",
                         (result.checkpoint, _now(), result.outcome, str(result.earned), result.points))
            best = self.best(result.checkpoint)
            for claim in result.claims:
                earned = max(claim.earned, best.get(claim.id, Fraction(0)))
                base.execute("insert or replace into claims values (?, ?, ?, ?)", (result.checkpoint, claim.id, str(earned), claim.points))
            for name, source in (sources or {}).items():
                base.execute("insert or replace into sources values (?, ?, ?, ?)", (result.checkpoint, name, source, _now()))

    def attempts(self, checkpoint):
        """How often a checkpoint was tried; a check of an untouched answer doesn't count."""
        return self._one("select count(*) from attempts where checkpoint = ?", checkpoint) or 0

    def best(self, checkpoint):
        """Return a dict of claim id to the best points earned so far."""
        rows = self._rows("select claim, earned from claims where checkpoint = ?", checkpoint)
        return {claim: Fraction(earned) for claim, earned in rows}

    def hint(self, checkpoint):
        """Keep that a hint was taken."""
        with self._writing() as base:
            base.execute("insert or ignore into hints values (?, ?)", (checkpoint, _now()))

    def hinted(self, checkpoint):
        """Whether a hint was taken."""
        return bool(self._one("select count(*) from hints where checkpoint = ?", checkpoint))

    def predict(self, key, value):
        """Keep a prediction; the first one stays beside the latest. Return the first."""
        with self._writing() as base:
            base.execute("insert into predictions values (?, ?, ?, ?) on conflict (key) do update set last = excluded.last", (key, value, value, _now()))
        return self._one("select first from predictions where key = ?", key) or value

    def answer(self, chapter, kind, number, answer, right):
        """Keep the latest answer to a small question."""
        with self._writing() as base:
            base.execute("insert or replace into answers values (?, ?, ?, ?, ?, ?)", (chapter, kind, number, answer, int(right), _now()))

    def source(self, checkpoint, name):
        """Return the text of a function that passed, or None."""
        return self._one("select source from sources where checkpoint = ? and name = ?", checkpoint, name)

    def table(self, checkpoints):
        """Return a list of rows (id, title, best points, points, attempts, hint taken), one for each checkpoint."""
        return [(one.id, one.title, sum(self.best(one.id).values(), Fraction(0)), one.points, self.attempts(one.id), self.hinted(one.id))
                for one in checkpoints]

    def _one(self, query, *values):
        rows = self._rows(query, *values)
        return rows[0][0] if rows else None

    def _rows(self, query, *values):
        try:
            return self._base.execute(query, values).fetchall()
        except sqlite3.Error as error:
            self.note = f"{self.path or 'progress'} could not be read ({error}); checks go on as before"
            return []


# -- helpers


def _open(path):
    base = sqlite3.connect(":memory:" if path is None else path, timeout=10.0, check_same_thread=False)
    try:
        with base:
            base.executescript(_TABLES)
            row = base.execute("select schema from about").fetchone()
            if row is None:
                base.execute("insert into about values (?)", (SCHEMA,))
            elif row[0] != SCHEMA:
                raise ValueError(f"it has schema {row[0]}, this version reads {SCHEMA}")
    except BaseException:
        base.close()
        raise
    return base


def _set_aside(path):
    """Rename a file that can't be read, with all that belongs to it; return the new path."""
    number = next(n for n in range(1, sys.maxsize) if not path.with_name(f"progress-set-aside-{n}.sqlite").exists())
    aside = path.with_name(f"progress-set-aside-{number}.sqlite")
    path.rename(aside)
    for tail in ("-journal", "-wal", "-shm"):
        beside = path.with_name(path.name + tail)
        if beside.exists():
            beside.rename(aside.with_name(aside.name + tail))
    return aside


def _now():
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")
