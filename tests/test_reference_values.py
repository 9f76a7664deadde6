"""Numbers that somebody else wrote down: turns, forward kinematics, mirrors and skinning. Each check names its source.

Those of limbs, loops and bends stand in test_reference_limb.py. "(memory)" marks a citation whose page was not looked at.
"""

import modern_robotics
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

import rigkit as rk
from rigkit import binding, chain, frame, mirror, rotation, words
from tests.strategies import apart

EIGHT = 5e-9  # half a unit of the eighth digit: as far as the printed numbers go


def about(axis, degrees):
    return rotation.from_axis_angle(axis, np.radians(degrees))


# ---------------------------------------------------------------- Lynch & Park


@pytest.mark.source("modern_robotics", "Lynch & Park")
def test_lynch_and_park_arm_with_a_slide_and_a_screw():
    # PyPI modern_robotics 1.1.1 (MIT), docstrings of FKinSpace and FKinBody: a turn about z through (0, 4, 0), a slide
    # along y, a screw about -z through (0, 6, 0) of pitch 0.1; theta = (pi/2, 3, pi). Home pose of the hand: M.
    theta = np.array([np.pi / 2, 3, np.pi])
    home = np.array([[-1, 0, 0, 0], [0, 1, 0, 6], [0, 0, -1, 2], [0, 0, 0, 1.0]])
    arm = rk.Skeleton(["turn", "slide", "screw", "hand"], [-1, 0, 1, 2], [[0, 4, 0], [0, 2, 0], [0, 0, 0], [0, 0, 2]])
    turns = [about([0, 0, 1], 90), rotation.IDENTITY, about([0, 0, -1], 180), rotation.from_matrix(home[:3, :3])]
    moves = arm.rest_translations + [[0, 0, 0], [0, theta[1], 0], [0, 0, -0.1 * theta[2]], [0, 0, 0]]
    hand = arm.forward(np.array(turns), moves).matrices[3]
    assert np.allclose(hand, [[0, 1, 0, -5], [1, 0, 0, 4], [0, 0, -1, 1.68584073], [0, 0, 0, 1]], atol=EIGHT)
    screws = np.array([[0, 0, 1, 4, 0, 0], [0, 0, 0, 0, 1, 0], [0, 0, -1, -6, 0, -0.1]]).T
    assert np.allclose(hand, modern_robotics.FKinSpace(home, screws, theta), atol=1e-12)


@pytest.mark.source("modern_robotics", "Lynch & Park")
def test_the_spatial_jacobian_of_four_screws():
    # PyPI modern_robotics 1.1.1 (MIT), docstring of JacobianSpace: four screws with a pitch, theta = (.2, 1.1, .1, 1.2). Column 2 is
    # printed there; ours comes from frames: how the hand moves, seen from the world, for a small change of one angle.
    screws = np.array([[0, 0, 1, 0, 0.2, 0.2], [1, 0, 0, 2, 0, 3], [0, 1, 0, 0, 2, 1], [1, 0, 0, 0.2, 0.3, 0.4]])
    theta, step = np.array([0.2, 1.1, 0.1, 1.2]), 1e-5

    def hand(angles):
        pose = rotation.IDENTITY, np.zeros(3)
        for (*axis, vx, vy, vz), angle in zip(screws, angles):
            v = np.array([vx, vy, vz])
            turn, through = rotation.from_axis_angle(axis, angle), np.cross(axis, v)  # a point of the screw's axis
            pose = frame.compose(pose, (turn, through - rotation.rotate(turn, through) + (v @ axis) * angle * np.array(axis)))
        return pose

    columns = []
    for one in np.eye(4):
        before, after = hand(theta - step * one), hand(theta + step * one)
        turning = rotation.to_vector(rotation.multiply(after[0], rotation.invert(before[0]))) / (2 * step)
        columns.append([*turning, *((after[1] - before[1]) / (2 * step) - np.cross(turning, hand(theta)[1]))])
    printed = [0.98006658, 0.19866933, 0, 1.95218638, 0.43654132, 2.96026613]
    assert np.allclose(columns[1], printed, atol=1e-8)
    assert np.allclose(np.transpose(columns), modern_robotics.JacobianSpace(screws.T, theta), atol=1e-8)


@pytest.mark.source("Lynch & Park")
@pytest.mark.parametrize("method", [chain.ccd, chain.damped_least_squares])
def test_two_links_end_where_newton_of_the_textbook_does(method):
    # Lynch & Park, Modern Robotics (2017), example 6.1 (memory): lengths 1, 1, from (0, 30) to (30, 90) degrees, tip (.366, 1.366).
    # Its steps ask for the heading too; ours ask for the place alone, and end on the same of the two bends.
    start = [[0, 0, 0], [1, 0, 0], [1 + np.cos(np.pi / 6), 0.5, 0]]
    points = method(start, [0.366, 1.366, 0], hinges=[0, 0, 1], tolerance=1e-9).points
    first, second = np.diff(points, axis=0)
    headings = np.degrees([np.arctan2(first[1], first[0]), np.arctan2(second[1], second[0])])
    assert np.allclose(headings, [30.0, 120.0], atol=0.01)


@pytest.mark.source("modern_robotics")
@pytest.mark.parametrize("seed", range(10))
def test_random_arms_as_the_product_of_exponentials(seed):
    # PyPI modern_robotics 1.1.1 (MIT), FKinSpace: joints that turn about any axis through any point
    rng = np.random.default_rng(seed)
    places, axes = rng.normal(size=(7, 3)), rng.normal(size=(6, 3))
    axes /= np.linalg.norm(axes, axis=1, keepdims=True)
    angles = rng.uniform(-3, 3, 6)
    arm = rk.Skeleton([f"joint_{i}" for i in range(7)], range(-1, 6), np.diff(places, axis=0, prepend=0))
    turns = np.vstack([rotation.from_axis_angle(axes, angles), rotation.IDENTITY])
    home = np.eye(4)
    home[:3, 3] = places[-1]
    screws = np.hstack([axes, -np.cross(axes, places[:-1])]).T
    assert np.allclose(arm.forward(turns).matrices[-1], modern_robotics.FKinSpace(home, screws, angles), atol=1e-12)


@pytest.mark.source("Lynch & Park")
def test_logarithm_of_the_cyclic_permutation():
    # PyPI modern_robotics 1.1.1 (MIT), docstring of MatrixLog3
    log = rotation.to_vector(rotation.from_matrix([[0, 0, 1], [1, 0, 0], [0, 1, 0]]))
    assert np.allclose(log, [1.20919958] * 3, atol=EIGHT)


@pytest.mark.source("modern_robotics", "Lynch & Park")
def test_exponential_of_one_two_three():
    # PyPI modern_robotics 1.1.1 (MIT), docstring of MatrixExp3
    m = rotation.to_matrix(rotation.from_vector([1, 2, 3]))
    assert np.allclose(m[0], [-0.69492056, 0.71352099, 0.08929286], atol=EIGHT)
    assert np.allclose(m, modern_robotics.MatrixExp3(modern_robotics.VecToso3([1, 2, 3])), atol=1e-12)


@pytest.mark.source("Lynch & Park")
def test_gimbal_two_angles_one_turn():
    # Lynch & Park, Modern Robotics (2017), appendix B (memory): ZYX (50, 90, 20) and (70, 90, 40) are one rotation
    first, second = (rotation.from_euler("ZYX", np.radians(angles)) for angles in ((50, 90, 20), (70, 90, 40)))
    assert apart(first, second) < 1e-12
    assert rotation.gimbal("ZYX", first) < 1e-9
    assert np.allclose(np.degrees(rotation.to_euler("ZYX", first)), [30, 90, 0], atol=1e-6)  # the same difference, last one zero


# ---------------------------------------------------------------- other textbooks and libraries


@pytest.mark.source("Corke")
def test_planar_arm_of_two_links():
    # P. Corke, Robotics, Vision and Control, 3rd edition, chapter 7 notebook: lengths 1, 1, angles (30, 40) degrees
    arm = rk.Skeleton(["first", "second", "tip"], [-1, 0, 1], [[0, 0, 0], [1, 0, 0], [1, 0, 0]])
    world = arm.forward(np.array([about([0, 0, 1], 30), about([0, 0, 1], 40), rotation.IDENTITY]))
    assert np.allclose(world.positions[2], [1.20804555, 1.43969262, 0], atol=EIGHT)
    assert np.degrees(rotation.twist_angle(world.rotations[2], [0, 0, 1])) == pytest.approx(70)


@pytest.mark.source("Craig")
def test_thirty_degrees_about_a_diagonal():
    # J. Craig, Introduction to Robotics, 3rd edition, section 2.8 (memory)
    m = rotation.to_matrix(about([1, 1, 0], 30))
    printed = [[0.9330127, 0.0669873, 0.35355339], [0.0669873, 0.9330127, -0.35355339], [-0.35355339, 0.35355339, 0.8660254]]
    assert np.allclose(m, printed, atol=EIGHT)


@pytest.mark.source("theorem", "SciPy")
def test_a_third_of_a_turn_about_the_space_diagonal_passes_the_axes_on():
    # standard; recomputed with SciPy Rotation
    q = about([1, 1, 1], 120)
    assert np.allclose(q, [0.5, 0.5, 0.5, 0.5]) and np.allclose(q, Rotation.from_rotvec(np.full(3, 2 * np.pi / 3 / 3**0.5)).as_quat())
    assert np.allclose(rotation.rotate(q, np.eye(3)), np.roll(np.eye(3), 1, axis=1))  # x to y, y to z, z to x


@pytest.mark.source("SciPy")
def test_extrinsic_angles_of_three_single_turns():
    # SciPy documentation of Rotation.as_euler: 'zxy' of z 90, y -60, x 45 degrees
    turns = Rotation.from_euler("zyx", [[90, 0, 0], [0, -60, 0], [0, 0, 45]], degrees=True).as_quat()
    assert np.allclose(np.degrees(rotation.to_euler("zxy", turns)), [[90, 0, 0], [0, 0, -60], [0, 45, 0]])


@pytest.mark.source("glTF 2.0")
def test_slerp_of_rotation_keys():
    # glTF 2.0 specification, appendix C: the shorter way at even speed; 0 to 90 degrees, a quarter of the way is 22.5
    quarter = rotation.slerp(rotation.IDENTITY, about([0, 1, 0], 90), 0.25)
    assert np.degrees(rotation.angle(rotation.IDENTITY, quarter)) == pytest.approx(22.5, abs=1e-12)
    # and not what scaling a straight mean of the four numbers gives (recomputed by hand: 2 atan of the ratio)
    straight = rotation.normalise(0.75 * rotation.IDENTITY + 0.25 * about([0, 1, 0], 90))
    assert np.degrees(rotation.angle(rotation.IDENTITY, straight)) == pytest.approx(21.59816098, abs=EIGHT)


@pytest.mark.source("glTF 2.0")
def test_slerp_goes_the_shorter_way_round():
    # glTF 2.0 specification, appendix C: where the inner product is negative, one of the two changes its sign
    there = -about([0, 0, 1], 100)
    assert apart(rotation.slerp(rotation.IDENTITY, there, 0.5), about([0, 0, 1], 50)) < 1e-12


@pytest.mark.source("theorem")
def test_reflection_over_the_yz_plane():
    # algebra: M R M keeps the part of the axis along the normal and turns the rest round
    q = rotation.normalise([0.1, 0.2, 0.3, 0.9])
    plane = mirror.Plane()
    m, r = mirror.matrix(plane), rotation.to_matrix(q)
    assert np.allclose(mirror.parallel(q, plane), q * (1, -1, -1, 1))
    assert np.allclose(rotation.to_matrix(mirror.parallel(q, plane)), m @ r @ m)
    for image, volume in ((m @ r @ m, 1), (-m @ r, 1), (m @ r, -1)):
        assert np.linalg.det(image) == pytest.approx(volume)


# ---------------------------------------------------------------- skinning


@pytest.mark.source("Kavan et al.")
@pytest.mark.parametrize("degrees, radius", [(60, 0.8660254), (90, 0.70710678), (120, 0.5), (180, 0.0)])
def test_a_twist_blended_half_and_half(degrees, radius):
    # Kavan, Collins, Zara, O'Sullivan, ACM TOG 27(4):105 (2008): linear blending collapses, dual quaternions keep the radius
    twist, still = np.array([rotation.IDENTITY, about([1, 0, 0], degrees)]), np.zeros((2, 3))
    mesh = [[0.5, 1, 0]], [[0, 1]], [[0.5, 0.5]]
    assert np.linalg.norm(binding.linear_blend(*mesh, twist, still)[0, 1:]) == pytest.approx(radius, abs=EIGHT)
    assert binding.twist_radius(np.radians(degrees)) == pytest.approx(radius, abs=EIGHT)
    assert np.linalg.norm(binding.dual_quaternion(*mesh, twist, still)[0, 1:]) == pytest.approx(1, abs=1e-12)


@pytest.mark.source("dual_quaternions")
def test_dual_part_of_a_turn_and_a_move():
    # PyPI dual_quaternions 0.4.0 (MIT), from_quat_pose_array: turn 90 about z, move (1, 2, 3); it prints w first
    real, dual = binding.dual_quaternions(about([0, 0, 1], 90), [1, 2, 3])
    assert np.allclose(np.roll(dual, 1), [-1.06066017, 1.06066017, 0.35355339, 1.06066017], atol=EIGHT)
    assert np.allclose(real, [0, 0, 0.70710678, 0.70710678], atol=EIGHT)


@pytest.mark.source("glTF 2.0", "SciPy")
def test_local_transforms_are_translation_rotation_scale():
    # glTF 2.0 specification, 3.5.3 Transformations: local matrix T * R * S, children inherit it; column vectors
    node = rk.Skeleton(["a", "b"], [-1, 0], [[1, 2, 3], [1, 0, 0]], [about([0, 1, 0], 90), rotation.IDENTITY])
    t, r, s = np.eye(4), np.eye(4), np.diag([2.0, 3, 4, 1])
    t[:3, 3], r[:3, :3] = [1, 2, 3], Rotation.from_euler("y", 90, degrees=True).as_matrix()
    move = np.eye(4)
    move[0, 3] = 1
    world = node.forward(scales=[[2, 3, 4], [1, 1, 1]]).matrices
    assert np.allclose(world, [t @ r @ s, t @ r @ s @ move], atol=1e-15)


# ---------------------------------------------------------------- colours


@pytest.mark.source("WCAG")
@pytest.mark.parametrize(
    "name, ratio",
    [
        ("orange", 2.252),
        ("sky", 2.307),
        ("green", 3.421),
        ("yellow", 1.322),
        ("blue", 5.185),
        ("vermilion", 3.867),
        ("purple", 3.061),
        ("#767676", 4.542),
        ("#777777", 4.478),
    ],
)
def test_contrast_of_the_palette_on_white(name, ratio):
    # WCAG 2.1, definitions of relative luminance and contrast ratio: (L1 + .05) / (L2 + .05); the palette of Okabe and Ito (2002)
    code = words.PALETTE.get(name, name)
    channels = np.array([int(code[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    assert 1.05 / (linear @ [0.2126, 0.7152, 0.0722] + 0.05) == pytest.approx(ratio, abs=5e-4)
