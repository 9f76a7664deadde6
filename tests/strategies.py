"""Random input for hypothesis: points, directions, turns, skeletons; and a comparison of turns by angle."""

import numpy as np
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

import rigkit as rk


def numbers(low=-3.0, high=3.0):
    """A finite float between two limits, zero and tiny ones too."""
    return st.floats(low, high, allow_nan=False, allow_infinity=False, allow_subnormal=False)


def vectors(low=-3.0, high=3.0, shape=(3,)):
    """An array of floats between two limits."""
    return arrays.arrays(np.float64, shape, elements=numbers(low, high))


def directions():
    """A unit vector (3,)."""
    return vectors(-1, 1).filter(lambda v: np.linalg.norm(v) > 1e-3).map(lambda v: v / np.linalg.norm(v))


def turns():
    """A unit quaternion (4,), the exact special ones often among them."""
    axis_angle = st.tuples(directions(), st.one_of(numbers(-7, 7), st.sampled_from([0.0, np.pi, -np.pi, np.pi / 2, 1e-9])))
    return axis_angle.map(lambda pair: rk.rotation.from_axis_angle(*pair))


def planes():
    """A mirror plane in any position."""
    return st.builds(rk.mirror.Plane, vectors(), directions())


@st.composite
def skeletons(draw, most=8):
    """A skeleton of 1 to `most` joints in a random tree, with turned rest frames."""
    count = draw(st.integers(1, most))
    parents = [-1] + [draw(st.integers(-1, i - 1)) for i in range(1, count)]
    seed = draw(st.integers(0, 2**32 - 1))
    rng = np.random.default_rng(seed)
    return rk.Skeleton([f"joint_{i:02d}" for i in range(count)], parents, rng.normal(size=(count, 3)), random_turns(rng, count))


def random_turns(rng, *shape):
    """Unit quaternions (*shape, 4), evenly spread."""
    q = rng.normal(size=(*shape, 4))
    return q / np.linalg.norm(q, axis=-1, keepdims=True)


def apart(p, q):
    """The largest angle between turns p and q, radians."""
    return float(np.max(rk.rotation.angle(p, q)))
