"""The texts people read: spelled right, in short sentences, with links and references that lead somewhere."""

import re
import subprocess
import sys
from pathlib import Path
from statistics import median

import jupytext
import pytest

from rigkit.course import chapters
from rigkit.files import shared

ROOT = Path(__file__).resolve().parents[1]
CHAPTERS = sorted(shared("workbooks", "text").glob("[0-9][0-9]-*.md"))
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(shared("workbooks").rglob("*.md"))]


def told(text):
    """A cell's words, without code, formulas in indented lines, tables and headings."""
    text = re.sub(r"```.*?```", "", text, flags=re.S)
    lines = [line for line in text.split("\n") if not re.match(r"(    |\s*\||#|<)", line)]
    return re.sub(r"<[^>]+>", "", "\n".join(lines))


def sentences(text):
    """Each sentence as the number of its words; an item of a list is one of its own."""
    parts = re.split(r"(?<=[.!?:;])\**\s+|\n\s*[-*>]\s+|\n\s*\n", told(text))
    return [count for part in parts if (count := len(re.findall(r"[\w'.-]+", part))) > 2]


def cells(path):
    return [cell.source for cell in jupytext.read(path, fmt="md").cells if cell.cell_type == "markdown"]


@pytest.mark.source("codespell")
def test_every_text_and_source_is_spelled_right():
    """codespell knows common misspellings; names of people it takes for one are listed in pyproject.toml."""
    places = ["README.md", "DEVELOPERS.md", "workbooks/text", "rigkit", "tests", "data", "pyproject.toml"]
    found = subprocess.run([sys.executable, "-m", "codespell_lib", *places], cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert found.returncode == 0, found.stdout + found.stderr


def test_a_misspelled_word_is_found(tmp_path):
    wrong = "".join(["recie", "ve"])  # apart, or this file would be found too
    (tmp_path / "page.md").write_text(f"You {wrong} a robot.\n", encoding="utf-8")
    found = subprocess.run([sys.executable, "-m", "codespell_lib", "page.md"], cwd=tmp_path, capture_output=True, text=True, timeout=60)
    assert found.returncode != 0 and "receive" in found.stdout


@pytest.mark.parametrize("path", CHAPTERS, ids=lambda path: path.name[:2])
def test_a_chapter_reads_easily(path):
    """Half of the sentences have at most 11 words, nine in ten at most 20, and none more than 40 (our own rule, no source)."""
    counts = sorted(count for cell in cells(path) for count in sentences(cell))
    assert len(counts) > 50
    assert median(counts) <= 11 and counts[int(0.9 * len(counts))] <= 20 and counts[-1] <= 40, counts[-5:]


@pytest.mark.parametrize("path", CHAPTERS, ids=lambda path: path.name[:2])
def test_no_cell_of_a_chapter_is_a_wall_of_words(path):
    long = [(len(told(cell).split()), cell[:60]) for cell in cells(path) if len(told(cell).split()) > 400]
    assert not long, long


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_every_link_leads_somewhere(path):
    text = re.sub(r"```.*?```|`[^`]*`", "", path.read_text(encoding="utf-8"), flags=re.S)
    anchors = {re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-") for heading in re.findall(r"^#+ (.*)$", text, re.M)}
    for link in re.findall(r"\]\(([^)\s]+)\)", text):
        place, _, anchor = link.partition("#")
        assert not re.match(r"\w+:", place), f"{link}: the texts lead to nothing outside the project"
        assert not place or (path.parent / place).exists(), link
        assert place or anchor in anchors, link


@pytest.mark.parametrize("path", CHAPTERS, ids=lambda path: path.name[:2])
def test_a_chapter_names_only_checkpoints_there_are(path):
    """Numbers of checkpoints to come are told as "chapter 09", never as "09.4"."""
    there = set(chapters.all_checkpoints())
    named = {one for cell in cells(path) for one in re.findall(r"[Cc]heckpoints? (\d\d\.\d+)", cell)}
    assert named and named <= there, named - there
