"""Two bones, loops and area centres: how long they take, beside general-purpose libraries on the same work.

Run with: python -m tests.benchmarks limb
"""

import modern_robotics as mr
import numpy as np
import pytest
from scipy.optimize import least_squares

import rigkit as rk
from rigkit import limb, mesh, placement

ROOT, MID, END = np.array([0.0, 1.0, 0.0]), np.array([0.3, 0.98, 0.0]), np.array([0.55, 1.0, 0.0])
TARGET, POLE = np.array([0.35, 1.1, 0.15]), np.array([0.3, 0.5, -0.3])
SCREWS = np.array(
    [[*axis, *-np.cross(axis, at)] for axis, at in (([1, 0, 0], ROOT), ([0, 1, 0], ROOT), ([0, 0, 1], ROOT), ([0, 0, 1], MID))], float
).T
MANY = 1_000_000


@pytest.fixture(scope="module")
def many():
    rng = np.random.default_rng(0)
    return ROOT + rng.normal(size=(MANY, 3)) * 0.25, ROOT + rng.normal(size=(MANY, 3))


@pytest.mark.benchmark(group="two bones, one solve")
def test_one_solve(benchmark):
    s = benchmark(limb.solve, ROOT, MID, END, TARGET, POLE)
    assert s.reached


@pytest.mark.benchmark(group="two bones, one solve")
def test_one_solve_by_the_clear_form(benchmark):
    def clear():
        shape, given = limb._checked(ROOT, MID, END, TARGET, POLE, 0.0, 1.0)
        return limb._solve(shape, *given)

    assert benchmark(clear).reached


@pytest.mark.benchmark(group="two bones, one solve")
def test_one_solve_by_modern_robotics_iterating(benchmark):
    s = limb.solve(ROOT, MID, END, TARGET, POLE)
    home, goal = np.eye(4), np.eye(4)
    home[:3, 3], goal[:3, 3] = END, TARGET
    goal[:3, :3] = rk.rotation.to_matrix(limb.rotations(ROOT, MID, END, s, POLE)[1])
    _, success = benchmark(mr.IKinSpace, SCREWS, home, goal, np.array([0, 0, -0.5, 1.2]), 1e-9, 1e-9)
    assert success


@pytest.mark.benchmark(group="two bones, one solve")
def test_one_solve_by_scipy_least_squares(benchmark):
    lengths = np.linalg.norm(MID - ROOT), np.linalg.norm(END - MID)
    normal = np.cross(TARGET - ROOT, POLE - ROOT)

    def gap(p):
        return np.linalg.norm(p - ROOT) - lengths[0], np.linalg.norm(p - TARGET) - lengths[1], normal @ (p - ROOT)

    found = benchmark(least_squares, gap, 0.5 * (ROOT + TARGET) + 0.3 * (POLE - ROOT), xtol=1e-12, ftol=1e-12, gtol=1e-12)
    np.testing.assert_allclose(found.x, limb.solve(ROOT, MID, END, TARGET, POLE).mid, atol=1e-6)


@pytest.mark.benchmark(group="two bones, a million, one pole")
def test_a_million_targets(benchmark, many):
    s = benchmark.pedantic(limb.solve, (ROOT, MID, END, many[0], POLE), rounds=5, warmup_rounds=1)
    assert s.mid.shape == (MANY, 3)


@pytest.mark.benchmark(group="two bones, a million, a pole each")
def test_a_million_targets_and_poles(benchmark, many):
    assert benchmark.pedantic(limb.solve, (ROOT, MID, END, *many), rounds=5, warmup_rounds=1).mid.shape == (MANY, 3)


@pytest.mark.benchmark(group="two bones, a million, a pole each")
def test_a_million_by_the_clear_form(benchmark, many):
    def clear():
        shape, given = limb._checked(ROOT, MID, END, *many, 0.0, 1.0)
        return limb._solve(shape, *given)

    assert benchmark.pedantic(clear, rounds=2).mid.shape == (MANY, 3)


@pytest.mark.benchmark(group="two bones, one solve, with two turns")
def test_one_solve_with_turns(benchmark):
    upper, lower = benchmark(lambda: limb.rotations(ROOT, MID, END, limb.solve(ROOT, MID, END, TARGET, POLE), POLE))
    assert upper.shape == lower.shape == (4,)


@pytest.mark.benchmark(group="two bones, a million, with two turns")
def test_a_million_with_turns(benchmark, many):
    target, pole = many
    turns = benchmark.pedantic(
        lambda: limb.rotations(ROOT, MID, END, limb.solve(ROOT, MID, END, target, pole), pole), rounds=5, warmup_rounds=1
    )
    assert turns[0].shape == (MANY, 4)


@pytest.mark.benchmark(group="loops of a tube of 24,000 quads")
def test_loops(benchmark):
    tube = mesh.tube(24, np.arange(1001))
    assert len(benchmark.pedantic(mesh.loops, (tube,), rounds=3)) == 1001


@pytest.mark.benchmark(group="loops of a tube of 24,000 quads")
def test_loops_a_section_at_every_ring_of_a_hundred(benchmark):
    tube = mesh.tube(24, np.arange(1001))
    cut = benchmark.pedantic(lambda: [mesh.section(tube, [0, y, 0], [0, 1, 0]) for y in range(5, 1000, 100)], rounds=2)
    assert all(len(lines) == 1 for lines in cut)


@pytest.mark.benchmark(group="area centre of one loop of 24")
def test_area_centre(benchmark):
    loop = mesh.tube(24, [0, 1]).vertices[:24]
    np.testing.assert_allclose(benchmark(placement.area_centre, loop), 0, atol=1e-12)
