"""Mirroring: twice is the start, frames stay rotations, matched turns give mirror images, names swap whole words."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from transforms3d.reflections import rfnorm2aff

import rigkit as rk
from rigkit import mirror, rotation
from tests.strategies import apart, planes, random_turns, skeletons, turns, vectors

RNG = np.random.default_rng(5)
YZ = mirror.Plane()
WAYS = st.sampled_from(mirror.WAYS)


def frame_of(how):
    return {"matched": mirror.matched, "parallel": mirror.parallel}[how]


# ---------------------------------------------------------------- points and frames


@given(planes(), vectors())
def test_mirroring_a_point_twice_gives_the_start_back(plane, p):
    assert np.allclose(mirror.points(mirror.points(p, plane), plane), p, atol=1e-12)


@given(planes(), vectors())
def test_a_point_and_its_image_stand_equally_far_on_either_side(plane, p):
    image = mirror.points(p, plane)
    assert np.isclose(np.dot(p - plane.point, plane.normal), -np.dot(image - plane.point, plane.normal), atol=1e-12)
    assert np.allclose(np.cross(image - p, plane.normal), 0, atol=1e-12)


@given(planes(), vectors(), vectors())
def test_mirroring_keeps_distances(plane, a, b):
    assert np.isclose(np.linalg.norm(mirror.points(a, plane) - mirror.points(b, plane)), np.linalg.norm(a - b), atol=1e-11)
    assert np.allclose(mirror.directions(a - b, plane), mirror.points(a, plane) - mirror.points(b, plane), atol=1e-11)


@given(planes(), turns(), WAYS)
def test_mirroring_a_frame_twice_gives_the_start_back(plane, q, how):
    frames = frame_of(how)
    assert apart(frames(frames(q, plane), plane), q) < 1e-11


@given(planes(), turns())
def test_both_ways_are_the_matrices_they_promise(plane, q):
    m, r = mirror.matrix(plane), rotation.to_matrix(q)
    assert np.allclose(rotation.to_matrix(mirror.matched(q, plane)), -m @ r, atol=1e-12)
    assert np.allclose(rotation.to_matrix(mirror.parallel(q, plane)), m @ r @ np.diag([-1, 1, 1]), atol=1e-12)


@given(planes(), vectors())
def test_the_reflection_matrix_has_determinant_minus_one_and_mirrors_points(plane, p):
    m = mirror.matrix(plane)
    assert np.isclose(np.linalg.det(m), -1) and np.allclose(m @ m, np.eye(3), atol=1e-12)
    assert np.allclose(m @ (p - plane.point) + plane.point, mirror.points(p, plane), atol=1e-11)


@pytest.mark.source("transforms3d")
def test_points_as_in_transforms3d():
    # PyPI transforms3d (BSD), reflections.rfnorm2aff
    for _ in range(20):
        plane = mirror.Plane(RNG.normal(size=3), RNG.normal(size=3))
        theirs = rfnorm2aff(plane.normal, plane.point)
        p = RNG.normal(size=(10, 3))
        assert np.allclose(mirror.points(p, plane), p @ theirs[:3, :3].T + theirs[:3, 3], atol=1e-12)
        assert np.allclose(mirror.matrix(plane), theirs[:3, :3], atol=1e-12)


def test_a_frame_that_stands_like_the_world_stays_so_when_parallel():
    assert apart(mirror.parallel(rotation.IDENTITY, YZ), rotation.IDENTITY) < 1e-12


@pytest.mark.parametrize("how", mirror.WAYS)
def test_both_ways_turn_the_bone_axis_round(how):
    # an arm along +x with x along the bone: on the other side the bone runs along -x, and x must point back along it
    bone = rotation.rotate(frame_of(how)(rotation.IDENTITY, YZ), [1, 0, 0])
    assert np.allclose(bone, [1, 0, 0]) and np.allclose(mirror.directions([1, 0, 0], YZ), [-1, 0, 0])


@pytest.mark.parametrize("how", mirror.WAYS)
def test_a_batch_equals_a_loop(how):
    q, p = random_turns(RNG, 30), RNG.normal(size=(30, 3))
    plane = mirror.Plane([1, 2, 3], [1, 1, 0])
    turn, origin = mirror.frames((q, p), plane, how)
    for i in range(30):
        one = mirror.frames((q[i], p[i]), plane, how)
        assert np.allclose(turn[i], one[0], atol=1e-15) and np.allclose(origin[i], one[1], atol=1e-15)


# ---------------------------------------------------------------- skeletons


@given(skeletons(), planes(), st.integers(0, 2**32 - 1))
def test_matched_frames_turn_equal_local_turns_into_mirror_images(skeleton, plane, seed):
    other = mirror.skeleton(skeleton, plane, "matched")
    turn = random_turns(np.random.default_rng(seed), len(skeleton))
    pose = skeleton.forward(rotation.multiply(skeleton.rest_rotations, turn))
    # roots: their frames are mirrored in the world, so that the same turn from rest is the same product there too
    image = other.forward(rotation.multiply(other.rest_rotations, turn))
    assert np.allclose(image.positions, mirror.points(pose.positions, plane), atol=1e-10)
    assert apart(image.rotations, mirror.matched(pose.rotations, plane)) < 1e-10


@given(turns(), vectors(), planes(), vectors())
def test_matched_frames_need_the_opposite_move_and_parallel_ones_minus_plus_plus(q, origin, plane, move):
    image = mirror.points(origin + rotation.rotate(q, move), plane)
    for how, signs in (("matched", (-1, -1, -1)), ("parallel", (-1, 1, 1))):
        turn, place = mirror.frames((q, origin), plane, how)
        assert np.allclose(place + rotation.rotate(turn, move * signs), image, atol=1e-10)


@given(skeletons(), planes(), st.integers(0, 2**32 - 1))
def test_parallel_frames_take_turns_with_signs_plus_minus_minus(skeleton, plane, seed):
    other = mirror.skeleton(skeleton, plane, "parallel")
    turn = random_turns(np.random.default_rng(seed), len(skeleton))
    pose = skeleton.forward(rotation.multiply(skeleton.rest_rotations, turn))
    image = other.forward(rotation.multiply(other.rest_rotations, turn * (1, -1, -1, 1)))
    assert np.allclose(image.positions, mirror.points(pose.positions, plane), atol=1e-10)


@given(skeletons(), planes(), WAYS)
def test_mirroring_a_skeleton_twice_gives_the_start_back(skeleton, plane, how):
    again = mirror.skeleton(mirror.skeleton(skeleton, plane, how), plane, how)
    assert again.names == skeleton.names
    assert np.allclose(again.rest_world.positions, skeleton.rest_world.positions, atol=1e-10)
    assert apart(again.rest_world.rotations, skeleton.rest_world.rotations) < 1e-10


# ---------------------------------------------------------------- names


@pytest.mark.parametrize(
    "name, swapped",
    [
        ("left_elbow_joint", "right_elbow_joint"),
        ("right_foot_control", "left_foot_control"),
        ("centre_hose_03_joint", "centre_hose_03_joint"),
        ("bright_lamp", "bright_lamp"),
        ("leftover_bolt", "leftover_bolt"),
        ("uplift_left", "uplift_right"),
        ("toe_right_02_joint", "toe_left_02_joint"),
        ("left", "right"),
    ],
)
def test_sides_swap_as_whole_words(name, swapped):
    assert mirror.names(name) == swapped and mirror.names(swapped) == name


# ---------------------------------------------------------------- errors


@pytest.mark.parametrize(
    "call, text",
    [
        (lambda: mirror.Plane(normal=(0, 0, 0)), "normal has length 0; expected a direction"),
        (lambda: mirror.Plane(point=(0, 0)), r"point has shape \(2,\); expected \(..., 3\)"),
        (lambda: mirror.Plane(point=np.zeros((2, 3))), r"point has shape \(2, 3\); expected \(3,\): one plane at a time"),
        (lambda: mirror.Plane(normal=(0, np.nan, 1)), "normal is .*; expected finite numbers"),
        (lambda: mirror.points([1, 2], YZ), r"p has shape \(2,\); expected \(..., 3\)"),
        (lambda: mirror.matched([0, 0, 0, 3], YZ), "q has length 3; expected 1 within 0.001"),
        (
            lambda: mirror.skeleton(rk.Skeleton("a", [-1], [[0, 0, 0]]), YZ, "mirrored"),
            "how is 'mirrored'; expected 'matched' or 'parallel'",
        ),
        (lambda: mirror.names("left_right_joint"), "'left_right_joint' holds both sides; expected one side or none: rename it first"),
        (lambda: mirror.names(3), "name is 3; expected a text"),
    ],
)
def test_errors_say_what_came_and_what_was_expected(call, text):
    with pytest.raises(ValueError, match=text):
        call()


# ---------------------------------------------------------------- the other side of a whole skeleton


def half(rng):
    """A body with a left arm and leg, all frames turned at will."""
    names = ["body", "chest", "left_arm", "left_hand", "left_finger_01", "left_leg", "head"]
    places = rng.normal(size=(7, 3))
    return rk.Skeleton(names, [-1, 0, 1, 2, 3, 0, 1], places, random_turns(rng, 7))


@given(planes(), WAYS, st.integers(0, 2**32 - 1))
def test_the_missing_side_is_added_and_the_given_joints_stay(plane, how, seed):
    one = half(np.random.default_rng(seed))
    both = mirror.complete(one, plane, how)
    assert both.names[:7] == one.names and both.names[7:] == ("right_arm", "right_hand", "right_finger_01", "right_leg")
    assert np.allclose(both.rest_world.positions[:7], one.rest_world.positions, atol=1e-11)
    assert [both.parent(name) for name in both.names[7:]] == ["chest", "right_arm", "right_hand", "body"]
    left, right = [2, 3, 4, 5], [7, 8, 9, 10]
    assert np.allclose(both.rest_world.positions[right], mirror.points(one.rest_world.positions[left], plane), atol=1e-10)
    assert apart(both.rest_world.rotations[right], frame_of(how)(one.rest_world.rotations[left], plane)) < 1e-10
    again = mirror.complete(both, plane, how)
    assert again.names == both.names and np.allclose(again.rest_world.positions, both.rest_world.positions, atol=1e-10)


@given(planes(), WAYS, st.integers(0, 2**32 - 1))
def test_a_pose_flipped_is_the_mirror_image_and_twice_the_start(plane, how, seed):
    rng = np.random.default_rng(seed)
    one = half(rng)
    one = rk.Skeleton(one.names, one.parents, one.local(one.rest_world.rotations, on_plane(one, plane))[1], one.rest_rotations)
    both = mirror.complete(one, plane, how)
    turns = random_turns(rng, len(both))
    flipped = mirror.pose(both, plane, turns)
    other = mirror.counterparts(both.names)
    image = mirror.points(both.forward(turns).positions[other], plane)
    assert np.allclose(both.forward(*flipped).positions, image, atol=1e-9)
    assert np.allclose(flipped[1][1:], both.rest_translations[1:], atol=1e-9)  # no bone has changed its length
    again_turns, again_moves = mirror.pose(both, plane, *flipped)
    assert apart(again_turns, turns) < 1e-9 and np.allclose(again_moves, both.rest_translations, atol=1e-9)


def on_plane(skeleton, plane):
    """Rest positions with the joints that have no side put on the plane."""
    places = skeleton.rest_world.positions
    centre = np.array(["left" not in name for name in skeleton.names])
    return np.where(centre[:, None], (places + mirror.points(places, plane)) / 2, places)


def test_flipping_a_batch_equals_a_loop():
    both = mirror.complete(half(np.random.default_rng(2)), YZ)
    turns = random_turns(RNG, 4, len(both))
    batch = mirror.pose(both, YZ, turns)
    for i in range(4):
        one = mirror.pose(both, YZ, turns[i])
        assert apart(batch[0][i], one[0]) < 1e-12 and np.allclose(batch[1][i], one[1], atol=1e-12)


@given(planes(), turns(), vectors(-1, 1), vectors())
def test_the_sign_table_mirrors_turns_and_moves_on_any_plane(plane, q, turn, move):
    for how in mirror.WAYS:
        there = frame_of(how)(q, plane)
        turn_signs, move_signs = mirror.channel_signs(q, there, plane)
        # a turn of the frame about its own axes, and its image, stay each other's mirror image
        moved = rotation.multiply(q, rotation.from_vector(turn))
        image = rotation.multiply(there, rotation.from_vector(turn * turn_signs))
        assert apart(image, frame_of(how)(moved, plane)) < 1e-9
        assert np.allclose(rotation.rotate(there, move * move_signs), mirror.directions(rotation.rotate(q, move), plane), atol=1e-9)


def test_the_sign_table_of_both_ways_by_hand():
    # algebra: with R' = M R S, moves change by S and turns by det(S) S;
    # S = -I gives det(S) S = +I for turns; S = diag(-1, 1, 1) gives (+, -, -)
    for normal in np.eye(3):
        plane = mirror.Plane(normal=normal)
        q = random_turns(RNG)
        assert [signs.tolist() for signs in mirror.channel_signs(q, mirror.matched(q, plane), plane)] == [[1, 1, 1], [-1, -1, -1]]
        assert [signs.tolist() for signs in mirror.channel_signs(q, mirror.parallel(q, plane), plane)] == [[1, -1, -1], [-1, 1, 1]]


@pytest.mark.source("theorem")
def test_no_proper_frame_keeps_the_signs_of_turns_and_moves_both():
    q = random_turns(RNG)
    for signs in np.ndindex(2, 2, 2):
        axes = rotation.to_matrix(mirror.matched(q, YZ)) @ np.diag(1.0 - 2 * np.array(signs))
        if np.linalg.det(axes) > 0:
            turn_signs, move_signs = mirror.channel_signs(q, rotation.from_matrix(axes), YZ)
            assert (turn_signs == -move_signs).all()


@pytest.mark.parametrize(
    "call, text",
    [
        (
            lambda: mirror.pose(half(RNG), YZ),
            "left_arm, left_hand, left_finger_01, left_leg have no counterpart; expected both sides: see mirror.complete",
        ),
        (
            lambda: mirror.channel_signs(rotation.IDENTITY, rotation.from_axis_angle([0, 1, 0], 0.1), YZ),
            r"axes are 5.73 degrees off the mirrored ones",
        ),
        (lambda: mirror.complete(half(RNG), YZ, "both"), "how is 'both'; expected 'matched' or 'parallel'"),
    ],
)
def test_errors_about_skeletons_say_what_was_expected(call, text):
    with pytest.raises(ValueError, match=text):
        call()
