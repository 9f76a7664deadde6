"""Limbs, chains, feet, eyes, binding and keys against libraries that others wrote, on random input. Each check names its source."""

import numpy as np
import pytest
import pytransform3d.rotations as pr
import pytransform3d.transformations as pt
from dual_quaternions import DualQuaternion
from hypothesis import assume, given
from hypothesis import strategies as st
from ikpy.chain import Chain
from ikpy.link import URDFLink
from scipy.interpolate import BPoly, PchipInterpolator, interp1d
from scipy.linalg import lstsq
from scipy.optimize import approx_fprime, least_squares, minimize, minimize_scalar
from scipy.signal import lti, step
from scipy.spatial import ConvexHull
from scipy.spatial.transform import Rotation
from sympy import Circle, Line3D, Point, Point3D, Rational

from rigkit import binding, chain, foot, frame, gaze, limb, rotation
from rigkit.keys import Keys, tangents
from tests.strategies import apart, directions, numbers, random_turns, turns, vectors


def random_chain(rng, links):
    """Points (n+1, 3) and unit hinges (n, 3)."""
    axes = rng.normal(size=(links, 3))
    return np.cumsum(rng.normal(size=(links + 1, 3)), axis=0), axes / np.linalg.norm(axes, axis=1, keepdims=True)


def turned(points, hinges, angles):
    """The tip of a chain of hinges turned by angles: SciPy's Rotation alone, joint by joint from the tip."""
    tip = points[-1]
    for at, axis, angle in zip(points[-2::-1], hinges[::-1], angles[::-1]):
        tip = at + Rotation.from_rotvec(angle * axis).apply(tip - at)
    return tip


# ---------------------------------------------------------------- limbs


# Source: PyPI sympy (BSD-3-Clause), Circle.intersection in exact numbers: both places where the elbow can be.
@pytest.mark.source("SymPy")
@pytest.mark.parametrize("sides", [(3, 4, 5), (2, 3, 4), (7, 5, 10), (9, 2, 8), (5, 5, 1)])
def test_the_elbow_is_where_two_circles_meet(sides):
    upper, lower, distance = sides
    met = Circle(Point(0, 0), upper).intersection(Circle(Point(distance, 0), lower))
    places = sorted((float(p.x), float(p.y)) for p in met)
    along, off = limb.elbow_circle(upper, lower, distance)
    np.testing.assert_allclose([(along, -off), (along, off)], places, atol=1e-14)


# Source: SciPy's signal.step of the first-order lag 1 / (s + 1): the response to a push of one.
@pytest.mark.source("SciPy")
def test_soft_reach_is_the_step_response_of_a_lag():
    seconds, response = step(lti([1.0], [1.0, 1.0]), T=np.linspace(0, 6, 200))
    np.testing.assert_allclose(limb.soft_distance(7.5 + 2.5 * seconds, reach=10, soft=2.5), 7.5 + 2.5 * response, atol=1e-9)


# Source: SciPy's Rotation about the line from root to end: the middle joint turned by the swivel angle.
@pytest.mark.source("SciPy")
@given(vectors(), directions(), directions(), numbers(-3.1, 3.1), numbers(0.3, 1.6))
def test_a_swivel_is_a_turn_about_the_line(root, line, reference, angle, distance):
    assume(np.linalg.norm(np.cross(line, reference)) > 1e-3)
    end = root + distance * line
    start = limb.mid_from_swivel(root, end, 0.8, 0.9, 0.0, reference)
    expected = root + Rotation.from_rotvec(angle * line).apply(start - root)
    np.testing.assert_allclose(limb.mid_from_swivel(root, end, 0.8, 0.9, angle, reference), expected, atol=1e-9)
    assert limb.swivel_angle(root, expected, end, reference) == pytest.approx(angle, abs=1e-9)


# Source: PyPI sympy (BSD-3-Clause), Line3D.distance and projection in exact fractions.
@pytest.mark.source("SymPy")
@pytest.mark.parametrize("seed", range(6))
def test_the_flip_line_is_as_far_as_exact_geometry_says(seed):
    root, target, pole = (np.random.default_rng(seed + 50 * k).integers(-9, 10, 3) for k in range(3))
    line, point = Line3D(Point3D(*map(int, root)), Point3D(*map(int, pole))), Point3D(*(Rational(int(x)) for x in target))
    distance, way = limb.flip_line(root, target, pole)
    assert distance == pytest.approx(float(line.distance(point)), abs=1e-12)
    np.testing.assert_allclose(target + distance * way, [float(x) for x in line.projection(point).args], atol=1e-12)


# Source: SciPy's minimize (SLSQP): of all elbows that both bones allow, where the hinge stops, the end nearest to the target.
@pytest.mark.source("SciPy")
@pytest.mark.parametrize("seed", range(6))
def test_the_reach_with_a_hinge_that_stops_is_the_one_an_optimiser_finds(seed):
    rng = np.random.default_rng(seed)
    upper, lower, most = rng.uniform(0.2, 1.0), rng.uniform(0.2, 1.0), rng.uniform(0.3, 3.0)

    def far(bend):
        return np.hypot(upper + lower * np.cos(bend), lower * np.sin(bend))

    inner, outer = limb.reach(upper, lower, most)
    least = minimize_scalar(far, bounds=(0, most), method="bounded", options={"xatol": 1e-12})
    greatest = minimize_scalar(lambda bend: -far(bend), bounds=(0, most), method="bounded", options={"xatol": 1e-12})
    assert inner == pytest.approx(least.fun, abs=1e-6) and outer == pytest.approx(-greatest.fun, abs=1e-6)  # it never tries the ends


# ---------------------------------------------------------------- chains


# Source: SciPy's lstsq on the rows of the Jacobian (approx_fprime) and of the damping: the smallest turns that bring the tip nearer.
@pytest.mark.source("SciPy")
@pytest.mark.parametrize("seed", range(6))
def test_a_damped_step_is_the_least_squares_solution(seed):
    rng = np.random.default_rng(seed)
    points, hinges = random_chain(rng, 6)
    error, damping = rng.normal(size=3), rng.uniform(0.1, 2.0)
    jacobian = approx_fprime(np.zeros(6), lambda angles: turned(points, hinges, angles), 1e-7)
    expected = lstsq(np.vstack([jacobian, damping * np.eye(6)]), np.concatenate([error, np.zeros(6)]))[0]
    np.testing.assert_allclose(chain.damped_turns(points, error, damping, hinges), expected, atol=1e-6)


# Source: the same for ball joints, each with three turns about the world's axes.
@pytest.mark.source("SciPy")
@pytest.mark.parametrize("seed", range(4))
def test_a_damped_step_of_ball_joints_is_the_least_squares_solution(seed):
    rng = np.random.default_rng(seed)
    points, _ = random_chain(rng, 4)
    error, damping = rng.normal(size=3), rng.uniform(0.1, 2.0)
    every, axes = np.vstack([np.repeat(points[:-1], 3, axis=0), points[-1:]]), np.tile(np.eye(3), (4, 1))  # three hinges in each joint
    jacobian = approx_fprime(np.zeros(12), lambda angles: turned(every, axes, angles), 1e-7)
    expected = lstsq(np.vstack([jacobian, damping * np.eye(12)]), np.concatenate([error, np.zeros(12)]))[0]
    np.testing.assert_allclose(chain.damped_turns(points, error, damping).ravel(), expected, atol=1e-6)


# Source: SciPy's minimize_scalar, joint by joint from the tip: the turn of one hinge that brings the tip nearest.
@pytest.mark.source("SciPy")
@pytest.mark.parametrize("seed", range(5))
def test_a_sweep_turns_each_hinge_as_an_optimiser_would(seed):
    rng = np.random.default_rng(seed)
    points, hinges = random_chain(rng, 4)
    target = turned(points, hinges, rng.uniform(-1, 1, 4))
    moved, axes = points.copy(), hinges.copy()
    for i in (3, 2, 1, 0):

        def carried(angle, i=i, moved=moved):
            return moved[i] + Rotation.from_rotvec(angle * axes[i]).apply(moved[i + 1 :] - moved[i])

        starts = np.linspace(-np.pi, np.pi, 13)
        found = [
            minimize_scalar(
                lambda a: np.sum((carried(a)[-1] - target) ** 2), bounds=(low, low + 0.6), method="bounded", options={"xatol": 1e-11}
            )
            for low in starts
        ]
        best = min(found, key=lambda one: one.fun).x
        moved[i + 1 :] = carried(best)
        axes[i + 1 :] = Rotation.from_rotvec(best * axes[i]).apply(axes[i + 1 :])
    np.testing.assert_allclose(chain.ccd(points, target, hinges=hinges, steps=1).points, moved, atol=1e-5)


# Source: SciPy's least_squares within bounds: no turns inside the limits bring the tip nearer than the chain came.
@pytest.mark.source("SciPy")
@pytest.mark.parametrize("method", [chain.ccd, chain.damped_least_squares])
@pytest.mark.parametrize("seed", range(5))
def test_within_hinge_limits_a_chain_comes_as_near_as_bounded_least_squares(method, seed):
    rng = np.random.default_rng(seed)
    points, hinges = random_chain(rng, 5)
    target = turned(points, hinges, rng.uniform(-0.4, 0.4, 5))
    bounded = least_squares(
        lambda a: turned(points, hinges, a) - target, np.zeros(5), bounds=(-0.5, 0.5), xtol=1e-14, ftol=1e-14, gtol=1e-14
    )
    assert np.sqrt(2 * bounded.cost) < 1e-6
    assert method(points, target, hinges=hinges, limits=(-0.5, 0.5), steps=2000, tolerance=1e-5).reached


# Source: PyPI ikpy 4.2 (Apache-2.0), Chain.inverse_kinematics from the same start: it reaches the target, and so do both of ours;
# and what its forward_kinematics says of its answer is what the chain's lengths allow.
@pytest.mark.source("ikpy")
@pytest.mark.parametrize("method", [chain.ccd, chain.damped_least_squares])
@pytest.mark.parametrize("seed", range(3))
def test_what_ikpy_reaches_is_reached(method, seed):
    rng = np.random.default_rng(seed)
    points, hinges = random_chain(rng, 5)
    moves = np.vstack([points[0], np.diff(points, axis=0)])
    links = [URDFLink(f"l{i}", moves[i], np.zeros(3), rotation=hinges[i]) for i in range(5)] + [
        URDFLink("tip", moves[5], np.zeros(3), rotation=[0, 0, 1])
    ]
    other = Chain(links, active_links_mask=[True] * 5 + [False])
    target = turned(points, hinges, rng.uniform(-1, 1, 5))
    reached = other.forward_kinematics(other.inverse_kinematics(target, initial_position=np.zeros(6)))[:3, 3]
    assert np.linalg.norm(reached - target) < 1e-3
    solved = method(points, target, hinges=hinges, steps=3000, tolerance=1e-4)
    assert solved.reached
    np.testing.assert_allclose(np.linalg.norm(np.diff(solved.points, axis=0), axis=1), np.linalg.norm(moves[1:], axis=1), rtol=1e-9)


# Source: SciPy's minimize (SLSQP): the tip of a chain of fixed lengths, as near to the target as it goes; inside and outside the reach.
@pytest.mark.source("SciPy")
@pytest.mark.parametrize("method", [chain.fabrik, chain.ccd, chain.damped_least_squares])
@pytest.mark.parametrize("size", [0.1, 0.9, 1.5])
def test_a_free_chain_comes_as_near_as_an_optimiser(method, size):
    rng = np.random.default_rng(int(10 * size))
    points, _ = random_chain(rng, 3)
    lengths = np.linalg.norm(np.diff(points, axis=0), axis=1)
    way = rng.normal(size=3)
    target = points[0] + size * lengths.sum() * way / np.linalg.norm(way)

    def off(ways):
        ways = ways.reshape(-1, 3)
        return points[0] + (lengths[:, None] * ways / np.linalg.norm(ways, axis=1, keepdims=True)).sum(axis=0) - target

    best = min(
        
            minimize(lambda w: off(w) @ off(w), rng.normal(size=9), method="SLSQP", options={"ftol": 1e-16, "maxiter": 500}).fun
            for _ in range(4)
        
    )
    assert method(points, target, steps=2000).error == pytest.approx(np.sqrt(best), abs=1e-4)


# ---------------------------------------------------------------- eyes and feet


# Source: SciPy's minimize (L-BFGS-B) over the angle off the axis, within bounds, and the angle about it: the nearest direction.
@pytest.mark.source("SciPy")
@pytest.mark.parametrize("seed", range(8))
def test_a_direction_is_held_in_a_cone_where_an_optimiser_ends(seed):
    rng = np.random.default_rng(seed)
    wished, axis = rng.normal(size=(2, 3))
    wished, most = wished / np.linalg.norm(wished), rng.uniform(0.2, 1.4)
    stand = Rotation.align_vectors([axis], [[0, 0, 1]])[0]

    def way(x):
        return stand.apply([np.sin(x[0]) * np.cos(x[1]), np.sin(x[0]) * np.sin(x[1]), np.cos(x[0])])

    starts = [(most / 2, turn) for turn in (0.0, 2.0, 4.0)]
    found = [minimize(lambda x: -(way(x) @ wished), start, bounds=[(0, most), (None, None)], options={"ftol": 1e-15}) for start in starts]
    best = way(min(found, key=lambda one: one.fun).x)
    np.testing.assert_allclose(gaze.in_cone(wished, axis, most), best, atol=1e-6)


# Source: PyPI pytransform3d 3.17 (BSD-3-Clause), angle_between_vectors, axis_angle_from_two_directions, matrix_from_two_vectors.
@pytest.mark.source("pytransform3d")
@given(vectors(), vectors(), directions())
def test_lines_of_sight_as_in_pytransform3d(place, other, up):
    target = np.array([4.0, 0.5, 5.0])
    sight, second = target - place, target - other
    assume(min(np.linalg.norm(np.cross(sight, up)), np.linalg.norm(np.cross([0, 0, 1], up)), np.linalg.norm(np.cross(second, up))) > 1e-2)
    turn = gaze.look_at([place, other], target, up)
    z, _, x = pr.matrix_from_two_vectors(sight, up).T  # its axes: the line of sight, the rest of up, and square to both
    np.testing.assert_allclose(rotation.rotate(turn[0], [[0, 0, 1], [1, 0, 0]]), [z, -x], atol=1e-9)
    assert gaze.vergence(turn) == pytest.approx(pr.angle_between_vectors(sight, second), abs=1e-7)
    assume(np.linalg.norm(np.cross([0, 0, 1], sight)) > 1e-3)
    expected = pr.matrix_from_axis_angle(pr.axis_angle_from_two_directions([0, 0, 1], sight))
    np.testing.assert_allclose(rotation.to_matrix(gaze.shortest(sight)), expected, atol=1e-9)


# Source: SciPy's ConvexHull (Qhull): the farthest points of a sole are corners of its hull, or the middle of one of its sides.
@pytest.mark.source("SciPy")
@pytest.mark.parametrize("seed", range(6))
def test_the_pivots_of_a_sole_are_on_its_hull(seed):
    rng = np.random.default_rng(seed)
    outline = np.insert(rng.normal(size=(40, 2)) * [0.03, 0.08], 1, 0.0, axis=1)
    found = foot.pivots(outline, [0, 0.02, 0.03], "left")
    hull = ConvexHull(outline[:, [0, 2]])
    for point in (found.heel, found.toe, found.inner, found.outer):
        planes = hull.equations[:, :2] @ point[[0, 2]] + hull.equations[:, 2]
        assert planes.max() == pytest.approx(0, abs=1e-4)  # no point of the sole is beyond, and it is on the border
    assert found.toe[2] == pytest.approx(hull.points[hull.vertices, 1].max()) and found.heel[2] == pytest.approx(
        hull.points[hull.vertices, 1].min()
    )


# Source: PyPI pytransform3d 3.17 (BSD-3-Clause), matrix_from_two_vectors: up first, then what of the way to the ball is level.
@pytest.mark.source("pytransform3d")
@given(vectors(), vectors(), directions())
def test_the_own_frame_of_a_foot_as_in_pytransform3d(ankle, ball, up):
    assume(np.linalg.norm(np.cross(ball - ankle, up)) > 1e-3 * np.linalg.norm(ball - ankle) > 1e-6)
    y, z, x = pr.matrix_from_two_vectors(up, ball - ankle).T
    turn, place = foot.own_frame(ankle, ball, up)
    np.testing.assert_allclose(rotation.to_matrix(turn), np.transpose([x, y, z]), atol=1e-9)
    assert place @ up == pytest.approx(0, abs=1e-9)


# ---------------------------------------------------------------- binding


def dual(turn, move):
    return DualQuaternion.from_quat_pose_array(np.hstack([np.roll(turn, 1), move]))


# Source: PyPI dual_quaternions 0.4.0 (MIT): sum of weighted transforms, normalised, carries the point.
@pytest.mark.source("dual_quaternions")
@given(st.integers(0, 2**32 - 1))
def test_a_blend_of_several_joints_as_dual_quaternions_blends(seed):
    rng = np.random.default_rng(seed)
    main = random_turns(rng)
    near = rotation.multiply(rotation.from_vector(rng.normal(size=(4, 3)) * 0.8), main)  # within half a turn of each other
    moves, weights, point = rng.normal(size=(4, 3)), rng.dirichlet([1, 1, 1, 1]), rng.normal(size=3)
    signs = np.where(near @ near[weights.argmax()] < 0, -1.0, 1.0)  # the library does not look after signs
    parts = [w * np.array(dual(sign * q, t).dq_array()) for w, q, t, sign in zip(weights, near, moves, signs)]
    whole = DualQuaternion.from_dq_array(np.sum(parts, axis=0))
    whole.normalize()
    found = binding.dual_quaternion([point], [[0, 1, 2, 3]], [weights], near, moves)
    np.testing.assert_allclose(found[0], whole.transform_point(point), atol=1e-9)


# Source: PyPI dual_quaternions 0.4.0 (MIT), sclerp: half way along the screw, the blend of two with equal weights.
# Source: PyPI pytransform3d 3.17 (BSD-3-Clause), dual_quaternion_sclerp and dq_prod_vector: the same.
@pytest.mark.source("dual_quaternions", "pytransform3d")
@given(st.integers(0, 2**32 - 1))
def test_half_and_half_is_half_the_screw(seed):
    rng = np.random.default_rng(seed)
    q = rotation.multiply(rotation.from_vector(rng.uniform(-1, 1, (2, 3))), random_turns(rng))
    q[1] = rotation.align(q[1], q[0])
    assume(rotation.angle(*q) > 1e-2)
    moves, point = rng.normal(size=(2, 3)), rng.normal(size=3)
    found = binding.dual_quaternion([point], [[0, 1]], [[0.5, 0.5]], q, moves)[0]
    np.testing.assert_allclose(
        found, DualQuaternion.sclerp(dual(q[0], moves[0]), dual(q[1], moves[1]), 0.5).transform_point(point), atol=1e-6
    )
    both = [pt.dual_quaternion_from_pq(np.hstack([t, np.roll(one, 1)])) for one, t in zip(q, moves)]
    np.testing.assert_allclose(found, pt.dq_prod_vector(pt.dual_quaternion_sclerp(*both, 0.5), point), atol=1e-6)


# Source: PyPI pytransform3d 3.17 (BSD-3-Clause), dual_quaternion_from_pq, dq_prod_vector.
@pytest.mark.source("pytransform3d")
@given(turns(), vectors(), vectors())
def test_a_rigid_motion_as_a_dual_quaternion_of_pytransform3d(q, move, point):
    expected = pt.dual_quaternion_from_pq(np.hstack([move, np.roll(q, 1)]))
    real, dual_part = binding.dual_quaternions(q, move)
    np.testing.assert_allclose(np.hstack([np.roll(real, 1), np.roll(dual_part, 1)]), expected, atol=1e-12)
    np.testing.assert_allclose(binding.moved_by(real, dual_part, point), pt.dq_prod_vector(expected, point), atol=1e-11)


# Source: PyPI pytransform3d 3.17 (BSD-3-Clause), swing_twist_decomposition: the turns of the joints in a row make up its twist.
@pytest.mark.source("pytransform3d")
@given(turns(), directions(), st.lists(numbers(0.1, 1), min_size=1, max_size=5))
def test_a_spread_twist_is_the_twist_of_pytransform3d(q, axis, shares):
    assume(abs(q[3]) + abs(q[:3] @ axis) > 1e-3)
    total = rotation.IDENTITY
    for turn in binding.spread_twist(q, axis, np.array(shares) / np.sum(shares)):
        total = rotation.multiply(total, turn)
    assert apart(total, np.roll(pr.swing_twist_decomposition(np.roll(q, 1), axis)[1], -1)) < 1e-7


# Source: SciPy's BPoly.from_derivatives: the polynomial that goes from 0 to 1 with no slope at either end.
@pytest.mark.source("SciPy")
def test_weights_go_over_as_the_polynomial_with_level_ends():
    smooth = BPoly.from_derivatives([0.1, 0.4], [[0, 0], [1, 0]])
    along = np.linspace(0.1, 0.4, 61)
    np.testing.assert_allclose(binding.sleeve_weights(along, [0.1, 0.4])[:, 1], smooth(along), atol=1e-14)


# Source: SciPy's Rotation and a sum: each joint's move of the point, weighed.
@pytest.mark.source("SciPy")
@given(st.integers(0, 2**32 - 1))
def test_a_linear_blend_is_the_weighted_sum_of_what_scipy_moves(seed):
    rng = np.random.default_rng(seed)
    turned_by, moves, points = random_turns(rng, 5), rng.normal(size=(5, 3)), rng.normal(size=(7, 3))
    joints = np.array([rng.permutation(5)[:3] for _ in points])
    weights = rng.dirichlet([1, 1, 1], 7)
    expected = [
        sum(w * (Rotation.from_quat(turned_by[j]).apply(p) + moves[j]) for j, w in zip(row, share))
        for p, row, share in zip(points, joints, weights)
    ]
    np.testing.assert_allclose(binding.linear_blend(points, joints, weights, turned_by, moves), expected, atol=1e-12)


# ---------------------------------------------------------------- keys


# Source: SciPy's PchipInterpolator, whose slopes are those of Fritsch & Butland: equal at every inner key.
@pytest.mark.source("SciPy")
@given(st.lists(numbers(-3, 3), min_size=3, max_size=8), st.integers(0, 2**32 - 1))
def test_chosen_tangents_are_the_slopes_of_pchip(values, seed):
    times = np.cumsum(np.random.default_rng(seed).uniform(0.1, 1.0, len(values)))
    with np.errstate(all="ignore"):  # it divides where both slopes are zero
        expected = PchipInterpolator(times, values).derivative()(times)
    np.testing.assert_allclose(tangents(times, values)[1:-1], expected[1:-1], atol=1e-9)


# Source: SciPy's interp1d with kind "previous" and "linear".
@pytest.mark.source("SciPy")
@given(st.integers(0, 2**32 - 1), st.lists(numbers(0, 1), min_size=1, max_size=9))
def test_steps_and_straight_lines_as_in_scipy(seed, shares):
    rng = np.random.default_rng(seed)
    keys, values = np.cumsum(rng.uniform(0.1, 1, 6)), rng.normal(size=(6, 3))
    at = keys[0] + np.array(shares) * (keys[-1] - keys[0])
    for kind, name in (("step", "previous"), ("linear", "linear")):
        np.testing.assert_allclose(
            Keys(keys, values, kind).at(at), interp1d(keys, values, kind=name, axis=0)(np.clip(at, keys[0], keys[-1])), atol=1e-12
        )


# Source: SciPy's Rotation: a foot's stack for random channels, as turns about points one after the other, from the floor up.
@pytest.mark.source("SciPy")
@pytest.mark.parametrize("side, out", [("left", 1), ("right", -1)])
@pytest.mark.parametrize("seed", range(4))
def test_a_foot_is_turns_about_points_as_scipy_makes_them(side, out, seed):
    rng = np.random.default_rng(seed)
    outline = np.insert(rng.normal(size=(30, 2)) * [0.03, 0.08], 1, 0.0, axis=1)
    p = foot.pivots(outline, [0, 0.02, 0.03], side)
    roll, tilt, swivel = rng.uniform(-1.2, 1.2, 3)
    point = rng.normal(size=3) * 0.1

    def about(axis, angle, at, x):
        return at + Rotation.from_rotvec(angle * np.array(axis)).apply(x - at)

    x = about([1, 0, 0], np.clip(roll, 0, foot.TURN_OVER), p.ball, point)
    x = about([1, 0, 0], max(roll - foot.TURN_OVER, 0), p.toe, x)
    x = about([1, 0, 0], min(roll, 0), p.heel, x)
    x = about([0, 0, 1], -out * tilt, p.outer if tilt > 0 else p.inner, x)
    x = about([0, 1, 0], out * swivel, p.ball, x)
    np.testing.assert_allclose(frame.to_world(foot.stack(p, roll, tilt, swivel).ball, point), x, atol=1e-12)
