"""Chapter 00: the wrong attempt of the text teaches what the text says it does, and every way to write the answer counts."""

import numpy as np
import pytest

from rigkit.course import chapters
from rigkit.course import context as contexts
from rigkit.course.collect import collect
from rigkit.course.judge import judge
from rigkit.course.panel import panel
from rigkit.files import shared
from tests.course.boxes import boxes, promised

CHAPTER = chapters.get("00")
(WARM_UP,) = CHAPTER.checkpoints
CONTEXT = contexts.context(CHAPTER, 0)


def judged(**answer):
    cases = contexts.cases(WARM_UP, CONTEXT)
    return judge(WARM_UP, collect(WARM_UP, answer, cases), CONTEXT, cases, strict=True)


def right(**other):
    return {**WARM_UP.worked(CONTEXT), **other}


def test_the_text_promises_the_points_that_are_given():
    assert boxes(CHAPTER) == promised(CHAPTER)


def test_the_wrong_attempt_of_the_text_says_what_the_text_says():
    attempt = {"height": 1.0, "towards_left": [-1, 0, 0], "quarter_turn": 90}
    text = shared("workbooks", "text", "00-start-here.md").read_text(encoding="utf-8")
    assert "height = 1.0\ntowards_left = [-1, 0, 0]\nquarter_turn = 90\n" in text
    result = judged(**attempt)
    likely = {claim.id: bool(claim.likely) for claim in result.claims}
    assert result.earned == 0 and likely == {"height": False, "left": True, "quarter": True}
    assert "tolerance 1 mm" in str(panel(result)) and "likely" not in str(panel(result))
    mended = judged(**{**attempt, "height": right()["height"]})
    assert "Tally's own left is on your right" in str(panel(mended))


@pytest.mark.parametrize("left", ([1, 0, 0], (0.3, 0, 0), np.array([250.0, 0, 0])))
def test_a_direction_of_any_length_counts(left):
    assert judged(**right(towards_left=left)).earned == 3


@pytest.mark.parametrize("left", ([0, 0, 0], [1, 0.01, 0], [0, 1, 0]))
def test_a_direction_that_is_off_or_none_does_not(left):
    result = judged(**right(towards_left=left))
    assert result.earned == 2 and result.claims[1].outcome == "look"


def test_a_missing_answer_costs_its_own_claim_only():
    answer = right()
    del answer["quarter_turn"]
    assert judged(**answer).earned == 2


def test_the_height_is_that_of_a_robot_of_about_1_2_metres():
    assert right()["height"] == pytest.approx(1.2, abs=0.1)


def test_the_hint_comes_a_claim_at_a_time(tmp_path, capsys):
    from rigkit.course.notebook import Session
    from rigkit.course.progress import Progress
    session = Session(CHAPTER, CONTEXT, Progress(None), {"height": 1.0, "towards_left": [-1, 0, 0], "quarter_turn": 90}, tmp_path)
    session.check("00.1")
    told = []
    for _ in range(4):
        capsys.readouterr()
        session.hint("00.1")
        told.append(capsys.readouterr().out)
    session.close()
    assert [word in one for one, word in zip(told, ("The height", "The left", "The angle", "The angle"))] == [True] * 4
    assert "The left" not in told[0] and "next step" in told[0] and "next step" not in told[2]
