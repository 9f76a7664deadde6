"""Chains of 7 and 20 links brought to targets within reach, beside general-purpose libraries on the same chains and targets.

Run with: python -m tests.benchmarks chain
Balls: every joint turns any way. Hinges: about z, y, z, y, ... in turn, which is what the peers that take joint axes solve.
"""

import modern_robotics as mr
import numpy as np
import pytest
from ikpy.chain import Chain
from ikpy.link import OriginLink, URDFLink
from scipy.optimize import least_squares

from rigkit import chain

CLOSE = 1e-6  # metres: tip to target
LINK = 0.1


def start(count):
    """A chain (count + 1, 3) of links of 0.1 m, bent a little all along."""
    turn = np.linspace(0, 0.6, count)
    way = np.stack([np.cos(turn), np.sin(turn), 0.1 * np.sin(3 * turn)], axis=1)
    return np.vstack([np.zeros(3), np.cumsum(LINK * way / np.linalg.norm(way, axis=1, keepdims=True), axis=0)])


def targets(count):
    """Six places in front of the chain, from a third to nine tenths of its reach."""
    rng = np.random.default_rng(count)
    way = rng.normal(size=(6, 3)) * [0.3, 1, 1] + [1.2, 0, 0]
    return way / np.linalg.norm(way, axis=1, keepdims=True) * rng.uniform(0.33, 0.9, (6, 1)) * LINK * count


def hinges(count):
    return np.eye(3)[[2, 1] * (count // 2) + [2] * (count % 2)]


def measured(benchmark, solve, count, close=CLOSE, rounds=20):
    """Time `solve(points, target)`, which gives the tip back, over all targets; nine in ten or more must be reached."""
    points, goals = start(count), targets(count)
    tips = benchmark.pedantic(lambda: [solve(points, goal) for goal in goals], rounds=rounds, warmup_rounds=1)
    reached = float(np.mean(np.linalg.norm(np.array(tips) - goals, axis=1) <= close))
    assert reached >= 0.9
    benchmark.extra_info["reached"] = reached


@pytest.mark.parametrize("count", [7, 20])
@pytest.mark.parametrize("name", ["fabrik", "damped_least_squares", "ccd"])
def test_rigkit(benchmark, name, count):
    benchmark.group = f"a chain of {count} links with balls, 6 targets"
    solver = getattr(chain, name)
    measured(benchmark, lambda points, target: solver(points, target, tolerance=CLOSE).points[-1], count)


@pytest.mark.parametrize("count", [7, 20])
def test_scipy_least_squares_with_balls(benchmark, count):
    """Rotation vectors of all joints, two a joint: turns square to the link; numbers alone, as a user would write it."""
    benchmark.group = f"a chain of {count} links with balls, 6 targets"

    def solve(points, target):
        ways = np.diff(points, axis=0)
        side = np.cross(ways, [0, 0, 1.0])
        side /= np.linalg.norm(side, axis=1, keepdims=True)
        up = np.cross(side, ways) / LINK

        def tip(x):
            a, b = x.reshape(2, -1)
            bent = ways + LINK * (a[:, None] * side + b[:, None] * up)
            return points[0] + (LINK * bent / np.linalg.norm(bent, axis=1, keepdims=True)).sum(axis=0)

        return tip(least_squares(lambda x: tip(x) - target, np.zeros(2 * count), xtol=1e-12, ftol=1e-14, gtol=1e-10).x)

    measured(benchmark, solve, count, rounds=3)


@pytest.mark.parametrize("name,count", [("damped_least_squares", 7), ("ccd", 7), ("damped_least_squares", 20)])
def test_rigkit_hinges(benchmark, name, count):
    benchmark.group = f"a chain of {count} links with hinges, 6 targets"
    solver, axes = getattr(chain, name), hinges(count)
    measured(benchmark, lambda points, target: solver(points, target, hinges=axes, tolerance=CLOSE).points[-1], count, rounds=3)


@pytest.mark.parametrize("count", [7])
def test_scipy_least_squares_with_hinges(benchmark, count):
    """The product of exponentials with its Jacobian, both from modern_robotics."""
    benchmark.group = f"a chain of {count} links with hinges, 6 targets"
    screws, home = screws_of(count)

    def tip(x):
        return mr.FKinSpace(home, screws, x)[:3, 3]

    def slope(x):
        jacobian, at = mr.JacobianSpace(screws, x), tip(x)
        return jacobian[3:] + np.cross(jacobian[:3].T, at).T

    def solve(points, target):
        return tip(least_squares(lambda x: tip(x) - target, np.zeros(count), slope, xtol=1e-12, ftol=1e-14, gtol=1e-10).x)

    measured(benchmark, solve, count, rounds=1)


@pytest.mark.parametrize("count", [7, 20])
def test_ikpy_with_hinges(benchmark, count):
    """ikpy with its own optimiser and tolerances: it stops at a tenth of a millimetre or better."""
    benchmark.group = f"a chain of {count} links with hinges, 6 targets"
    points, axes = start(count), hinges(count)
    offsets = [np.zeros(3), *np.diff(points, axis=0)[:-1]]
    links = [URDFLink(f"link_{k:02d}", offset, np.zeros(3), rotation=axis) for k, (offset, axis) in enumerate(zip(offsets, axes))]
    end = URDFLink("tip", points[-1] - points[-2], np.zeros(3), joint_type="fixed", rotation=None)
    arm = Chain([OriginLink(), *links, end], active_links_mask=[False, *[True] * count, False])

    def solve(points, target):
        return arm.forward_kinematics(arm.inverse_kinematics(target))[:3, 3]

    measured(benchmark, solve, count, close=1e-4, rounds=2)


def screws_of(count):
    points, axes = start(count), hinges(count)
    home = np.eye(4)
    home[:3, 3] = points[-1]
    return np.array([[*axis, *-np.cross(axis, at)] for axis, at in zip(axes, points)]).T, home
