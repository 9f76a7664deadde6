"""Turns, frames, skeletons and mirrors against libraries that others wrote, on random input.

Each check names its source: the library, its licence and the call that was asked. What SciPy and transforms3d say about
turns stands in test_rotation.py and test_euler.py.
"""

from itertools import product

import mujoco
import numpy as np
import pytest
import pytransform3d.rotations as pr
import pytransform3d.transformations as pt
import trimesh
from hypothesis import assume, given
from hypothesis import strategies as st
from ikpy.chain import Chain
from ikpy.link import URDFLink
from pytransform3d.transform_manager import TransformManager
from scipy.optimize import brentq, minimize_scalar
from scipy.spatial.transform import RigidTransform, Rotation
from sympy import Plane as SympyPlane
from sympy import Point3D, Rational

import rigkit as rk
from rigkit import bend, frame, mirror, rotation
from tests.strategies import apart, directions, numbers, planes, random_turns, skeletons, turns, vectors

ORDERS = ["".join(o) for letters in ("XYZ", "xyz") for o in product(letters, repeat=3) if o[0] != o[1] != o[2]]


def w_first(q):
    return np.roll(q, 1, axis=-1)


def w_last(q):
    return np.roll(q, -1, axis=-1)


# ---------------------------------------------------------------- turns


# Source: PyPI pytransform3d 3.17 (BSD-3-Clause), matrix_from_euler: all twelve orders about moving and all twelve about fixed axes.
@pytest.mark.source("pytransform3d")
@pytest.mark.parametrize("order", ORDERS)
def test_every_order_of_three_angles_makes_the_matrix_of_pytransform3d(order):
    angles = np.random.default_rng(11).uniform(-np.pi, np.pi, (20, 3))
    axes = ["xyz".index(letter) for letter in order.lower()]
    expected = [pr.matrix_from_euler(a, *axes, extrinsic=order.islower()) for a in angles]
    np.testing.assert_allclose(rotation.to_matrix(rotation.from_euler(order, angles)), expected, atol=1e-14)


# Source: PyPI pytransform3d 3.17 (BSD-3-Clause), euler_from_matrix: away from the lock the angles themselves are equal.
@pytest.mark.source("pytransform3d")
@pytest.mark.parametrize("order", ORDERS)
def test_the_angles_of_every_order_are_those_of_pytransform3d(order):
    q = random_turns(np.random.default_rng(12), 20)
    q = q[rotation.gimbal(order, q) > 0.05]
    axes = ["xyz".index(letter) for letter in order.lower()]
    expected = np.array([pr.euler_from_matrix(m, *axes, extrinsic=order.islower()) for m in rotation.to_matrix(q)])
    off = rotation.to_euler(order, q) - expected
    np.testing.assert_allclose(off - 2 * np.pi * np.round(off / (2 * np.pi)), 0, atol=1e-9)


# Source: PyPI pytransform3d 3.17 (BSD-3-Clause), concatenate_quaternions, q_prod_vector, q_conj.
@pytest.mark.source("pytransform3d")
@given(turns(), turns(), vectors())
def test_products_turned_vectors_and_inverses_as_in_pytransform3d(p, q, v):
    assert apart(rotation.multiply(p, q), w_last(pr.concatenate_quaternions(w_first(p), w_first(q)))) < 1e-12
    np.testing.assert_allclose(rotation.rotate(q, v), pr.q_prod_vector(w_first(q), v), atol=1e-13)
    np.testing.assert_allclose(rotation.invert(q), w_last(pr.q_conj(w_first(q))), atol=1e-15)


# Source: PyPI pytransform3d 3.17 (BSD-3-Clause), swing_twist_decomposition (after Dobrowolski, arXiv:1506.05481).
@pytest.mark.source("pytransform3d")
@given(turns(), directions())
def test_swing_and_twist_as_in_pytransform3d(q, axis):
    swing, twist = rotation.swing_twist(q, axis)
    assume(abs(q[3]) + abs(q[:3] @ axis) > 1e-6)  # a swing of half a turn leaves the twist open
    other_swing, other_twist = pr.swing_twist_decomposition(w_first(q), axis)
    assert apart(swing, w_last(other_swing)) < 1e-9
    assert apart(twist, w_last(other_twist)) < 1e-9


# Source: PyPI pytransform3d 3.17 (BSD-3-Clause), quaternion_slerp with shortest_path.
@pytest.mark.source("pytransform3d")
@given(turns(), turns(), numbers(0, 1))
def test_slerp_as_in_pytransform3d(p, q, t):
    assume(np.pi - rotation.angle(p, q) > 1e-3)  # both ways equally short
    expected = pr.quaternion_slerp(w_first(p), w_first(q), t, shortest_path=True)
    assert apart(rotation.slerp(p, q, t), w_last(expected)) < 1e-7


# Source: PyPI pytransform3d 3.17 (BSD-3-Clause), quaternion_dist, axis_angle_from_quaternion, compact_axis_angle_from_matrix.
@pytest.mark.source("pytransform3d")
@given(turns(), turns())
def test_angles_axes_and_vectors_as_in_pytransform3d(p, q):
    assert rotation.angle(p, q) == pytest.approx(pr.quaternion_dist(w_first(p), w_first(q)), abs=1e-7)
    axis, angle = rotation.to_axis_angle(q)
    expected = pr.axis_angle_from_quaternion(w_first(q))
    assert angle == pytest.approx(expected[3], abs=1e-7)
    assert apart(rotation.from_axis_angle(axis, angle), rotation.from_matrix(pr.matrix_from_axis_angle(expected))) < 1e-7
    vector = rotation.to_vector(q)
    np.testing.assert_allclose(rotation.to_matrix(rotation.from_vector(vector)), pr.matrix_from_compact_axis_angle(vector), atol=1e-12)


# Source: PyPI pytransform3d 3.17 (BSD-3-Clause), axis_angle_from_two_directions.
@pytest.mark.source("pytransform3d")
@given(directions(), directions())
def test_the_shortest_turn_between_directions_as_in_pytransform3d(a, b):
    assume(np.linalg.norm(np.cross(a, b)) > 1e-4)
    expected = pr.matrix_from_axis_angle(pr.axis_angle_from_two_directions(a, b))
    np.testing.assert_allclose(rotation.to_matrix(rotation.between(a, b)), expected, atol=1e-9)


# ---------------------------------------------------------------- frames and bends


def frames():
    return st.tuples(turns(), vectors())


# Source: PyPI pytransform3d 3.17 (BSD-3-Clause), transform_from_pq, concat, invert_transform, transform.
@pytest.mark.source("pytransform3d")
@given(frames(), frames(), vectors())
def test_frames_as_in_pytransform3d(a, b, p):
    ma, mb = (pt.transform_from_pq(np.hstack([f[1], w_first(f[0])])) for f in (a, b))
    np.testing.assert_allclose(frame.to_matrix(frame.compose(a, b)), pt.concat(mb, ma), atol=1e-12)  # concat: first b, then a
    np.testing.assert_allclose(frame.to_matrix(frame.invert(a)), pt.invert_transform(ma), atol=1e-12)
    np.testing.assert_allclose(frame.to_world(a, p), pt.transform(ma, pt.vector_to_point(p))[:3], atol=1e-12)
    np.testing.assert_allclose(frame.to_local(a, p), pt.transform(pt.invert_transform(ma), pt.vector_to_point(p))[:3], atol=1e-12)


# Source: PyPI pytransform3d 3.17 (BSD-3-Clause), matrix_from_two_vectors: first axis along one, second the rest of the other.
@pytest.mark.source("pytransform3d")
@given(directions(), directions())
def test_a_bone_frame_is_that_of_two_vectors(bone, hinge):
    assume(np.linalg.norm(np.cross(bone, hinge)) > 1e-3)
    x, z, minus_y = pr.matrix_from_two_vectors(bone, hinge).T
    np.testing.assert_allclose(rotation.to_matrix(frame.from_bone(bone, hinge)), np.transpose([x, -minus_y, z]), atol=1e-11)


# Source: PyPI pytransform3d 3.17 (BSD-3-Clause), angle_between_vectors; SciPy's Rotation turns the first bone into the second.
@pytest.mark.source("pytransform3d", "SciPy")
@given(vectors(), directions(), directions(), numbers(0.1, 3), numbers(0.1, 3))
def test_bend_angle_and_normal_as_in_two_libraries(b, u, v, first, second):
    assume(np.linalg.norm(np.cross(u, v)) > 1e-3)
    a, c = b - first * u, b + second * v
    angle, normal = bend.angle(a, b, c), bend.normal(a, b, c)
    assert angle == pytest.approx(pr.angle_between_vectors(b - a, c - b), abs=1e-7)
    np.testing.assert_allclose(Rotation.from_rotvec(angle * normal).apply(u), v, atol=1e-9)


# Source: SciPy's brentq on the height at which the bend, by the arc cosine of the two bones, is the one asked for.
@pytest.mark.source("SciPy")
@pytest.mark.parametrize("seed", range(10))
def test_a_prebend_is_the_root_that_brentq_finds(seed):
    rng = np.random.default_rng(seed)
    a, c, direction = rng.normal(size=(3, 3))
    share, angle = rng.uniform(0.2, 0.8), rng.uniform(0.01, 2.5)
    line = (c - a) / np.linalg.norm(c - a)
    side = direction - (direction @ line) * line
    foot, side = a + share * (c - a), side / np.linalg.norm(side)

    def off(height):
        b = foot + height * side
        u, v = (b - a) / np.linalg.norm(b - a), (c - b) / np.linalg.norm(c - b)
        return np.arccos(np.clip(u @ v, -1, 1)) - angle

    height = brentq(off, 0.0, 1e3, xtol=1e-14)
    np.testing.assert_allclose(bend.prebend(a, foot + 0.3 * side, c, direction, angle), foot + height * side, atol=1e-6)


# Source: SciPy's minimize_scalar over all planes through both ends, told by one angle about the line between them.
@pytest.mark.source("SciPy")
@pytest.mark.parametrize("seed", range(6))
def test_the_plane_of_a_chain_is_the_one_an_optimiser_finds(seed):
    rng = np.random.default_rng(seed)
    points = np.cumsum(rng.normal(size=(6, 3)) * [1, 0.5, 0.1], axis=0)
    line = Rotation.align_vectors([points[-1] - points[0]], [[1, 0, 0]])[0]

    def cost(angle):
        return np.square((points - points[0]) @ line.apply([0, np.cos(angle), np.sin(angle)])).sum()

    best = min(
        (minimize_scalar(cost, bounds=(low, low + 0.8), method="bounded", options={"xatol": 1e-12}) for low in np.arange(0, np.pi, 0.4)),
        key=lambda found: found.fun,
    )
    assert np.square(bend.off_plane(points)).sum() == pytest.approx(best.fun, rel=1e-9)
    assert abs(bend.plane_normal(points) @ line.apply([0, np.cos(best.x), np.sin(best.x)])) == pytest.approx(1, abs=1e-9)


# ---------------------------------------------------------------- skeletons


# Source: PyPI pytransform3d 3.17 (BSD-3-Clause), TransformManager: it finds its own way from joint to world.
@pytest.mark.source("pytransform3d")
@given(skeletons(), st.integers(0, 2**32 - 1))
def test_a_tree_posed_by_the_transform_manager(skeleton, seed):
    rng = np.random.default_rng(seed)
    turned, moves = random_turns(rng, len(skeleton)), rng.normal(size=(len(skeleton), 3))
    manager = TransformManager()
    for name, parent, q, t in zip(skeleton.names, skeleton.parents, turned, moves):
        above = "world" if parent < 0 else skeleton.names[parent]
        manager.add_transform(name, above, pt.transform_from_pq(np.hstack([t, w_first(q)])))
    world = skeleton.forward(turned, moves)
    expected = np.array([manager.get_transform(name, "world") for name in skeleton.names])
    np.testing.assert_allclose(world.matrices, expected, atol=1e-12)
    local = skeleton.local(world.rotations, world.positions)  # and back: what the manager was given
    assert apart(local[0], turned) < 1e-7
    np.testing.assert_allclose(local[1], moves, atol=1e-12)


# Source: PyPI mujoco-core 4.0 (Apache-2.0): a tree of ball joints, written in its own format and posed by its own kinematics.
@pytest.mark.source("MuJoCo")
@pytest.mark.parametrize("seed", range(6))
def test_a_random_tree_stands_where_a_physics_engine_puts_it(seed):
    rng = np.random.default_rng(seed)
    count = 12
    parents = [-1, *(int(rng.integers(-1, i)) for i in range(1, count))]
    skeleton = rk.Skeleton([f"joint_{i:02d}" for i in range(count)], parents, rng.normal(size=(count, 3)), random_turns(rng, count))

    def body(i):
        place, turn = (
            " ".join(repr(float(x)) for x in row) for row in (skeleton.rest_translations[i], w_first(skeleton.rest_rotations[i]))
        )
        inside = "".join(body(k) for k in range(count) if parents[k] == i)
        return f'<body name="{skeleton.names[i]}" pos="{place}" quat="{turn}"><joint type="ball"/><geom size="0.1"/>{inside}</body>'

    roots = "".join(body(i) for i in range(count) if parents[i] < 0)
    model = mujoco.MjModel.from_xml_string(f"<mujoco><worldbody>{roots}</worldbody></mujoco>")
    data, turned = mujoco.MjData(model), random_turns(rng, count)
    order = [skeleton.index(model.body(i).name) for i in range(1, model.nbody)]  # the engine numbers bodies branch by branch
    data.qpos[:] = w_first(turned[order]).ravel()
    mujoco.mj_kinematics(model, data)
    world = skeleton.forward(rotation.multiply(skeleton.rest_rotations, turned))
    np.testing.assert_allclose(world.positions[order], data.xpos[1:], atol=1e-12)
    assert apart(world.rotations[order], w_last(data.xquat[1:])) < 1e-7


# Source: PyPI ikpy 4.2 (Apache-2.0), Chain.forward_kinematics of links as a robot description writes them.
@pytest.mark.source("ikpy")
@pytest.mark.parametrize("seed", range(6))
def test_a_chain_of_hinges_as_ikpy_poses_it(seed):
    rng = np.random.default_rng(seed)
    moves, tilts, axes = rng.normal(size=(5, 3)), rng.uniform(-3, 3, (5, 3)), rng.normal(size=(5, 3))
    axes /= np.linalg.norm(axes, axis=1, keepdims=True)
    angles = rng.uniform(-3, 3, 5)
    links = [URDFLink(f"l{i}", moves[i], tilts[i], rotation=axes[i]) for i in range(5)]
    chain = Chain(links, active_links_mask=[True] * 5)
    expected = np.array(chain.forward_kinematics(angles, full_kinematics=True))
    skeleton = rk.Skeleton([f"l{i}" for i in range(5)], range(-1, 4), moves, rotation.from_euler("xyz", tilts))
    found = skeleton.forward(rotation.multiply(skeleton.rest_rotations, rotation.from_axis_angle(axes, angles)))
    np.testing.assert_allclose(found.matrices, expected, atol=1e-12)


# Source: SciPy's RigidTransform: bodies that keep their place in the world while what carries them changes.
@pytest.mark.source("SciPy")
@given(skeletons(), st.integers(0, 2**32 - 1))
def test_a_new_parent_changes_the_local_transform_as_scipy_computes(skeleton, seed):
    rng = np.random.default_rng(seed)
    name = skeleton.names[int(rng.integers(len(skeleton)))]
    free = [other for other in skeleton.names if other != name and skeleton.index(other) not in skeleton.below(name)]
    assume(free)
    parent = free[int(rng.integers(len(free)))]
    moved, rest = skeleton.reparent(name, parent), skeleton.rest_world
    stands = [(rest.positions[i], Rotation.from_quat(rest.rotations[i])) for i in (skeleton.index(name), skeleton.index(parent))]
    here, above = (RigidTransform.from_components(*pair) for pair in stands)
    local, i = above.inv() * here, moved.index(name)
    np.testing.assert_allclose(moved.rest_translations[i], local.translation, atol=1e-12)
    assert apart(moved.rest_rotations[i], local.rotation.as_quat()) < 1e-7


# ---------------------------------------------------------------- mirrors


# Source: PyPI trimesh (MIT), transformations.reflection_matrix (after C. Gohlke's transformations.py).
@pytest.mark.source("trimesh")
@given(planes(), vectors(shape=(4, 3)))
def test_mirrored_points_as_in_trimesh(plane, p):
    m = trimesh.transformations.reflection_matrix(plane.point, plane.normal)
    np.testing.assert_allclose(mirror.points(p, plane), p @ m[:3, :3].T + m[:3, 3], atol=1e-12)
    np.testing.assert_allclose(mirror.matrix(plane), m[:3, :3], atol=1e-15)


# Source: PyPI sympy (BSD-3-Clause), Plane.projection in exact fractions: the image is as far behind the foot as the point is before it.
@pytest.mark.source("SymPy")
@pytest.mark.parametrize("seed", range(8))
def test_mirrored_points_in_exact_fractions(seed):
    rng = np.random.default_rng(seed)
    p, point, normal = (rng.integers(-9, 10, 3) for _ in range(3))
    normal = normal if normal.any() else np.array([1, 2, 3])
    exact = Point3D(*(Rational(int(x)) for x in p))
    foot = SympyPlane(Point3D(*map(int, point)), normal_vector=tuple(map(int, normal))).projection(exact)
    np.testing.assert_allclose(
        mirror.points(p, mirror.Plane(point, normal)), [float(2 * f - x) for f, x in zip(foot.args, exact.args)], atol=1e-13
    )


# Source: PyPI pytransform3d 3.17 (BSD-3-Clause), check_matrix (a proper rotation or an error) and quaternion_from_matrix.
@pytest.mark.source("pytransform3d")
@given(planes(), turns())
def test_both_mirrored_frames_are_rotations_to_pytransform3d_and_the_plain_image_is_none(plane, q):
    m, r = mirror.matrix(plane), rotation.to_matrix(q)
    for turned, image in ((mirror.matched(q, plane), -m @ r), (mirror.parallel(q, plane), m @ r @ np.diag([-1, 1, 1]))):
        assert apart(turned, w_last(pr.quaternion_from_matrix(pr.check_matrix(image, tolerance=1e-9)))) < 1e-6
    with pytest.raises(ValueError, match="determinant|inverted"):
        pr.check_matrix(m @ r)


# Source: SciPy's Rotation.align_vectors (Kabsch): the turn that takes a frame's axes to the images of another's.
@pytest.mark.source("SciPy")
@given(planes(), turns(), vectors(-1, 1))
def test_a_turn_mirrored_by_the_sign_table_is_the_turn_of_the_mirrored_points(plane, q, vector):
    cloud = np.array([[1.0, 0, 0], [0, 1, 0], [0, 0, 1]])
    local = rotation.from_vector(vector)
    for how in mirror.WAYS:
        other = mirror.matched(q, plane) if how == "matched" else mirror.parallel(q, plane)
        signs, _ = mirror.channel_signs(q, other, plane)
        before = rotation.rotate(q, cloud)
        after = rotation.rotate(rotation.multiply(q, local), cloud)
        wanted = Rotation.align_vectors(mirror.directions(after, plane), mirror.directions(before, plane))[0]
        found = rotation.multiply(other, rotation.multiply(rotation.from_vector(signs * vector), rotation.invert(other)))
        assert apart(found, wanted.as_quat()) < 1e-6
