"""A class of 40 or more made-up hand-ins, each with the points it must get: as many as the planned mistakes need.

    python -m tests.grading.make_class FOLDER     writes the class, prints what each learner must get

A worked answer earns all points, what is not answered earns none. A planned mistake
earns what it earns when it is tried in this process, and at most what the claims
it declares leave. Broken and hostile ones say which line the report must hold.
"""

import io
import json
import os
import struct
import sys
import zipfile
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from rigkit.course import chapters
from rigkit.course.collect import collect
from rigkit.course.context import cases
from rigkit.course.judge import judge
from rigkit.files import shared
from rigkit.grading import intake, marking
from tests.grading import answers

CHAPTERS = ("00", "01", "02", "03", "04", "05", "06", "11")  # 07, 08 and 10 would add 45 s of work to a class
SIZE = 40  # at least
PERFECT = 3  # at least, beside the zip


@dataclass
class Expected:
    """What one learner must get: chapter to (points, status), and words that must stand in a line about them."""

    points: dict = field(default_factory=dict)
    lines: list = field(default_factory=list)
    missed: dict = field(default_factory=dict)  # (checkpoint, claim) that must be missed -> the planned mistake it must be known as


def make(folder):
    """Write the class below `folder`; return learner id to Expected."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    expected = {}
    expected["perfect-zip"] = _perfect_zip(folder, "perfect-zip")
    for number in range(max(len(c.mistakes) for one in CHAPTERS for c in chapters.get(one).checkpoints)):
        learner = f"mistake-{number + 1:02}"
        expected[learner] = _mistaken(folder, learner, number)
    for number in range(1, 3):
        learner = f"partly-{number}"
        expected[learner] = _partly(folder, learner, number)
    expected["untouched"] = _untouched(folder, "untouched")
    for name, make_one in {**HOSTILE, **BROKEN}.items():
        expected[name] = make_one(folder, name)
    for number in range(1, 1 + max(PERFECT, SIZE - len(expected))):
        expected[f"perfect-{number}"] = _perfect(folder, f"perfect-{number}", CHAPTERS)
    return expected


# --- notebooks -------------------------------------------------------------------------------------------------------


def notebook(sources, nbformat=4):
    """The bytes of a notebook with these code cells."""
    cells = [
        {
            "cell_type": "code",
            "id": f"cell-{i}",
            "metadata": {},
            "execution_count": None,
            "outputs": [],
            "source": source.splitlines(keepends=True),
        }
        for i, source in enumerate(sources)
    ]
    return json.dumps({"cells": cells, "metadata": {}, "nbformat": nbformat, "nbformat_minor": 5}, indent=1).encode()


@cache
def learner_cells(chapter_id):
    """The code cells of a chapter's learner copy."""
    return tuple(intake.cells(shared("workbooks", chapters.get(chapter_id).file).read_bytes()))


def answered(chapter_id, learner, mistakes=None, only=None):
    """A learner copy's cells with answers before each check. mistakes: checkpoint id to Mistake; only: checkpoints that are answered."""
    out = []
    for source in learner_cells(chapter_id):
        for checkpoint in chapters.get(chapter_id).checkpoints:
            if source.strip().startswith(f'check("{checkpoint.id}")') and (only is None or checkpoint.id in only):
                out.append(answers.cell(checkpoint, learner, (mistakes or {}).get(checkpoint.id)))
        out.append(source)
    return out


def hand_in(folder, learner, chapter_id, data):
    """Put a notebook where a learner's hand-in lies."""
    place = Path(folder) / learner
    place.mkdir(exist_ok=True)
    (place / chapters.get(chapter_id).file).write_bytes(data)


def automatic(chapter_id):
    """The points a chapter gives without a reader."""
    return sum(checkpoint.points for checkpoint in chapters.get(chapter_id).checkpoints if checkpoint.kind != "text")


def waits(chapter_id, only=None):
    """The status of a chapter whose answers were all read by the machine."""
    texts = [c.id for c in chapters.get(chapter_id).checkpoints if c.kind == "text" and (only is None or c.id in only)]
    return "awaits a reader" if texts else "graded"


# --- the class: sound hand-ins ---------------------------------------------------------------------------------------


def _perfect(folder, learner, ids):
    for one in ids:
        hand_in(folder, learner, one, notebook(answered(one, learner)))
    return Expected({one: (automatic(one), waits(one)) for one in ids})


def _perfect_zip(folder, learner):
    with zipfile.ZipFile(folder / f"{learner}.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        for one in CHAPTERS:
            archive.writestr(chapters.get(one).file, notebook(answered(one, learner)))
    return Expected({one: (automatic(one), waits(one)) for one in CHAPTERS})


def _mistaken(folder, learner, number):
    """One planned mistake in every checkpoint that has so many, the worked answer in the others."""
    expected = Expected()
    for one in CHAPTERS:
        checkpoints = chapters.get(one).checkpoints
        mistakes = {c.id: c.mistakes[number] for c in checkpoints if len(c.mistakes) > number}
        if not mistakes:
            continue
        hand_in(folder, learner, one, notebook(answered(one, learner, mistakes)))
        missed = 0
        for checkpoint in checkpoints:
            if checkpoint.id in mistakes:
                mistake = mistakes[checkpoint.id]
                missed += checkpoint.points - points_here(checkpoint, learner, mistake)
                expected.missed |= {(checkpoint.id, claim): mistake.name for claim in mistake.misses}
        expected.points[one] = (automatic(one) - missed, waits(one))
    return expected


def points_here(checkpoint, learner, mistake):
    """What a planned mistake earns when it is tried in this process, as an object, without a notebook or a box.

    A mistake declares the claims it must miss; on some robots and inputs it misses more, so they can't simply be added up.
    """
    ticket = marking.ticket(learner, checkpoint.id[:2])
    context = marking.context_of(ticket.chapter, ticket.variant)
    tried = cases(checkpoint, context, ticket.seeds[checkpoint.id])
    if checkpoint.kind == "function":
        (name,) = checkpoint.names
        namespace = {name: mistake.answer}
    else:
        namespace = {**checkpoint.worked(context), **mistake.answer(context)}
    result = judge(checkpoint, collect(checkpoint, namespace, tried), context, tried)
    assert {claim.id for claim in result.claims if claim.earned < claim.points} >= set(mistake.misses), (
        checkpoint.id,
        mistake.name,
        learner,
    )
    return result.earned


def _partly(folder, learner, number):
    """Every third checkpoint left out, a different third each."""
    expected = Expected()
    for one in CHAPTERS:
        checkpoints = chapters.get(one).checkpoints
        only = {c.id for i, c in enumerate(checkpoints) if (i + number) % 3}
        hand_in(folder, learner, one, notebook(answered(one, learner, only=only)))
        expected.points[one] = (sum(c.points for c in checkpoints if c.id in only and c.kind != "text"), waits(one, only))
    return expected


def _untouched(folder, learner):
    for one in CHAPTERS:
        hand_in(folder, learner, one, notebook(learner_cells(one)))
    return Expected({one: (0, "graded") for one in CHAPTERS})


# --- the class: hostile hand-ins -------------------------------------------------------------------------------------


def _with_cells(chapter_id, points, status, lines, *cells, first=False):
    """A hand-in with all right answers and cells that do harm, behind them or (first) before them."""

    def make_one(folder, learner):
        right = answered(chapter_id, learner)
        hand_in(folder, learner, chapter_id, notebook([*cells, *right] if first else [*right, *cells]))
        return Expected({chapter_id: (points(chapter_id), status)}, list(lines))

    return make_one


HOSTILE = {
    "endless-loop": _with_cells("00", automatic, "graded", [], "while True:\n    pass", first=True),
    "endless-in-c": _with_cells(
        "00",
        automatic,
        "needs a look",
        ["took too long in code cell 1; it was run once more without that"],
        "sum(iter(int, 1))",
        first=True,
    ),
    "exits-hard": _with_cells("00", automatic, "needs a look", ["Python itself ended in code cell"], "import os; os._exit(0)"),
    "fork-bomb": _with_cells(
        "00",
        automatic,
        "needs a look",
        ["in code cell"],
        "import os\nwhile True:\n    try:\n        os.fork()\n    except OSError:\n        pass",
    ),
    "prints-a-lot": _with_cells("00", automatic, "graded", [], "for i in range(20000):\n    print('x' * 1000)"),
    "says-its-points": _with_cells(
        "00",
        lambda one: 0,
        "needs a look",
        ["no message is of the kind 'points'"],
        "import os\nheight = towards_left = quarter_turn = None\n"
        "for handle in range(3, 20):\n    try:\n        os.write(handle, b'{\"kind\":\"points\",\"points\":3}\\n')\n"
        "    except OSError:\n        pass",
    ),
}


# --- the class: broken hand-ins --------------------------------------------------------------------------------------


def _bytes(chapter_id, data, line):
    def make_one(folder, learner):
        hand_in(folder, learner, chapter_id, data() if callable(data) else data)
        return Expected({chapter_id: (0, "unreadable")}, [line])

    return make_one


def _cut(learner="cut-short"):
    return notebook(answered("00", learner))[:-500]


def _huge(folder, learner):
    hand_in(folder, learner, "00", b"")
    os.truncate(folder / learner / chapters.get("00").file, 500 << 20)
    return Expected({"00": (0, "unreadable")}, ["it has 524288000 bytes"])


def _link(folder, learner):
    (folder / learner).mkdir()
    (folder / learner / chapters.get("00").file).symlink_to(folder / "partly-1" / chapters.get("00").file)
    return Expected({"00": (0, "unreadable")}, ["it is a link"])


def _pipe(folder, learner):
    (folder / learner).mkdir()
    os.mkfifo(folder / learner / chapters.get("00").file)
    return Expected({"00": (0, "unreadable")}, ["it is not a regular file"])


def _climbing_zip(folder, learner):
    with zipfile.ZipFile(folder / f"{learner}.zip", "w") as archive:
        archive.writestr("../" + chapters.get("00").file, notebook(["1"]))
    return Expected({}, ["a name that climbs out"])


def _bomb(folder, learner):
    with zipfile.ZipFile(folder / f"{learner}.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(chapters.get("00").file, b"\0" * (9 << 20))
    return Expected({}, ["unpacks to"])


def _wrong_checksum(folder, learner):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_STORED) as archive:
        archive.writestr(chapters.get("00").file, notebook(["1"]))
    data = bytearray(stream.getvalue())
    data[60] ^= 0xFF  # a letter inside the stored notebook
    (folder / f"{learner}.zip").write_bytes(data)
    return Expected({"00": (0, "unreadable")}, ["it can't be unpacked"])


def _cut_zip(folder, learner):
    with zipfile.ZipFile(folder / f"{learner}.zip", "w") as archive:
        archive.writestr(chapters.get("00").file, notebook(["1"]))
    data = (folder / f"{learner}.zip").read_bytes()
    (folder / f"{learner}.zip").write_bytes(data[:-30])
    return Expected({}, ["it is not a zip, or was cut short"])


def _thousands(folder, learner):
    with zipfile.ZipFile(folder / f"{learner}.zip", "w") as archive:
        for i in range(3000):
            archive.writestr(f"{i}.txt", b"")
    return Expected({}, ["more than 200 files"])


def _nothing(folder, learner):
    (folder / learner).mkdir()
    (folder / learner / "notes.txt").write_text("I could not come.")
    return Expected({}, ["nothing to grade was handed in"])


BROKEN = {
    "cut-short": _bytes("00", _cut, "it is not a notebook"),
    "empty": _bytes("00", b"", "it is empty"),
    "binary": _bytes("00", struct.pack("<256I", *range(0xF0000000, 0xF0000100)), "not UTF-8"),
    "nested": _bytes("00", b"[" * 200_000, "nested too deep"),
    "old-format": _bytes("00", lambda: notebook(["1"], nbformat=3), "format 3"),
    "no-cells": _bytes("00", b'{"nbformat": 4, "cells": 7}', "without a list of cells"),
    "huge": _huge,
    "link": _link,
    "pipe": _pipe,
    "climbing": _climbing_zip,
    "bomb": _bomb,
    "wrong-checksum": _wrong_checksum,
    "cut-zip": _cut_zip,
    "thousands": _thousands,
    "nothing": _nothing,
}


if __name__ == "__main__":
    for who, what in make(sys.argv[1]).items():
        told = ", ".join(f"{chapter}: {points} {status}" for chapter, (points, status) in what.points.items())
        print(f"{who:16} {told} {'; '.join(what.lines)}")
