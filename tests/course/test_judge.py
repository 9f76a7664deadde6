"""Judging: a claim holds on all cases or is told on the worst; a likely cause is told only when it is known."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigkit.course.checkpoint import Case, Claim, Measure, Mistake, Record
from rigkit.course.collect import collect
from rigkit.course.context import cases as cases_of
from rigkit.course.judge import FaultInCheck, judge, shown, tried_text
from tests.course import tiny


def judged(checkpoint, namespace, variant=0, strict=True, seed=None):
    context = tiny.context(variant)
    cases = cases_of(checkpoint, context, seed)
    return judge(checkpoint, collect(checkpoint, namespace, cases), context, cases, strict)


def claim(result, name):
    return next(one for one in result.claims if one.id == name)


def test_a_right_answer_earns_full_points():
    result = judged(tiny.MIDDLE, {"middle": tiny.middle})
    assert (result.outcome, result.earned, result.points) == ("ok", Fraction(3), 3)
    assert isinstance(result.earned, Fraction)


def test_a_claim_that_fails_is_told_with_its_worst_case_and_the_others_earn_theirs():
    result = judged(tiny.MIDDLE, {"middle": lambda a, b: tiny.middle(a, b) + 0.01 * np.cross(a - b, [0, 0, 1]) * abs(a[1])})
    failing = claim(result, "half way")
    assert result.outcome == "look" and failing.earned == 0 and claim(result, "equal").earned == 1
    gaps = [case for case in cases_of(tiny.MIDDLE, tiny.context())]
    worst = max(gaps, key=lambda case: np.linalg.norm(np.cross(case.inputs["a"] - case.inputs["b"], [0, 0, 1]) * case.inputs["a"][1]))
    assert f"a ({worst.inputs['a'][0]:.4g}," in failing.tried
    assert "tolerance 1e-6 m" in failing.got and failing.look_at == "step 1a" and failing.likely == ""


def test_a_planned_mistake_is_recognised_by_its_output():
    result = judged(tiny.MIDDLE, {"middle": lambda a, b: b + a})
    assert claim(result, "half way").likely == "the sum was not halved" and claim(result, "half way").mistake == "sum"
    assert claim(result, "half way").look_at == "step 1c"


def test_a_result_that_is_only_near_a_planned_mistake_is_not_called_it():
    assert claim(judged(tiny.MIDDLE, {"middle": lambda a, b: a + b + 1e-6}), "half way").likely == ""


def test_a_mistake_that_agrees_on_some_failing_cases_only_is_not_called_it():
    result = judged(tiny.MIDDLE, {"middle": lambda a, b: a + b if a[0] > 0 else a + b + 1})
    assert claim(result, "half way").likely == ""


def test_what_the_measure_proves_is_told():
    result = judged(tiny.LENGTH, {**tiny.values(tiny.context()), "length": 1000 * tiny.values(tiny.context())["length"]})
    assert claim(result, "length").likely == "millimetres for metres"


def test_a_value_mistake_is_recognised_by_the_names_its_claim_needs():
    result = judged(tiny.LENGTH, {"length": 12345.0, "centre": tiny.LENGTH.mistakes[1].answer(tiny.context())["centre"]})
    assert claim(result, "centre").mistake == "sum" and claim(result, "length").mistake == ""


@pytest.mark.parametrize("mistake", tiny.MIDDLE.mistakes, ids=lambda m: m.name)
def test_every_planned_mistake_of_a_function_is_called_by_its_name(mistake):
    result = judged(tiny.MIDDLE, {"middle": mistake.answer}, seed=b"hidden")
    assert all(claim(result, name).mistake == mistake.name for name in mistake.misses)


def test_one_missing_name_costs_only_its_claims():
    result = judged(tiny.LENGTH, {"length": tiny.values(tiny.context())["length"]})
    assert claim(result, "length").outcome == "ok" and claim(result, "centre").outcome == "name missing"
    assert result.earned == 1 and result.outcome == "look"


def test_one_filled_name_is_a_beginning_and_counts():
    result = judged(tiny.LENGTH, {"length": tiny.values(tiny.context())["length"], "centre": ...})
    assert (result.outcome, result.earned > 0) == ("look", True)
    assert judged(tiny.LENGTH, {"length": ..., "centre": ...}).outcome == "not started"


def test_a_wrong_shape_costs_only_its_claims():
    result = judged(tiny.LENGTH, {**tiny.values(tiny.context()), "centre": [1, 2]})
    assert claim(result, "centre").outcome == "wrong shape" and "centre: came a list of 2" in claim(result, "centre").got
    assert claim(result, "length").outcome == "ok"


def test_nan_is_not_a_number():
    result = judged(tiny.MIDDLE, {"middle": lambda a, b: (a + b) / 2 * np.nan})
    assert result.outcome == "not a number" and result.earned == 0


def test_one_case_that_stops_costs_the_claims_that_are_about_it():
    def middle(a, b):
        if a[1] == 0:
            raise ValueError("not on the axis")
        return tiny.middle(a, b)
    result = judged(tiny.MIDDLE, {"middle": middle})
    assert {one.outcome for one in result.claims} == {"stopped with an error"}
    assert result.claims[0].tried.startswith("about the origin") and "ValueError: not on the axis" in result.claims[0].got
    only = replace(tiny.MIDDLE, claims=(tiny.MIDDLE.claims[0], replace(tiny.MIDDLE.claims[1], applies=lambda case: case.about == "anywhere")))
    assert claim(judged(only, {"middle": middle}), "equal").outcome == "ok"


def test_a_mistake_that_stops_with_the_same_error_is_recognised():
    broken = Mistake("cut", lambda a, b: [][0], "an empty list has no first item", ("half way",))
    result = judged(replace(tiny.MIDDLE, mistakes=(broken,)), {"middle": lambda p, q: [][0]})
    assert claim(result, "half way").mistake == "cut"


def test_a_text_awaits_a_reader_and_too_few_words_are_told():
    assert judged(tiny.TEXT, {"why": "because both halves are equal"}).outcome == "awaits a reader"
    assert judged(tiny.TEXT, {"why": "because"}).outcome == "look"
    assert judged(tiny.TEXT, {"why": ...}).outcome == "not started"
    assert judged(tiny.TEXT, {"why": 3}).outcome == "wrong kind"


@pytest.mark.parametrize("checkpoint", tiny.CHAPTER.checkpoints, ids=lambda c: c.id)
def test_nothing_attempted_is_not_started_or_missing_and_costs_nothing(checkpoint):
    assert judged(checkpoint, dict.fromkeys(checkpoint.names, ...)).outcome == "not started"
    assert judged(checkpoint, {}).outcome == "name missing"


def test_a_check_that_fails_itself_is_said_and_found_by_tests():
    def broken(case, answer, context):
        return 1 / 0
    checkpoint = replace(tiny.CHOICE, claims=(Claim("x", "a claim", 1, broken),))
    result = judged(checkpoint, {"best": "a"}, strict=False)
    assert result.outcome == "look" and "fault of the workbook" in result.claims[0].got
    with pytest.raises(FaultInCheck):
        judged(checkpoint, {"best": "a"})


def test_a_claim_about_no_case_is_a_fault():
    checkpoint = replace(tiny.MIDDLE, claims=(replace(tiny.MIDDLE.claims[0], applies=lambda case: False),))
    with pytest.raises(FaultInCheck):
        judged(checkpoint, {"middle": tiny.middle})
    assert judged(checkpoint, {"middle": tiny.middle}, strict=False).earned == 0


def test_a_gap_that_is_not_a_number_counts_as_the_worst():
    def gap(case, answer, context):
        return Measure(False, "", case.about, float("nan") if case.about == "b" else 9.0)
    checkpoint = replace(tiny.MIDDLE, claims=(Claim("x", "x", 1, gap),), cases=lambda r, c: [Case(n, {"a": np.zeros(3), "b": np.ones(3)}) for n in "abc"])
    assert judged(checkpoint, {"middle": tiny.middle}).claims[0].got == "b"


def test_a_record_with_fewer_calls_than_cases_earns_nothing_for_the_rest():
    context = tiny.context()
    cases = cases_of(tiny.MIDDLE, context)
    whole = collect(tiny.MIDDLE, {"middle": tiny.middle}, cases)
    short = replace(whole, calls=whole.calls[:1])
    assert judge(tiny.MIDDLE, short, context, cases).earned == 0
    assert judge(tiny.MIDDLE, Record("90.1"), context, cases).earned == 0
    assert judge(tiny.LENGTH, Record("90.2"), context, [Case()]).earned == 0


def test_the_cases_are_the_same_on_every_run_and_others_when_graded():
    context = tiny.context()
    told = [str(cases_of(tiny.MIDDLE, context, seed)) for seed in (None, None, b"x", b"x", b"y")]
    assert told[0] == told[1] and told[2] == told[3] and len(set(told)) == 3


def test_what_is_drawn_is_the_case_the_panel_tells():
    context = tiny.context()
    cases = cases_of(tiny.MIDDLE, context)
    space = {"middle": lambda a, b: tiny.middle(a, b) if a[1] == 0 else a + b}
    record = collect(tiny.MIDDLE, space, cases)
    drawn = shown(tiny.MIDDLE, record, space, context, cases)
    told = judge(tiny.MIDDLE, record, context, cases).claims[0].tried
    assert f"a ({drawn.case.inputs['a'][0]:.4g}," in told
    assert drawn(np.zeros(3), np.ones(3)).tolist() == [0.5, 0.5, 0.5]
    with pytest.raises(ValueError, match="wrong shape|stopped"):
        drawn([1], [2])


@pytest.mark.parametrize(("value", "told"), [
    (np.array([0.1, 2, 3]), "(0.1, 2, 3)"), ([], "(0 items)"), (np.zeros((24, 3)), "(24 rows of 3)"), ([1] * 9, "(9 numbers)"),
    ([np.zeros((2, 3)), np.zeros((4, 3))], "(2 items)"), (0.123456, "0.1235"), ("left_arm", "'left_arm'"), ({"a": 1}, "{'a': 1}"),
    (["a", "b"], "(2 items)"), ([[1, 2], [3]], "(2 items)"),
])
def test_an_input_is_told_in_a_few_letters(value, told):
    assert tried_text(Case("", {"x": value})) == f"x {told}"


numbers = st.floats(allow_nan=True, allow_infinity=True) | st.integers() | st.booleans()
answers = st.none() | numbers | st.text(max_size=4) | st.lists(numbers, max_size=4) | st.lists(st.lists(numbers, max_size=3), max_size=3)


@given(answers)
@settings(max_examples=150)
def test_a_random_answer_of_a_function_never_passes_and_never_crashes(value):
    result = judged(tiny.MIDDLE, {"middle": lambda a, b: value})
    assert claim(result, "half way").earned == 0 and result.outcome != "ok"


@given(answers, answers)
def test_random_values_never_pass_and_never_crash(length, centre):
    result = judged(tiny.LENGTH, {"length": length, "centre": centre})
    assert result.earned == 0 and result.outcome not in ("ok", "not started")
