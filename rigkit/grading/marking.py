"""One notebook from bytes to points: its cells run in the box, what comes out is judged here.

A pure function of the notebook's bytes and a ticket (learner, variant, seeds of
the hidden inputs), so that it can run on any machine. The judge is the learner's
own check, rigkit.course.judge; only the inputs differ. A notebook that ends
itself early is run once more without the cell that did it, and keeps what it
answered before.
"""

import builtins
import hashlib
import hmac
import io
import pickle
import threading
import types
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache
from importlib import import_module
from types import MappingProxyType

from rigkit import __version__
from rigkit.course import chapters, earlier, judge
from rigkit.course import context as contexts
from rigkit.course.checkpoint import Call, Record
from rigkit.course.learner import variant_of
from rigkit.files import shared
from rigkit.grading import box, intake, package, records

FIXED_SECRET = b"rigkit: a course without a secret of its own"
SET_UP = """\
import numpy as np
import rigkit as rk
from rigkit.course import open_chapter
chapter = open_chapter("{id}")
check, hint, show = chapter.check, chapter.hint, chapter.show
robot = chapter.robot
"""
WHY = {
    "time": "it took too long",
    "memory": "it used more memory than there is for one notebook",
    "processes": "it started too many processes",
    "files": "it made too many files",
    "disk": "it wrote more than there is room for",
    "flood": "it sent out more than we read",
    "died": "Python itself ended",
}
_JUDGING = threading.Lock()  # a judge sets numpy's warnings and random numbers apart for the whole process


@dataclass(frozen=True)
class Ticket:
    """What grading needs to know about a notebook beside its bytes."""

    learner: str
    chapter: str
    variant: int
    seeds: dict = field(default_factory=dict)  # checkpoint id to bytes
    limits: box.Limits = box.Limits()
    mode: str = "box"  # of box.MODES


@dataclass(frozen=True)
class Graded:
    """A graded notebook: its results in the chapter's order, and every line somebody should read.

    status: "graded", "look" (graded, and somebody should look why it says so) or "unreadable" (no points).
    errors: cell number to what stopped it. texts: (checkpoint, name) to a text answer for a reader.
    """

    learner: str
    chapter: str
    status: str
    lines: tuple = ()
    results: tuple = ()
    errors: dict = field(default_factory=dict)
    texts: dict = field(default_factory=dict)
    variant: int = 0
    seconds: float = 0.0
    mode: str = "box"

    @property
    def earned(self):
        """Points earned, an exact fraction."""
        return sum((result.earned for result in self.results), Fraction(0))


def ticket(learner, chapter_id, secret=None, limits=box.Limits(), mode="box"):
    """Return the Ticket of one learner's chapter; the same one on every run of the same course."""
    ids = [checkpoint.id for checkpoint in chapters.get(chapter_id).checkpoints]
    seeds = {one: seed(secret or FIXED_SECRET, __version__, learner, one) for one in ids}
    return Ticket(learner, chapter_id, variant_of(learner), seeds, limits, mode)


def seed(secret, course, learner, checkpoint):
    """The seed of a checkpoint's hidden inputs: HMAC-SHA256 (RFC 2104) of who and what, under the course's secret.

    >>> seed(b"secret", "1", "ada7", "06.2").hex()[:16]
    'dda18612a9a466bf'
    """
    told = f"{course}\0{learner}\0{checkpoint}".encode()
    return hmac.new(secret, told, hashlib.sha256).digest()


def grade(data, ticket, folder):
    """Grade one notebook.

    data: the bytes of the .ipynb. folder: where the box's copies of the package are kept. Returns a Graded, whatever the data is.
    """
    chapter = chapters.get(ticket.chapter)
    try:
        sources = intake.cells(data)
    except intake.Trouble as why:
        return unreadable(ticket, str(why))
    context = context_of(ticket.chapter, ticket.variant)
    cases = {c.id: contexts.cases(c, context, ticket.seeds[c.id]) if c.kind == "function" else [] for c in chapter.checkpoints}
    runs = _runs(chapter, context, _with_set_up(chapter, sources), cases, ticket, folder)
    collected = [_record(checkpoint, runs, cases[checkpoint.id]) for checkpoint in chapter.checkpoints]
    with _JUDGING:
        results = [
            judge.judge(c, record, context, cases[c.id] or contexts.cases(c, context))
            for c, (record, _) in zip(chapter.checkpoints, collected)
        ]
    results = [_kinds_only(result) if c.kind == "function" else result for c, result in zip(chapter.checkpoints, results)]
    lines = _lines(runs) + [line for _, line in collected if line] + [line for result in results for line in _faults(result)]
    errors = {number: line for run in runs for number, line in run.errors.items() if not _only_shows(chapter, sources[number - 1], line)}
    texts = {
        (c.id, name): call.value
        for c, (record, _) in zip(chapter.checkpoints, collected)
        if c.kind == "text"
        for name, call in record.values.items()
        if type(call.value) is str
    }
    seconds = sum(run.seconds for run in runs)
    return Graded(
        ticket.learner,
        ticket.chapter,
        "look" if lines else "graded",
        tuple(lines),
        tuple(results),
        errors,
        texts,
        ticket.variant,
        seconds,
        ticket.mode,
    )


def unreadable(ticket, why):
    """The Graded of a notebook that can't be read: no points, and the reason."""
    return _without_points(ticket, "unreadable", why, "the notebook could not be read")


def failed(ticket, why):
    """The Graded of a notebook that the grader itself failed on: no points yet, and the reason."""
    return _without_points(ticket, "look", why, "grading itself failed")


def _without_points(ticket, status, why, line):
    results = tuple(
        judge.judge(c, Record(c.id, "not started", line), Blank(ticket.variant), []) for c in chapters.get(ticket.chapter).checkpoints
    )
    return Graded(ticket.learner, ticket.chapter, status, (why,), results, variant=ticket.variant, mode=ticket.mode)


class Failed(Exception):
    """The grader could not do its work; nothing that was handed in is the cause."""


@dataclass(frozen=True)
class Blank:
    """A context of which only the variant is asked."""

    variant: int


@lru_cache(maxsize=8)
def context_of(chapter_id, variant):
    """The Context of a chapter for one variant."""
    return contexts.context(chapters.get(chapter_id), variant)


# --- running ---------------------------------------------------------------------------------------------------------


def _runs(chapter, context, cells, cases, ticket, folder):
    """Run the cells; once more without what ended them early. Latest run first."""
    copy = package.build(chapter, folder)
    job = {
        "cells": cells,
        "leave_out": [],
        "seconds": {"cell": ticket.limits.cell, "grace": ticket.limits.grace},
        "handed": _handed(chapter, context),
        "checkpoints": [{"id": c.id, "kind": c.kind, "names": list(c.names), "seconds": c.seconds} for c in chapter.checkpoints],
    }
    first = box.run(copy, job, cases, ticket.limits, ticket.mode)
    if first.where == "start" and first.ended != "stopped":
        raise Failed(f"the box did not start: {WHY.get(first.ended, first.ended)} {first.detail}")
    if first.ended in ("done", "stopped") or first.where == "answers":
        return [first]
    greedy = [number for number, line in first.errors.items() if line.startswith(("took too long", "MemoryError"))]
    if type(first.where) is int or greedy:
        job["leave_out"] = [first.where] if type(first.where) is int else greedy
    else:
        job["checkpoints"] = [c for c in job["checkpoints"] if c["id"] != first.where]
    return [box.run(copy, job, cases, ticket.limits, ticket.mode), first]


def _with_set_up(chapter, sources):
    """Our own set-up cell first; the learner's copy of it, when it is unchanged, becomes empty so that cells keep their numbers."""
    ours = set_up(chapter)
    return [ours, *("" if source.strip() == ours.strip() else source for source in sources)]


def _only_shows(chapter, source, error):
    """Whether a cell is ours as printed and stopped for being closed: it shows something that is not shown while grading."""
    return error.startswith("closed book") and source.strip() in _printed(chapter.file)


@lru_cache(maxsize=64)
def _printed(file):
    """The code cells of a learner copy as it is printed, a dict of their sources in order; empty where there is none."""
    try:
        return dict.fromkeys(source.strip() for source in intake.cells(shared("workbooks", file).read_bytes()))
    except (FileNotFoundError, intake.Trouble):
        return {}


@lru_cache(maxsize=64)
def _set_up_of(chapter_id, file):
    return next((source for source in _printed(file) if "open_chapter(" in source), SET_UP.format(id=chapter_id))


def set_up(chapter):
    """The source of the cell that opens a chapter, as its learner copy has it."""
    return _set_up_of(chapter.id, chapter.file)


def _handed(chapter, context):
    """What the chapter hands out, for the program in the box to unpack."""
    stream = io.BytesIO()
    _Pickler(stream, pickle.HIGHEST_PROTOCOL).dump(
        {
            "id": chapter.id,
            "title": chapter.title,
            "variant": context.variant,
            "robot": chapter.model(context.robot),
            "given": dict(context.given),
            "earlier": earlier.handed(chapter, context),
        }
    )
    return stream.getvalue()


class _Pickler(pickle.Pickler):
    """Read-only dicts travel as what they show; their type is found by the one name it has, in `types`."""

    def reducer_override(self, value):
        if type(value) is MappingProxyType:
            return MappingProxyType, (dict(value),)
        if value is MappingProxyType:
            return getattr, (types, "MappingProxyType")
        if value is types:
            return import_module, ("types",)
        return NotImplemented


# --- from raw records to what the judge reads ------------------------------------------------------------------------


def _record(checkpoint, runs, cases):
    """(the Record of a checkpoint, a line when something about it is odd). Answers before early ones, the latest run first."""
    found, odd = [], ""
    for kind in ("answers", "early"):
        for run in runs:
            data = getattr(run, kind).get(checkpoint.id)
            if data is None:
                continue
            try:
                found.append(_sound(checkpoint, records.read_record(data), cases))
            except records.Refused as why:
                odd = f"checkpoint {checkpoint.id}: what came out of the box is no record: {why}"
    if found:
        return _with_earlier(found), odd
    return _no_record(checkpoint, runs, odd), odd


def _with_earlier(found):
    """The first of several Records; a value it lacks is taken from a later one, which tells what was there at a check."""
    first, *others = found
    values = dict(first.values)
    for name, call in first.values.items():
        if call.outcome == "name missing":
            values[name] = next((other.values[name] for other in others if other.values[name].outcome == "ok"), call)
    changed = values != dict(first.values)
    return replace(first, outcome="ok", line="", values=values) if changed else first


def _no_record(checkpoint, runs, odd):
    """The Record of a checkpoint of which nothing came out."""
    ended = next((run.ended for run in runs if run.where == checkpoint.id and run.ended != "done"), None)
    if ended is not None:
        return Record(
            checkpoint.id, "took too long" if ended == "time" else "stopped with an error", f"while it was tried, {WHY.get(ended, ended)}"
        )
    if odd:
        return Record(checkpoint.id, "wrong kind", "what the notebook sent for this is not an answer")
    return Record(
        checkpoint.id, "stopped with an error", f"the notebook ended before this was tried: {WHY.get(runs[0].ended, runs[0].ended)}"
    )


def _sound(checkpoint, raw, cases):
    """A decoded record as a course Record, when it fits the checkpoint; Refused when it doesn't."""
    calls = tuple(Call(call.outcome, call.value if call.outcome == "ok" else None, call.line) for call in raw.calls)
    if checkpoint.kind == "function":
        if raw.values or (raw.outcome == "ok" and len(calls) != len(cases)):
            raise records.Refused(f"{len(calls)} results for {len(cases)} calls")
        return Record(checkpoint.id, raw.outcome, raw.line, calls)
    if calls or set(raw.values) - set(checkpoint.names):
        raise records.Refused("values under other names than the checkpoint asks for")
    absent = Call("name missing", None, "")
    values = {name: raw.values.get(name, absent) for name in checkpoint.names}
    values = {name: Call(v.outcome, v.value if v.outcome == "ok" else None, v.line) for name, v in values.items()}
    return Record(checkpoint.id, raw.outcome, raw.line, values=values)


def _lines(runs):
    """What somebody should know about how a notebook ran."""
    lines = []
    for attempt, run in enumerate(reversed(runs), 1):
        if run.ended != "done":
            where = (
                f"in code cell {run.where}"
                if type(run.where) is int
                else "at the start"
                if run.where == "start"
                else f"at checkpoint {run.where}"
            )
            again = "" if attempt > 1 or len(runs) == 1 else "; it was run once more without that"
            lines.append(f"{WHY.get(run.ended, run.ended)} {where}{again}" + (f" ({run.detail})" if run.detail else ""))
        lines += [f"what came out of the box is no record: {why}" for why in dict.fromkeys(run.refused)][:5]
    return lines


def _kinds_only(result):
    """A Result whose errors from hidden calls tell their kind and the learner's own line, not their words."""
    claims = tuple(replace(c, got=_kind(c.got)) if c.outcome == "stopped with an error" else c for c in result.claims)
    return replace(
        result, claims=claims, line=_kind(result.line) if result.outcome == "stopped with an error" and result.line else result.line
    )


def _kind(told):
    head, mark, line = told.partition("  (line ")
    name = head.partition(":")[0]
    if not head or name.startswith(("while it was tried", "the notebook ended", "Python itself")):
        return told
    known = isinstance(getattr(builtins, name, None), type) or name == "LinAlgError"
    return (name if known else "an error of its own") + mark + line


def _faults(result):
    """Claims whose own check failed: for the author of the chapter to mend."""
    return [
        f"checkpoint {result.checkpoint}, claim {claim.id}: {claim.got}"
        for claim in result.claims
        if "a fault of the workbook" in claim.got
    ]
