"""From plain data to points: measure every claim on every case, and name the mistake when it is a known one.

A claim holds when it holds on all cases; the case with the largest gap is the
one that is told. A likely cause is told only when a planned mistake gives the
same wrong result from the same inputs, or when the measurement itself proves it.
"""

import math
import warnings
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

import numpy as np

from rigkit.arguments import shorten
from rigkit.course import collect
from rigkit.course.checkpoint import Call, Case, ClaimResult, Measure, Result
from rigkit.course.forms import Wrong

SAME = 1e-9  # a planned mistake is recognised when its result is this near, relative or absolute


class FaultInCheck(Exception):
    """A measure, form or planned mistake of ours failed. Learners never meet it; tests do (strict=True)."""


@dataclass(frozen=True)
class _Tried:
    """One claim on one case: the call that gave the answer, the answer in its form, and its measure (None if there is no answer)."""

    case: Case
    call: Call
    answer: Any = None
    measure: Measure | None = None

    @property
    def ok(self):
        return self.measure is not None and bool(self.measure.ok)


def judge(checkpoint, record, context, cases, strict=False, mistakes=None):
    """Return the Result of one answer.

    record: what collect made of it on these same cases. strict: raise
    FaultInCheck where a check itself fails, instead of saying so in the panel.
    mistakes: the planned Mistakes of an earlier call with the very same list of cases, so that each is run once for all answers.
    """
    cases = cases if mistakes else list(cases)
    if record.outcome != "ok":
        return _unjudged(checkpoint, record.outcome, record.line, context)
    if checkpoint.kind == "text":
        return _judge_text(checkpoint, record, context)
    if checkpoint.kind == "function":
        (form,) = checkpoint.names.values()
        calls = _calls(record, form, cases)
        tried = {claim.id: _tried_calls(claim, cases, calls, context, strict) for claim in checkpoint.claims}
        whole = [_Tried(case, call) for case, call in zip(cases, calls)]
    else:
        values = {name: _formed(record.values.get(name, Call("name missing", None, f"there is no {name} yet")), form, name)
                  for name, form in checkpoint.names.items()}
        tried = {claim.id: _tried_values(claim, values, cases or [Case()], context, strict) for claim in checkpoint.claims}
        whole = [_Tried(Case(), Call("ok"), {name: call.value for name, call in values.items() if call.outcome == "ok"})]
    mistakes = mistakes or Mistakes(checkpoint, context, strict)
    claims = tuple(_claim_result(checkpoint, claim, tried[claim.id], mistakes, whole) for claim in checkpoint.claims)
    return Result(checkpoint.id, checkpoint.title, _outcome(claims), "", claims, context.variant)


@dataclass(frozen=True)
class Shown:
    """A learner's function for drawing: call it with inputs of one's own; .case and .value are the case the panel tells."""

    function: Callable
    form: Callable
    case: Case
    value: Any
    namespace: Any = None

    def __call__(self, *inputs):
        """What the function gives for these inputs, in its form; ValueError where it gives nothing of the form."""
        call = _formed(collect.call(self.function, Case("", {f"input {i + 1}": value for i, value in enumerate(inputs)}), 5.0, self.namespace), self.form)
        if call.outcome != "ok":
            raise ValueError(f"{call.outcome}: {call.line}")
        return call.value


def told_case(checkpoint, record, context, cases):
    """Return the Case that the panel tells: the worst of the first claim that doesn't hold, else the first."""
    if checkpoint.kind != "function" or record.outcome != "ok":
        return cases[0]
    (form,) = checkpoint.names.values()
    return cases[_worst_case(checkpoint, [_formed(one, form) for one in record.calls], context, cases)]


def shown(checkpoint, record, namespace, context, cases):
    """Return the answer as checkpoint.show wants it: a dict of name to value, or for a function a Shown; None where there is nothing to draw."""
    if checkpoint.kind != "function":
        formed = {name: _formed(record.values[name], form, name) for name, form in checkpoint.names.items()}
        return {name: call.value for name, call in formed.items() if call.outcome == "ok"} or None
    ((name, form),) = checkpoint.names.items()
    calls = _calls(record, form, cases)
    worst = _worst_case(checkpoint, calls, context, cases)
    if calls[worst].outcome != "ok":
        return None
    return Shown(namespace[name], form, cases[worst], calls[worst].value, namespace)


# -- helpers


def _worst_case(checkpoint, calls, context, cases):
    """The index of the case the panel tells: the worst of the first claim that fails, else 0."""
    for claim in checkpoint.claims:
        worst = _worst(_tried_calls(claim, cases, calls, context, False))
        if not worst.ok:
            return next(i for i, case in enumerate(cases) if case is worst.case)
    return 0


def _unjudged(checkpoint, outcome, line, context):
    claims = tuple(ClaimResult(claim.id, claim.text, claim.points, Fraction(0), outcome) for claim in checkpoint.claims)
    return Result(checkpoint.id, checkpoint.title, outcome, line, claims, context.variant)


def _judge_text(checkpoint, record, context):
    for name, form in checkpoint.names.items():
        call = _formed(record.values[name], form, name)
        if call.outcome != "ok":
            return _unjudged(checkpoint, call.outcome, call.line, context)
    return _unjudged(checkpoint, "awaits a reader", "read by a person; the points come with the graded page", context)


def _calls(record, form, cases):
    """A call for every case; what a record lacks is an answer that isn't there."""
    lacking = Call("stopped with an error", None, "no result came back for this case")
    return [_formed(record.calls[i], form) if i < len(record.calls) else lacking for i in range(len(cases))]


def _formed(call, form, name=""):
    """The call with its value in its form, or with the outcome that says why it hasn't."""
    if call.outcome != "ok":
        return call
    try:
        return Call("ok", form(call.value))
    except Wrong as wrong:
        return Call(wrong.outcome, None, f"{name}: {wrong.line}" if name else wrong.line)


def _tried_calls(claim, cases, calls, context, strict):
    """The claim on every case it is about."""
    tried = [_measured(claim, case, call, call.value, context, strict) for case, call in zip(cases, calls) if claim.applies(case)]
    if not tried and strict:
        raise FaultInCheck(f"claim {claim.id} applies to none of the {len(cases)} cases")
    return tried or [_Tried(Case(), Call("look", None, "no case was there to try; a fault of the workbook, not of your answer"))]


def _tried_values(claim, values, cases, context, strict):
    needed = {name: values[name] for name in (claim.needs or values)}
    missing = next((call for call in needed.values() if call.outcome != "ok"), None)
    answer = {name: call.value for name, call in needed.items()}
    return [_measured(claim, case, missing or Call("ok"), answer, context, strict) for case in cases]


def _measured(claim, case, call, answer, context, strict):
    if call.outcome != "ok":
        return _Tried(case, call)
    try:
        with np.errstate(all="ignore"), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            measure = _sound(claim.measure(case, answer, context))
            return _Tried(case, call, answer, measure if claim.limit is None else replace(measure, ok=measure.gap <= claim.limit))
    except Exception as error:
        if strict:
            raise FaultInCheck(f"claim {claim.id} failed to measure case {case.about!r}: {type(error).__name__}: {error}") from error
        told = f"this check itself failed ({type(error).__name__}: {collect.shorten_text(' '.join(str(error).split()), 60)})"
        return _Tried(case, Call("look"), answer, Measure(False, "a measurement", f"{told}; a fault of the workbook, not of your answer", math.inf))


def _sound(measure):
    """A Measure whose gap can be compared."""
    gap = float(measure.gap)
    return Measure(bool(measure.ok), measure.expected, measure.got, math.inf if math.isnan(gap) else gap, measure.proves)


def _worst(tried):
    """The case to tell: one without an answer first, then the largest gap among those that don't hold."""
    broken = [one for one in tried if one.measure is None]
    failing = [one for one in tried if not one.ok]
    if broken:
        return broken[0]
    return max(failing, key=lambda one: one.measure.gap) if failing else tried[0]


def _claim_result(checkpoint, claim, tried, mistakes, whole):
    worst = _worst(tried)
    if worst.ok:
        return ClaimResult(claim.id, claim.text, claim.points, Fraction(claim.points), "ok")
    mistake = mistakes.recognise(claim, tried, whole)
    likely = mistake.diagnosis if mistake else (worst.measure.proves if worst.measure else "")
    look_at = (mistake.look_at if mistake else "") or claim.look_at
    expected, got = (worst.measure.expected, worst.measure.got) if worst.measure else ("", worst.call.line)
    if worst.measure and claim.tolerance and "tolerance" not in expected + got:
        got = f"{got}   (tolerance {claim.tolerance})"
    return ClaimResult(
        claim.id, claim.text, claim.points, Fraction(0), "look" if worst.measure else worst.call.outcome,
        tried_text(worst.case), expected, got, likely, look_at, mistake.name if mistake else "",
    )


def _outcome(claims):
    """The outcome of a checkpoint: ok when all claims are, else that of the first claim that was tried and isn't.

    Where some claims hold and the rest were not tried yet, it has been begun: "look".
    """
    failing = [claim.outcome for claim in claims if claim.outcome != "ok"]
    if not failing:
        return "ok"
    tried = next((one for one in failing if one not in ("not started", "name missing")), None)
    return tried or ("look" if len(failing) < len(claims) else failing[0])


class Mistakes:
    """The planned mistakes of one checkpoint, each run once on each case and only when asked for."""

    def __init__(self, checkpoint, context, strict=False):
        self.checkpoint, self.context, self.strict, self.results = checkpoint, context, strict, {}

    def recognise(self, claim, tried, whole):
        """Return the planned mistake that gives the same results on every case that does not hold, or None.

        Where several do, one that gives the learner's whole answer comes first, not only what this claim looks at.
        """
        failing = [one for one in tried if not one.ok]
        matching = [m for m in self.checkpoint.mistakes if all(self._gives(m, one) for one in failing)]
        ranked = sorted(matching, key=lambda m: (
            not all(self._gives(m, one) for one in whole), claim.id not in m.misses, not all(self._gives(m, one) for one in tried)))
        return ranked[0] if ranked else None

    def _gives(self, mistake, one):
        key = (mistake.name, id(one.case) if self.checkpoint.kind == "function" else 0)
        if key not in self.results:
            self.results[key] = self._run(mistake, one.case)
        call = self.results[key]
        if self.checkpoint.kind == "function":
            return _same_calls(call, one.call)
        return call.outcome == "ok" and one.call.outcome == "ok" and all(
            name in call.value and collect.same(call.value[name], value, SAME) for name, value in one.answer.items())

    def _run(self, mistake, case):
        """What the mistake gives: a Call with its value in form (a dict of values for all but functions)."""
        if self.checkpoint.kind == "function":
            (form,) = self.checkpoint.names.values()
            return _formed(collect.call(mistake.answer, case, 60.0), form)
        try:
            with collect.quiet():
                values = mistake.answer(self.context)
        except Exception as error:
            if self.strict:
                raise FaultInCheck(f"planned mistake {mistake.name!r} failed: {type(error).__name__}: {error}") from error
            return Call("look")
        formed = {name: _formed(collect.value_of(name, values), form) for name, form in self.checkpoint.names.items() if name in values}
        return Call("ok", {name: call.value for name, call in formed.items() if call.outcome == "ok"})


def _same_calls(a, b):
    if a.outcome != b.outcome:
        return False
    if a.outcome == "ok":
        return collect.same(a.value, b.value, SAME)
    if a.outcome == "stopped with an error":
        return a.line.split("  (line")[0] == b.line.split("  (line")[0]
    return a.line == b.line


def tried_text(case):
    """A case on one line: what is special, then each input.

    >>> tried_text(Case("nearly straight", {"root": [0, 1, 0], "soft": 0.25}))
    'nearly straight: root (0, 1, 0)   soft 0.25'
    """
    inputs = "   ".join(f"{name} {_short(value)}" for name, value in case.inputs.items() if not case.tell or name in case.tell)
    return f"{case.about}: {inputs}" if case.about and inputs else case.about or inputs


def _short(value):
    if isinstance(value, np.ndarray):
        value = value.tolist()
    if type(value) in (list, tuple) and 0 < len(value) <= 4 and all(type(v) in (int, float) for v in value):
        return "(" + ", ".join(f"{v + 0.0:.4g}" for v in value) + ")"  # minus zero reads as 0
    if type(value) in (list, tuple):
        return _size(value)
    if type(value) is float:
        return f"{value:.4g}"
    return shorten(value, 30)


def _size(value):
    """How much a longer list holds: "24 numbers", "24 rows of 3", "5 items"."""
    if value and all(type(v) in (int, float) for v in value):
        return f"({len(value)} numbers)"
    if value and all(type(v) in (list, tuple) and len(v) == len(value[0]) and all(type(x) in (int, float) for x in v) for v in value):
        return f"({len(value)} rows of {len(value[0])})"
    return f"({len(value)} items)"
