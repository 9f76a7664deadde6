"""What lies in a class folder, entry by entry: whose it is, which notebooks it holds, and what about it is not as it was packed.

The list inside a hand-in (rigkit.course.handin) says whose it is; a name can be
changed by any mail program on the way, or by a learner. Where the two differ, that
is told. A zip in a zip is looked into where nothing lies beside it, and no deeper.
"""

import os
import re
from dataclasses import dataclass
from pathlib import PurePosixPath

from rigkit.course import archive, coursefile, handin
from rigkit.course.archive import MEMBERS, Trouble, printable
from rigkit.course.learner import valid_id
from rigkit.grading.cells import chapter_of

NAME = 100  # letters of a learner's id
IGNORED = {"__MACOSX", ".ipynb_checkpoints", "__pycache__"}
_NUMBERED = re.compile(r"(\d\d)-[\w.\- ()]{1,80}\.ipynb")
_COPY = re.compile(r"( ?\(\d+\)| ?- ?copy ?\d*)+$", re.IGNORECASE)  # what programs add to the name of a second copy


@dataclass(frozen=True)
class Entry:
    """One hand-in: a learner's folder, or a zip.

    name: its path below the class folder. path: its path. learner: whose it is. named: whether its own name says so too. zipped: a
    zip; inner: the zip in it that holds the notebooks, or "". names: its files. chapters: notebook to the chapter it is of.
    receipt: SHA-256 of the file that was packed, "" for a folder. whole: "whole", "not whole", or "no list". lines: what is odd.
    """

    name: str
    path: str
    learner: str
    named: bool
    zipped: bool
    names: tuple
    chapters: dict
    inner: str = ""
    receipt: str = ""
    whole: str = "no list"
    lines: tuple = ()


def entries_of(item, every=False):
    """The Entries of one thing in a class folder (an os.DirEntry), at least one; Trouble when it can't be read.

    every: folder and zips in a learner's folder are hand-ins of their own; else one of them is taken.
    """
    if any(not c.isprintable() for c in item.name) or len(item.name) > NAME:
        raise Trouble("its name holds signs that can't be printed, or is too long")
    if item.is_symlink():
        raise Trouble("it is a link; links are not followed")
    if item.is_dir(follow_symlinks=False):
        return _in_folder(item, every)
    if item.name.lower().endswith(".zip"):
        return [_zip(item.name, item.path, item.name[:-4])]
    if item.name.lower().endswith(".ipynb"):
        raise Trouble("it is a notebook outside a learner's folder: put it into FOLDER/LEARNER/")
    raise Trouble("it is neither a learner's folder nor a zip")


def named_chapter(name):
    """The chapter that the name of a notebook says, or "".

    >>> named_chapter("work/06-two-bones (1).ipynb"), named_chapter("mine.ipynb")
    ('06', '')
    """
    match = _NUMBERED.fullmatch(PurePosixPath(name).name)
    return match[1] if match else ""


def opened(path, inner=""):
    """The open archive of a zip, or of the zip `inner` in it."""
    whole = archive.opened(archive.read_file(path, archive.ARCHIVE))
    if not inner:
        return whole
    with whole:
        return archive.opened(archive.member(whole, inner, archive.ARCHIVE))


# -- helpers


def _in_folder(item, every):
    names = _folder_names(item.path, every)
    zips = [name for name in names if name.lower().endswith(".zip") and "/" not in name]
    if not zips or any(name.endswith(".ipynb") for name in names):
        own = [_folder(item, names, () if every else tuple(f"it holds a zip too, {printable(one)}, which is not opened" for one in zips))]
    else:
        own = []
    taken = zips if every else zips[: 0 if own else 1]
    extra = () if every or own else tuple(f"a second zip; {printable(zips[0])} is opened" for _ in zips[1:])
    return own + [_zip(f"{item.name}/{one}", os.path.join(item.path, one), item.name, extra) for one in taken]


def _folder(item, names, lines):
    return _entry(item.name, item.path, item.name, names, lambda name, most: archive.read_file(os.path.join(item.path, name), most), lines)


def _zip(name, path, called, lines=()):
    """The Entry of a zip; called: what its name, or that of its folder, says about whose it is."""
    data = archive.read_file(path, archive.ARCHIVE)
    whole = archive.opened(data)
    names, inner = _kept(archive.names(whole)), ""
    zips = [one for one in names if one.lower().endswith(".zip")]
    if len(zips) == 1 and not any(one.endswith(".ipynb") for one in names):
        inner, data = zips[0], archive.member(whole, zips[0], archive.ARCHIVE)
        whole = archive.opened(data)
        names = _kept(archive.names(whole))
        zips = [one for one in names if one.lower().endswith(".zip")]
    lines += tuple(f"it holds a zip too, {printable(one)}, which is not opened" for one in zips)
    return _entry(name, path, called, names, lambda one, most: archive.member(whole, one, most), lines, True, inner, handin.receipt(data))


def _entry(name, path, called, names, read, lines, zipped=False, inner="", receipt=""):
    chapters = {}

    def reading(one, most=archive.NOTEBOOK):
        data = read(one, most)
        if one.endswith(".ipynb"):
            chapters[one] = chapter_of(data, named_chapter(one))
        return data

    handed = handin.look(names, reading)
    stem = _COPY.sub("", called)
    learner = handed.learner or _valid(called)
    lines += handed.lines
    if handed.learner and stem != learner:
        lines += (f"it is called {printable(called)}, and its list says it is {learner}'s",)
    if handed.learner and handed.course != coursefile.in_use().digest:
        lines += ("it was packed with another course file than the one that grades",)
    whole = "no list" if not handed.learner else "not whole" if handed.lines else "whole"
    return Entry(name, path, learner, stem == learner, zipped, tuple(names), chapters, inner, receipt, whole, lines)


def _kept(names):
    return [name for name in names if not IGNORED & set(PurePosixPath(name).parts)]


def _valid(learner):
    try:
        return valid_id(learner)
    except ValueError as why:
        raise Trouble(str(why)) from None


def _folder_names(path, deeper):
    """The names in a folder; deeper, or where no notebook lies in it: those in its folders too, as "folder/name"."""
    names, folders = [], []
    for entry in _scanned(path):
        inside = entry.is_dir(follow_symlinks=False) and not entry.name.endswith(".ipynb")
        (folders if inside and entry.name not in IGNORED else names).append(entry.name)
    if deeper or not any(name.lower().endswith((".ipynb", ".zip")) for name in names):
        for folder in folders:
            names += [f"{folder}/{entry.name}" for entry in _scanned(os.path.join(path, folder))]
            if len(names) > MEMBERS:
                raise Trouble(f"it holds more than {MEMBERS} files")
    return names


def _scanned(path):
    try:
        with os.scandir(path) as found:
            entries = []
            for entry in found:
                entries.append(entry)
                if len(entries) > MEMBERS:
                    raise Trouble(f"it holds more than {MEMBERS} files")
            return sorted(entries, key=lambda entry: entry.name)
    except OSError as error:
        raise Trouble(f"it can't be read: {error.strerror or error}") from None
