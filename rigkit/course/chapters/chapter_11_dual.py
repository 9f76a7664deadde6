"""Checkpoint 11.4: dual quaternions. Source: Kavan, Collins, Zara, O'Sullivan, ACM TOG 27(4):105 (2008)."""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_11_show import drawn, shares
from rigkit.course.chapters.chapter_11_sleeve import BOOK, about, matrix, vertices_apart
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Mistake

ARGUMENTS = ("vertices", "weights", "turns", "moves")
PAIR, SIGN, BACK = "idea 3, step 1", "idea 3, step 2", "idea 3, step 4"


def product(p, q):
    """The product of quaternions (..., 4), (x, y, z, w)."""
    p, q = np.broadcast_arrays(p, q)
    vector = p[..., 3:] * q[..., :3] + q[..., 3:] * p[..., :3] + np.cross(p[..., :3], q[..., :3])
    return np.concatenate([vector, p[..., 3:] * q[..., 3:] - (p[..., :3] * q[..., :3]).sum(-1, keepdims=True)], axis=-1)


def signs_to_main(weights, turns):
    """The sign (V, J) that brings each joint's turn near to each vertex's main joint."""
    return np.where(turns[weights.argmax(axis=1)] @ turns.T < 0, -1.0, 1.0)


def mixed(vertices, weights, turns, moves, signs=signs_to_main, half=0.5, scaled=True, swapped=False):
    """The worked steps; the defaults are right, every other choice is one planned mistake."""
    pure = np.column_stack([moves, np.zeros(len(moves))])
    duals = half * (product(turns, pure) if swapped else product(pure, turns))
    shares_now = weights * signs(weights, turns)
    real, dual = shares_now @ turns, shares_now @ duals
    size = np.linalg.norm(real, axis=1, keepdims=True)
    size = np.where(size > 1e-12, size, 1.0) if scaled else np.ones_like(size)
    real, dual = real / size, dual / size
    move = 2 * product(dual, real * [-1, -1, -1, 1])[:, :3]
    vector, w = real[:, :3], real[:, 3:]
    twice = 2 * np.cross(vector, vertices)
    return vertices + w * twice + np.cross(vector, twice) + move


def inputs(case):
    """vertices (V, 3), weights (V, J), turns (J, 4), moves (J, 3)."""
    return tuple(np.asarray(case.inputs[name], float) for name in ARGUMENTS)


def rigid(case):
    """Whether each vertex has one joint."""
    return case.about.startswith("alone")


def far(case):
    """Whether turns of more than half a turn meet."""
    return case.about.startswith("far")


def near(case):
    """Whether shared vertices move without such."""
    return not rigid(case) and not far(case)


def where(case, answer, context):
    """Each vertex against the worked steps."""
    return vertices_apart(answer, mixed(*inputs(case)), "each vertex carried by the blended rigid motion")


def cases(rng, context):
    """A quarter turn a hand can check, one joint alone, three at random, twists of 170 and 190 degrees, and q against -q."""

    def some(count):
        axes = rng.normal(size=(count, 3))
        return np.array([about(axis / np.linalg.norm(axis), rng.uniform(0.3, 1.2)) for axis in axes])

    points, share = rng.uniform(-0.5, 0.5, (6, 3)), rng.dirichlet([2, 2, 2], 6)
    ends = np.column_stack([np.linspace(0.9, 0.1, 6), np.linspace(0.1, 0.9, 6)])
    x, turns, moves = [1.0, 0, 0], some(3), rng.uniform(-0.5, 0.5, (3, 3))
    main = np.array([[0.15, 0.5, 0.35], [0.2, 0.45, 0.35], [0.3, 0.2, 0.5], [0.5, 0.3, 0.2]])
    fan = np.array([about(x, np.radians(one)) for one in (10, 170, 290)])
    rows = [
        ("half and half, a quarter turn about z", (np.array([[1.0, 0, 0]]), np.array([[0.5, 0.5]]), np.array([about([0, 0, 1], 0), about([0, 0, 1], np.pi / 2)]), np.zeros((2, 3)))),
        ("alone: one joint each", (points, np.eye(3)[[0, 1, 2, 2, 1, 0]], turns, moves)),
        ("three joints that share", (points, share, turns, moves)),
        ("far: twists of 170 and 190 degrees", (points, ends, np.array([about(x, np.radians(170)), about(x, np.radians(190)) * -1]), moves[:2])),
        ("far: 20 degrees, and 40 written as -q", (points, ends, np.array([about(x, np.radians(20)), -about(x, np.radians(40))]), moves[:2])),
        ("far: 10, 170 and 290 degrees", (points[:4], main, fan, moves)),
    ]  # fmt: skip
    return [Case(name, dict(zip(ARGUMENTS, values)), tell=("turns",) if len(values[2]) == 2 else ("moves",)) for name, values in rows]


def dual_blend(vertices, weights, turns, moves):
    """The worked answer."""
    return mixed(vertices, weights, turns, moves)


def w_positive(vertices, weights, turns, moves):
    """Every w made positive."""
    return mixed(vertices, weights, turns, moves, signs=lambda w, q: np.where(q[:, 3] < 0, -1.0, 1.0))


def as_they_come(vertices, weights, turns, moves):
    """No signs at all."""
    return mixed(vertices, weights, turns, moves, signs=lambda w, q: 1.0)


def to_the_first(vertices, weights, turns, moves):
    """The first joint in place of the main one."""
    return mixed(vertices, weights, turns, moves, signs=lambda w, q: np.where(q @ q[0] < 0, -1.0, 1.0))


def not_scaled(vertices, weights, turns, moves):
    """Not brought to unit length."""
    return mixed(vertices, weights, turns, moves, scaled=False)


def without_half(vertices, weights, turns, moves):
    """The half is forgotten."""
    return mixed(vertices, weights, turns, moves, half=1.0)


def turn_first(vertices, weights, turns, moves):
    """The product the other way round."""
    return mixed(vertices, weights, turns, moves, swapped=True)


def moves_by_weight(vertices, weights, turns, moves):
    """The turns are blended right, the moves one by one."""
    still = mixed(vertices, weights, turns, np.zeros_like(moves))
    return still + weights @ moves


def divided_apart(vertices, weights, turns, moves):
    """Each part divided by its own length."""
    pure = np.column_stack([moves, np.zeros(len(moves))])
    share = weights * signs_to_main(weights, turns)
    real, dual = share @ turns, share @ (0.5 * product(pure, turns))
    real = real / np.linalg.norm(real, axis=1, keepdims=True)
    dual = dual / np.maximum(np.linalg.norm(dual, axis=1, keepdims=True), 1e-12)
    twice = 2 * np.cross(real[:, :3], vertices)
    return vertices + real[:, 3:] * twice + np.cross(real[:, :3], twice) + 2 * product(dual, real * [-1, -1, -1, 1])[:, :3]


def by_matrices(vertices, weights, turns, moves):
    """A linear blend."""
    moved = np.array([vertices @ matrix(q).T + move for q, move in zip(turns, moves)])
    return np.einsum("vj,jva->va", weights, moved)


MISTAKES = (
    Mistake("w positive", w_positive, "w was made positive: 170 and 190 degrees, close to each other, then cancel. Take the sign nearer to the main joint", ("far",), SIGN),
    Mistake("as they come", as_they_come, "the signs are as they come: q and -q are one turn, but cancel in a sum", ("far",), SIGN),
    Mistake("the first joint", to_the_first, "signs go by the first joint: they should go by the vertex's main joint, the one of the largest weight", ("far",), SIGN),
    Mistake("not scaled", not_scaled, "the sum was not brought to unit length: divide both parts by the length of the first", ("near",), BACK),
    Mistake("without half", without_half, "the half is missing: the second part is move times turn / 2", ("alone", "near"), PAIR),
    Mistake("turn first", turn_first, "the product is the other way round: move times turn, for the turn comes first", ("alone", "near"), PAIR),
    Mistake("moves by weight", moves_by_weight, "turns and moves are blended apart: blend the pairs, and take the move out of the mean pair", ("near",), BACK),
    Mistake("divided apart", divided_apart, "each part was divided by its own length: divide both by the length of the first", ("alone", "near"), BACK),
    Mistake("by matrices", by_matrices, "this is the linear blend of 11.2: the points were blended, not the motions", ("near",), PAIR),
)  # fmt: skip


def show_dual(viewer, shown, context):
    """The sleeve's loops twisted by the variant's angle as the answer blends them."""
    known = context.given
    bind = np.asarray(known["binds"])[1]
    turns = np.array([about([1, 0, 0], 0), about(bind[:3, 0], np.radians(known["twist"]))])
    moves = np.array([np.zeros(3), bind[:3, 3] - matrix(turns[1]) @ bind[:3, 3]])
    four = known["vertices"], shares(known), turns, moves
    drawn(viewer, context, shown(*four), mixed(*four))
    viewer.caption(f"11.4: the sleeve's loops as your function twists them by {known['twist']} degrees; faint, the expected points.")


CHECKPOINT = Checkpoint(
    id="11.4",
    title="Dual quaternions",
    kind="function",
    names={"dual_blend": forms.array(None, 3)},
    claims=(
        Claim("alone", "one joint alone carries its vertices as a hard part", 1, where, "1e-6 m", look_at=PAIR, applies=rigid),
        Claim("near", "shared vertices follow the blended motion", 2, where, "1e-6 m", look_at=BACK, applies=near),
        Claim("far", "signs by the main joint: beyond half a turn nothing cancels", 2, where, "1e-6 m", look_at=SIGN, applies=far),
    ),
    worked=dual_blend,
    hint="The pair of a joint: its turn q, and product(np.append(move, 0), q) / 2.\n"
    "The sign of a joint for a vertex: np.dot(q, q of the main joint) below 0 gives -1. The main joint: weights.argmax(axis=1).\n"
    "After the sums divide both parts by the length of the first. The move is 2 * product(second, rk.rotation.invert(first)), its first three numbers.",
    mistakes=MISTAKES,
    cases=cases,
    closed=(*BOOK, "rotation.blend"),
    show=show_dual,
)
