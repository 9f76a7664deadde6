"""Turned joints and a target: there and back, what is lost, and the blend of both."""

import numpy as np
import pytest
from hypothesis import assume, given
from scipy.spatial.transform import Rotation, Slerp

import rigkit as rk
from rigkit import limb, matching
from tests.strategies import apart, directions, numbers, random_turns, turns, vectors

NAMES = ("shoulder", "elbow", "wrist")


def limb_of(seed, straight=False):
    """A rest limb anywhere, its joints' frames turned at random, one bone up to three times as long as the other."""
    rng = np.random.default_rng(seed)
    upper = rng.normal(size=3)
    upper *= rng.uniform(0.2, 0.6) / np.linalg.norm(upper)
    lower = upper * rng.uniform(0.5, 1.5) if straight else rng.normal(size=3) * 0.2
    places = np.cumsum([rng.normal(size=3), upper, lower], axis=0)
    world = random_turns(rng, 3)
    bare = rk.Skeleton(NAMES, [-1, 0, 1], np.zeros((3, 3)))
    rotations, translations = bare.local(world, places)
    return rk.Skeleton(NAMES, [-1, 0, 1], translations, rotations)


ARM = limb_of(1)
STRAIGHT = limb_of(2, straight=True)
HINGE = rk.rotation.perpendicular(np.subtract(*STRAIGHT.rest_world.positions[[1, 0]]))
START = ARM.rest_world.positions
UPPER, LOWER = np.linalg.norm(np.diff(START, axis=0), axis=1)


def own_hinge(rest, hinge=None):
    """The hinge as the elbow's rest frame sees it."""
    hinge = rk.bend.normal(*rest.rest_world.positions) if hinge is None else hinge
    return rk.rotation.rotate(rk.rotation.invert(rest.rest_world.rotations[1]), hinge)


def posed(rest, shoulder, bend, wrist, hinge=None):
    """Local turns: shoulder and wrist anyhow, the elbow about its hinge by `bend` from rest."""
    elbow = rk.rotation.multiply(rest.rest_rotations[1], rk.rotation.from_axis_angle(own_hinge(rest, hinge), bend))
    return np.stack(np.broadcast_arrays(shoulder, elbow, wrist), axis=-2)


# ---- turned joints to a target and back ----------------------------------------------------------------------------


@given(turns(), turns(), turns())
def test_every_joint_keeps_its_place_whatever_was_turned(shoulder, elbow, wrist):
    before = np.stack([shoulder, elbow, wrist])
    places = ARM.forward(before).positions
    assume(np.linalg.norm(places[2] - places[0]) > 1e-3)
    after = matching.to_turned(ARM, matching.to_target(ARM, before))
    np.testing.assert_allclose(ARM.forward(after.rotations).positions, places, atol=2e-7)
    assert after.gap < 1e-9
    lost = matching.lost(ARM, before, after.rotations)
    assert lost.end_turn < 1e-6 and lost.moved < 2e-7


@given(turns(), numbers(-0.3, 1.2), turns())
def test_a_limb_turned_about_its_hinge_alone_loses_nothing(shoulder, bend, wrist):
    before = posed(ARM, shoulder, bend, wrist)
    rest_bend = rk.bend.angle(*START)
    assume(0.02 < rest_bend + bend < 3.0)
    after = matching.to_turned(ARM, matching.to_target(ARM, before)).rotations
    assert apart(before, after) < 1e-6
    assert matching.lost(ARM, before, after).named == {}
    found = matching.off_hinge(ARM, before)
    np.testing.assert_allclose(found, [bend, 0, 0], atol=1e-7)


@given(turns(), numbers(-3, 3), turns())
def test_a_twist_of_the_lower_bone_is_what_is_lost_and_told(shoulder, twist, wrist):
    before = posed(ARM, shoulder, 0.2, wrist)
    lower = rk.rotation.rotate(rk.rotation.invert(ARM.rest_world.rotations[1]), START[2] - START[1])
    before[1] = rk.rotation.multiply(before[1], rk.rotation.from_axis_angle(lower, twist))
    lost = matching.lost(ARM, before, matching.to_turned(ARM, matching.to_target(ARM, before)).rotations)
    assert float(lost.lower_twist) == pytest.approx(-twist, abs=1e-6)
    assert abs(lost.upper_twist) < 1e-6 and lost.moved < 1e-7
    if abs(twist) > 1e-5:
        assert list(lost.named) == ["twist of the lower bone"]


@given(turns(), turns(), turns())
def test_what_is_lost_is_two_twists_and_nothing_else(shoulder, elbow, wrist):
    """Nine freedoms, seven kept. Turn the bones about themselves by what is told, and the pose is back."""
    before = np.stack([shoulder, elbow, wrist])
    world = ARM.forward(before)
    assume(0.02 < rk.bend.angle(*world.positions) < 3.1)
    after = matching.to_turned(ARM, matching.to_target(ARM, before)).rotations
    lost = matching.lost(ARM, before, after)
    now = ARM.forward(after)
    for k, twist in enumerate((lost.upper_twist, lost.lower_twist)):
        bone = now.positions[k + 1] - now.positions[k]
        back = rk.rotation.multiply(rk.rotation.from_axis_angle(bone, -twist), now.rotations[k])
        assert apart(back, world.rotations[k]) < 1e-5


def test_a_limb_bent_backwards_comes_back_rolled_half_round():
    rest_bend = float(rk.bend.angle(*START))
    before = posed(ARM, [0, 0, 0, 1], -2 * rest_bend, [0, 0, 0, 1])
    lost = matching.lost(ARM, before, matching.to_turned(ARM, matching.to_target(ARM, before)).rotations)
    assert abs(lost.upper_twist) == pytest.approx(np.pi) and abs(lost.lower_twist) == pytest.approx(np.pi)
    assert set(lost.named) == {"twist of the upper bone", "twist of the lower bone"}


@given(turns(), turns())
def test_a_straight_limb_keeps_the_side_its_hinge_would_bend_it_to(shoulder, wrist):
    before = posed(STRAIGHT, shoulder, 0.0, wrist, HINGE)
    goal = matching.to_target(STRAIGHT, before, hinge=HINGE)
    after = matching.to_turned(STRAIGHT, goal, hinge=HINGE).rotations
    assert matching.lost(STRAIGHT, before, after).named == {} or apart(before, after) < 1e-5
    bent = posed(STRAIGHT, shoulder, 0.4, wrist, HINGE)
    off = STRAIGHT.forward(bent).positions[1] - STRAIGHT.forward(bent).positions[0]
    side = goal.pole - STRAIGHT.forward(before).positions[1]
    lower = STRAIGHT.forward(bent).positions[2] - STRAIGHT.forward(bent).positions[1]
    assert side @ np.cross(off, np.cross(off, lower)) > 0  # the elbow will go away from where the wrist bends to


def test_at_rest_the_goal_is_the_rest_and_gives_it_back():
    goal = matching.to_target(ARM, ARM.rest_rotations, distance=0.3)
    np.testing.assert_allclose(goal.target, START[2], atol=1e-12)
    np.testing.assert_allclose(goal.pole, limb.pole_point(*START, 0.3), atol=1e-9)
    assert apart(matching.to_turned(ARM, goal).rotations, ARM.rest_rotations) < 1e-7


def test_an_arm_of_the_robot_there_and_back():
    """Its elbow turns about the hinge it was modelled with."""
    robot = rk.tally()
    arm = robot.skeleton.keep([f"left_{name}_joint" for name in ("shoulder", "elbow", "wrist")])
    np.testing.assert_allclose(np.abs(own_hinge(arm) @ own_hinge(arm, robot.hinges["left_elbow"])), 1, atol=1e-9)
    before = posed(arm, random_turns(np.random.default_rng(0), 20), np.linspace(-0.05, 1.9, 20), [0, 0, 0, 1])
    after = matching.to_turned(arm, matching.to_target(arm, before)).rotations
    assert matching.lost(arm, before, after).named == {}


# ---- a target to turned joints --------------------------------------------------------------------------------------


@given(vectors(-0.6, 0.6), vectors(), turns())
def test_turned_joints_stand_where_the_solver_says(way, pole, turn):
    goal = matching.Goal(START[0] + way, pole, turn)
    found, solved = matching.to_turned(ARM, goal), limb.solve(*START, goal.target, pole)
    world = ARM.forward(found.rotations)
    np.testing.assert_allclose(world.positions[1], solved.mid, atol=1e-7)
    np.testing.assert_allclose(world.positions[2], solved.end, atol=1e-7)
    assert apart(world.rotations[2], turn) < 1e-7
    assert float(found.gap) == pytest.approx(float(solved.gap), abs=1e-9)


@given(vectors(-1, 1), vectors(), numbers(0, 3), numbers(0, 3))
def test_the_middle_joint_stays_between_its_bends(way, pole, a, b):
    low, high = sorted((a, b))
    found = matching.to_turned(ARM, matching.Goal(START[0] + way, pole, [0, 0, 0, 1]), bends=(low, high))
    world = ARM.forward(found.rotations)
    assert low - 1e-6 <= rk.bend.angle(*world.positions) <= high + 1e-6
    inner, outer = (limb.reach(UPPER, LOWER, bend)[0] for bend in (high, low))
    distance = np.linalg.norm(way)
    assert float(found.gap) == pytest.approx(max(distance - outer, inner - distance, 0), abs=1e-9)


def test_a_stretched_limb_keeps_its_shape_and_tells_what_it_lost():
    length = UPPER + LOWER
    goal = matching.Goal(START[0] + [1.5 * length, 0, 0], START[0] + [0, 1, 0], [0, 0, 0, 1])
    found = matching.to_turned(ARM, goal, soft=0.1, stretch_limit=2.0)
    solved = limb.solve(*START, goal.target, goal.pole, 0.1, 2.0)
    world = ARM.forward(found.rotations)
    np.testing.assert_allclose(world.positions[1] - START[0], (solved.mid - START[0]) / solved.stretch, atol=1e-9)
    assert float(found.gap) == pytest.approx(1.5 * length * (1 - 1 / solved.stretch), abs=1e-9)
    assert solved.stretch > 1.4


def test_a_target_on_the_root_is_answered():
    found = matching.to_turned(ARM, matching.Goal(START[0], START[0] + [0, 1, 0], [0, 0, 0, 1]), bends=(0.0, 2.0))
    assert float(found.gap) == pytest.approx(float(limb.reach(UPPER, LOWER, 2.0)[0]))


def test_a_batch_equals_them_one_by_one():
    rng = np.random.default_rng(7)
    before = random_turns(rng, 3, 5, 3)
    goal = matching.to_target(ARM, before)
    found = matching.to_turned(ARM, goal, bends=(0.1, 2.0))
    lost = matching.lost(ARM, before, found.rotations)
    for row in np.ndindex(3, 5):
        one = matching.to_target(ARM, before[row])
        for name in ("target", "pole", "turn"):
            np.testing.assert_allclose(getattr(one, name), getattr(goal, name)[row], atol=1e-12)
        again = matching.to_turned(ARM, one, bends=(0.1, 2.0))
        assert apart(again.rotations, found.rotations[row]) < 1e-7
        assert float(again.gap) == pytest.approx(float(found.gap[row]), abs=1e-12)
        assert float(matching.lost(ARM, before[row], again.rotations).upper_twist) == pytest.approx(float(lost.upper_twist[row]), abs=1e-6)


def test_in_the_rig_a_match_keeps_the_same_places():
    """`rigkit.posing.matched` does this for the whole rig; both put elbow and wrist in one place."""
    rig = rk.tally_rig()
    names = [f"left_{name}_joint" for name in ("shoulder", "elbow", "wrist")]
    values = {"left_hand_control.blend": 0.0, "left_elbow_control.turn_z": 0.8}
    values |= {"left_shoulder_control.turn_z": 0.5, "left_shoulder_control.turn_y": 0.3}
    before = rig.pose(values)
    joints = [rig.skeleton.index(name) for name in names]
    rest = rig.skeleton.keep(names)
    local, _ = rest.local(before.rotations[joints], before.positions[joints])
    carried = before.positions[joints[0]] - rest.rest_world.positions[0]
    after = rig.pose(rk.posing.matched(rig, values, "left_elbow_joint", "target").values)
    found = rest.forward(matching.to_turned(rest, matching.to_target(rest, local)).rotations)
    np.testing.assert_allclose(found.positions + carried, after.positions[joints], atol=1e-6)


# ---- what is off the hinge ------------------------------------------------------------------------------------------


@pytest.mark.source("SciPy")
@given(numbers(-2, 2), directions(), numbers(-0.8, 0.8))
def test_sideways_and_twist_are_the_rotation_vector_off_the_hinge(bend, way, size):
    """Against SciPy: the swing's rotation vector in the frame of hinge, lower bone and the third axis."""
    hinge = own_hinge(ARM)
    off = way - (way @ hinge) * hinge
    assume(np.linalg.norm(off) > 1e-2)
    off *= size / np.linalg.norm(off)
    turned = Rotation.from_quat(ARM.rest_rotations[1]) * Rotation.from_rotvec(off) * Rotation.from_rotvec(bend * hinge)
    before = ARM.rest_rotations.copy()
    before[1] = turned.as_quat()
    found = matching.off_hinge(ARM, before)
    assert found[0] == pytest.approx(bend, abs=1e-7)
    assert np.hypot(found[1], found[2]) == pytest.approx(abs(size), abs=1e-7)
    lower = rk.rotation.rotate(rk.rotation.invert(ARM.rest_world.rotations[1]), START[2] - START[1])
    lower = lower - (lower @ hinge) * hinge
    assert found[2] == pytest.approx(off @ lower / np.linalg.norm(lower), abs=1e-7)


# ---- blend ----------------------------------------------------------------------------------------------------------


@given(turns(), turns(), numbers(-2, 2), numbers(-2, 2), numbers(0, 1))
def test_the_ends_of_a_blend_are_the_poses_and_the_hinge_stays_in_range(first, second, a, b, share):
    one, two = posed(ARM, first, a, second), posed(ARM, second, b, first)
    for at, pose in ((0, one), (1, two)):
        assert apart(matching.blend(ARM, one, two, at), pose) < 1e-7
    bend, sideways, twist = matching.off_hinge(ARM, matching.blend(ARM, one, two, share))
    assert bend == pytest.approx(a + share * (b - a), abs=1e-7)
    assert abs(sideways) < 1e-7 and abs(twist) < 1e-7


@pytest.mark.source("SciPy")
@given(turns(), turns(), numbers(0, 1))
def test_root_and_end_blend_the_short_way(first, second, share):
    """Against SciPy's Slerp; q and -q are the same."""
    assume(rk.rotation.angle(first, second) < 3.1)
    one, two = posed(ARM, first, 0.1, second), posed(ARM, second, 0.2, first)
    expected = Slerp([0, 1], Rotation.from_quat([first, second]))(share).as_quat()
    assert apart(matching.blend(ARM, one, two, share)[0], expected) < 1e-7
    assert apart(matching.blend(ARM, one, -two, share), matching.blend(ARM, one, two, share)) < 1e-7
    assert rk.rotation.angle(matching.blend(ARM, one, two, share)[0], first) <= np.pi / 2 + 1e-7 or share > 0.5


def test_a_blend_has_no_pop():
    """In 1000 steps root and end turn by a thousandth of the way in each, the elbow by less than 1.5 degrees in all."""
    rng = np.random.default_rng(5)
    one = random_turns(rng, 3)
    two = matching.to_turned(ARM, matching.Goal(START[0] + [0.1, 0.2, 0.1], START[0] + [1, 1, 0], random_turns(rng))).rotations
    found = matching.blend(ARM, one, two, np.linspace(0, 1, 1001))
    steps = rk.rotation.angle(found[:-1], found[1:])
    assert np.degrees(steps.max()) < 1.5 and rk.rotation.angle(one, two).min() > 0.5
    np.testing.assert_allclose(steps[:, [0, 2]] * 1000, np.broadcast_to(rk.rotation.angle(one, two)[[0, 2]], (1000, 2)), rtol=1e-4)


def test_a_hinge_goes_back_through_its_range_where_the_short_way_is_shut():
    """From 170 to -170 degrees: 20 degrees the short way through the stop, 340 the way a hinge can go. Halfway it is straight."""
    one, two = (posed(ARM, [0, 0, 0, 1], np.radians(a), [0, 0, 0, 1]) for a in (170, -170))
    bend = matching.off_hinge(ARM, matching.blend(ARM, one, two, [0, 0.25, 0.5, 1]))[0]
    np.testing.assert_allclose(np.degrees(bend), [170, 85, 0, -170], atol=1e-6)


def test_a_batch_of_blends_equals_them_one_by_one():
    rng = np.random.default_rng(8)
    one, two, share = random_turns(rng, 6, 3), random_turns(rng, 3), rng.uniform(0, 1, (4, 6))
    many = matching.blend(ARM, one, two, share)
    assert many.shape == (4, 6, 3, 4)
    for i, j in np.ndindex(4, 6):
        assert apart(matching.blend(ARM, one[j], two, share[i, j]), many[i, j]) < 1e-9


# ---- errors ---------------------------------------------------------------------------------------------------------

GOAL = matching.Goal(START[2], START[0], [0, 0, 0, 1])


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: matching.to_target(rk.Skeleton("ab", [-1, 0], np.eye(3)[:2]), np.zeros((2, 4))),
            r"rest has the joints a, b; expected three in a row.*Skeleton.keep",
        ),
        (lambda: matching.blend(rk.Skeleton("abc", [-1, 0, 0], np.eye(3)), 0, 0, 0), r"first has shape \(\); expected \(..., 4\)"),
        (
            lambda: matching.to_turned(rk.Skeleton("abc", [-1, 0, 0], np.eye(3)), GOAL),
            "rest has the joints a, b, c; expected three in a row",
        ),
        (
            lambda: matching.to_turned(rk.Skeleton("abc", [-1, 0, 1], np.eye(3) * [1, 0, 1]), GOAL),
            r"the upper bone \(root to mid\) has length 0",
        ),
        (
            lambda: matching.to_target(STRAIGHT, STRAIGHT.rest_rotations),
            "the limb is straight at rest; expected a hinge: give the axis of the model's fold",
        ),
        (
            lambda: matching.to_target(ARM, ARM.rest_rotations, distance=0),
            "distance is 0; expected metres above 0: a pole on the joint shows no side",
        ),
        (lambda: matching.to_target(ARM, ARM.rest_rotations, distance=[1, -1]), r"distance at row \(1,\) is -1"),
        (lambda: matching.to_target(ARM, ARM.rest_rotations[:2]), r"rotations has shape \(2, 4\); expected \(..., 3, 4\)"),
        (
            lambda: matching.to_turned(ARM, GOAL, bends=(2, 1)),
            r"bends is \[2. *1.\]; expected the least and the greatest of one hinge, from 0",
        ),
        (lambda: matching.to_turned(ARM, GOAL, bends=(0, 4)), r"bends is \[0. *4.\]"),
        (lambda: matching.to_turned(ARM, GOAL, stretch_limit=0.5), "stretch_limit is 0.5; expected 1 or more"),
        (lambda: matching.to_turned(ARM, matching.Goal([0, np.nan, 0], START[0], [0, 0, 0, 1])), "target is .*nan"),
        (lambda: matching.to_turned(ARM, matching.Goal(START[2], START[0], [0, 0, 0, 2])), "turn has length 2; expected 1 within 0.001"),
        (
            lambda: matching.off_hinge(ARM, [0, 0, 0, 1]),
            r"rotations has shape \(4,\); expected \(..., 3, 4\): a turn for root, middle and end",
        ),
        (lambda: matching.blend(ARM, ARM.rest_rotations, ARM.rest_rotations[None, :2], 0), r"second has shape \(1, 2, 4\)"),
        (
            lambda: matching.blend(ARM, np.tile(ARM.rest_rotations, (2, 1, 1)), np.tile(ARM.rest_rotations, (3, 1, 1)), 0),
            r"batch shapes do not fit together: first \(2,\), second \(3,\)",
        ),
    ],
)
def test_bad_input_is_told_in_words(call, text):
    with pytest.raises(ValueError, match=text):
        call()
