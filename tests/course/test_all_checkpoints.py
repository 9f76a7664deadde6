"""Every checkpoint of every chapter: sound, fair to the worked answer, and able to tell each planned mistake.

The worked answers are judged for all variants; planned mistakes for a few
variants, on the notebook's cases and on others.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from rigkit.course import chapters
from rigkit.course import context as contexts
from rigkit.course.checkpoint import KINDS
from rigkit.course.closed import functions
from rigkit.course.collect import collect
from rigkit.course.judge import Mistakes, judge, shown
from rigkit.course.panel import panel
from rigkit.robot import tally
from rigkit.view import Viewer

CHECKPOINTS = chapters.all_checkpoints()
CHAPTERS = {checkpoint.id: chapters.get(chapter) for chapter in chapters.ids() for checkpoint in chapters.get(chapter).checkpoints}
AUTOMATIC = {name: one for name, one in CHECKPOINTS.items() if one.kind != "text"}
MISTAKES = {f"{name}: {mistake.name}": (name, mistake) for name, one in AUTOMATIC.items() for mistake in one.mistakes}
TRIED = ((0, None), (7, b"one"), (41, b"another"), (99, None))  # variants, on the notebook's own cases and on hidden ones


robot = cache(tally)


@cache
def context(chapter, variant):
    return contexts.context(chapters.get(chapter), variant, robot(variant))


@cache
def tasks(name, variant, seed):
    """The cases of a checkpoint, and its planned mistakes on them, each run once for all answers."""
    checkpoint, known = CHECKPOINTS[name], context(CHAPTERS[name].id, variant)
    return contexts.cases(checkpoint, known, seed), Mistakes(checkpoint, known, strict=True)


def judged(name, variant, answer, seed=None):
    """The result of an answer (a Mistake's `answer`), judged as in a notebook, where a fault of the check raises."""
    checkpoint, known = CHECKPOINTS[name], context(CHAPTERS[name].id, variant)
    cases, mistakes = tasks(name, variant, seed)
    namespace = dict.fromkeys(checkpoint.names, answer) if checkpoint.kind == "function" else answer(known)
    tried = replace(checkpoint, closed=CHAPTERS[name].closed)
    return judge(checkpoint, collect(tried, namespace, cases), known, cases, strict=True, mistakes=mistakes)


def test_there_are_chapters():
    assert {"00", "01", "02", "03", "04", "05", "06"} <= set(chapters.ids())


@pytest.mark.parametrize("chapter", chapters.ids())
def test_a_chapter_is_named_by_its_file_and_its_questions_have_an_answer(chapter):
    found = chapters.get(chapter)
    assert found.id == chapter and found.title and found.minutes > 0
    for question, choices, right, why in (*found.recall, *found.wrap_up):
        assert question and why and len(set(choices)) == len(choices) >= 2 and 0 <= right < len(choices)


def test_no_id_is_used_twice():
    every = [checkpoint.id for chapter in chapters.ids() for checkpoint in chapters.get(chapter).checkpoints]
    assert len(set(every)) == len(every)


@pytest.mark.parametrize("name", CHECKPOINTS)
def test_a_checkpoint_is_sound(name):
    checkpoint = CHECKPOINTS[name]
    claims = [claim.id for claim in checkpoint.claims]
    assert checkpoint.id.split(".")[0] == CHAPTERS[name].id
    assert checkpoint.kind in KINDS and checkpoint.title and checkpoint.hint and checkpoint.names
    assert checkpoint.kind != "function" or len(checkpoint.names) == 1
    assert claims and len(set(claims)) == len(claims)
    assert all(claim.points > 0 and claim.text for claim in checkpoint.claims)
    assert all(set(claim.needs) <= set(checkpoint.names) for claim in checkpoint.claims)
    mistakes = [mistake.name for mistake in checkpoint.mistakes]
    assert len(set(mistakes)) == len(mistakes)
    assert all(mistake.diagnosis and mistake.misses and set(mistake.misses) <= set(claims) for mistake in checkpoint.mistakes)
    assert all(functions(closed) for closed in checkpoint.closed)
    assert checkpoint.kind == "text" or checkpoint.mistakes, "a check must be known to fail: plan at least one mistake"


@pytest.mark.parametrize("name", CHECKPOINTS)
def test_an_untouched_checkpoint_is_not_started(name):
    checkpoint, known = CHECKPOINTS[name], context(CHAPTERS[name].id, 0)
    cases = contexts.cases(checkpoint, known)
    record = collect(checkpoint, dict.fromkeys(checkpoint.names, ...), cases)
    result = judge(checkpoint, record, known, cases, strict=True)
    assert result.outcome == "not started" and result.earned == 0


@pytest.mark.parametrize("name", AUTOMATIC)
def test_the_worked_answer_earns_full_marks_for_every_variant(name):
    for variant in range(100):
        result = judged(name, variant, CHECKPOINTS[name].worked)
        assert result.earned == result.points and result.outcome == "ok", f"variant {variant}\n{panel(result).text}"


@pytest.mark.parametrize("name", [name for name, one in AUTOMATIC.items() if one.kind == "function"])
def test_the_worked_answer_earns_full_marks_on_hidden_inputs(name):
    for number in range(40):
        result = judged(name, number % 100, CHECKPOINTS[name].worked, seed=f"hidden {number}".encode())
        assert result.earned == result.points, f"seed {number}\n{panel(result).text}"


@pytest.mark.parametrize("key", MISTAKES)
def test_a_planned_mistake_fails_with_its_own_diagnosis(key):
    name, mistake = MISTAKES[key]
    for variant, seed in TRIED:
        result = judged(name, variant, mistake.answer, seed if CHECKPOINTS[name].kind == "function" else None)
        missed = {claim.id: claim for claim in result.claims if claim.outcome != "ok"}
        told = f"variant {variant}, seed {seed}\n{panel(result).text}"
        assert set(mistake.misses) <= set(missed), told
        assert {claim.mistake for claim in missed.values()} == {mistake.name}, told
        assert mistake.diagnosis in {claim.likely for claim in missed.values()}, told
        assert len(panel(result).text.splitlines()) < 15 and max(map(len, panel(result).text.splitlines())) <= 100


@pytest.mark.parametrize("name", [name for name, one in AUTOMATIC.items() if one.show])
def test_show_draws_right_and_wrong_answers(name):
    """Each planned mistake that gives something to draw; a drawing may refuse by a ValueError, which the notebook tells."""
    checkpoint, known, drawn = CHECKPOINTS[name], context(CHAPTERS[name].id, 7), 0
    cases = contexts.cases(checkpoint, known)
    viewer = Viewer(CHAPTERS[name].model(known.robot))
    for answer in (checkpoint.worked, *(mistake.answer for mistake in checkpoint.mistakes)):
        namespace = dict.fromkeys(checkpoint.names, answer) if checkpoint.kind == "function" else answer(known)
        found = shown(checkpoint, collect(checkpoint, namespace, cases), namespace, known, cases)
        viewer.caption("")
        if found is None:
            continue
        try:
            checkpoint.show(viewer, found, known)
        except ValueError:
            assert answer is not checkpoint.worked
            continue
        assert viewer.text().strip()
        drawn += 1
    viewer.close()
    assert drawn > len(checkpoint.mistakes) / 2


@pytest.mark.parametrize("key", MISTAKES)
def test_a_diagnosis_fits_in_its_line(key):
    assert len(MISTAKES[key][1].diagnosis) <= 160


@pytest.mark.parametrize("name", [name for name, one in CHECKPOINTS.items() if one.kind == "text"])
def test_a_worked_text_awaits_a_reader(name):
    assert judged(name, 0, CHECKPOINTS[name].worked).outcome == "awaits a reader"


# ---- answers that are spoiled in every way: the check may find fault with them, never fail itself

SPOIL = {
    "zeros": lambda x: x * 0,
    "turned round": lambda x: -x,
    "huge": lambda x: x * 1e12,
    "beyond floats": lambda x: x * 1e300,
    "tiny": lambda x: x * 1e-12,
    "all the same": lambda x: x * 0 + 1.0,
    "noise": lambda x: np.random.default_rng(3).normal(size=np.shape(x)),
    "nan": lambda x: x * np.nan,
    "infinite": lambda x: x * 0 + np.inf,
    "halved": lambda x: x / 2,
}
RESHAPE = {
    "shorter": lambda v: v[:-1] if isinstance(v, (list, tuple, np.ndarray)) and np.ndim(v) else v,
    "empty": lambda v: type(v)() if isinstance(v, (list, tuple, dict, str)) else np.zeros(0),
    "reversed": lambda v: v[::-1] if isinstance(v, (list, tuple, str)) else v,
    "none": lambda v: None,
    "text": lambda v: "text",
    "true": lambda v: True,
    "one number": lambda v: 7.5,
    "far too long": lambda v: list(v) * 50 if isinstance(v, (list, tuple)) else [1.0] * 500,
    "names": lambda v: {"left_elbow_joint": "nothing"},
}


def spoiled(value, how):
    """`value` with every number in it changed, its form kept."""
    if isinstance(value, (bool, np.bool_)):
        return not value
    if isinstance(value, (list, tuple)):
        return type(value)(spoiled(item, how) for item in value)
    if isinstance(value, dict):
        return {key: spoiled(item, how) for key, item in value.items()}
    if isinstance(value, str):
        return value + "x"
    if isinstance(value, (int, np.integer)):
        return 0 if how == "zeros" else -value if how == "turned round" else int(value) + 1
    with np.errstate(all="ignore"):
        out = SPOIL[how](np.asarray(value, float))
    return float(out) if np.ndim(value) == 0 else out


@pytest.mark.parametrize("how", [*SPOIL, *RESHAPE])
@pytest.mark.parametrize("name", AUTOMATIC)
def test_a_spoiled_answer_never_makes_the_check_fail(name, how):
    def spoil(value):
        return spoiled(value, how) if how in SPOIL else RESHAPE[how](value)
    checkpoint = CHECKPOINTS[name]
    answer = (lambda *a: spoil(checkpoint.worked(*a))) if checkpoint.kind == "function" else (
        lambda known: {key: spoil(value) for key, value in checkpoint.worked(known).items()})
    result = judged(name, 7, answer)
    lines = panel(result, can_show=True).text.splitlines()
    assert len(lines) < 15 and max(map(len, lines)) <= 100
    if how in ("nan", "infinite", "none"):
        assert result.earned < result.points


@pytest.mark.parametrize("name", [name for name, one in AUTOMATIC.items() if one.kind != "function" and len(one.names) > 1])
def test_one_answer_alone_never_makes_the_check_fail(name):
    checkpoint = CHECKPOINTS[name]
    for key in checkpoint.names:
        alone = judged(name, 7, lambda known, key=key: {key: checkpoint.worked(known)[key]})
        without = judged(name, 7, lambda known, key=key: {k: v for k, v in checkpoint.worked(known).items() if k != key})
        assert alone.outcome == "ok" or alone.earned < alone.points
        assert without.earned < without.points
