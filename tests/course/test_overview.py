"""The whole course at a glance: what is mastered, what to repeat, which idea needs which, and the words."""

import html
import re
from fractions import Fraction

import pytest

from rigkit import cli
from rigkit.course import build, chapters, context, coursefile, ideas, lab
from rigkit.course.collect import collect
from rigkit.course.judge import judge
from rigkit.course.overview import MASTERED, overview, page, repeat, rests_on
from rigkit.course.progress import Progress
from rigkit.files import shared


@pytest.fixture
def progress(tmp_path):
    made = Progress(tmp_path)
    yield made
    made.close()


def attempt(progress, name, mistake=None):
    """Keep an attempt at a checkpoint: the worked answer, or a planned mistake."""
    one = chapters.all_checkpoints()[name]
    known = context.context(chapters.get(name[:2]), 0)
    answer, cases = one.worked if mistake is None else one.mistakes[mistake].answer, context.cases(one, known)
    namespace = dict.fromkeys(one.names, answer) if one.kind == "function" else answer(known)
    progress.attempt(judge(one, collect(one, namespace, cases), known, cases))


def test_nothing_done_is_no_mastery_and_nothing_to_repeat(progress):
    seen = overview(progress)
    assert [one.chapter for one in seen.standings] == chapters.ids()
    assert not any(one.mastered or one.tried or one.earned for one in seen.standings)
    assert set(seen.states.values()) == {"not begun"} and repeat(seen) == []
    assert "Every claim that was tried holds." in seen.text


def test_a_chapter_is_mastered_at_four_fifths_of_its_core(progress):
    attempt(progress, "00.1")
    first = overview(progress).standings[0]
    assert first.mastered and first.core_earned == first.core_points
    for name in ("01.1", "01.2", "01.3"):
        attempt(progress, name)
    second = overview(progress).standings[1]
    assert not second.mastered and Fraction(1, 4) < second.core_earned / second.core_points < MASTERED
    for name in ("01.4", "01.5", "01.6", "01.7"):
        attempt(progress, name)
    assert overview(progress).standings[1].mastered


def test_what_was_missed_is_to_be_repeated_with_the_idea_it_rests_on(progress):
    attempt(progress, "06.2", 0)
    seen = overview(progress)
    ((idea, rows),) = repeat(seen)
    assert idea.id == "two bones" and {row[0] for row in rows} == {"06.2"}
    assert [one.id for one in rests_on(idea, seen.states)] == ["reach", "bend plane"]
    assert all(text in seen.text for _, text, _ in rows) and "first: A limb reaches a shell" in seen.text
    attempt(progress, "06.1"), attempt(progress, "06.2"), attempt(progress, "02.3")
    seen = overview(progress)
    assert repeat(seen) == [] and seen.states["two bones"] == seen.states["reach"] == "holds"


def test_the_page_escapes_every_text_and_asks_for_nothing_from_elsewhere(progress):
    attempt(progress, "06.2", 0)
    told = page(overview(progress, "The course of <b>Ada</b> & co"))
    assert "<b>Ada</b>" not in told and html.escape("The course of <b>Ada</b> & co") in told
    assert not re.search(r"<script|https?:|@import|url\(", told)
    assert told.count("<rect") == len(ideas.ideas()) and 'role="img"' in told


def test_rigkit_progress_prints_it_and_writes_a_page(tmp_path, capsys):
    lab.prepare(tmp_path / "mine", "ada7")
    kept = Progress(tmp_path / "mine")
    attempt(kept, "00.1")
    kept.close()
    assert cli.main(["progress", "--folder", str(tmp_path / "mine"), "--html", str(tmp_path / "page.html")]) == 0
    out = capsys.readouterr().out
    assert "The course, learner ada7, variant 7" in out and "3 of 3  mastered" in out
    assert (tmp_path / "page.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert cli.main(["progress", "--folder", str(tmp_path / "none")]) == 3
    assert "belongs to no learner yet" in capsys.readouterr().err
    assert cli.main(["progress", "--folder", str(tmp_path / "mine"), "--html", str(tmp_path / "no" / "page.html")]) == 3


def test_every_checkpoint_shows_just_one_idea_and_a_chapter_has_at_most_three():
    shown = [name for idea in ideas.ideas() for name in idea.checkpoints]
    assert sorted(shown) == sorted(chapters.all_checkpoints()) and len(set(shown)) == len(shown)
    for chapter in chapters.ids():
        assert 1 <= sum(idea.chapter == chapter for idea in ideas.ideas()) <= 3
    assert all(name.startswith(idea.chapter) for idea in ideas.ideas() for name in idea.checkpoints)


def test_an_idea_needs_only_ideas_that_came_before():
    order = [idea.id for idea in ideas.ideas()]
    assert len(set(order)) == len(order)
    for number, idea in enumerate(ideas.ideas()):
        assert set(idea.needs) <= set(order[:number]), idea.id


def test_the_glossary_tells_each_word_its_chapter_and_its_source():
    assert len(ideas.terms()) > 50
    for one in ideas.terms():
        assert re.fullmatch(r"\d\d", one.chapter) and one.source and one.words.endswith((".", ")")), one
        assert one.term == one.term.strip() and "|" not in one.words


@pytest.mark.parametrize("word, told", [("Pole  Point", "pole point: A point the middle joint bends towards"), ("weights", "near it are: weight"),
                                        ("xyzzyq", "it holds"), (3, "it holds"), ("", "it holds"), ("a" * 99, "…")])
def test_a_word_is_told_or_those_near_it(word, told):
    assert told in ideas.meaning(word)


def test_the_built_pages_are_in_step(tmp_path):
    for name, made in build.PAGES.items():
        assert (shared("workbooks") / name).read_text(encoding="utf-8") == made(), f"{name}: python -m rigkit.course.build"
    assert len(build.build_pages(tmp_path)) == len(build.PAGES) and build.build_pages(tmp_path) == []


def test_the_instructors_guide_has_a_plan_for_every_chapter():
    guide = (shared("workbooks") / "guide" / "instructors.md").read_text(encoding="utf-8")
    plans = re.split(r"^### ", guide, flags=re.M)[1:]
    assert [plan[:2] for plan in plans] == chapters.ids()
    for plan in plans:
        assert plan.startswith(f"{plan[:2]} {chapters.get(plan[:2]).title}\n") and all(word in plan for word in ("*Plan*", "*They get wrong*", "*Ask*"))


def test_the_course_of_the_guide_is_one_that_can_be_read(tmp_path):
    guide = (shared("workbooks") / "guide" / "instructors.md").read_text(encoding="utf-8")
    path = tmp_path / "autumn.toml"
    path.write_text(re.search(r"```toml\n(.*?)```", guide, re.S)[1], encoding="utf-8")
    assert coursefile.read(path).tolerances == {"01.4.left_elbow": "8 mm"}
