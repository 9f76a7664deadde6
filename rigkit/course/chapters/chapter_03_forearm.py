"""Checkpoint 03.4: points as the forearm sees them, and back.

A frame is a place and a turn. What stands in the forearm at p stands in the world
at elbow + R p; so what stands in the world at w, the forearm sees at R^T (w - elbow).
What is fixed to the forearm keeps its numbers there while the world's change.
Source: change of basis between orthonormal frames, any textbook of linear algebra.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_03_show import show_forearm
from rigkit.course.chapters.chapter_03_turns import CLOSE, TURNS
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import point as told_point
from rigkit.words import told_length

NAMES = ("world_from_forearm", "elbow", "lamp", "knob", "sticker", "later_world_from_forearm", "later_elbow")


def placed(name, what, origin=None):
    """The claim's measure for one of the three points. origin: the name of the elbow it is told from; None in the forearm's own frame."""

    def measure(case, answer, context):
        right, got = forearm()(context)[name], answer[name]
        elbow = np.zeros(3) if origin is None else np.asarray(context.given[origin], float)
        gap = float(np.linalg.norm(got - right))
        return Measure(
            gap <= CLOSE,
            f"{what}; it is {np.linalg.norm(right - elbow):.4f} m from the elbow",
            f"{told_point(got, 4)}, {np.linalg.norm(got - elbow):.4f} m from the elbow; {told_length(gap)} from where it belongs",
            gap,
        )

    return measure


def forearm(
    *,
    lamp=lambda r, o, w: r.T @ (w - o),
    knob=lambda r, o, p: o + r @ p,
    sticker=lambda r, o, w, later, there: there + later @ (r.T @ (w - o)),
):
    """Return the answer of 03.4 as a function of the context; the defaults are right, every other choice is one planned mistake."""

    def answer(context):
        r, o, at_lamp, at_knob, at_sticker, later, there = (np.asarray(context.given[name], float) for name in NAMES)
        return {
            "lamp_in_forearm": lamp(r, o, at_lamp),
            "knob_in_world": knob(r, o, at_knob),
            "sticker_later": sticker(r, o, at_sticker, later, there),
        }

    return answer


def elbow_at_rest(context):
    """The notebook's `elbow`, which is the joint at rest, in place of `elbow_now`."""
    r, _, lamp, knob, sticker, later, there = (np.asarray(context.given[name], float) for name in NAMES)
    rest = np.asarray(context.robot.landmarks["left_elbow"], float)
    return {
        "lamp_in_forearm": r.T @ (lamp - rest),
        "knob_in_world": rest + r @ knob,
        "sticker_later": there + later @ (r.T @ (sticker - rest)),
    }


SEEN, BACK, LATER = "idea 3, seen from a frame", "idea 3, seen from a frame", "idea 3, what is fixed to a part"
CHECKPOINT = Checkpoint(
    id="03.4",
    title="As the forearm sees it",
    kind="value",
    names={"lamp_in_forearm": forms.point(), "knob_in_world": forms.point(), "sticker_later": forms.point()},
    claims=(
        Claim(
            "lamp",
            "lamp_in_forearm: the lamp as the forearm sees it",
            2,
            placed("lamp_in_forearm", "the lamp as the forearm sees it"),
            "1e-6 m",
            ("lamp_in_forearm",),
            SEEN,
        ),
        Claim(
            "knob",
            "knob_in_world: the knob as the world sees it",
            1,
            placed("knob_in_world", "the knob as the world sees it", "elbow"),
            "1e-6 m",
            ("knob_in_world",),
            BACK,
        ),
        Claim(
            "sticker",
            "sticker_later: the sticker in the world, in the later stance",
            2,
            placed("sticker_later", "the sticker as the world sees it later", "later_elbow"),
            "1e-6 m",
            ("sticker_later",),
            LATER,
        ),
    ),
    worked=forearm(),
    mistakes=(
        Mistake(
            "elbow at rest",
            elbow_at_rest,
            "this is the elbow of the rest pose; in the first stance it is elsewhere: elbow_now",
            ("lamp", "knob", "sticker"),
            SEEN,
        ),
        Mistake(
            "lamp: elbow not taken off",
            forearm(lamp=lambda r, o, w: r.T @ w),
            "the elbow was not taken off: turn the way from the elbow to the lamp",
            ("lamp",),
            SEEN,
        ),
        Mistake(
            "lamp: not inverted",
            forearm(lamp=lambda r, o, w: r @ (w - o)),
            "turned from the forearm to the world, not back: take the transposed matrix",
            ("lamp",),
            SEEN,
        ),
        Mistake(
            "lamp: not turned",
            forearm(lamp=lambda r, o, w: w - o),
            "this is the way from the elbow in the world's axes; it was not turned into the forearm's",
            ("lamp",),
            SEEN,
        ),
        Mistake(
            "lamp: turned first",
            forearm(lamp=lambda r, o, w: r.T @ w - o),
            "turned first, then the elbow taken off: the elbow is a world point, take it off first",
            ("lamp",),
            SEEN,
        ),
        Mistake(
            "lamp: both put on",
            forearm(lamp=lambda r, o, w: o + r @ w),
            "the lamp was taken for a point of the forearm: this is the way back to the world",
            ("lamp",),
            SEEN,
        ),
        Mistake(
            "lamp: backwards",
            forearm(lamp=lambda r, o, w: r.T @ (o - w)),
            "the way from the lamp to the elbow: all signs are turned; end minus start",
            ("lamp",),
            SEEN,
        ),
        Mistake(
            "knob: elbow not added",
            forearm(knob=lambda r, o, p: r @ p),
            "the way from the elbow, in the world's axes: the elbow was not added",
            ("knob",),
            BACK,
        ),
        Mistake(
            "knob: turned back",
            forearm(knob=lambda r, o, p: o + r.T @ p),
            "turned from the world to the forearm, not out of it: no transposing here",
            ("knob",),
            BACK,
        ),
        Mistake(
            "knob: not turned",
            forearm(knob=lambda r, o, p: o + p),
            "the knob's numbers are along the forearm's axes; turn them before you add them to the elbow",
            ("knob",),
            BACK,
        ),
        Mistake(
            "knob: added, then turned",
            forearm(knob=lambda r, o, p: r @ (o + p)),
            "the elbow was turned as well: turn the knob alone, then add the elbow",
            ("knob",),
            BACK,
        ),
        Mistake(
            "sticker: stays",
            forearm(sticker=lambda r, o, w, later, there: w),
            "the sticker is left where it was in the world; it goes with the forearm",
            ("sticker",),
            LATER,
        ),
        Mistake(
            "sticker: taken for the forearm's",
            forearm(sticker=lambda r, o, w, later, there: there + later @ w),
            "the sticker came in the world's numbers and was used as the forearm's: see it from the forearm first",
            ("sticker",),
            LATER,
        ),
        Mistake(
            "sticker: moved only",
            forearm(sticker=lambda r, o, w, later, there: w + there - o),
            "the sticker was moved as the elbow moved, but not turned about it",
            ("sticker",),
            LATER,
        ),
        Mistake(
            "sticker: first stance",
            forearm(sticker=lambda r, o, w, later, there: there + later @ (w - o)),
            "the way from the elbow is still in the world's axes: turn it into the forearm's of the first stance before",
            ("sticker",),
            LATER,
        ),
        Mistake(
            "sticker: swapped stances",
            forearm(sticker=lambda r, o, w, later, there: o + r @ (later.T @ (w - there))),
            "the stances are swapped: seen from the forearm of the first stance, then out of the later one",
            ("sticker",),
            LATER,
        ),
    ),
    hint="Lamp: first the way from the elbow to it, then the transposed matrix. Knob: matrix first, then the elbow is added.\n"
    "Sticker: its numbers in the forearm's frame are the same in both stances. Get them as you got the lamp's, from the first stance; "
    "bring them back to the world as you did the knob's, with the later one.",
    closed=TURNS,
    show=show_forearm,
)
