"""Motions: keys and curves, sampling, mirroring, the range-of-motion test, the walk and the measures that accept it."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicHermiteSpline
from scipy.spatial.transform import Rotation, Slerp

import rigkit as rk
from rigkit import acceptance as acceptance_module
from rigkit import keys as keys_module
from rigkit import motion
from rigkit.acceptance import LIMITS, carried
from rigkit.control import Control, moves
from rigkit.keys import Hinge, Keys, Motion, hinge_angle, tangents
from rigkit.links import Follow, Limb
from rigkit.rig import Rig
from rigkit.robot.rig import hinges, rigged_tally, tally_rig
from tests.strategies import apart, random_turns

TALLY = tally_rig()
BODY = "centre_body_control"
EYES = ("left_eye_joint", "right_eye_joint")
WALK = motion.walk(TALLY, BODY)
TIMES = np.array([0.0, 0.4, 1.0, 1.1, 2.0])


# ---- curves


def test_a_step_holds_its_key_until_the_next():
    assert Keys([0, 1, 2], [5, 6, 7], "step").at([-1, 0, 0.999, 1, 1.5, 2, 9]).tolist() == [5, 5, 5, 6, 6, 7, 7]


@pytest.mark.source("SciPy", "glTF 2.0")
@given(seed=st.integers(0, 999), times=st.lists(st.floats(0, 2), min_size=1, max_size=8))
@settings(max_examples=30)
def test_linear_keys_are_straight_and_turns_go_as_scipys_slerp(seed, times):
    # glTF 2.0, Appendix C.3 and C.4: linear, and spherical linear the shorter way.
    rng = np.random.default_rng(seed)
    values, turns = rng.normal(size=5), random_turns(rng, 5)
    np.testing.assert_allclose(Keys(TIMES, values).at(times), np.interp(times, TIMES, values), atol=1e-12)
    assert apart(Keys(TIMES, turns).at(times), Slerp(TIMES, Rotation.from_quat(turns))(times).as_quat()) < 1e-6


@pytest.mark.source("glTF 2.0")
def test_a_quarter_of_the_way_to_90_degrees_is_22_and_a_half():
    # glTF 2.0, Appendix C; a normalised straight line would give 21.59816098 degrees.
    turns = [rk.rotation.IDENTITY, rk.rotation.from_axis_angle([1, 0, 0], np.pi / 2)]
    assert np.degrees(rk.rotation.angle(Keys([0, 1], turns).at(0.25), rk.rotation.IDENTITY)) == pytest.approx(22.5)
    assert Keys([0, 1], [turns[0], -turns[1]]).at(0.25)[3] == pytest.approx(np.cos(np.radians(11.25)))


@pytest.mark.source("SciPy", "glTF 2.0")
@given(seed=st.integers(0, 999))
@settings(max_examples=30)
def test_smooth_keys_are_scipys_cubic_hermite_spline(seed):
    # glTF 2.0, Appendix C.5: the spline with in- and out-tangents per second; SciPy's has one for both.
    rng = np.random.default_rng(seed)
    values, slopes, times = rng.normal(size=(5, 3)), rng.normal(size=(5, 3)), np.linspace(0, 2, 31)
    np.testing.assert_allclose(
        Keys(TIMES, values, "smooth", slopes, slopes).at(times), CubicHermiteSpline(TIMES, values, slopes)(times), atol=1e-12
    )


@pytest.mark.source("glTF 2.0")
def test_smooth_keys_keep_apart_what_comes_in_and_goes_out():
    # glTF 2.0, Appendix C.5, by hand: from 0 to 1 in 2 s with out-tangent 1 and in-tangent 0, at half way 0.5 + 2 * 1/8.
    assert Keys([0, 2], [0, 1], "smooth", ins=[9, 0], outs=[1, 9]).at(1.0) == pytest.approx(0.75)


@given(values=st.lists(st.floats(-3, 3), min_size=5, max_size=5))
def test_chosen_tangents_never_go_beyond_the_keys(values):
    at = Keys(TIMES, values, "smooth").at(np.linspace(0, 2, 201))
    for a, b, u, v in zip(TIMES, TIMES[1:], values, values[1:]):
        inside = at[(np.linspace(0, 2, 201) >= a) & (np.linspace(0, 2, 201) <= b)]
        assert inside.min() >= min(u, v) - 1e-9 and inside.max() <= max(u, v) + 1e-9


def test_smooth_turns_stay_turns_and_pass_their_keys():
    turns = random_turns(np.random.default_rng(3), 5)
    keys = Keys(TIMES, turns, "smooth")
    assert apart(keys.at(TIMES), turns) < 1e-6
    np.testing.assert_allclose(np.linalg.norm(keys.at(np.linspace(0, 2, 50)), axis=-1), 1)


@pytest.mark.parametrize("kind", keys_module.KINDS)
def test_one_key_is_the_same_always(kind):
    assert Keys([1.0], [4.0], kind).at([0, 1, 2]).tolist() == [4, 4, 4]
    assert tangents(np.array([1.0]), np.array([4.0])).tolist() == [0]


@pytest.mark.parametrize(
    "make,told",
    [
        (lambda: Keys([0, 0], [1, 2]), r"times\[1\] = 0 comes after 0; expected times that grow"),
        (lambda: Keys([0, 1], [1, 2], "bouncy"), "kind is 'bouncy'; expected one of step, linear, smooth"),
        (lambda: Keys([0, 1], [1, 2, 3]), r"times has shape \(2,\) and values \(3,\); expected"),
        (lambda: Keys([], []), r"times has shape \(0,\)"),
        (lambda: Motion("m", {}, period=0), "period is 0; expected seconds above 0"),
        (lambda: Motion("m", {"a.b": Keys([0], [0])}, advance={"a.b": 1.0}), "expected tracks of a motion with a period"),
        (lambda: motion.acceptance(TALLY, Motion("still", {})), "still has no length"),
        (
            lambda: motion.mirrored(Motion("m", {"left_nose_control.turn_x": Keys([0], [0])}), TALLY),
            "no control is called 'left_nose_control'",
        ),
        (
            lambda: motion.walk(Rig(rk.Skeleton(["a"], [-1], [[0, 0, 0]]), [], []), "b"),
            "the rig has 0 feet; expected a left and a right one",
        ),
        (
            lambda: motion.walk(Rig(TALLY.skeleton, TALLY.controls, [a for a in TALLY.links if not isinstance(a, Limb)]), BODY),
            "no limb reaches for '(left|right)_.*'; expected a Limb with this target",
        ),
        (lambda: motion.walk(TALLY, BODY, stride=4.0), "a stride of .* is too long for legs"),
        (lambda: motion.walk(TALLY, BODY, stride=0.6), "the planted leg would have to grow by 4.0 mm; expected 0.75 to 0.9"),
        (lambda: motion.walk(TALLY, BODY, stride=-1), "stride is -1; expected a number above 0"),
        (lambda: motion.walk(TALLY, BODY, period=0), "period is 0; expected a number above 0: seconds for two steps"),
        (lambda: motion.walk(TALLY, BODY, stride=3.0), "the leg behind can't reach the floor in a stride of"),
        (lambda: rigged_tally().motion("run"), "no motion is called 'run'; .* has: walk"),
    ],
)
def test_errors_say_what_to_do(make, told):
    with pytest.raises(ValueError, match=told):
        make()


# ---- a motion


def wave():
    rng = np.random.default_rng(6)
    return Motion(
        "wave",
        {
            "left_hand_control.move": Keys(TIMES, rng.uniform(-0.05, 0.05, (5, 3)), "smooth"),
            "left_hand_control.curl": Keys(TIMES, rng.uniform(0, 1, 5), "step"),
            "centre_body_control.turn": Keys(TIMES, rk.rotation.from_vector(rng.uniform(-0.2, 0.2, (5, 3)))),
            "centre_head_control.turn_y": Keys(TIMES, rng.uniform(-0.3, 0.3, 5)),
        },
    )


def test_sampling_a_whole_motion_is_sampling_each_moment():
    times = np.linspace(-0.5, 2.5, 13)
    many = TALLY.pose(wave().sample(times))
    for i in (0, 4, 12):
        one = TALLY.pose(wave().sample(times[i]))
        np.testing.assert_allclose(many.positions[i], one.positions, atol=1e-9)
        assert apart(many.rotations[i], one.rotations) < 1e-7


def test_mirroring_a_motion_gives_mirrored_poses_and_twice_is_itself():
    plane, times = rk.mirror.Plane(), np.linspace(0, 2, 9)
    image = motion.mirrored(wave(), TALLY)
    pose, other = TALLY.pose(wave().sample(times)), TALLY.pose(image.sample(times))
    swap = rk.mirror.counterparts(TALLY.skeleton.names)
    np.testing.assert_allclose(other.positions[:, swap], rk.mirror.points(pose.positions, plane), atol=1e-8)
    again = motion.mirrored(image, TALLY)
    assert set(again.tracks) == set(wave().tracks)
    for name, keys in wave().tracks.items():
        np.testing.assert_allclose(again.tracks[name].values, keys.values, atol=1e-15)
        np.testing.assert_allclose(again.tracks[name].at(times), keys.at(times), atol=1e-12)


def test_a_mirrored_walk_begins_with_the_other_foot_and_advances_alike():
    image = motion.mirrored(WALK.motion, TALLY)
    half = TALLY.pose(WALK.motion.sample(0.5 + np.linspace(0, 0.9, 7)))
    other = TALLY.pose(image.sample(np.linspace(0, 0.9, 7)))
    np.testing.assert_allclose(other.positions + (0, 0, WALK.stride / 2), half.positions, atol=2e-4)


# ---- range of motion


def test_range_of_motion_goes_through_every_open_channel_and_names_what_it_hits():
    sweeps = {s.channel: s for s in motion.range_of_motion(TALLY, hinges())}
    assert set(sweeps) == set(TALLY.home())
    roll = sweeps["left_foot_control.roll"]
    assert roll.values[[0, -1]] == pytest.approx([-np.pi / 4, np.pi / 2]) and roll.pose.positions.shape == (len(roll.values), 46, 3)
    up = sweeps["centre_body_control.move_y"]
    assert (
        up.hits.keys() >= {"left_hip_joint out of reach", "right_hip_joint out of reach"}
        and 0 < up.hits["left_hip_joint out of reach"] <= 0.3
    )
    down = motion.range_of_motion(TALLY, hinges(), base={"left_hand_control.blend": 0.0})
    assert all("left_elbow_joint beyond its range" not in s.hits for s in down if s.channel == "left_elbow_control.turn_z")


def test_a_hinge_angle_is_what_was_turned():
    pose = TALLY.pose({"left_elbow_control.turn_z": [0.0, 0.5, 1.2], "left_hand_control.blend": 0.0})
    np.testing.assert_allclose(hinge_angle(TALLY, pose, Hinge("left_elbow_joint", (0, 0, 1), 0, 1)), [0, 0.5, 1.2], atol=1e-9)


def test_a_hinge_beyond_its_range_is_hit_where_it_begins():
    narrow = [Hinge("left_elbow_joint", (0, 0, 1), 0.0, 0.4)]
    sweep = {s.channel: s for s in motion.range_of_motion(TALLY, narrow, base={"left_hand_control.blend": 0.0}, steps=21)}[
        "left_elbow_control.turn_z"
    ]
    first = sweep.hits["left_elbow_joint beyond its range"]
    assert first < 0 or 0.4 < first < 0.55


# ---- the walk, accepted; and every measure refuses what it is for


@pytest.mark.parametrize("variant", [0, 1, 5, 17, 60, 99])
def test_the_walk_passes_its_acceptance_on_any_variant(variant):
    rig = tally_rig(variant)
    found = motion.walk(rig, BODY)
    measures = motion.acceptance(rig, found.motion, found.contacts, found.soles, hinges(variant), EYES)
    assert {m.rule for m in measures} == set(LIMITS)
    assert [m for m in measures if not m.good] == []


@pytest.mark.parametrize("period,stride", [(1.0, 0.75), (1.4, 0.85), (1.0, 0.9)])
def test_other_speeds_and_strides_pass_too(period, stride):
    found = motion.walk(TALLY, BODY, period, stride)
    assert all(m.good for m in motion.acceptance(TALLY, found.motion, found.contacts, found.soles, hinges(), EYES))


def test_the_walk_advances_by_its_stride_and_loops():
    pose = TALLY.pose(WALK.motion.sample([0.3, 1.3, 5.3]))
    np.testing.assert_allclose(pose.positions[1] - pose.positions[0], np.broadcast_to([0, 0, WALK.stride], (46, 3)), atol=1e-9)
    np.testing.assert_allclose(pose.positions[2] - pose.positions[0], np.broadcast_to([0, 0, 5 * WALK.stride], (46, 3)), atol=1e-9)


def spoiled(channel, change):
    tracks = dict(WALK.motion.tracks)
    keys = tracks.get(channel, Keys([0, 1.0], [0.0, 0.0]))
    tracks[channel] = change(keys)
    return Motion("spoiled", tracks, WALK.motion.period, WALK.motion.advance)


def jump(keys):
    values = keys.values.copy()
    values[len(values) // 3] += 0.4
    return Keys(keys.times, values)


@pytest.mark.parametrize(
    "rule,channel,change",
    [
        ("slide", "left_foot_control.move_z", lambda k: Keys(k.times, k.values + 0.0005 * np.arange(len(k.times)) / 10, "linear")),
        ("floor", "left_foot_control.move_y", lambda k: Keys(k.times, k.values - 0.001)),
        ("speed", f"{BODY}.turn_y", jump),
        ("change", f"{BODY}.turn_y", jump),
        ("hinge", "left_elbow_control.turn_z", lambda k: Keys(k.times, k.values + 1.5)),
        ("reach", f"{BODY}.move_y", lambda k: Keys(k.times, k.values + 0.05)),
        ("loop", f"{BODY}.move_x", lambda k: Keys(k.times, k.values + k.times * 0.01)),
        ("level", f"{BODY}.turn_z", lambda k: Keys([0, 0.5, 1.0], [0, 0.1, 0])),
    ],
)
def test_each_measure_refuses_what_it_is_for(rule, channel, change):
    tight = [Hinge("left_elbow_joint", (0, 0, 1), 0.0, np.radians(60))]
    base = [Measure.rule for Measure in motion.acceptance(TALLY, WALK.motion, WALK.contacts, WALK.soles, tight, EYES) if not Measure.good]
    assert base == []
    spoilt = spoiled(channel, change)
    if rule == "level":  # the head follows the body here
        spoilt = Motion("spoiled", {**spoilt.tracks, "centre_head_control.follow": Keys([0], [0.0])}, 1.0, spoilt.advance)
    bad = [m.rule for m in motion.acceptance(TALLY, spoilt, WALK.contacts, WALK.soles, tight, EYES) if not m.good]
    assert rule in bad


def test_limits_know_a_nearly_straight_limb():
    # Two bones of 1 m, bent by b, are 2 cos(b / 2) long: a change of length turns the knee by 1 / sin(b / 2) of it.
    straight = {"centre_body_control.move_y": 0.0}
    pose = TALLY.pose({name: np.array([v, v]) for name, v in straight.items()})
    room = acceptance_module._room(TALLY, pose)
    knee = TALLY.skeleton.index("left_knee_joint")
    b = rk.bend.angle(*(TALLY.skeleton.rest_world.positions[TALLY.skeleton.index(f"left_{n}_joint")] for n in ("hip", "knee", "ankle")))
    assert room[0, knee] == pytest.approx(np.sin(np.radians(10)) / np.sin(b / 2))
    assert room[0, TALLY.skeleton.index("centre_head_joint")] == 1


def test_a_point_carried_by_a_joint_stays_on_it():
    pose = TALLY.pose({"centre_whole_control.move_x": 2.0})
    np.testing.assert_allclose(carried(TALLY, pose, "left_ankle_joint", [0.1, 0, 0]), [2.1, 0, 0], atol=1e-12)


# ---- a character with a rig


def test_a_character_plays_its_motions():
    character = rigged_tally()
    pose = character.play("walk", np.linspace(0, 1, 5))
    assert pose.positions.shape == (5, 46, 3)
    assert character.extras == {}


def test_a_character_refuses_another_rig_and_unknown_channels():
    body = Control("centre_body_control", [0, 1, 0], channels=moves())
    small = Rig(rk.Skeleton(["centre_body_joint"], [-1], [[0, 1, 0]]), [body], [Follow("centre_body_joint", body.name)])
    with pytest.raises(ValueError, match="the rig moves 1 joints of other names than the 46"):
        replace(rk.tally(), rig=small)
    with pytest.raises(ValueError, match="has the motion 'walk' and no rig"):
        replace(rk.tally(), motions=(WALK.motion,))
    with pytest.raises(ValueError, match="two motions called 'walk'"):
        replace(rigged_tally(), motions=(WALK.motion, WALK.motion))
    with pytest.raises(ValueError, match="has no channel called 'nod'"):
        replace(rigged_tally(), motions=(Motion("nod", {"centre_head_control.nod": Keys([0], [0.0])}),))
