"""Taking hand-ins in: what a folder of strangers' files may hold, read without trusting any of it.

A hand-in is FOLDER/LEARNER/NN-name.ipynb, or a zip with such files inside, best
one that `rigkit handin` packed. How a file is read stands in rigkit.course.archive,
what one entry of the folder is in entries, what a notebook holds in cells. Whatever
is wrong becomes a named line about one learner; the rest of the class goes on.
"""

import os
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import NamedTuple

from rigkit.course import archive
from rigkit.course.archive import NOTEBOOK, Trouble, printable, read_file
from rigkit.grading.cells import cells
from rigkit.grading.entries import IGNORED, NAME, entries_of, named_chapter, opened

__all__ = ["Problem", "Receipt", "Source", "Taken", "Trouble", "cells", "find", "learner_of", "read", "read_file"]


@dataclass(frozen=True)
class Source:
    """Where one notebook lies: the file `path`, or the `member` of the zip there (of the zip `inner` in it)."""

    learner: str
    chapter: str
    name: str
    path: str
    member: str = ""
    inner: str = ""
    place: str = ""  # its path below the class folder, as a list of times names it


class Problem(NamedTuple):
    """A line about something that was handed in and can't be graded as it is, or not as it seems."""

    learner: str
    name: str
    line: str


class Receipt(NamedTuple):
    """A zip as it was taken in: whose, its SHA-256 as the learner has it, and whether it is as it was packed."""

    file: str
    learner: str
    receipt: str
    state: str


class Taken(NamedTuple):
    """Everything found in a class folder."""

    sources: list
    problems: list
    receipts: list


def find(folder, chapters, every=False):
    """Return the Taken of a class folder, in order of learner and chapter.

    folder: path. chapters: chapter id to the file name its notebook has. every: all notebooks of a chapter, also from folders and
    zips in a learner's folder and from folder and zip, instead of one. Raises Trouble when the folder itself can't be read.
    """
    try:
        items = sorted(os.scandir(folder), key=lambda item: item.name)
    except OSError as error:
        raise Trouble(f"{folder}: {error.strerror or error}") from None
    by_learner, problems, sources, receipts = {}, [], [], []
    for item in items:
        if item.name.startswith(".") or item.name in IGNORED:
            continue
        try:
            for entry in entries_of(item, every):
                by_learner.setdefault(entry.learner, []).append(entry)
        except Trouble as why:
            problems.append(Problem(learner_of(item.name), item.name, str(why)))
    for learner in sorted(by_learner):
        taken, left_out = _of_learner(learner, by_learner[learner], every)
        problems += left_out
        for entry in taken:
            receipts += [Receipt(entry.name, learner, entry.receipt, entry.whole)] if entry.zipped else []
            found, odd = _choose(entry, chapters, every)
            sources += found
            problems += [*(Problem(learner, entry.name, line) for line in entry.lines), *odd]
    return Taken(sources, problems, receipts)


def read(source):
    """Return the bytes of one notebook; Trouble when it can't be read."""
    if not source.member:
        return read_file(source.path, NOTEBOOK)
    with opened(source.path, source.inner) as whole:
        return archive.member(whole, source.member)


def learner_of(name):
    """The learner's id as the name of a folder or zip tells it, made printable."""
    stem = name[:-4] if name.lower().endswith(".zip") else name
    return "".join(c if c.isprintable() else "?" for c in stem)[:NAME] or "?"


# -- helpers


def _of_learner(learner, entries, every):
    """Which of a learner's Entries are taken, and a Problem for each that is not.

    What only calls itself the learner's inside never stands beside what is called so outside: else anybody could pack a list with
    another's id and spoil their points.
    """
    own = [entry for entry in entries if entry.named] or entries
    problems = [
        Problem(learner, entry.name, f"its list says it is {learner}'s, who handed in {own[0].name}; it is not graded")
        for entry in entries
        if entry not in own
    ]
    if every:
        return own, problems
    first, *others = sorted(own, key=lambda entry: (entry.name != learner, entry.name != f"{learner}.zip", entry.name))
    told = f"{learner} handed in more than once; {first.name} is graded (with --times all are, and a rule says which counts)"
    return [first], problems + [Problem(learner, entry.name, told) for entry in others]


def _choose(entry, chapters, every=False):
    """Pick one notebook for each chapter of an Entry, or every one; say what is left over and odd."""
    by_chapter, problems = {}, []
    for name in sorted(entry.names):
        if not name.endswith(".ipynb") or IGNORED & set(PurePosixPath(name).parts):
            continue
        named, chapter = named_chapter(name), entry.chapters.get(name, named_chapter(name))
        if not chapter:
            line = "its name doesn't begin with a chapter's number, as in 06-two-bones.ipynb, and it opens no chapter"
            problems.append(Problem(entry.learner, printable(name), line))
        elif chapter not in chapters:
            problems.append(Problem(entry.learner, printable(name), f"there is no chapter {chapter} to grade"))
        else:
            by_chapter.setdefault(chapter, []).append(name)
            if chapter != named:
                says = f"its name says chapter {named}" if named else "its name says no chapter"
                problems.append(Problem(entry.learner, printable(name), f"{says}, and it opens chapter {chapter}; it is taken as that"))
    sources = []
    for chapter, found in sorted(by_chapter.items()):
        found.sort(key=lambda name: (PurePosixPath(name).name != chapters[chapter], named_chapter(name) != chapter, len(name), name))
        sources += [_source(entry, chapter, name, every) for name in (found if every else found[:1])]
        if not every:
            told = f"a second notebook of chapter {chapter}; {printable(found[0])} is graded"
            problems += [Problem(entry.learner, printable(extra), told) for extra in found[1:]]
    if not sources and not problems:
        problems.append(Problem(entry.learner, "", "nothing to grade was handed in"))
    return sources, problems


def _source(entry, chapter, name, every):
    place = f"{entry.name}/{name}"
    told = place if every and (entry.zipped or entry.name != entry.learner) else name if every else PurePosixPath(name).name
    if entry.zipped:
        return Source(entry.learner, chapter, told, entry.path, name, entry.inner, place)
    return Source(entry.learner, chapter, told, os.path.join(entry.path, name), place=place)
