"""Eyes that look at a point: level, limited, together. Oracles: SciPy's rotations, transforms3d, spherical trigonometry."""

import numpy as np
import pytest
from hypothesis import assume, given
from scipy.spatial.transform import Rotation

import rigkit as rk
from rigkit import gaze
from tests.strategies import apart, directions, numbers, turns, vectors

Z, Y = np.array([0.0, 0, 1]), np.array([0.0, 1, 0])
ORIGIN = np.zeros(3)
NO_TURN = np.array([0.0, 0, 0, 1])
PLACES = np.array([[0.03, 0.02, 0.05], [-0.03, 0.02, 0.05]])


def sight(turn):
    return rk.rotation.rotate(turn, Z)


# ---- one eye --------------------------------------------------------------------------------------------------------


@given(vectors(), vectors(), directions(), directions())
def test_an_eye_looks_at_its_target_and_is_level(position, target, up, ahead):
    assume(np.linalg.norm(target - position) > 1e-3 and np.linalg.norm(np.cross(up, ahead)) > 1e-3)
    turn = gaze.look_at(position, target, up, ahead)
    way = (target - position) / np.linalg.norm(target - position)
    np.testing.assert_allclose(sight(turn), way, atol=1e-9)
    assert abs(rk.rotation.rotate(turn, [1, 0, 0]) @ up) < 1e-9
    assert rk.rotation.rotate(turn, Y) @ up > -1e-9  # never upside down


@pytest.mark.source("SciPy")
@given(vectors(), vectors(), directions())
def test_level_is_the_frame_whose_side_axis_is_up_cross_ahead(position, target, up):
    """Against SciPy: the rotation of the three axes of a camera frame (the usual textbook construction)."""
    way = target - position
    side = np.cross(up, way)
    assume(np.linalg.norm(side) > 1e-3 * max(np.linalg.norm(way), 1e-3) and np.linalg.norm(way) > 1e-2)
    assume(np.linalg.norm(np.cross(up, [0.3, 0.5, 0.8])) > 1e-3)
    z, x = way / np.linalg.norm(way), side / np.linalg.norm(side)
    expected = Rotation.from_matrix(np.stack([x, np.cross(z, x), z], axis=1)).as_quat()
    assert apart(gaze.look_at(position, target, up, [0.3, 0.5, 0.8]), expected) < 1e-7


@pytest.mark.source("SciPy")
@given(numbers(-3.1, 3.1), numbers(-1.5, 1.5))
def test_the_angles_are_intrinsic_turns_about_y_then_x(side, rise):
    """Against SciPy: "YX" with the rise counted upward, so about -x."""
    turn = gaze.from_angles(side, rise)
    assert apart(turn, Rotation.from_euler("YX", [side, -rise]).as_quat()) < 1e-7
    np.testing.assert_allclose(gaze.angles(sight(turn)), [side, rise], atol=1e-9)


def test_values_a_hand_can_check():
    """3-4-5: four ahead and three to the left is 36.87 degrees; twelve up on five level is 67.38."""
    side, rise = gaze.angles([3, 12, 4])
    assert np.degrees(side) == pytest.approx(36.86989765) and np.degrees(rise) == pytest.approx(67.38013505)
    assert np.degrees(gaze.angles([0, 0, -1])[0]) == pytest.approx(180)
    assert [np.degrees(a) for a in gaze.angles([-1, 0, 0])] == pytest.approx([-90, 0])


def test_looking_up_does_not_roll_the_eye():
    """Rise alone turns about the side axis alone."""
    up = gaze.look_at(ORIGIN, [0, 1, 1])
    np.testing.assert_allclose(rk.rotation.rotate(up, [1, 0, 0]), [1, 0, 0], atol=1e-12)
    assert float(gaze.roll(up)) == pytest.approx(0, abs=1e-12)


# ---- straight up and down -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("way", [1, -1])
def test_straight_up_and_down_the_eye_faces_as_the_head_does(way):
    turn = gaze.look_at(ORIGIN, [0, way, 0])
    np.testing.assert_allclose(sight(turn), [0, way, 0], atol=1e-12)
    np.testing.assert_allclose(rk.rotation.rotate(turn, Y), [0, 0, -way], atol=1e-12)
    np.testing.assert_allclose(rk.rotation.rotate(turn, [1, 0, 0]), [1, 0, 0], atol=1e-12)
    for dust in ([0, way, -0.0], [-0.0, way, -0.0], [1e-17, way, -1e-17], [0, way, -1e-300]):
        assert apart(gaze.look_at(ORIGIN, dust), turn) < 1e-7
    turned = gaze.look_at(ORIGIN, [0, way, 0], ahead=[1, 0.2, 0])
    np.testing.assert_allclose(rk.rotation.rotate(turned, Y), [-way, 0, 0], atol=1e-12)


def test_the_eye_moves_evenly_up_to_straight_up_from_ahead():
    """Coming up from straight ahead the last step is as small as the others."""
    rise = np.radians([88, 89, 90 - 1e-6, 90])
    found = gaze.look_at(ORIGIN, np.stack([0 * rise, np.sin(rise), np.cos(rise)], axis=1))
    assert rk.rotation.angle(found[:-1], found[1:]).max() < np.radians(1.001)


@given(directions(), directions())
def test_the_shortest_turn_moves_evenly_also_straight_up(a, b):
    """In front and to all sides it turns at most sqrt 2 times as far as its line of sight: at an angle a from ahead, 1 / cos(a / 2)."""
    a, b = (v * [1, 1, np.sign(v[2]) or 1] for v in (a, b))
    moved = rk.rotation.angle(gaze.shortest(a), gaze.shortest(b))
    assert moved <= np.sqrt(2) * np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b) + 1e-7


@pytest.mark.source("Haslwanter")
@given(numbers(-1.5, 1.5), numbers(-1.4, 1.4))
def test_the_roll_of_the_shortest_turn_against_level(side, rise):
    """tan(T/2) = tan(side/2) tan(rise/2), the torsion between Listing's and Fick's eyes.

    Source: T. Haslwanter, Mathematics of three-dimensional eye rotations, Vision Research 35 (1995) 1727 (memory).
    """
    turn = gaze.shortest(sight(gaze.from_angles(side, rise)))
    rolled = float(gaze.roll(turn))
    assert abs(np.tan(rolled / 2)) == pytest.approx(abs(np.tan(side / 2) * np.tan(rise / 2)), abs=1e-7)


@given(vectors(), directions(), directions())
def test_a_target_on_the_eye_keeps_it_straight_ahead(position, up, ahead):
    assume(np.linalg.norm(np.cross(up, ahead)) > 1e-3)
    assert apart(gaze.look_at(position, position, up, ahead), gaze.head_turn(up, ahead)) < 1e-7
    assert apart(gaze.eyes((NO_TURN, position), [ORIGIN], position)[0], NO_TURN) < 1e-7
    assert apart(gaze.look_at(ORIGIN, [1e-13, 0, 0], up, ahead), gaze.head_turn(up, ahead)) < 1e-7  # as near as rounding


# ---- two eyes, one head ---------------------------------------------------------------------------------------------


@given(turns(), vectors(), vectors())
def test_two_eyes_meet_at_their_target_level_with_the_head(turn, origin, target):
    head = turn, origin
    places = rk.frame.to_world(head, PLACES)
    assume(np.linalg.norm(target - places, axis=1).min() > 1e-2)
    both = gaze.eyes(head, PLACES, target)
    for place, eye in zip(places, both):
        way = target - place
        np.testing.assert_allclose(np.cross(sight(eye), way), 0, atol=1e-9)
        assert sight(eye) @ way > 0
        assert abs(rk.rotation.rotate(eye, [1, 0, 0]) @ rk.rotation.rotate(turn, Y)) < 1e-9


def test_eyes_converge_by_the_angle_that_their_distance_makes():
    """Half the distance over the way to the target is the tangent of half the angle; far away they look alike."""
    for away in (0.05, 0.3, 2.0):
        both = gaze.eyes((NO_TURN, ORIGIN), PLACES, [0, 0.02, 0.05 + away])
        assert gaze.vergence(both) == pytest.approx(2 * np.arctan(0.03 / away))
        assert sight(both)[0, 0] < 0 < sight(both)[1, 0]  # the left eye turns to the right, the right one to the left
    assert gaze.vergence(gaze.eyes((NO_TURN, ORIGIN), PLACES, [3e8, 0, 4e8])) < 1e-8


@given(turns(), vectors(), turns(), vectors(), vectors(1, 3))
def test_the_whole_head_and_target_turned_is_the_same_gaze(turn, origin, more, move, target):
    here = gaze.eyes((turn, origin), PLACES, target)
    there = gaze.eyes(rk.frame.compose((more, move), (turn, origin)), PLACES, rk.frame.to_world((more, move), target))
    seen = rk.frame.to_local((turn, origin), target) - PLACES
    assume(np.hypot(seen[:, 0], seen[:, 2]).min() > 1e-3)
    assert apart(rk.rotation.multiply(more, here), there) < 1e-7


def test_a_batch_equals_them_one_by_one():
    rng = np.random.default_rng(1)
    turn, origin, target = rk.rotation.normalise(rng.normal(size=(4, 6, 4))), rng.normal(size=(4, 6, 3)), rng.normal(size=(6, 3))
    limits = ((-0.5, 0.6), (-0.4, 0.3))
    many = gaze.eyes((turn, origin), PLACES, target, limits, cone=0.5)
    assert many.shape == (4, 6, 2, 4)
    for i, j in np.ndindex(4, 6):
        assert apart(gaze.eyes((turn[i, j], origin[i, j]), PLACES, target[j], limits, cone=0.5), many[i, j]) < 1e-9
        assert apart(gaze.look_at(origin[i, j], target[j]), gaze.look_at(origin, target)[i, j]) < 1e-9


# ---- limits ---------------------------------------------------------------------------------------------------------


@given(numbers(-3.1, 3.1), numbers(-1.5, 1.5), numbers(0, 1), numbers(0, 1), numbers(0, 1), numbers(0, 1))
def test_held_angles_are_within_limits_and_those_within_are_kept(side, rise, right, left, down, up):
    found = gaze.held(side, rise, limits=((-right, left), (-down, up)))
    assert -right <= found[0] <= left and -down <= found[1] <= up
    again = gaze.held(*found, limits=((-right, left), (-down, up)))
    np.testing.assert_array_equal(again, found)
    if -right <= side <= left:
        assert found[0] == side


@given(directions(), directions(), numbers(0, 3.14))
def test_a_direction_is_held_in_a_cone_the_shortest_way(v, axis, most):
    """On the great circle through both: the angles of the held one to axis and to the wish add up to the whole."""
    held = gaze.in_cone(v, axis, most)
    def off(a, b):
        return np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b)
    assert np.linalg.norm(held) == pytest.approx(1)
    assert off(held, axis) == pytest.approx(min(off(v, axis), most), abs=1e-9)
    assert off(held, axis) + off(held, v) == pytest.approx(off(v, axis), abs=1e-7)


@given(numbers(-3.1, 3.1), numbers(-1.5, 1.5), numbers(0.05, 3.1))
def test_a_cone_holds_the_sight_near_straight_ahead(side, rise, cone):
    held = sight(gaze.from_angles(*gaze.held(side, rise, cone=cone)))
    assert held[2] >= np.cos(cone) - 1e-9
    if np.cos(rise) * np.cos(side) > np.cos(cone) + 1e-9:  # spherical law of cosines: within the cone already
        np.testing.assert_allclose(held, sight(gaze.from_angles(side, rise)), atol=1e-9)


def test_straight_behind_a_cone_holds_to_the_left():
    np.testing.assert_allclose(gaze.in_cone(-Z, Z, 0.5), [np.sin(0.5), 0, np.cos(0.5)], atol=1e-12)
    np.testing.assert_allclose(gaze.in_cone(-Y, Y, 0.5), [0, np.cos(0.5), np.sin(0.5)], atol=1e-12)
    np.testing.assert_allclose(gaze.in_cone([0, 0, -1], Z, np.pi), [0, 0, -1], atol=1e-12)


def test_the_rigs_eyes_look_as_these_do():
    """The rig's link has a form of its own for speed; this is the readable one."""
    rig = rk.tally_rig()
    rng = np.random.default_rng(4)
    values = {"centre_eyes_control.move": rng.uniform(-0.15, 0.15, (30, 3)), "centre_head_control.turn_y": rng.uniform(-0.5, 0.5, 30)}
    pose, rest = rig.pose(values), rig.skeleton.rest_world
    head, turn = pose.frame("centre_head_joint"), rest.rotations[rig.skeleton.index("centre_head_joint")]
    head = rk.rotation.multiply(head[0], rk.rotation.invert(turn))
    up, ahead = rk.rotation.rotate(head, Y), rk.rotation.rotate(head, Z)
    for side in ("left", "right"):
        eye = pose.frame(f"{side}_eye_joint")
        still = rest.rotations[rig.skeleton.index(f"{side}_eye_joint")]
        level = rk.rotation.multiply(eye[0], rk.rotation.invert(still))
        expected = gaze.look_at(eye[1], pose.frame(f"{side}_eye_control")[1], up, ahead)
        rested = gaze.look_at(rest.positions[rig.skeleton.index(f"{side}_eye_joint")], rig.control(f"{side}_eye_control").position)
        np.testing.assert_allclose(sight(rk.rotation.multiply(level, rested)), sight(expected), atol=1e-9)
        assert apart(rk.rotation.multiply(level, rested), expected) < 1e-7


# ---- errors ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: gaze.look_at([0, 0], Z), r"position has shape \(2,\); expected \(..., 3\)"),
        (lambda: gaze.look_at(ORIGIN, [0, np.nan, 0]), "target is .*nan.*; expected finite numbers"),
        (lambda: gaze.look_at(ORIGIN, Z, up=ORIGIN), "up has length 0; expected a direction"),
        (lambda: gaze.look_at(ORIGIN, Z, up=Z), "ahead runs along up; expected a direction across it: where the head faces"),
        (lambda: gaze.head_turn([Y, Z], Z), r"ahead at row \(1,\) runs along up"),
        (lambda: gaze.look_at(np.zeros((2, 3)), np.ones((3, 3))), r"batch shapes do not fit together: position \(2,\), target \(3,\)"),
        (lambda: gaze.eyes((NO_TURN, ORIGIN), ORIGIN, Z), r"places has shape \(3,\); expected \(E, 3\): a row for each eye"),
        (lambda: gaze.eyes(NO_TURN, PLACES, Z), "head is .*; expected a pair"),
        (lambda: gaze.held(0, 0, limits=((0.1, 0.5), (-1, 1))), r"limits are .*; expected \(\(right, left\), \(down, up\)\) in radians"),
        (lambda: gaze.held(0, 0, limits=((-1, 1), (-1, 2))), "limits are .*; .* within a right angle"),
        (lambda: gaze.held(0, 0, limits=(1, 2)), r"limits has shape \(2,\); expected \(..., 2, 2\)"),
        (lambda: gaze.held(0, 0, cone=4), "most is 4; expected 0 to 3.14159 radians from the axis"),
        (lambda: gaze.in_cone(Z, Z, [0.1, -1]), r"most at row \(1,\) is -1"),
        (lambda: gaze.in_cone(ORIGIN, Z, 1), "direction has length 0"),
        (lambda: gaze.vergence(NO_TURN), r"turns has shape \(4,\); expected \(..., 2, 4\): the turns of two eyes"),
        (lambda: gaze.from_angles([1, 2], [1, 2, 3]), r"batch shapes do not fit together: side \(2,\), rise \(3,\)"),
    ],
)
def test_bad_input_is_told_in_words(call, text):
    with pytest.raises(ValueError, match=text):
        call()
