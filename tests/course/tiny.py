"""A tiny chapter to try the course's machinery on: one checkpoint of every kind, about midpoints. It needs no robot."""

from types import SimpleNamespace

import numpy as np

from rigkit.course import forms
from rigkit.course.checkpoint import Case, Chapter, Checkpoint, Claim, Context, Measure, Mistake
from rigkit.course.notebook import Session
from rigkit.course.progress import Progress


def context(variant=0):
    """A Context whose robot has nothing but a name."""
    return Context(variant, SimpleNamespace(name="Tiny"), {"a": np.array([0.0, 1, 0]), "b": np.array([2.0, 1, 4 + variant])})


def middle(a, b):
    """The worked answer of 90.1."""
    return (np.asarray(a) + b) / 2


def _half(case):
    return (np.asarray(case.inputs["a"]) + case.inputs["b"]) / 2


def _distance(case, answer, context):
    gap = float(np.linalg.norm(answer - _half(case)))
    return Measure(gap <= 1e-6, "the point half way", f"{gap:.6f} m off", gap)


def _equal(case, answer, context):
    off = abs(np.linalg.norm(answer - case.inputs["a"]) - np.linalg.norm(answer - case.inputs["b"]))
    return Measure(off <= 1e-6, "equal distances to a and b", f"distances differ by {off:.6f} m", float(off))


def _cases(rng, context):
    return [Case("about the origin", {"a": np.array([-1.0, 0, 0]), "b": np.array([1.0, 0, 0])}),
            *(Case("anywhere", {"a": rng.normal(size=3), "b": rng.normal(size=3)}) for _ in range(4))]


MIDDLE = Checkpoint(
    "90.1", "The middle of two points", "function", {"middle": forms.point()},
    claims=(
        Claim("half way", "the point lies half way", 2, _distance, "1e-6 m", look_at="step 1a"),
        Claim("equal", "it is equally far from both", 1, _equal, "1e-6 m", look_at="step 1b"),
    ),
    worked=middle, hint="Add them, then halve.", cases=_cases, closed=("words.point",), seconds=1.0,
    mistakes=(
        Mistake("sum", lambda a, b: np.asarray(a) + b, "the sum was not halved", ("half way",), "step 1c"),
        Mistake("first", lambda a, b: np.array(a), "the first point was given back", ("half way", "equal")),
    ),
)


def _gap(case, answer, context):
    right = float(np.linalg.norm(context.given["b"] - context.given["a"]))
    off = abs(answer["length"] - right)
    return Measure(off < 1e-6, f"{right:.3f} m", f"{answer['length']:.3f} m, {off:.3f} m off", off,
                   proves="millimetres for metres" if abs(answer["length"] - 1000 * right) < 1e-3 else "")


def _at_middle(case, answer, context):
    off = float(np.linalg.norm(answer["centre"] - (context.given["a"] + context.given["b"]) / 2))
    return Measure(off < 1e-6, "the centre of a and b", f"{off:.3f} m off", off)


def values(context):
    """The worked answer of 90.2."""
    a, b = context.given["a"], context.given["b"]
    return {"length": float(np.linalg.norm(b - a)), "centre": (a + b) / 2}


LENGTH = Checkpoint(
    "90.2", "A length and a centre", "value", {"length": forms.number(), "centre": forms.point()},
    claims=(
        Claim("length", "the distance from a to b", 1, _gap, "1e-6 m", ("length",), "step 2a"),
        Claim("centre", "the point between them", 2, _at_middle, "1e-6 m", ("centre",), "step 2b"),
    ),
    worked=values, hint="Pythagoras.",
    show=lambda viewer, answer, context: viewer.joints([answer["centre"]]),
    mistakes=(
        Mistake("square", lambda c: {**values(c), "length": values(c)["length"] ** 2}, "the root was not taken", ("length",)),
        Mistake("sum", lambda c: {**values(c), "centre": 2 * values(c)["centre"]}, "the sum was not halved", ("centre",)),
    ),
)


def _is_b(case, answer, context):
    return Measure(answer["best"] == "b", "one of the two", f"{answer['best']!r}")


CHOICE = Checkpoint(
    "90.3", "A choice", "choice", {"best": forms.choice("a", "b")}, (Claim("right", "the better of the two", 1, _is_b, needs=("best",)),),
    worked=lambda c: {"best": "b"}, hint="Not a.", mistakes=(Mistake("other", lambda c: {"best": "a"}, "a is the longer way", ("right",)),),
)

TEXT = Checkpoint(
    "90.4", "A short text", "text", {"why": forms.text(4)}, (Claim("said", "why the middle is in the middle", 2, None),),
    worked=lambda c: {"why": "because both halves are equal"}, hint="Think of halves.", core=False,
)

CHAPTER = Chapter(
    "90", "tiny", "Tiny", 5, (MIDDLE, LENGTH, CHOICE, TEXT), given=lambda robot, variant: context(variant).given,
    recall=(("Which is even?", ("3", "4"), 1, "4 is 2 + 2."),), wrap_up=(("Half of 2?", ("1", "2"), 0, "1 + 1 is 2."),),
)


def session(folder=None, who=None, namespace=None, variant=0):
    """A Session of the tiny chapter, in memory or in a folder."""
    progress = Progress(folder if who else None)
    return Session(CHAPTER, context(variant), progress, {} if namespace is None else namespace, folder or ".", who)
