"""What a learner hands in: one file that holds the chapters of their folder and a list of them, whose SHA-256 is the receipt.

The list, `hand-in.json`, says whose work it is and gives the hash of each notebook.
So whoever collects can tell a file that was renamed, cut or changed from a whole
one. The same work packed twice is the same file, byte by byte, with the same
receipt. The list proves nothing about who wrote the work: a learner can write one.
"""

import hashlib
import io
import json
import re
import zipfile
import zlib
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath

from rigkit import __version__
from rigkit.course import archive, chapters, coursefile, learner
from rigkit.files import shared

FILE = "hand-in.json"
RECEIPTS = "receipts.txt"  # beside the packed file: a line for each time something was packed
SCHEMA = "rigkit-hand-in-1"
LIST = 1 << 17  # bytes of a list
_DAY = (1980, 1, 1, 0, 0, 0)  # the earliest a zip can say: when a file was saved is not handed in


@dataclass(frozen=True)
class Handed:
    """A hand-in as its list tells it, and as it was found.

    learner: an id, "" where there is no sound list. files: name to hash of what the list names. found: name to hash of the
    notebooks that are there. lines: what is not whole. course: digest of the course file it was packed with.
    """

    learner: str
    files: dict
    found: dict
    lines: tuple = ()
    course: str = ""


@dataclass(frozen=True)
class Packed:
    """What was packed: the file, its receipt (SHA-256, hex), the names in it, and a line for each thing that is not whole."""

    path: Path
    receipt: str
    names: tuple
    lines: tuple


def pack(folder, who):
    """Write hand-in/LEARNER.zip with the chapters (NN-name.ipynb) of a folder and their list; return a Packed.

    who: the Learner of the folder. The file is read back as the side that collects reads it.
    """
    folder = Path(folder)
    notebooks = {path.name: path.read_bytes() for path in _notebooks(folder)}
    data = _zipped({FILE: _list(who, notebooks), **notebooks})
    (folder / "hand-in").mkdir(exist_ok=True)
    packed = folder / "hand-in" / f"{who.id}.zip"
    half = packed.with_suffix(".part")
    half.write_bytes(data)
    half.replace(packed)
    lines = [*_absent(notebooks), *_unsound(notebooks), *_whole(data)]
    done = Packed(packed, receipt(data), tuple(notebooks), tuple(lines))
    with (folder / "hand-in" / RECEIPTS).open("a", encoding="utf-8") as file:
        ids = " ".join(name[:2] for name in notebooks)
        file.write(f"{datetime.now(UTC).isoformat(timespec='seconds')}  {packed.name}  {done.receipt}  chapters {ids or 'none'}\n")
    return done


def pack_told(folder):
    """Pack for whoever a folder belongs to; return (what the learner reads, whether it is whole). ValueError where nothing can be packed."""
    folder = Path(folder).expanduser()
    who = learner.read(folder)
    if who is None:
        raise ValueError(f"{folder} belongs to no learner yet; `rigkit lab --folder {folder} --learner YOUR-ID` lays it out")
    coursefile.use(coursefile.of_folder(folder))
    try:
        packed = pack(folder, who)
    except OSError as error:
        raise ValueError(f"{error.filename or folder} can't be read or written ({error.strerror})") from None
    return told(packed), not packed.lines


def look_at(path):
    """What can be said of a packed file: (text, whether it is whole). ValueError where it can't be read."""
    try:
        data = archive.read_file(Path(path).expanduser(), archive.ARCHIVE)
        handed = check(data)
    except archive.Trouble as why:
        raise ValueError(f"{path}: {why}") from None
    lines = [f"{path}: of learner {handed.learner}" if handed.learner else f"{path}: it holds no list that says whose it is"]
    lines += [f"  {archive.printable(name)}" for name in handed.found]
    lines += ["Not whole:", *(f"  {line}" for line in handed.lines)] if handed.lines else []
    return "\n".join([*lines, f"Receipt: {receipt(data)}"]), bool(handed.learner) and not handed.lines


def receipt(data):
    """The receipt of a file's bytes: its SHA-256 (FIPS 180-4) in hex.

    >>> receipt(b"abc")[:16]
    'ba7816bf8f01cfea'
    """
    return hashlib.sha256(data).hexdigest()


def told(packed):
    """What a learner reads about a Packed."""
    counted = f"{len(packed.names)} {'chapter' if len(packed.names) == 1 else 'chapters'}"
    lines = [f"Packed {counted} into {packed.path}:", *(f"  {name}" for name in packed.names)]
    lines += ["Not whole:", *(f"  {line}" for line in packed.lines)] if packed.lines else []
    return "\n".join([*lines, f"Receipt: {packed.receipt}", f"It names exactly this file; {RECEIPTS} beside it keeps it for you."])


def check(data):
    """Return the Handed of a hand-in's bytes; Trouble when it is no zip that is read."""
    with archive.opened(data) as opened:
        return look(archive.names(opened), lambda name, most=archive.NOTEBOOK: archive.member(opened, name, most))


def look(names, read):
    """Return the Handed of files. names: paths with "/"; read(name, most): their bytes, or Trouble."""
    names = sorted(names, key=lambda name: (name.count("/"), name))
    place = next((name for name in names if PurePosixPath(name).name == FILE), None)
    found, unread = {}, {}
    for name in names:
        if name.endswith(".ipynb"):
            try:
                found[name] = receipt(read(name))
            except archive.Trouble as why:
                unread[name] = str(why)
    if place is None:
        return Handed("", {}, found)
    try:
        who, course, files = _read_list(read(place, LIST))
    except (archive.Trouble, ValueError) as why:
        return Handed("", {}, found, (f"its list, {FILE}, can't be read: {archive.printable(str(why))}",))
    below = place.removesuffix(FILE)
    files = {below + name: value for name, value in files.items()}
    beside = {name: value for name, value in found.items() if name.removeprefix(below) == PurePosixPath(name).name}
    lines = [f"{archive.printable(name)}: {why}" for name, why in unread.items()]
    return Handed(who, files, found, (*lines, *compared({name: files[name] for name in files if name not in unread}, beside)), course)


def compared(files, found):
    """One line for each way in which what was found differs from a list; both name to hash.

    >>> compared({"06-a.ipynb": "1", "07-b.ipynb": "2"}, {"06-a.ipynb": "9"})
    ['06-a.ipynb was changed after it was packed', '07-b.ipynb is on its list and not in it']
    """
    lines = [f"{archive.printable(name)} was changed after it was packed" for name in files if found.get(name) not in (None, files[name])]
    lines += [f"{archive.printable(name)} is on its list and not in it" for name in files if name not in found]
    return lines + [f"{archive.printable(name)} is in it and not on its list" for name in found if name not in files]


# -- helpers


def _notebooks(folder):
    for path in sorted(folder.glob("*.ipynb")):
        if re.fullmatch(r"\d\d-[a-z0-9-]+\.ipynb", path.name) and not re.search("-(newer|older[0-9]*)$", path.stem) and path.is_file():
            yield path


def _list(who, notebooks):
    files = {name: {"sha256": receipt(data), "bytes": len(data)} for name, data in notebooks.items()}
    told = {"schema": SCHEMA, "learner": who.id, "variant": who.variant, "rigkit": __version__, "course": coursefile.in_use().digest}
    return json.dumps({**told, "files": files}, indent=1, sort_keys=True).encode() + b"\n"


def _zipped(files):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        for name, data in files.items():
            entry = zipfile.ZipInfo(name, _DAY)
            tight = len(data) > archive.RATIO / 2 * len(zlib.compress(data))  # as tight as only a bomb is: it goes in as it is
            packed.writestr(entry, data, zipfile.ZIP_STORED if tight else zipfile.ZIP_DEFLATED)
    return stream.getvalue()


def _absent(notebooks):
    laid = {path.name for path in shared("workbooks").glob("*.ipynb")}
    files = [chapters.get(one).file for one in chapters.ids()]
    return [f"{name} is not in the folder" for name in files if name in laid and name not in notebooks]


def _unsound(notebooks):
    for name, data in notebooks.items():
        try:
            sound = isinstance(json.loads(data)["cells"], list)
        except (ValueError, KeyError, TypeError, RecursionError):
            sound = False
        if not sound:
            yield f"{name} is no notebook that can be read; open it in JupyterLab and save it again"


def _whole(data):
    try:
        return check(data).lines
    except archive.Trouble as why:
        return [f"it would not be taken in: {why}; clear the outputs of large notebooks, save, and pack again"]


def _read_list(data):
    """(learner, course, {name: hash}) of a list's bytes; ValueError for anything but a sound list."""
    try:
        told = json.loads(data.decode("utf-8"))
        files = {name: row["sha256"] for name, row in told["files"].items()}
        who, course = told["learner"], told["course"]
    except (UnicodeDecodeError, RecursionError, KeyError, TypeError, AttributeError):
        raise ValueError("it is no list of a hand-in") from None
    if told.get("schema") != SCHEMA:
        raise ValueError(f"its schema is {str(told.get('schema'))[:40]!r}; this rigkit reads {SCHEMA}")
    if not all(isinstance(value, str) and re.fullmatch("[0-9a-f]{64}", value) for value in files.values()) or len(files) > archive.MEMBERS:
        raise ValueError("its hashes are none")
    return learner.valid_id(who), str(course)[:64], files
