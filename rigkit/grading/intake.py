"""Taking hand-ins in: what a folder or a zip of strangers may hold, read without trusting any of it.

A hand-in is FOLDER/LEARNER/NN-name.ipynb, or FOLDER/LEARNER.zip with such files
inside. Links are never followed, pipes and devices never opened, archives read in
memory and never unpacked to disk, sizes bounded before anything is read. Whatever
is wrong becomes a named line about one learner; the rest of the class goes on.
"""

import io
import json
import os
import re
import stat
import struct
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import PurePosixPath

from rigkit.course.learner import valid_id

NOTEBOOK = 10 << 20  # bytes of one notebook
ARCHIVE = 50 << 20  # bytes of one zip
MEMBERS = 200  # files in one zip or folder
DIRECTORY = 1 << 18  # bytes of a zip's table of contents
RATIO = 200  # how many times smaller a file may be inside a zip
CELLS = 2_000
SOURCE = 2 << 20  # letters of code in one notebook
NAME = 100  # letters of a learner's id

_NOTEBOOK_NAME = re.compile(r"(\d\d)-[\w.\- ()]{1,80}\.ipynb")
_IGNORED = {"__MACOSX", ".ipynb_checkpoints", "__pycache__"}


class Trouble(Exception):
    """A hand-in, or a part of one, that can't be read; the text says why."""


@dataclass(frozen=True)
class Source:
    """Where one notebook lies: a file of a learner's folder, or a member of a learner's zip."""

    learner: str
    chapter: str
    name: str
    path: str
    member: str = ""

    @property
    def place(self):
        """Its path below the class folder, as a list of times names it."""
        return self.name if self.name.startswith(f"{self.learner}.zip/") else f"{self.learner}/{self.name}"


@dataclass(frozen=True)
class Problem:
    """A line about something that was handed in and can't be graded as it is."""

    learner: str
    name: str
    line: str


def find(folder, chapters, every=False):
    """Return (sources, problems) of every hand-in in `folder`, in order of learner and chapter.

    folder: path. chapters: chapter id to the file name its notebook has. every: all notebooks of a chapter, also from folders in
    a learner's folder and from folder and zip, instead of one. Raises Trouble when the folder itself can't be read.
    """
    try:
        entries = sorted(os.scandir(folder), key=lambda entry: entry.name)
    except OSError as error:
        raise Trouble(f"{folder}: {error.strerror or error}") from None
    sources, problems = [], []
    for entry in entries:
        if entry.name.startswith(".") or entry.name in _IGNORED:
            continue
        try:
            learner, names, member = _open_entry(entry, every)
        except Trouble as why:
            problems.append(Problem(learner_of(entry.name), entry.name, str(why)))
            continue
        if not every and any(source.learner == learner for source in sources[-len(chapters) :]):
            problems.append(Problem(learner, entry.name, "the same learner handed in a folder and a zip; the folder is graded"))
            continue
        found, odd = _choose(learner, entry.path, names, member, chapters, every)
        sources += found
        problems += odd
    return sources, problems


def read(source):
    """Return the bytes of one notebook; Trouble when it can't be read."""
    if not source.member:
        return read_file(os.path.join(source.path, source.name), NOTEBOOK)
    with _archive(read_file(source.path, ARCHIVE)) as archive:
        return _read_member(archive, source.member)


def cells(data):
    """Return the sources of a notebook's code cells, in order; Trouble for anything but a sound notebook of format 4."""
    notebook = _json(data)
    if type(notebook) is not dict:
        raise Trouble("it is not a notebook: the JSON is no object")
    if notebook.get("nbformat") != 4 or type(notebook.get("nbformat")) is not int:
        raise Trouble(
            f"it is a notebook of format {_told(repr(notebook.get('nbformat')))}; open it in JupyterLab and save it, to get format 4"
        )
    found = notebook.get("cells")
    if type(found) is not list:
        raise Trouble("it is a notebook without a list of cells")
    if len(found) > CELLS:
        raise Trouble(f"it has {len(found)} cells; we read {CELLS}")
    sources = [_source(cell, number) for number, cell in enumerate(found, 1) if type(cell) is dict and cell.get("cell_type") == "code"]
    if sum(map(len, sources)) > SOURCE:
        raise Trouble(f"it has more than {SOURCE} letters of code")
    return sources


def learner_of(name):
    """The learner's id as the name of a folder or zip tells it, made printable."""
    stem = name[:-4] if name.lower().endswith(".zip") else name
    return "".join(c if c.isprintable() else "?" for c in stem)[:NAME] or "?"


def read_file(path, most):
    """Return the bytes of a regular file of at most `most` bytes; links, pipes and devices are Trouble."""
    flags = (
        os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)
    )
    try:
        if stat.S_ISLNK(os.lstat(path).st_mode):
            raise Trouble("it is a link; links are not followed")
        handle = os.open(path, flags)
    except OSError as error:
        raise Trouble(f"it can't be opened: {error.strerror or error}") from None
    try:
        status = os.fstat(handle)
        if not stat.S_ISREG(status.st_mode):
            raise Trouble("it is not a regular file")
        if status.st_size > most:
            raise Trouble(f"it has {status.st_size} bytes; we read {most}")
        with open(handle, "rb", closefd=False) as file:
            data = file.read(status.st_size + 1)
    except OSError as error:
        raise Trouble(f"it can't be read: {error.strerror or error}") from None
    finally:
        os.close(handle)
    if len(data) > most:
        raise Trouble(f"it has more than {most} bytes")
    return data


def _open_entry(entry, every=False):
    """One entry of the class folder as (learner, {name: path inside}, is a zip)."""
    if any(not c.isprintable() for c in entry.name) or len(entry.name) > NAME:
        raise Trouble("its name holds signs that can't be printed, or is too long")
    if entry.is_symlink():
        raise Trouble("it is a link; links are not followed")
    if entry.is_dir(follow_symlinks=False):
        return _valid(entry.name), _folder_names(entry.path, every), False
    if entry.name.lower().endswith(".zip"):
        _valid(entry.name[:-4])
        with _archive(read_file(entry.path, ARCHIVE)) as archive:
            return entry.name[:-4], [info.filename for info in archive.infolist() if not info.is_dir()], True
    if entry.name.lower().endswith(".ipynb"):
        raise Trouble("it is a notebook outside a learner's folder: put it into FOLDER/LEARNER/")
    raise Trouble("it is neither a learner's folder nor a zip")


def _valid(learner):
    try:
        return valid_id(learner)
    except ValueError as why:
        raise Trouble(str(why)) from None


def _folder_names(path, deeper=False):
    """The names in a folder; deeper: those in its folders too, as "folder/name"."""
    names = []
    try:
        with os.scandir(path) as entries:
            for entry in entries:
                inside = deeper and entry.is_dir(follow_symlinks=False)
                names += [f"{entry.name}/{name}" for name in _folder_names(entry.path)] if inside else [entry.name]
                if len(names) > MEMBERS:
                    raise Trouble(f"it holds more than {MEMBERS} files")
    except OSError as error:
        raise Trouble(f"it can't be read: {error.strerror or error}") from None
    return names


def _choose(learner, path, names, is_zip, chapters, every=False):
    """Pick one notebook for each chapter among `names`, or every one; say what is left over and odd."""
    by_chapter, problems = {}, []
    for name in sorted(names):
        parts = PurePosixPath(name).parts
        match = _NOTEBOOK_NAME.fullmatch(parts[-1]) if parts and not _IGNORED & set(parts) else None
        if match is None:
            if name.endswith(".ipynb") and not _IGNORED & set(parts):
                problems.append(Problem(learner, _told(name), "its name doesn't begin with a chapter's number, as in 06-two-bones.ipynb"))
        elif match[1] not in chapters:
            problems.append(Problem(learner, _told(name), f"there is no chapter {match[1]} to grade"))
        else:
            by_chapter.setdefault(match[1], []).append(name)
    sources = []
    for chapter, found in sorted(by_chapter.items()):
        found.sort(key=lambda name: (PurePosixPath(name).name != chapters[chapter], len(name), name))
        if every:
            sources += [
                Source(learner, chapter, f"{learner}.zip/{name}" if is_zip else name, path, name if is_zip else "") for name in found
            ]
            continue
        problems += [
            Problem(learner, _told(extra), f"a second notebook of chapter {chapter}; {_told(found[0])} is graded") for extra in found[1:]
        ]
        sources.append(Source(learner, chapter, PurePosixPath(found[0]).name, path, found[0] if is_zip else ""))
    if not sources and not problems:
        problems.append(Problem(learner, "", "nothing to grade was handed in"))
    return sources, problems


def _archive(data):
    """Open a zip in memory after its table of contents was found to be of a sane size."""
    end = data.rfind(b"PK\x05\x06", max(0, len(data) - 65_557))
    if end < 0 or len(data) < end + 22:
        raise Trouble("it is not a zip, or was cut short")
    count, size = struct.unpack_from("<HI", data, end + 10)
    if count > MEMBERS or size > DIRECTORY:
        raise Trouble(f"it holds more than {MEMBERS} files")
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
    except (zipfile.BadZipFile, ValueError, NotImplementedError, struct.error, EOFError, OSError) as error:
        raise Trouble(f"it is a damaged zip: {_told(str(error))}") from None
    infos = archive.infolist()
    if len(infos) > MEMBERS:
        raise Trouble(f"it holds more than {MEMBERS} files")
    if len({info.filename for info in infos}) != len(infos):
        raise Trouble("it holds two files of one name")
    for info in infos:
        _sound_member(info)
    if sum(info.file_size for info in infos) > ARCHIVE:
        raise Trouble(f"it unpacks to more than {ARCHIVE} bytes")
    return archive


def _sound_member(info):
    name = info.filename
    if name.startswith(("/", "\\")) or "\\" in name or ":" in name or "\0" in info.orig_filename or ".." in PurePosixPath(name).parts:
        raise Trouble(f"it holds a name that climbs out: {_told(name)}")
    if stat.S_ISLNK(info.external_attr >> 16):
        raise Trouble(f"it holds a link: {_told(name)}")
    if info.flag_bits & 1:
        raise Trouble(f"it is locked with a password: {_told(name)}")
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise Trouble(f"it is packed in a way we don't read: {_told(name)}")
    if info.file_size > RATIO * max(info.compress_size, 1) + 10_000:
        raise Trouble(f"it holds a file that unpacks to {info.file_size} bytes from {info.compress_size}: {_told(name)}")


def _read_member(archive, name):
    try:
        with archive.open(name) as file:
            data = file.read(NOTEBOOK + 1)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OSError, KeyError) as error:
        raise Trouble(f"it can't be unpacked: {_told(str(error))}") from None
    if len(data) > NOTEBOOK:
        raise Trouble(f"it has more than {NOTEBOOK} bytes")
    return data


def _json(data):
    if not data.strip(b" \t\r\n\0"):
        raise Trouble("it is empty")
    try:
        return json.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise Trouble("it is not a notebook: the text is not UTF-8") from None
    except RecursionError:
        raise Trouble("it is not a notebook: its JSON is nested too deep") from None
    except ValueError as error:
        raise Trouble(f"it is not a notebook: {_told(str(error))}") from None


def _source(cell, number):
    source = cell.get("source", "")
    if type(source) is list and all(type(line) is str for line in source):
        source = "".join(source)
    if type(source) is not str:
        raise Trouble(f"cell {number} holds no text")
    return source


def _told(text):
    return "".join(c if c.isprintable() else "?" for c in text[:80])
