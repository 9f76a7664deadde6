"""The tables of a class's record, and the way from every older form of them to this one."""

import contextlib
import os
import sqlite3

SCHEMA = 2
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
HAND_INS = """
CREATE TABLE hand_ins (
    learner TEXT NOT NULL, chapter TEXT NOT NULL, file TEXT NOT NULL, key TEXT NOT NULL REFERENCES notebooks, content TEXT NOT NULL,
    time TEXT NOT NULL, PRIMARY KEY (learner, chapter, file));
CREATE TABLE changes (
    learner TEXT NOT NULL, chapter TEXT NOT NULL, before TEXT NOT NULL, after TEXT NOT NULL, why TEXT NOT NULL, told_at TEXT NOT NULL);
"""
# From each older form to the next one.
STEPS = {
    1: HAND_INS + "INSERT INTO hand_ins SELECT learner, chapter, file, key, '', '' FROM counting;",
}


def open_database(path):
    """Open a record, made new or brought to this schema; one of a newer rigkit is a ValueError.

    An older one is copied to PATH.schema-N before it is changed.
    """
    database = sqlite3.connect(path, isolation_level=None, timeout=30)
    try:
        database.execute("PRAGMA journal_mode = WAL")
        database.execute("PRAGMA synchronous = NORMAL")
        database.execute("PRAGMA foreign_keys = ON")
        version = database.execute("PRAGMA user_version").fetchone()[0]
        if version > SCHEMA:
            raise ValueError(
                f"{path} was written by a newer rigkit (schema {version}, this one knows {SCHEMA}); update rigkit, or choose another --out"
            )
        if version == 0:
            _change(database, TABLES + HAND_INS)
        elif version < SCHEMA:
            copy(database, f"{path}.schema-{version}")
            _change(database, "".join(STEPS[one] for one in range(version, SCHEMA)))
    except BaseException:
        database.close()
        raise
    return database


def copy(database, path):
    """Copy an open record to a file, whole or not at all (SQLite's online backup); the copy is checked before it gets its name."""
    half = f"{path}.part"
    with contextlib.suppress(FileNotFoundError):
        os.remove(half)
    with contextlib.closing(sqlite3.connect(half)) as target:
        database.backup(target)
        told = target.execute("PRAGMA integrity_check").fetchone()[0]
        target.execute("PRAGMA journal_mode = DELETE")
    if told != "ok":
        raise ValueError(f"the record is damaged: {told}")
    os.replace(half, path)


def _change(database, script):
    """Run a script as one transaction that ends in this schema."""
    try:
        database.executescript(f"BEGIN IMMEDIATE; {script} PRAGMA user_version = {SCHEMA}; COMMIT;")
    except BaseException:
        if database.in_transaction:
            database.execute("ROLLBACK")
        raise
