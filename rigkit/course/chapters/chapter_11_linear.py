"""Checkpoint 11.2: linear blending. Source: Magnenat-Thalmann, Laperriere, Thalmann, Graphics Interface 1988 (memory); glTF 2.0, skins."""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_11_sleeve import BOOK, about, blended, matrix, twisted_poses, vertices_apart
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Mistake

ARGUMENTS = ("vertices", "weights", "binds", "poses")
BIND, MEAN = "idea 2, step 1", "idea 2, step 3"


def inputs(case):
    """vertices (V, 3), weights (V, J), binds (J, 4, 4), poses (J, 4, 4)."""
    return tuple(np.asarray(case.inputs[name], float) for name in ARGUMENTS)


def at_rest(case):
    """Whether nothing has moved."""
    return case.about.startswith("rest")


def alone(case):
    """Whether each vertex has one joint."""
    return case.about.startswith("alone")


def shared(case):
    """Whether vertices are shared and moved."""
    return not at_rest(case) and not alone(case)


def where(case, answer, context):
    """Each vertex against the mean of where its joints carry it."""
    return vertices_apart(answer, blended(*inputs(case)), "each vertex at the mean of its joints")


def frame_at_random(rng):
    """A rigid frame (4, 4)."""
    axis = rng.normal(size=3)
    found = np.eye(4)
    found[:3, :3], found[:3, 3] = matrix(about(axis / np.linalg.norm(axis), rng.uniform(0.4, 1.6))), rng.uniform(-1, 1, 3)
    return found


def cases(rng, context):
    """Tally's sleeve at rest, bent frames at random, one joint alone, three shared."""
    known = context.given
    sleeve, binds = known["vertices"][::9], np.asarray(known["binds"])
    share = np.linspace(0, 1, len(sleeve))
    two = np.column_stack([1 - share, share])
    many = rng.uniform(0.1, 1, (6, 3))
    points, before, after = (rng.uniform(-1, 1, (6, 3)), *(np.array([frame_at_random(rng) for _ in range(3)]) for _ in range(2)))
    hand = np.array([np.eye(4), np.eye(4)])
    quarter = np.array([np.eye(4), np.eye(4)])
    quarter[1, :3, :3] = matrix(about([0, 0, 1], np.pi / 2))
    rows = [
        ("half and half, a quarter turn about z", (np.array([[1.0, 0, 0]]), np.array([[0.5, 0.5]]), hand, quarter)),
        ("rest: Tally's sleeve", (sleeve, two, binds, binds)),
        ("rest: three joints", (points, many / many.sum(axis=1, keepdims=True), before, before)),
        ("alone: one joint each", (points, np.eye(3)[[0, 1, 2, 2, 1, 0]], before, after)),
        ("Tally's sleeve, twisted", (sleeve, two, binds, twisted_poses(binds, 90))),
        ("three joints that share", (points, many / many.sum(axis=1, keepdims=True), before, after)),
    ]
    return [
        Case(about, dict(zip(ARGUMENTS, values)), tell=("weights",) if len(values[0]) == 1 else ("vertices",)) for about, values in rows
    ]


def no_inverse_bind(vertices, weights, binds, poses):
    """The pose alone."""
    return np.einsum("vj,vja->va", weights, np.einsum("jab,vb->vja", poses[:, :3, :3], vertices) + poses[:, :3, 3])


def other_order(vertices, weights, binds, poses):
    """The inverse bind on the left."""
    carry = np.linalg.inv(binds) @ poses
    return np.einsum("vj,vja->va", weights, np.einsum("jab,vb->vja", carry[:, :3, :3], vertices) + carry[:, :3, 3])


def bind_back(vertices, weights, binds, poses):
    """From the pose to the bind."""
    return blended(vertices, weights, poses, binds)


def main_joint(vertices, weights, binds, poses):
    """The main joint alone."""
    return blended(vertices, np.eye(weights.shape[1])[weights.argmax(axis=1)], binds, poses)


def turns_only(vertices, weights, binds, poses):
    """Without the moves."""
    carry = poses @ np.linalg.inv(binds)
    return np.einsum("vj,vja->va", weights, np.einsum("jab,vb->vja", carry[:, :3, :3], vertices))


def even(vertices, weights, binds, poses):
    """All joints alike."""
    return blended(vertices, np.full(weights.shape, 1 / weights.shape[1]), binds, poses)


MISTAKES = (
    Mistake(
        "no inverse bind",
        no_inverse_bind,
        "the inverse bind is left out: at rest a vertex shifts by its joint's position",
        ("rest", "alone"),
        BIND,
    ),
    Mistake(
        "other order",
        other_order,
        "the inverse bind stands on the left: first into the joint's frame, then out by the pose",
        ("alone", "shared"),
        BIND,
    ),
    Mistake("bind back", bind_back, "bind and pose are swapped: the sleeve goes the opposite way", ("alone", "shared"), BIND),
    Mistake("main joint", main_joint, "each vertex follows its main joint alone: take the mean by all weights", ("shared",), MEAN),
    Mistake("turns only", turns_only, "the moves are left out: a 4 by 4 matrix needs a 1 below the point", ("alone",), BIND),
    Mistake("even", even, "all joints count alike: multiply by the weights", ("alone",), MEAN),
)


def show_linear(viewer, shown, context):
    """The sleeve's loops as the answer twists them by 90 degrees; the model as the package does, with its own weights."""
    from rigkit.course.chapters.chapter_11_show import drawn, shares

    known = context.given
    poses = twisted_poses(np.asarray(known["binds"]), 90)
    got = shown(known["vertices"], shares(known), np.asarray(known["binds"]), poses)
    drawn(viewer, context, got, blended(known["vertices"], shares(known), np.asarray(known["binds"]), poses))
    viewer.caption("11.2: the sleeve's loops as your function twists them by 90 degrees; faint, the expected points.")


CHECKPOINT = Checkpoint(
    id="11.2",
    title="Linear blend",
    kind="function",
    names={"linear_blend": forms.array(None, 3)},
    claims=(
        Claim("rest", "at rest every vertex stays where it was", 1, where, "1e-6 m", look_at=BIND, applies=at_rest),
        Claim("alone", "one joint alone carries its vertices as a hard part", 1, where, "1e-6 m", look_at=BIND, applies=alone),
        Claim("shared", "shared vertices go to the mean by weight", 2, where, "1e-6 m", look_at=MEAN, applies=shared),
    ),
    worked=blended,
    hint="For each joint: carry = pose @ np.linalg.inv(bind), a 4 by 4 matrix.\n"
    "Each vertex gets a 1 at its end: np.column_stack([vertices, np.ones(len(vertices))]).\n"
    "Add up weights[:, j, None] times where joint j carries the vertices.",
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
    show=show_linear,
)
