"""Chains: published values, what is kept, limits, awkward starts and targets, the plain-float forms against the clear ones."""

import modern_robotics as mr
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import rigkit as rk
from rigkit import _chain_fast, chain, limb

METHODS = [chain.fabrik, chain.ccd, chain.damped_least_squares]
ARM = np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0]])


def random_chains(seed, count, links):
    rng = np.random.default_rng(seed)
    ways = rng.normal(size=(count, links, 3)) * 0.4 + [1, 0, 0]
    ways *= rng.uniform(0.5, 1.5, (count, links, 1)) / np.linalg.norm(ways, axis=-1, keepdims=True)
    points = np.concatenate([np.zeros((count, 1, 3)), np.cumsum(ways, axis=1)], axis=1) + rng.normal(size=(count, 1, 3))
    reach = np.linalg.norm(ways, axis=-1).sum(axis=1)
    aim = rng.normal(size=(count, 3))
    aim *= rng.uniform(0.3, 0.95, (count, 1)) * reach[:, None] / np.linalg.norm(aim, axis=1, keepdims=True)
    return points, points[:, 0] + aim


def lengths(points):
    return np.linalg.norm(np.diff(points, axis=-2), axis=-1)


def bends(points):
    ways = np.diff(points, axis=-2) / lengths(points)[..., None]
    a, b = ways[..., :-1, :], ways[..., 1:, :]
    return np.arctan2(np.linalg.norm(np.cross(a, b), axis=-1), np.einsum("...i,...i->...", a, b))


# ---- published values -----------------------------------------------------------------------------------------------


# Source: Aristidou & Lasenby, Graphical Models 73 (2011) 243-260, lengths 1, 1: exact after one pass; out of reach straight towards it.
@pytest.mark.source("Aristidou & Lasenby")
def test_fabrik_on_two_links():
    s = chain.fabrik(ARM, [1, 1, 0])
    np.testing.assert_allclose(s.points, [[0, 0, 0], [1, 0, 0], [1, 1, 0]], atol=1e-15)
    assert s.steps == 1 and s.reached
    s = chain.fabrik(ARM, [3, 4, 0])
    np.testing.assert_allclose(s.points, [[0, 0, 0], [0.6, 0.8, 0], [1.2, 1.6, 0]], atol=1e-15)
    assert not s.reached and s.error == pytest.approx(3)


# Source: Wang & Chen, IEEE Trans. Robotics and Automation 7 (1991) 489: tip joint first, target (0, 1.2), error after each sweep.
@pytest.mark.source("Wang & Chen")
@pytest.mark.parametrize(("sweeps", "error"), [(1, 0.35168921), (2, 0.11533933), (3, 0.04007574)])
def test_the_sweeps_of_ccd_on_two_links(sweeps, error):
    assert chain.ccd(ARM, [0, 1.2, 0], steps=sweeps).error == pytest.approx(error, abs=5e-9)
    assert chain.ccd(ARM, [0, 1.2, 0], hinges=[0, 0, 1], steps=sweeps).error == pytest.approx(error, abs=5e-9)


# Source: Buss, Introduction to Inverse Kinematics (2004/2009); Wampler 1986: J^T (J J^T + l^2 I)^-1 e at angles (0, 90) degrees.
@pytest.mark.source("Buss")
@pytest.mark.parametrize(("damping", "turns"), [(0.1, (-0.00097078, -0.09804873)), (0.5, (-0.0137931, -0.06896552)), (1.0, (-0.02, -0.04))])
def test_the_damped_step_on_two_links(damping, turns):
    found = chain.damped_turns([[0, 0, 0], [1, 0, 0], [1, 1, 0]], [0.1, 0, 0], damping, hinges=[0, 0, 1])
    np.testing.assert_allclose(found, turns, atol=5e-9)


# Source: the same: a straight arm pulled along itself gets no turn.
@pytest.mark.source("Buss")
def test_a_straight_arm_pulled_along_itself_gets_no_damped_turn():
    assert not chain.damped_turns(ARM, [0.1, 0, 0], 0.1, hinges=[0, 0, 1]).any()
    np.testing.assert_allclose(chain.damped_turns(ARM, [0.1, 0, 0], 0.1), 0, atol=1e-15)


# Source: PyPI modern_robotics 1.1.1 (MIT), JacobianSpace: the move of the tip for small turns of hinges.
@pytest.mark.source("modern_robotics")
@pytest.mark.parametrize("seed", range(4))
def test_the_damped_turns_are_those_of_the_jacobian_of_modern_robotics(seed):
    rng = np.random.default_rng(seed)
    points, _ = random_chains(seed, 1, 5)
    points = points[0]
    axes = rng.normal(size=(5, 3))
    axes /= np.linalg.norm(axes, axis=1, keepdims=True)
    screws = np.array([[*axis, *-np.cross(axis, at)] for axis, at in zip(axes, points)]).T
    spatial = mr.JacobianSpace(screws, np.zeros(5))
    jacobian = spatial[3:] + np.cross(spatial[:3].T, points[-1]).T
    error = rng.normal(size=3)
    expected = jacobian.T @ np.linalg.solve(jacobian @ jacobian.T + 0.3**2 * np.eye(3), error)
    np.testing.assert_allclose(chain.damped_turns(points, error, 0.3, hinges=axes), expected, atol=1e-12)


# ---- what is kept and reached ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("links", [1, 2, 3, 7, 20])
def test_the_root_and_the_lengths_are_kept(method, links):
    points, target = random_chains(links, 20, links)
    s = method(points, target, steps=20)
    np.testing.assert_array_equal(s.points[:, 0], points[:, 0])
    np.testing.assert_allclose(lengths(s.points), lengths(points), atol=1e-12)
    np.testing.assert_allclose(s.error, np.linalg.norm(s.points[:, -1] - target, axis=1), atol=1e-15)
    np.testing.assert_array_equal(s.reached, s.error <= 1e-6)


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("links", [3, 7, 20])
def test_targets_within_reach_are_reached(method, links):
    """Sweeps of cyclic coordinate descent slow down as a chain grows: of 1,000 chains of 3, 7 and 20 links, 500 sweeps
    bring 100, 97.6 and 82.3 % there. A sample of 100 may come out 5 % lower."""
    share = {3: 0.95, 7: 0.92, 20: 0.77}[links] if method is chain.ccd else 0.999
    points, target = random_chains(10 + links, 1000 if method is not chain.ccd else 100, links)
    longest = lengths(points).max(axis=1)
    fair = np.linalg.norm(target - points[:, 0], axis=1) > 1.001 * (2 * longest - lengths(points).sum(axis=1))
    reached = [chain.ccd(p, t).reached for p, t in zip(points, target)] if method is chain.ccd else method(points, target).reached
    assert np.array(reached)[fair].mean() >= share


@pytest.mark.parametrize("links", [3, 7, 20])
def test_fabrik_reaches_nearly_straight_targets_too(links):
    points, target = random_chains(20 + links, 500, links)
    reach = lengths(points).sum(axis=1)
    way = (target - points[:, 0]) / np.linalg.norm(target - points[:, 0], axis=1, keepdims=True)
    left = 10 ** np.random.default_rng(0).uniform(-7, -2, 500)
    assert chain.fabrik(points, points[:, 0] + way * (reach * (1 - left))[:, None]).reached.mean() >= 0.999


def test_two_links_end_where_the_limb_solver_puts_them():
    """For two links the elbow's circle is all there is: the chain's elbow must lie on it."""
    points, target = random_chains(31, 15, 2)
    for method in METHODS:
        for p, t in zip(points, target):
            s = method(p, t, steps=500, tolerance=1e-10)
            if s.reached:
                solved = rk.limb.solve(*p, t, s.points[1])
                np.testing.assert_allclose(s.points[1], solved.mid, atol=1e-5)


@pytest.mark.parametrize("method", METHODS)
def test_a_target_already_reached_costs_no_step(method):
    points, _ = random_chains(1, 1, 5)
    s = method(points[0], points[0, -1])
    assert s.steps == 0 and s.reached
    np.testing.assert_array_equal(s.points, points[0])


@pytest.mark.parametrize("method", METHODS)
def test_a_rigid_motion_moves_the_answer_along(method):
    points, target = random_chains(2, 8, 4)
    turn, move = rk.rotation.from_axis_angle([1, 2, 3], 1.3), np.array([0.3, -2.0, 1.0])
    here, there = method(points, target), method(rk.rotation.rotate(turn, points) + move, rk.rotation.rotate(turn, target) + move)
    np.testing.assert_allclose(there.points, rk.rotation.rotate(turn, here.points) + move, atol=1e-6)


# ---- awkward --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("way", [[1.0, 0, 0], [0, -2.0, 0], [1.0, 1.0, 1.0]])
def test_a_straight_chain_bends_to_a_target_on_its_own_line(method, way):
    way = np.array(way) / np.linalg.norm(way)
    points = np.arange(6)[:, None] * 0.2 * way
    s = method(points, 0.6 * way, steps=400)
    assert s.reached and np.isfinite(s.points).all()
    np.testing.assert_allclose(lengths(s.points), 0.2, atol=1e-12)


@pytest.mark.parametrize("method", METHODS)
def test_a_target_on_any_joint_never_gives_nan(method):
    points, _ = random_chains(3, 1, 5)
    straight = np.arange(6)[:, None] * np.array([0.2, 0, 0])
    for p in (points[0], straight, straight[::-1]):
        for target in p:
            s = method(p, target)
            assert np.isfinite(s.points).all()
            np.testing.assert_allclose(lengths(s.points), lengths(p), atol=1e-12)


@pytest.mark.parametrize("method", METHODS)
def test_out_of_reach_the_chain_is_straight_towards_the_target(method):
    points, target = random_chains(4, 10, 6)
    target = points[:, 0] + 20 * (target - points[:, 0])
    s = method(points, target)
    assert not s.reached.any() and bends(s.points).max() < 1e-7
    reach = lengths(points).sum(axis=1)
    np.testing.assert_allclose(s.error, np.linalg.norm(target - points[:, 0], axis=1) - reach, atol=1e-9)


@pytest.mark.parametrize("method", METHODS)
def test_too_near_is_told_and_not_nan(method):
    s = method([[0, 0, 0], [1, 0, 0], [1.2, 0.1, 0]], [0.1, 0, 0])
    assert not s.reached and np.isfinite(s.points).all()
    assert s.error == pytest.approx(1 - np.hypot(0.2, 0.1) - 0.1)
    np.testing.assert_allclose(s.points[1], [1, 0, 0], atol=1e-12)


# ---- batches, plain floats ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("links", [2, 5, 12])
def test_one_chain_on_plain_floats_equals_the_clear_form_in_a_batch(method, links):
    """Step for step; at the end rounding may have grown, as a chain is free to lie in many ways."""
    points, target = random_chains(40 + links, 25, links)
    for steps in (1, 2, 4):
        many = method(points, target, steps=steps)
        for i in range(25):
            one = method(points[i], target[i], steps=steps)
            assert one.steps == many.steps[i] and one.reached == many.reached[i]
            np.testing.assert_allclose(one.points, many.points[i], atol=1e-9)
            np.testing.assert_allclose(one.error, many.error[i], atol=1e-9)


def test_the_plain_float_forms_are_really_taken():
    points, target = random_chains(5, 1, 6)
    for step in (_chain_fast.fabrik, _chain_fast.sweep, _chain_fast.damped):
        assert _chain_fast.one(step, points[0], target[0], 100, 1e-6) is not None
    assert _chain_fast.one(_chain_fast.fabrik, ARM, [1.0, 0, 0], 100, 1e-6) is None


@pytest.mark.parametrize("method", METHODS)
def test_points_and_targets_are_broadcast(method):
    points, target = random_chains(6, 3, 4)
    s = method(points[:, None], target)
    assert s.points.shape == (3, 3, 5, 3) and s.error.shape == s.steps.shape == s.reached.shape == (3, 3)
    np.testing.assert_allclose(s.points[1, 2], method(points[1], target[2]).points, atol=1e-7)
    assert method(points[:0], target[:0]).points.shape == (0, 5, 3)


@pytest.mark.parametrize("method", METHODS)
def test_inputs_stay_as_they_were(method):
    points, target = random_chains(7, 4, 5)
    before = points.copy(), target.copy()
    method(points, target, steps=3)
    method(points[0], target[0], cone=0.5, steps=3)
    np.testing.assert_array_equal(points, before[0])
    np.testing.assert_array_equal(target, before[1])


# ---- limits ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("method", METHODS)
@settings(max_examples=5, deadline=None)
@given(st.floats(0.1, 1.5), st.integers(0, 1000))
def test_no_joint_bends_more_than_its_cone(method, cone, seed):
    points, target = random_chains(seed, 4, 5)
    s = method(points, target, cone=cone, steps=12)
    assert bends(s.points).max() <= cone + 1e-7
    np.testing.assert_allclose(lengths(s.points), lengths(points), atol=1e-12)


@pytest.mark.parametrize("method", METHODS)
def test_a_cone_for_each_joint_and_targets_that_it_leaves_within_reach(method):
    points = np.arange(6)[:, None] * np.array([0.2, 0, 0])
    cone = [0.2, 0.9, 0.1, 0.9]
    s = method(points, [0.6, 0.45, 0.1], cone=cone, steps=400)
    assert s.reached and (bends(s.points) <= np.array(cone) + 1e-7).all()


@pytest.mark.parametrize("method", [chain.ccd, chain.damped_least_squares])
def test_hinges_keep_a_planar_chain_in_its_plane(method):
    points = np.array([[0, 0, 0], [1, 0, 0], [2, 0.3, 0], [2.8, 0.9, 0]])
    s = method(points, [1.0, 1.5, 0], hinges=[0, 0, 1])
    assert s.reached
    np.testing.assert_allclose(s.points[:, 2], 0, atol=1e-12)


@pytest.mark.parametrize("method", [chain.ccd, chain.damped_least_squares])
def test_hinge_limits_hold(method):
    points = np.array([[0, 0, 0], [1, 0, 0], [2, 0, 0], [3, 0, 0.0]])
    limits = np.radians([[-180, 180], [0, 40], [0, 40]])
    s = method(points, [0.5, 1.0, 0], hinges=[0, 0, 1], limits=limits)
    ways = np.diff(s.points, axis=0)
    heading = np.arctan2(ways[:, 1], ways[:, 0])
    turns = np.angle(np.exp(1j * np.diff(heading)))
    assert (turns >= -1e-9).all() and (turns <= np.radians(40) + 1e-9).all() and not s.reached


@pytest.mark.source("modern_robotics")
@pytest.mark.parametrize("method", [chain.ccd, chain.damped_least_squares])
def test_hinges_in_space_are_those_of_forward_kinematics_by_modern_robotics(method):
    """The tip must be a tip that some angles of the hinges give: each joint stays square to its hinge as it was."""
    points, _ = random_chains(9, 1, 4)
    points = points[0]
    axes = np.array([[0, 0, 1.0], [0, 1, 0], [0, 0, 1], [1, 0, 0]])
    screws = np.array([[*axis, *-np.cross(axis, at)] for axis, at in zip(axes, points)]).T
    home = np.eye(4)
    home[:3, 3] = points[-1]
    target = mr.FKinSpace(home, screws, np.array([0.4, -0.3, 0.5, 0.2]))[:3, 3]
    s = method(points, target, hinges=axes, steps=2000)
    assert s.reached
    for i in range(4):  # the link's lean on its own hinge, and on the hinge before it turned by that one alone, are kept
        link, was = s.points[i + 1] - s.points[i], points[i + 1] - points[i]
        assert np.linalg.norm(link) == pytest.approx(np.linalg.norm(was))
    assert (s.points[1] - s.points[0]) @ axes[0] == pytest.approx((points[1] - points[0]) @ axes[0], abs=1e-9)


HINGED = [chain.ccd, chain.damped_least_squares]


def bent_about(points, axes, angles):
    """Forward kinematics of hinges, one after another from the root."""
    points, axes = points.copy(), axes.copy()
    for i, angle in enumerate(angles):
        q = rk.rotation.from_axis_angle(axes[i], angle)
        points[i + 1 :] = points[i] + rk.rotation.rotate(q, points[i + 1 :] - points[i])
        axes[i + 1 :] = rk.rotation.rotate(q, axes[i + 1 :])
    return points


@pytest.mark.parametrize("method", HINGED)
@pytest.mark.parametrize(("links", "axes"), [(3, [[0, 0, 1.0]]), (7, [[0, 0, 1.0]]), (6, [[0, 0, 1.0], [0, 1, 0]])])
def test_targets_that_hinge_limits_leave_within_reach_are_reached(method, links, axes):
    """Targets that some angles within the limits reach: the method must find such angles for nineteen in twenty."""
    rng, axes = np.random.default_rng(links), np.tile(axes, (links, 1))[:links]
    points = np.arange(links + 1)[:, None] * np.array([0.3, 0, 0])
    reached = []
    for _ in range(20):
        limits = np.stack([-rng.uniform(0, 1.2, links), rng.uniform(0, 1.2, links)], axis=1)
        target = bent_about(points, axes, rng.uniform(*limits.T))[-1]
        s = method(points, target, hinges=axes, limits=limits)
        np.testing.assert_allclose(lengths(s.points), 0.3, atol=1e-9)
        reached.append(s.reached)
    assert np.mean(reached) >= 0.95


@pytest.mark.parametrize("method", HINGED)
def test_a_straight_chain_of_hinges_bends_to_a_target_on_its_own_line(method):
    points = np.arange(4)[:, None] * np.array([1.0, 0, 0])
    assert method(points, [1.5, 0, 0], hinges=[0, 0, 1]).reached
    one_way = method(points, [1.5, 0, 0], hinges=[0, 0, 1], limits=[[-3, 3], [0, 2.5], [0, 2.5]])
    ways = np.diff(one_way.points, axis=0)
    assert one_way.reached and (np.cross(ways[:-1], ways[1:])[:, 2] > -1e-9).all()


@pytest.mark.parametrize("method", HINGED)
def test_hinges_point_at_what_they_cannot_reach(method):
    points = np.arange(4)[:, None] * np.array([1.0, 0, 0])
    s = method(points, [9, 9, 0], hinges=[0, 0, 1])
    assert s.error == pytest.approx(np.hypot(9, 9) - 3, abs=1e-4) and not s.reached
    above = method(points, [1, 1, 1], hinges=[0, 0, 1])
    assert above.error == pytest.approx(1.0, abs=1e-5)  # the plane of the hinges is a metre away


@pytest.mark.parametrize("method", METHODS)
def test_a_target_nearer_than_a_cone_lets_is_met_as_near_as_it_lets(method):
    """Three links of 1 bent by 60 degrees at most come no nearer to the root than half a hexagon is wide: 2."""
    s = method(np.arange(4)[:, None] * np.array([1.0, 0, 0]), [1, 1, 0], cone=np.radians(60))
    assert s.error == pytest.approx(2 - np.sqrt(2), abs=1e-4)


# ---- reach ------------------------------------------------------------------------------------------------------------

RANGES = st.tuples(st.floats(-np.pi, np.pi), st.floats(-np.pi, np.pi)).map(sorted)


def test_the_reach_of_a_free_chain_is_that_of_the_longest_link_against_the_others():
    assert chain.reach([1.0, 1, 1]) == (0, 3)
    assert chain.reach([1.0, 5, 1]) == (3, 7)
    assert chain.reach([2.0]) == (2, 2) == chain.reach([2.0], bends=(0, 1))


@given(st.floats(0.1, 3), st.floats(0.1, 3), st.floats(0, np.pi))
def test_the_reach_of_two_links_is_that_of_a_limb(upper, lower, limit):
    np.testing.assert_allclose(chain.reach([upper, lower], bends=(0, limit)), limb.reach(upper, lower, limit), atol=1e-9)


def test_a_chain_bent_all_one_way_is_an_arc():
    """Corners of a regular polygon: the chord over n sides of length 1 that turn by t is sin(n t / 2) / sin(t / 2)."""
    for count, bend in ((3, np.pi / 3), (10, 0.2), (20, 0.3)):
        chord = np.sin(count * bend / 2) / np.sin(bend / 2)
        for low in (0.0, -bend):
            inner, outer = chain.reach(np.ones(count), bends=(low, bend))
            assert inner == pytest.approx(chord, abs=1e-9) and outer == count


def test_a_chain_that_may_close_reaches_its_root():
    assert chain.reach(np.ones(4), bends=(0, np.pi / 2))[0] == pytest.approx(0, abs=1e-9)
    assert chain.reach(np.ones(9), bends=(-1, 1))[0] == pytest.approx(0, abs=1e-6)


def test_a_hinge_that_can_not_straighten_shortens_the_reach():
    inner, outer = chain.reach([3.0, 4.0], bends=np.radians([30, 90]))
    assert (inner, outer) == (pytest.approx(5), pytest.approx(np.sqrt(25 + 24 * np.cos(np.radians(30)))))


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(0.2, 2), min_size=3, max_size=3), st.lists(RANGES, min_size=2, max_size=2))
def test_no_shape_of_a_fine_grid_is_nearer_or_farther_than_the_reach(links, ranges):
    inner, outer = chain.reach(links, bends=ranges)
    first, second = np.meshgrid(*(np.linspace(*r, 181) for r in ranges))
    tip = np.abs(links[0] + links[1] * np.exp(1j * first) + links[2] * np.exp(1j * (first + second)))
    assert inner <= tip.min() + 1e-9 and tip.max() - 1e-9 <= outer
    assert inner == pytest.approx(tip.min(), abs=0.08) and outer == pytest.approx(tip.max(), abs=0.08)  # the grid's own coarseness


def test_targets_inside_the_reach_are_reached_and_those_outside_are_not():
    points, limits = np.arange(5)[:, None] * np.array([0.5, 0, 0]), [[-np.pi, np.pi], *[[0, 0.7]] * 3]
    inner, outer = chain.reach(np.full(4, 0.5), bends=(0, 0.7))
    for distance, inside in ((inner - 0.02, False), (inner + 0.02, True), (1.7, True), (outer - 0.01, True), (outer + 0.02, False)):
        s = chain.damped_least_squares(points, [0, distance, 0], hinges=[0, 0, 1], limits=limits)
        assert s.reached == inside, distance


def test_reaches_of_a_batch_are_those_one_by_one():
    rng = np.random.default_rng(3)
    links, ranges = rng.uniform(0.2, 1, (4, 1, 3)), np.sort(rng.uniform(-2, 2, (5, 2, 2)), axis=-1)
    inner, outer = chain.reach(links, bends=ranges)
    assert inner.shape == outer.shape == (4, 5)
    for i, j in np.ndindex(4, 5):
        np.testing.assert_allclose(chain.reach(links[i, 0], bends=ranges[j]), (inner[i, j], outer[i, j]), atol=1e-9)


# ---- errors ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        (
            ([[0, 0, 0]], [1, 0, 0]),
            r"points has shape \(1, 3\); expected \(..., n\+1, 3\) with n of 1 or more: a chain has at least one link",
        ),
        ((ARM, [1, 0]), r"target has shape \(2,\); expected \(..., 3\)"),
        ((ARM, [np.nan, 0, 0]), "target is .*nan.*; expected finite numbers"),
        (([[0, 0, 0], [1, 0, 0], [1, 0, 0]], [1, 0, 0]), "link 1 has length 0; expected every link to be longer"),
        (([ARM, [[0, 0, 0], [0, 0, 0], [1, 0, 0]]], [1, 0, 0]), r"link 0 at row \(1,\) has length 0"),
        (([ARM, ARM], np.zeros((3, 3))), r"batch shapes do not fit together: points \(2,\), target \(3,\)"),
    ],
)
def test_bad_chains_are_told_in_words(method, arguments, text):
    with pytest.raises(ValueError, match=text):
        method(*arguments)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: chain.fabrik(ARM, [1, 1, 0], cone=4),
            "cone is .*4.*; expected 0 to pi radians, one for all or one for each of the 1 inner joints",
        ),
        (lambda: chain.fabrik(ARM, [1, 1, 0], cone=[1, 1]), "one for each of the 1 inner joints"),
        (lambda: chain.fabrik(ARM, [1, 1, 0], steps=0), "steps is 0; expected a whole number, 1 or more"),
        (lambda: chain.fabrik(ARM, [1, 1, 0], tolerance=0), "tolerance is 0; expected metres above 0"),
        (lambda: chain.ccd(ARM, [1, 1, 0], limits=[0, 1]), "limits came without hinges; expected both: a turn needs an axis"),
        (
            lambda: chain.ccd(ARM, [1, 1, 0], hinges=[0, 0, 1], limits=[0.1, 1]),
            "limits is .*; expected low and high for each of 2 hinges, low <= 0 <= high",
        ),
        (
            lambda: chain.ccd(ARM, [1, 1, 0], hinges=np.ones((3, 3))),
            r"hinges has shape \(3, 3\); expected \(3,\) or \(2, 3\): an axis for every joint but the tip",
        ),
        (lambda: chain.ccd(ARM, [1, 1, 0], hinges=[0, 0, 0]), "hinges has length 0; expected a direction"),
        (lambda: chain.reach([]), r"lengths is \[\]; expected \(..., n\) metres above 0, one link or more"),
        (lambda: chain.reach([1, 0]), "lengths is .*; expected .* metres above 0"),
        (lambda: chain.reach([1, 1], bends=(1, 0)), "bends is .*; expected low and high of one joint or of each of the 1 inner ones"),
        (lambda: chain.reach([1, 1], bends=[[0, 1]] * 3), "bends is .*; expected low and high .* of the 1 inner ones"),
        (lambda: chain.damped_least_squares(ARM, [1, 1, 0], damping=-1), "damping is -1; expected metres, 0 or more"),
    ],
)
def test_bad_options_are_told_in_words(call, text):
    with pytest.raises(ValueError, match=text):
        call()
