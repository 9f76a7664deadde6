"""The learner's folder, and JupyterLab opened on it: what `rigkit lab` does.

A learner works on copies. A chapter that was not touched since it was copied is
replaced by a newer one. A chapter with work in it is kept as it is under another
name, and the newer copy takes its place with the answers moved in; one that can't
be read stays, and the newer copy is laid beside it. What was copied when is kept in
`.rigkit/copied.json`.
"""

import functools
import hashlib
import itertools
import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from rigkit.course import chapters, coursefile, learner
from rigkit.course.moving import moved
from rigkit.files import shared

SETTINGS = Path(__file__).resolve().parent / "lab_settings"


@dataclass(frozen=True)
class Copied:
    """What happened to one chapter: "new", "same", "renewed", "moved" (`beside` names the older notebook, as it was, and `answers`
    tells how many cells were moved) or "kept" (`beside` names the newer copy)."""

    name: str
    what: str
    beside: str = ""
    answers: int = 0

    def __str__(self):
        if self.what == "moved":
            cells = f"{self.answers} of your cells {'was' if self.answers == 1 else 'were'} moved into it"
            return f"a newer text; {cells}, and your notebook is kept as it was in {self.beside}"
        return f"kept your work; the newer text is beside it as {self.beside}" if self.beside else self.what


def prepare(folder, learner_id=None, course=None):
    """Lay the chapters and the learner's file into `folder`; return (learner, list of Copied).

    course: the path of a course file, laid beside them; its chapters only. Without one, the course of the folder stays.
    A folder that can't be written, or a course file that can't be read, is a ValueError that names it.
    """
    folder = Path(folder).expanduser()
    if course is not None:
        coursefile.read(course)
    try:
        (folder / ".rigkit").mkdir(parents=True, exist_ok=True)
        who = _learner(folder, learner_id)
        if course is not None:
            _write(folder / coursefile.FILE, Path(course).read_bytes())
        coursefile.use(coursefile.of_folder(folder))
        return who, copy_chapters(folder)
    except OSError as error:
        raise ValueError(f"can't write to {folder} ({error.strerror}); choose another place with --folder") from None


def _learner(folder, learner_id):
    """The learner this folder belongs to; a new folder gets `learner_id` or an id made up for practice."""
    known = learner.read(folder)
    if known is None:
        return learner.write(folder, learner_id or learner.practice_id())
    if learner_id and learner_id != known.id:
        raise ValueError(f"{folder} belongs to learner {known.id!r}, not {learner_id!r}; choose another place with --folder")
    return known


def copy_chapters(folder):
    """Copy each chapter's learner copy to `folder` as the module's docstring says; return a list of Copied."""
    record_file = folder / ".rigkit" / "copied.json"
    record = _read_record(record_file)
    done = []
    there = {source.name[:2]: source for source in shared("workbooks").glob("[0-9][0-9]-*.ipynb")}
    for source in (there[one] for one in chapters.ids() if one in there):
        done.append(_copy(source, folder / source.name, record))
        record_file.write_text(json.dumps(record, indent=1, sort_keys=True), encoding="utf-8")
    glossary = shared("workbooks") / "glossary.md"  # nobody works in it: the newest is laid down
    if glossary.exists():
        _write(folder / glossary.name, glossary.read_bytes())
    return done


def _read_record(record_file):
    """What was copied before: chapter name to the digest it had; nothing where the file is missing or damaged."""
    try:
        record = json.loads(record_file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return record if isinstance(record, dict) else {}


@functools.lru_cache(maxsize=32)
def fresh(notebook):
    """The bytes of a notebook without what a run left in it: outputs of another robot would mislead, and spoil predictions."""
    told = json.loads(notebook)
    for cell in told["cells"]:
        if cell["cell_type"] == "code":
            cell["outputs"], cell["execution_count"] = [], None
    return json.dumps(told, indent=1, ensure_ascii=False).encode() + b"\n"


def _copy(source, target, record):
    laid = fresh(source.read_bytes())
    new = hashlib.sha256(laid).hexdigest()
    if not target.exists():
        what = Copied(source.name, "new")
    elif _digest(target) == new or record.get(source.name) == new:
        return Copied(source.name, "same")  # this version is the one they have, worked on or not
    elif _digest(target) == record.get(source.name):
        what = Copied(source.name, "renewed")
    else:
        what, target, laid = _beside_work(target, laid)
    _write(target, laid)
    record[source.name] = new
    return what


def _beside_work(target, laid):
    """(what happens, where the newer copy goes, its bytes) for a chapter with work in it. The work itself is renamed at most."""
    try:
        answered, count = moved(target.read_bytes(), laid)
    except ValueError:
        beside = target.with_name(f"{target.stem}-newer.ipynb")
        return Copied(target.name, "kept", beside.name), beside, laid
    older = next(path for n in itertools.count(1) if not (path := target.with_name(f"{target.stem}-older{n if n > 1 else ''}.ipynb")).exists())
    target.rename(older)
    return Copied(target.name, "moved", older.name, count), target, answered


def _write(target, data):
    """Write a file whole or not at all."""
    half = target.with_suffix(".part")
    half.write_bytes(data)
    half.replace(target)


def _digest(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


def command(folder, port=None, browser=True):
    """The command line that opens JupyterLab on `folder`, as a list."""
    line = [
        sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={Path(folder).expanduser().resolve()}",
        f"--LabApp.app_settings_dir={SETTINGS}", f"--LabApp.default_url=/lab/tree/{chapters.get(chapters.ids()[0]).file}", "--LabApp.news_url=",
    ]
    line += [f"--ServerApp.port={port}"] if port else []
    line += [] if browser else ["--no-browser"]
    line += ["--allow-root"] if getattr(os, "geteuid", lambda: 1)() == 0 else []  # containers; it listens on this machine only
    return line


def open_lab(folder, port=None, browser=True):
    """Run JupyterLab on `folder` until it is stopped; return its exit code."""
    environment = {**os.environ, "JUPYTER_WIDGETS_ECHO": "0"}  # a third fewer messages while dragging
    try:
        return subprocess.call(command(folder, port, browser), env=environment)
    except KeyboardInterrupt:
        return 0
