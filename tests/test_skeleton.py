"""Skeletons: forward kinematics and back, the fast forms against the readable one, edits that move nothing, error texts."""

import pickle

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import RigidTransform, Rotation

import rigkit as rk
from rigkit import forward, rotation
from tests.strategies import apart, random_turns, skeletons, turns, vectors

RNG = np.random.default_rng(40)


def tree(count, seed=1, reach=3):
    """A skeleton of `count` joints, each hung on one of the `reach` before it: deep, with branches."""
    rng = np.random.default_rng(seed)
    parents = [-1] + [int(rng.integers(max(0, i - reach), i)) for i in range(1, count)]
    return rk.Skeleton([f"joint_{i:02d}" for i in range(count)], parents, rng.normal(size=(count, 3)), random_turns(rng, count))


BIG = tree(40)


def readable(skeleton, rotations, translations):
    shape = np.broadcast_shapes(rotations.shape[:-2], translations.shape[:-2]) + (len(skeleton),)
    return forward.joint_by_joint(skeleton.parents, np.broadcast_to(rotations, shape + (4,)), np.broadcast_to(translations, shape + (3,)))


# ---------------------------------------------------------------- forward


def test_one_pose_equals_the_readable_form():
    r, t = random_turns(RNG, 40), RNG.normal(size=(40, 3))
    turns, positions = readable(BIG, r, t)
    world = BIG.forward(r, t)
    assert np.allclose(world.rotations, turns, atol=1e-14)
    assert np.allclose(world.positions, positions, atol=1e-13)
    assert np.allclose(world.matrices, forward.chained_matrices(BIG.parents, forward.local_matrices(r, t)), atol=1e-13)


@pytest.mark.parametrize("count", [1, 3, forward.BLOCK - 1, forward.BLOCK, forward.BLOCK + 1])
def test_many_poses_equal_the_readable_form(count):
    small = tree(5)
    r, t = random_turns(RNG, count, 5), RNG.normal(size=(count, 5, 3))
    turns, positions = readable(small, r, t)
    world = small.forward(r, t)
    assert np.allclose(world.rotations, turns, atol=1e-14) and np.allclose(world.positions, positions, atol=1e-13)


@given(skeletons(), st.integers(0, 2**32 - 1))
def test_a_batch_equals_a_loop(skeleton, seed):
    rng = np.random.default_rng(seed)
    r, t = random_turns(rng, 2, 3, len(skeleton)), rng.normal(size=(2, 3, len(skeleton), 3))
    batch = skeleton.forward(r, t)
    for i, j in np.ndindex(2, 3):
        one = skeleton.forward(r[i, j], t[i, j])
        for part in ("rotations", "positions", "matrices"):
            assert np.allclose(getattr(batch, part)[i, j], getattr(one, part), atol=1e-12)


def test_rest_values_stand_in_for_what_is_not_given():
    r, t = random_turns(RNG, 4, 40), RNG.normal(size=(40, 3))
    assert np.allclose(BIG.forward(r).positions, BIG.forward(r, BIG.rest_translations).positions)
    assert np.allclose(BIG.forward(None, t).positions, BIG.forward(BIG.rest_rotations, t).positions)
    assert np.allclose(BIG.forward(r, t).positions[2], BIG.forward(r[2], t).positions)
    assert np.array_equal(BIG.forward().positions, BIG.rest_world.positions)


def test_an_empty_batch_is_no_error():
    assert BIG.forward(np.zeros((0, 40, 4))).positions.shape == (0, 40, 3)


@given(skeletons(), turns(), vectors(), st.integers(0, 2**32 - 1))
def test_moving_the_roots_moves_the_whole_pose_rigidly(skeleton, q, v, seed):
    rng = np.random.default_rng(seed)
    r, t = random_turns(rng, len(skeleton)), rng.normal(size=(len(skeleton), 3))
    before, root = skeleton.forward(r, t), skeleton.parents < 0
    moved_r = np.where(root[:, None], rotation.multiply(q, r), r)
    moved_t = np.where(root[:, None], rotation.rotate(q, t) + v, t)
    after = skeleton.forward(moved_r, moved_t)
    assert np.allclose(after.positions, rotation.rotate(q, before.positions) + v, atol=1e-11)
    assert apart(after.rotations, rotation.multiply(q, before.rotations)) < 1e-11


@given(skeletons(), st.integers(0, 2**32 - 1))
def test_turning_joints_keeps_every_bone_length(skeleton, seed):
    child = np.flatnonzero(skeleton.parents >= 0)
    positions = skeleton.forward(random_turns(np.random.default_rng(seed), len(skeleton))).positions
    lengths = np.linalg.norm(positions[child] - positions[skeleton.parents[child]], axis=1)
    assert np.allclose(lengths, np.linalg.norm(skeleton.rest_translations[child], axis=1), atol=1e-12)


@given(skeletons(), st.integers(0, 2**32 - 1))
def test_local_is_forward_backwards(skeleton, seed):
    rng = np.random.default_rng(seed)
    r, t = random_turns(rng, 3, len(skeleton)), rng.normal(size=(3, len(skeleton), 3))
    world = skeleton.forward(r, t)
    back_r, back_t = skeleton.local(world.rotations, world.positions)
    assert apart(back_r, r) < 1e-11 and np.allclose(back_t, t, atol=1e-10)


@pytest.mark.source("SciPy")
def test_forward_as_rigid_transforms_of_scipy_chained():
    r, t = random_turns(RNG, 40), RNG.normal(size=(40, 3))
    world = []
    for joint, parent in enumerate(BIG.parents):
        local = RigidTransform.from_components(t[joint], Rotation.from_quat(r[joint]))
        world.append(local if parent < 0 else world[parent] * local)
    assert np.allclose(BIG.forward(r, t).matrices, [frame.as_matrix() for frame in world], atol=1e-12)


@pytest.mark.source("glTF 2.0")
def test_scales_follow_the_order_translation_rotation_scale():
    two = rk.Skeleton(["a", "b"], [-1, 0], [[1, 0, 0], [1, 0, 0]])
    quarter = rotation.from_axis_angle([0, 0, 1], np.pi / 2)
    world = two.forward(np.array([quarter, rotation.IDENTITY]), scales=[[2, 1, 1], [1, 3, 1]])
    # by hand: the child's offset (1, 0, 0) is doubled along the parent's x, then turned into +y, then moved by (1, 0, 0)
    assert np.allclose(world.positions, [[1, 0, 0], [1, 2, 0]], atol=1e-15)
    assert np.allclose(world.matrices[1, :3, :3], [[0, -3, 0], [2, 0, 0], [0, 0, 1]], atol=1e-15)
    assert apart(world.rotations, [quarter, quarter]) < 1e-12


def test_scales_of_one_change_nothing_and_take_batches():
    r = random_turns(RNG, 6, 40)
    plain, scaled = BIG.forward(r), BIG.forward(r, scales=np.ones((40, 3)))
    for part in ("rotations", "positions", "matrices"):
        assert np.allclose(getattr(scaled, part), getattr(plain, part), atol=1e-12)


@pytest.mark.source("theorem")
def test_uneven_scale_above_a_turned_child_shears_it():
    # by hand: stretched 1.5 along x, the child's axes at 45 degrees become (1.5, 1) and (-1.5, 1); the angle between them
    # is 180 - 2 atan(1 / 1.5) = 112.62 degrees
    two = rk.Skeleton(["a", "b"], [-1, 0], np.zeros((2, 3)), [rotation.IDENTITY, rotation.from_axis_angle([0, 0, 1], np.pi / 4)])
    axes = two.forward(scales=[[1.5, 1, 1], [1, 1, 1]]).matrices[1, :3, :2]
    cosine = axes[:, 0] @ axes[:, 1] / np.prod(np.linalg.norm(axes, axis=0))
    assert np.degrees(np.arccos(cosine)) == pytest.approx(112.6199, abs=1e-4)


# ---------------------------------------------------------------- finding joints


def test_joints_are_found_by_name():
    s = rk.Skeleton(["hip", "knee", "ankle", "tail"], [-1, 0, 1, 0], np.zeros((4, 3)))
    assert s.index("knee") == 1 and len(s) == 4
    assert s.parent("knee") == "hip" and s.parent("hip") is None
    assert s.children("hip") == ("knee", "tail")
    assert s.chain("hip", "ankle").tolist() == [0, 1, 2] and s.chain("knee", "knee").tolist() == [1]
    assert s.below("knee").tolist() == [1, 2]


# ---------------------------------------------------------------- other skeletons


@given(skeletons(), st.randoms(use_true_random=False))
def test_a_shuffled_list_sorts_into_the_same_skeleton(skeleton, random):
    order = list(range(len(skeleton)))
    random.shuffle(order)
    place = np.argsort(order)
    parents = [-1 if skeleton.parents[i] < 0 else int(place[skeleton.parents[i]]) for i in order]
    names = [skeleton.names[i] for i in order]
    again = rk.Skeleton.sorted(names, parents, skeleton.rest_translations[order], skeleton.rest_rotations[order])
    assert sorted(again.names) == sorted(skeleton.names)
    for name in names:
        assert again.parent(name) == skeleton.parent(name)
        assert np.allclose(again.rest_world.positions[again.index(name)], skeleton.rest_world.positions[skeleton.index(name)], atol=1e-12)


@given(skeletons())
def test_a_valid_order_is_kept_by_sorted(skeleton):
    again = rk.Skeleton.sorted(skeleton.names, skeleton.parents, skeleton.rest_translations, skeleton.rest_rotations)
    assert again.names == skeleton.names and np.array_equal(again.parents, skeleton.parents)


@given(skeletons(), st.data())
def test_a_new_parent_moves_no_joint(skeleton, data):
    name = data.draw(st.sampled_from(skeleton.names))
    outside = [n for i, n in enumerate(skeleton.names) if i not in skeleton.below(name)]
    parent = data.draw(st.sampled_from([None, *outside]))
    again = skeleton.reparent(name, parent)
    assert again.parent(name) == parent
    place = [again.index(n) for n in skeleton.names]
    assert np.allclose(again.rest_world.positions[place], skeleton.rest_world.positions, atol=1e-11)
    assert apart(again.rest_world.rotations[place], skeleton.rest_world.rotations) < 1e-11


@given(skeletons(), st.data())
def test_joints_that_are_kept_stand_where_they_stood_under_their_nearest_ancestor(skeleton, data):
    names = data.draw(st.lists(st.sampled_from(skeleton.names), min_size=1, unique=True))
    some = skeleton.keep(names)
    assert sorted(some.names) == sorted(names)
    place = [skeleton.index(name) for name in some.names]
    assert np.allclose(some.rest_world.positions, skeleton.rest_world.positions[place], atol=1e-11)
    assert apart(some.rest_world.rotations, skeleton.rest_world.rotations[place]) < 1e-11
    for name in names:
        above = skeleton.parent(name)
        while above is not None and above not in names:
            above = skeleton.parent(above)
        assert some.parent(name) == above


def test_a_skeleton_cannot_be_written_to_and_takes_copies():
    parents, rest = np.array([-1, 0]), np.zeros((2, 3))
    s = rk.Skeleton(["a", "b"], parents, rest)
    rest[1] = 5
    assert s.rest_translations[1].tolist() == [0, 0, 0]
    for value in (s.parents, s.rest_translations, s.rest_rotations, s.rest_world.positions, s.rest_world.rotations, s.rest_world.matrices):
        with pytest.raises(ValueError, match="read-only"):
            value[0] = 1


def test_a_skeleton_and_its_poses_survive_pickling():
    world = BIG.forward(random_turns(RNG, 40))
    again, pose = pickle.loads(pickle.dumps((BIG, world)))
    assert again.names == BIG.names and np.array_equal(again.rest_world.positions, BIG.rest_world.positions)
    assert np.array_equal(pose.rotations, world.rotations) and np.array_equal(pose.matrices, world.matrices)


# ---------------------------------------------------------------- errors


def make(names="abc", parents=(-1, 0, 1), translations=None, rotations=None):
    return rk.Skeleton(list(names), list(parents), np.zeros((len(names), 3)) if translations is None else translations, rotations)


@pytest.mark.parametrize(
    "call, text",
    [
        (lambda: make("abcdef", (-1, 0, 1, 5, 3, 2)), r"parents\[3\] = 5 comes after its child; list parents first, see Skeleton.sorted"),
        (lambda: make("abcd", (-1, 3, 1, 2)), "parents form a cycle: b -> d -> c -> b; expected each joint to end at a root"),
        (lambda: make("ab", (-1, 1)), "parents form a cycle: b -> b"),
        (lambda: rk.Skeleton.sorted("abc", [1, 2, 0], np.zeros((3, 3))), "parents form a cycle: a -> b -> c -> a"),
        (lambda: make("abb"), r"names\[2\] = 'b' is there twice; expected different names: rename one of the two"),
        (lambda: make("", ()), "names is empty; expected at least one joint"),
        (lambda: rk.Skeleton([1, 2], [-1, 0], np.zeros((2, 3))), "names holds 1; expected texts that are not empty"),
        (lambda: make(parents=(-1, 0)), r"parents is \[-1 0\]; expected 3 integers, one a joint: -1 for a root"),
        (lambda: make(parents=(-1, 0, 0.5)), "expected 3 integers"),
        (lambda: make(parents=(-1, 0, 7)), r"parents\[2\] = 7 is no joint; expected -1 for a root, or 0 to 2"),
        (lambda: make(parents=(-2, 0, 1)), r"parents\[0\] = -2 is no joint"),
        (lambda: make(translations=np.zeros((2, 3))), r"rest_translations has shape \(2, 3\); expected \(3, 3\): one row a joint"),
        (
            lambda: make(translations=[[0, 0, 0], [0, np.inf, 0], [0, 0, 0]]),
            r"rest_translations at row \(1,\) is \[ 0. inf 0.\]; expected finite numbers",
        ),
        (lambda: make(rotations=np.zeros((3, 4))), r"rest_rotations at row \(0,\) has length 0; expected 1 within 0.001"),
        (lambda: make().index("d"), "no joint is called 'd'; near it: a, b, c"),
        (
            lambda: make(["left_elbow_joint", "left_wrist_joint"], (-1, 0)).index("left_elbow"),
            "no joint is called 'left_elbow'; near it: left_elbow_joint",
        ),
        (lambda: make().keep([]), "names is empty; expected at least one joint"),
        (lambda: make().keep(["d"]), "no joint is called 'd'"),
        (lambda: make().chain("c", "a"), "'a' does not hang below 'c'; expected a joint and one of its descendants"),
        (lambda: make().reparent("a", "c"), "'c' hangs below 'a'; expected a parent outside that branch: a joint can't hang under itself"),
        (
            lambda: make().forward(np.zeros((2, 4)) + [0, 0, 0, 1]),
            r"rotations has shape \(2, 4\); expected \(..., 3, 4\): one row for each of the 3 joints",
        ),
        (lambda: make().forward([0, 0, 0, 1]), r"rotations has shape \(4,\); expected \(..., 3, 4\)"),
        (lambda: make().forward(translations=np.full((3, 3), np.nan)), r"translations at row \(0,\) is \[nan nan nan\]"),
        (
            lambda: make().forward(random_turns(RNG, 2, 3), np.zeros((4, 3, 3))),
            r"batch shapes do not fit together: rotations \(2,\), translations \(4,\)",
        ),
        (lambda: rk.Skeleton(5, [-1], np.zeros((1, 3))), "names is 5; expected a text for each joint"),
        (lambda: make().forward(scales=np.ones((2, 3))), r"scales has shape \(2, 3\); expected \(..., 3, 3\)"),
        (lambda: make().local(random_turns(RNG, 3), np.zeros((1, 3))), r"positions has shape \(1, 3\); expected \(..., 3, 3\)"),
    ],
)
def test_errors_say_what_came_and_what_was_expected(call, text):
    with pytest.raises(ValueError, match=text):
        call()
