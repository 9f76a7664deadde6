"""Turns by the million, beside SciPy on the same work. Run with `--benchmark-only`."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from rigkit import rotation

COUNT = 1_000_000


@pytest.fixture(scope="module")
def turns():
    """P and Q as arrays, angles, vectors; made once."""
    rng = np.random.default_rng(1)
    p, q = rng.normal(size=(2, COUNT, 4))
    p, q = (x / np.linalg.norm(x, axis=1, keepdims=True) for x in (p, q))
    return {"p": p, "q": q, "m": rotation.to_matrix(q), "angles": rng.uniform(-1.5, 1.5, (COUNT, 3)), "v": rng.normal(size=(COUNT, 3))}


WORK = {
    "product": (lambda d: rotation.multiply(d["p"], d["q"]), lambda d: Rotation.from_quat(d["p"]) * Rotation.from_quat(d["q"])),
    "to matrix": (lambda d: rotation.to_matrix(d["q"]), lambda d: Rotation.from_quat(d["q"]).as_matrix()),
    "from matrix": (lambda d: rotation.from_matrix(d["m"]), lambda d: Rotation.from_matrix(d["m"])),
    "from three angles": (lambda d: rotation.from_euler("XYZ", d["angles"]), lambda d: Rotation.from_euler("XYZ", d["angles"])),
    "to three angles": (lambda d: rotation.to_euler("XYZ", d["q"]), lambda d: Rotation.from_quat(d["q"]).as_euler("XYZ")),
    "turn a vector": (lambda d: rotation.rotate(d["q"], d["v"]), lambda d: Rotation.from_quat(d["q"]).apply(d["v"])),
}


def plain(result):
    return result.as_quat() if isinstance(result, Rotation) else result


@pytest.mark.parametrize("library", ["rigkit", "scipy"])
@pytest.mark.parametrize("work", WORK)
@pytest.mark.benchmark(warmup=False, min_rounds=3, max_time=1.0)
def test_a_million(benchmark, turns, work, library):
    benchmark.group = f"{work}, {COUNT:,} turns"
    ours, theirs = WORK[work]
    result = plain(benchmark(ours if library == "rigkit" else theirs, turns))
    few = {key: value[:100] for key, value in turns.items()}
    expected = plain(theirs(few))
    if expected.shape[-1] == 4:  # quaternions: the same turn, whatever the sign
        assert rotation.angle(result[:100], expected).max() < 1e-9
    else:
        assert np.allclose(result[:100], expected, atol=1e-9)
