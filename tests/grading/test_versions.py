"""Keys by chapter: a fix runs again what it may change, and only that."""

import subprocess
import sys

import pytest

from rigkit.course import chapters
from rigkit.grading import versions


def changed(monkeypatch, name):
    """The chapters whose version changes when a file does."""
    before = {chapter: versions.of_chapter(chapter) for chapter in chapters.ids()}
    sources = {**versions._sources()}
    assert name in sources or name in versions.UNGRADED or name.startswith(versions.ABOVE), name
    if name in sources:
        sources[name] = b"mended"
    monkeypatch.setattr(versions, "_sources", lambda: sources)
    after = {chapter: versions.of_chapter(chapter) for chapter in chapters.ids()}
    monkeypatch.undo()
    return [chapter for chapter in before if before[chapter] != after[chapter]]


@pytest.mark.parametrize("name", ["rotation.py", "course/judge.py", "grading/inbox.py", "grading/nest.py", "grading/records.py", "tally.toml"])
def test_what_grades_all_runs_all_again(monkeypatch, name):
    assert changed(monkeypatch, name) == chapters.ids()


@pytest.mark.parametrize("name", ["cli.py", "book/__init__.py", "grading/pages.py", "grading/results.py", "grading/telling.py"])
def test_what_only_tells_points_runs_nothing_again(monkeypatch, name):
    assert changed(monkeypatch, name) == []


def test_a_fix_in_a_chapter_runs_it_and_those_that_build_on_it(monkeypatch):
    """Chapter 02 asks for answers of 01; nothing asks for chapter 00."""
    assert changed(monkeypatch, "course/chapters/chapter_00.py") == ["00"]
    again = changed(monkeypatch, "course/chapters/chapter_01_loops.py")
    assert {"01", *(one for one in chapters.ids() if any(use.startswith("01.") for use in chapters.get(one).uses))} <= set(again)
    assert "00" not in again


def test_no_chapter_loads_another_that_its_version_does_not_hold():
    """Python's own list of what was imported, each chapter loaded alone."""
    code = """
import importlib, sys
from rigkit.course import chapters
for one in chapters.ids():
    for name in [name for name in sys.modules if name.startswith("rigkit.course.chapters.")]:
        del sys.modules[name]
    importlib.import_module(f"rigkit.course.chapters.chapter_{one}")
    print(one, *(name.rpartition(".")[2] for name in sys.modules if name.startswith("rigkit.course.chapters.")))
"""
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=True).stdout
    loaded = {line.split()[0]: set(line.split()[1:]) for line in told.splitlines()}
    assert list(loaded) == chapters.ids()
    assert {one: modules - versions._own(one) for one, modules in loaded.items() if modules - versions._own(one)} == {}
    assert all(f"chapter_{one}" in modules for one, modules in loaded.items())
