"""The ideas of the course with which of them need which, and the words it uses, in the learner's words.

Both are data: data/ideas.toml and data/glossary.toml. workbooks/glossary.md is built from the second.
"""

import difflib
import tomllib
from dataclasses import dataclass
from functools import cache

from rigkit.files import shared

SOURCES = {"trade": "common practice, no source", "ours": "this course's own word"}


@dataclass(frozen=True)
class Idea:
    """One idea: its chapter, what it says, the checkpoints that show it, and the ids of the ideas it needs."""

    id: str
    chapter: str
    title: str
    checkpoints: tuple[str, ...]
    needs: tuple[str, ...]


@dataclass(frozen=True)
class Term:
    """One word of the course: the chapter that needs it first, what it means, and who says so."""

    term: str
    chapter: str
    words: str
    source: str


@cache
def ideas():
    """Return all Ideas, in the order of their chapters."""
    rows = tomllib.loads(shared("data", "ideas.toml").read_text(encoding="utf-8"))["idea"]
    return tuple(Idea(row["id"], row["chapter"], row["title"], tuple(row["checkpoints"]), tuple(row["needs"])) for row in rows)


@cache
def terms():
    """Return all Terms, by the alphabet."""
    rows = tomllib.loads(shared("data", "glossary.toml").read_text(encoding="utf-8"))["terms"]
    found = (Term(term, row["chapter"], row["words"], SOURCES.get(row["source"], row["source"])) for term, row in rows.items())
    return tuple(sorted(found, key=lambda one: one.term))


def meaning(word):
    """Return a word's meaning in a line or two; for a word that is not there, those like it.

    >>> print(meaning("Normal"))
    normal: The direction square to a plane, of length 1. (chapter 04; any textbook of geometry)
    >>> print(meaning("quaternions"))
    "quaternions" is not in the glossary; near it are: quaternion, dual quaternion
    """
    known = {one.term: one for one in terms()}
    asked = " ".join(str(word).casefold().split())
    if asked in known:
        one = known[asked]
        return f"{one.term}: {one.words} (chapter {one.chapter}; {one.source})"
    near = difflib.get_close_matches(asked, known, 3, 0.5) + [term for term in known if asked and asked in term]
    told = f"near it are: {', '.join(dict.fromkeys(near))}" if near else f"it holds {len(known)} words, from {min(known)} to {max(known)}"
    return f'"{shorten(asked)}" is not in the glossary; {told}'


def shorten(text, most=40):
    """A text cut to `most` letters."""
    return text if len(text) <= most else text[: most - 1] + "…"


def glossary_page():
    """Return workbooks/glossary.md: every word by the alphabet, with the chapter that needs it first and its source."""
    lines = ["# The words of the course", ""]
    lines += ["Every word as this course uses it. The number is the chapter that needs it first. In a notebook, `chapter.word(\"pole point\")` tells one.", ""]
    lines += ["A source in round brackets marked (memory) was not looked up.", "", "| Word | What it means | Chapter | Source |", "|---|---|---|---|"]
    lines += [f"| **{one.term}** | {one.words} | {one.chapter} | {one.source} |" for one in terms()]
    return "\n".join(lines) + "\n"
