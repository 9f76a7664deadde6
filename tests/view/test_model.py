"""The model's triangles: split where they must be, and carried by joints."""

import numpy as np
import pytest

import rigkit as rk
from rigkit.view import model, picking

CUBE = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], float)
FACES = np.array([[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]])


@pytest.fixture(scope="module")
def robot():
    return rk.tally()


@pytest.fixture(scope="module")
def branches(robot):
    return model.branches(robot)


def test_a_cubes_corners_are_split_in_three_and_its_normals_lie_along_the_axes():
    mesh = rk.Mesh(CUBE, FACES)
    points, normals, triangles, source = model.corners(mesh.vertices, mesh.triangles, np.radians(25))
    assert len(points) == 24 and (np.sort(np.abs(normals), axis=1) == [0, 0, 1]).all()
    assert (mesh.vertices[source] == points).all() and (source[triangles] == mesh.triangles).all()


def test_a_fine_tube_is_smooth_around_and_crisp_at_its_ends():
    n, t = 32, np.linspace(0, 2 * np.pi, 32, endpoint=False)
    rings = np.concatenate([np.column_stack([np.cos(t), np.full(n, y), np.sin(t)]) for y in (0.0, 1.0)])
    i = np.arange(n)
    sides = np.column_stack([i, i + n, (i + 1) % n + n, (i + 1) % n])
    triangles = np.concatenate([sides[:, [0, 1, 2]], sides[:, [0, 2, 3]], [[0, k, k + 1] for k in range(1, n - 1)]])
    points, normals, _, _ = model.corners(rings, triangles, np.radians(50))
    around = np.abs(normals[:, 1]) < 0.5
    assert around.sum() == 2 * n and (~around).sum() == n
    assert np.einsum("vi,vi->v", normals[around], points[around] * [1, 0, 1]) == pytest.approx(1, abs=1e-3)


def test_the_branches_hold_every_triangle_of_the_robot(robot, branches):
    assert sum(len(b.triangles) for b in branches) == sum(len(p.mesh.triangles) for p in robot.parts)
    assert sorted(p.name for b in branches for p in b.patches) == sorted(p.name for p in robot.parts)


def test_an_arm_is_one_branch_and_the_other_arm_another(branches):
    home = {p.name: b.name for b in branches for p in b.patches}
    assert home["left_upper_arm_tube"] == home["left_forearm_tube"] == home["left_elbow_sleeve"]
    assert len({home[n] for n in ("left_forearm_tube", "right_forearm_tube", "left_shin_tube", "body_drum")}) == 4


def test_the_rest_pose_leaves_every_corner_where_it_is(robot, branches):
    rest = robot.skeleton.forward()
    for branch in branches:
        points, normals = branch.posed(*model.motion(robot.skeleton, rest, rest))
        assert points == pytest.approx(branch.points, abs=1e-12) and normals == pytest.approx(branch.normals, abs=1e-9)


def test_posed_corners_are_where_the_packages_own_linear_blend_puts_them(robot, branches):
    rng = np.random.default_rng(3)
    turned = rk.rotation.from_vector(rng.normal(size=(len(robot.skeleton.names), 3)) * 0.4)
    rest, now = robot.skeleton.forward(), robot.skeleton.forward(turned)
    rotations, moves = model.motion(robot.skeleton, rest, now)
    for branch in branches:
        points, _ = branch.posed(rotations, moves)
        for patch in branch.patches:
            joints = np.tile(patch.joints, (patch.where.stop - patch.where.start, 1))
            expected = rk.binding.linear_blend(branch.points[patch.where], joints, np.broadcast_to(patch.weights, joints.shape), rk.rotation.from_matrix(rotations), moves)
            assert points[patch.where] == pytest.approx(expected, abs=1e-9)


def test_a_turned_model_turns_its_normals(robot, branches):
    turn = rk.rotation.to_matrix(rk.rotation.from_axis_angle([1, 2, 3], 0.7))
    count = len(robot.skeleton.names)
    for branch in branches:
        _, normals = branch.posed(np.tile(turn, (count, 1, 1)), np.zeros((count, 3)))
        assert normals == pytest.approx(branch.normals @ turn.T, abs=1e-9)


def test_a_ray_meets_the_nearest_face_of_a_cube():
    mesh = rk.Mesh(CUBE, FACES)
    hit = picking.first_hit(np.array([0.3, 0.4, 5.0]), np.array([0, 0, -1.0]), mesh.vertices, mesh.triangles)
    assert hit[1] == pytest.approx(4.0) and (mesh.vertices[mesh.triangles[hit[0]]][:, 2] == 1).all()


def test_a_ray_that_misses_meets_nothing():
    mesh = rk.Mesh(CUBE, FACES)
    assert picking.first_hit(np.array([1.3, 0.4, 5.0]), np.array([0, 0, -1.0]), mesh.vertices, mesh.triangles) is None


def test_a_body_is_closed_and_a_sheet_is_not(branches):
    assert model.closed(branches)
    flag = model.branches(rk.Character("flag", rk.Skeleton(["pole_joint"], [-1], [[0, 0, 0]], [[0, 0, 0, 1]]), [rk.Part(
        "flag", rk.Mesh(np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]], float), np.array([[0, 1, 2, 3]])), ["pole_joint"], np.ones((4, 1)), "hard", "#808080")]))
    assert not model.closed(flag)
