"""A rig: links, their order, one pose and many, the rig elsewhere, matches and flips, held on small rigs and on Tally's."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import rigkit as rk
from rigkit import _limb_rows, _rows, foot, frame, gaze, limb, posing
from rigkit.control import Channel, Control, moves, turns
from rigkit.links import Blend, Chain, Follow, Foot, Gaze, Limb, Share
from rigkit.rig import BLOCK, Rig
from rigkit.robot.rig import tally_rig
from tests.strategies import apart, directions, numbers, random_turns, vectors
from tests.strategies import turns as any_turns

TALLY = tally_rig()
SKELETON = TALLY.skeleton
WHOLE = "centre_whole_control"


def some_values(rng, share=0.5, leave=(WHOLE,)):
    """Random values of Tally's channels, small enough that limbs are posed and targets mostly reached."""
    found = {}
    for name, home in TALLY.home().items():
        channel = TALLY.channel(name)
        if rng.random() < share and not name.startswith(leave):
            found[name] = float(rng.uniform(max(channel.low, home - 0.15), min(channel.high, home + 0.15)))
    return found


def same(a, b, tolerance=1e-9):
    np.testing.assert_allclose(a.positions, b.positions, atol=tolerance)
    assert apart(a.rotations, b.rotations) < max(tolerance, 1e-7)


# ---- rest


@pytest.mark.parametrize("variant", [0, 1, 7, 42])
def test_home_is_exactly_the_rest_pose(variant):
    rig = tally_rig(variant)
    rest = rig.skeleton.rest_world
    for values in (None, {}, rig.home()):
        pose = rig.pose(values)
        np.testing.assert_allclose(pose.positions, rest.positions, atol=1e-9)
        assert apart(pose.rotations, rest.rotations) < 1e-9
        assert (pose.stretch == 1).all() and (pose.girth == 1).all() and all(gap < 1e-12 for gap in pose.gaps.values())


def test_tally_has_the_promised_joints_and_controls():
    assert 40 <= len(SKELETON) <= 55
    assert rk.naming.check([c.name for c in TALLY.controls]) == []
    parts = {c.name for c in TALLY.controls}
    expected = ["centre_body_control", "centre_head_control", "centre_eyes_control", "centre_hose_control"]
    expected += [f"{s}_{p}_control" for s in ("left", "right") for p in ("eye", "shoulder", "hand", "foot", "hip")]
    expected += [f"{s}_{p}_marker" for s in ("left", "right") for p in ("elbow", "knee")]
    assert parts >= set(expected)
    assert TALLY.dead_channels() == []
    assert TALLY.double_transforms() == []


def test_every_control_encloses_its_part_and_can_be_picked():
    figure = np.concatenate([part.mesh.vertices for part in rk.tally().parts])
    least = rk.outline.least_size(figure)
    assert all(c.outline.size >= least * (1 - 1e-9) for c in TALLY.controls)


@pytest.mark.parametrize("side", ["left", "right"])
def test_markers_lie_on_the_bend_plane_elbow_behind_and_knee_in_front(side):
    # Common practice in the trade, no source: the elbow's pole behind, the knee's in front.
    for (root, mid, end), sign in ((("shoulder", "elbow", "wrist"), -1), (("hip", "knee", "ankle"), 1)):
        a, b, c = (SKELETON.rest_world.positions[SKELETON.index(f"{side}_{part}_joint")] for part in (root, mid, end))
        pole = TALLY.control(f"{side}_{mid}_marker").position
        assert abs((pole - b) @ rk.bend.normal(a, b, c)) < 1e-12
        assert sign * (pole - b)[2] > 0.2


@pytest.mark.source("AAOS")
def test_hinges_stay_within_published_joint_ranges():
    # American Academy of Orthopaedic Surgeons norms (memory): elbow 150 degrees, knee 135; 0 is straight.
    at = SKELETON.rest_world.positions
    for (root, mid, end), most in ((("shoulder", "elbow", "wrist"), 150), (("hip", "knee", "ankle"), 135)):
        rest = np.degrees(rk.bend.angle(*(at[SKELETON.index(f"left_{n}_joint")] for n in (root, mid, end))))
        channel = TALLY.channel(f"left_{mid}_control.turn_z")
        assert abs(rest + np.degrees(channel.low)) < 1e-9 and rest + np.degrees(channel.high) <= most


# ---- one pose, many poses, elsewhere


def test_a_motion_in_one_call_is_each_pose_by_itself():
    rng = np.random.default_rng(1)
    every = [some_values(rng) for _ in range(25)]
    batch = {name: np.array([v.get(name, TALLY.home()[name]) for v in every]).reshape(5, 5) for name in TALLY.home()}
    many = TALLY.pose(batch)
    assert many.positions.shape == (5, 5, len(SKELETON), 3) and many.rotations.shape == (5, 5, len(SKELETON), 4)
    for i, values in enumerate(every):
        one, at = TALLY.pose(values), np.unravel_index(i, (5, 5))
        np.testing.assert_allclose(many.positions[at], one.positions, atol=1e-9)
        assert apart(many.rotations[at], one.rotations) < 1e-7
        np.testing.assert_allclose(many.stretch[at], one.stretch, atol=1e-12)
        np.testing.assert_allclose(many.girth[at], one.girth, atol=1e-12)


def test_a_motion_longer_than_a_block_is_the_same_as_in_pieces():
    roll = np.linspace(-0.5, 1.0, BLOCK + 5)
    many = TALLY.pose(
        {"left_foot_control.roll": roll, "centre_body_control.move": np.stack([0 * roll, -0.05 + 0 * roll, roll / 20], axis=-1)}
    )
    for i in (0, BLOCK - 1, BLOCK, BLOCK + 4):
        one = TALLY.pose({"left_foot_control.roll": roll[i], "centre_body_control.move": [0, -0.05, roll[i] / 20]})
        np.testing.assert_allclose(many.positions[i], one.positions, atol=1e-9)
    np.testing.assert_allclose(
        many.frame("left_foot_control")[1], TALLY.control("left_foot_control").position + 0 * roll[:, None], atol=1e-12
    )


@given(seed=st.integers(0, 10**6), turn=any_turns(), move=vectors(-5, 5), size=st.floats(0.1, 10))
@settings(max_examples=25)
def test_rigid_motion_and_uniform_scale_commute(seed, turn, move, size):
    values = some_values(np.random.default_rng(seed))
    here = TALLY.pose(values)
    there = TALLY.pose({**values, f"{WHOLE}.move": move, f"{WHOLE}.turn": turn, f"{WHOLE}.size": size})
    np.testing.assert_allclose(there.positions, move + size * rk.rotation.rotate(turn, here.positions), atol=1e-7 * max(1, size))
    assert apart(there.rotations, rk.rotation.multiply(turn, here.rotations)) < 1e-6
    np.testing.assert_allclose(there.stretch, here.stretch, atol=1e-9)
    np.testing.assert_allclose(there.girth, here.girth, atol=1e-9)


def test_turned_by_137_degrees_and_twice_as_large_knees_elbows_and_eyes_come_along():
    turn = rk.rotation.from_axis_angle([0, 1, 0], np.radians(137))
    there = TALLY.pose({f"{WHOLE}.turn_y": np.radians(137), f"{WHOLE}.size": 2.0})
    np.testing.assert_allclose(there.positions, 2 * rk.rotation.rotate(turn, SKELETON.rest_world.positions), atol=1e-9)
    assert TALLY.left_behind(WHOLE) == []
    np.testing.assert_allclose(there.sizes, 2.0)


def test_local_values_rebuild_the_world_with_the_skeletons_own_forward():
    pose = TALLY.pose(some_values(np.random.default_rng(3)))
    world = SKELETON.forward(pose.local_rotations, pose.local_translations)
    np.testing.assert_allclose(world.positions, pose.positions, atol=1e-9)
    assert apart(world.rotations, pose.rotations) < 1e-7


# ---- links


def arm(**given):
    """A bent arm of two bones under a body, with everything a limb can have."""
    skeleton = rk.Skeleton(
        ["centre_body_joint", "left_shoulder_joint", "left_elbow_joint", "left_wrist_joint"],
        [-1, 0, 1, 2],
        [[0, 1, 0], [0.2, 0.3, 0], [0.3, 0, -0.04], [0.28, 0, 0.05]],
        random_turns(np.random.default_rng(5), 4) * [[0, 0, 0, 0]] + [0, 0, 0, 1],
    )
    at = skeleton.rest_world.positions
    rate = [Channel(n, h, 0, 1) for n, h in (("blend", 1.0), ("soft", 0.0), ("stretch", 0.0), ("girth", 0.0))]
    controls = [
        Control("centre_body_control", at[0], channels=(*moves(), *turns(), Channel("size", 1.0, 0.1, 10.0))),
        Control("left_hand_control", at[3], channels=(*moves(), *turns(), *rate, Channel("follow", 0.0, 0.0, 2.0))),
        Control("left_elbow_marker", limb.pole_point(*at[1:], 0.3), channels=moves()),
        *(Control(f"left_{p}_control", at[i + 1], channels=turns()) for i, p in enumerate(("shoulder", "elbow", "wrist"))),
    ]
    names = [c.name for c in controls]
    channels = {n: f"left_hand_control.{n}" for n in ("blend", "soft", "stretch", "girth")}
    links = [
        Follow("centre_body_joint", names[0]),
        Follow("left_elbow_marker", "centre_body_joint"),
        Follow("left_hand_control", ("centre_body_joint", "world"), "left_hand_control.follow"),
        Follow(names[3], "centre_body_joint"),
        Follow(names[4], names[3]),
        Follow(names[5], names[4]),
        Limb(skeleton.names[1:], "left_hand_control", "left_elbow_marker", names[3:], **{**channels, **given}),
    ]
    return Rig(skeleton, controls, links)


ARM = arm()


@given(move=vectors(-0.7, 0.7), pole=vectors(-0.5, 0.5), soft=st.sampled_from([0.0, 0.05, 0.3]), stretch=st.sampled_from([0.0, 0.2, 1.0]))
@settings(max_examples=100)
def test_a_limb_is_the_two_bone_solver_of_rigkit_limb(move, pole, soft, stretch):
    names = {
        "left_hand_control.move": move,
        "left_elbow_marker.move": pole,
        "left_hand_control.soft": soft,
        "left_hand_control.stretch": stretch,
    }
    pose = ARM.pose(names)
    rest = ARM.skeleton.rest_world
    target, marker = pose.frame("left_hand_control")[1], pose.frame("left_elbow_marker")[1]
    solved = limb.solve(*rest.positions[1:], target, marker, soft=soft, stretch_limit=1 + stretch)
    sideways = np.linalg.norm(np.cross(target - rest.positions[1], marker - rest.positions[1]))
    if sideways < 1e-6:
        return  # the side is undefined there, and rounding picks it
    np.testing.assert_allclose(pose.positions[2], solved.mid, atol=2e-7)
    np.testing.assert_allclose(pose.positions[3], solved.end, atol=1e-9)
    np.testing.assert_allclose(pose.stretch[1:3], solved.stretch, atol=1e-9)
    np.testing.assert_allclose(pose.gaps["left_shoulder_joint"], solved.gap, atol=1e-9)
    upper, lower = limb.rotations(*rest.positions[1:], solved, marker)
    assert apart(pose.rotations[1], rk.rotation.multiply(upper, rest.rotations[1])) < 1e-5
    assert apart(pose.rotations[2], rk.rotation.multiply(lower, rest.rotations[2])) < 1e-5


@given(angles=vectors(-3, 3, shape=(3, 3)))
def test_turned_joints_are_forward_kinematics(angles):
    names = ("left_shoulder_control", "left_elbow_control", "left_wrist_control")
    values = {f"{n}.turn_{axis}": a for n, row in zip(names, angles) for axis, a in zip("xyz", row)}
    pose = ARM.pose({**values, "left_hand_control.blend": 0.0})
    local = np.vstack([rk.rotation.IDENTITY, rk.rotation.from_euler("XYZ", angles)])
    world = ARM.skeleton.forward(local)
    np.testing.assert_allclose(pose.positions, world.positions, atol=1e-9)
    assert apart(pose.rotations, world.rotations) < 1e-7


@given(angles=vectors(-1.5, 1.5, shape=(3, 3)), move=vectors(-0.2, 0.2), share=st.floats(0, 1))
@settings(max_examples=50)
def test_a_blend_keeps_bone_lengths_and_goes_the_short_way(angles, move, share):
    names = ("left_shoulder_control", "left_elbow_control", "left_wrist_control")
    values = {f"{n}.turn_{axis}": a for n, row in zip(names, angles) for axis, a in zip("xyz", row)} | {"left_hand_control.move": move}
    first, last, mid = (ARM.pose({**values, "left_hand_control.blend": b}) for b in (0.0, 1.0, share))
    lengths = [np.linalg.norm(np.diff(p.positions[1:], axis=0), axis=1) for p in (first, mid)]
    np.testing.assert_allclose(*lengths, atol=1e-9)
    whole, part = (rk.rotation.angle(first.local_rotations, p.local_rotations) for p in (last, mid))
    np.testing.assert_allclose(part, share * whole, atol=1e-6)


@pytest.mark.source("glTF 2.0")
def test_a_blend_of_nearly_equal_turns_does_not_go_round_the_long_way():
    # 350 degrees and 10 degrees are 20 apart: half way is 0. glTF 2.0, Appendix C: the shorter way.
    a, b = (_rows.frame(rk.rotation.from_axis_angle([0, 0, 1], np.radians(x)), [0, 0, 0])[0] for x in (350, 10))
    assert rk.rotation.angle(np.array(_rows.slerp(a, b, 0.5)), rk.rotation.IDENTITY) < 1e-9


def test_soft_stretch_and_girth_are_zero_at_home_and_say_what_they_do():
    far = {"left_hand_control.move_x": 0.5, "left_hand_control.move_y": 0.1}
    assert ARM.pose(far).gaps["left_shoulder_joint"] > 0.1
    grown = ARM.pose({**far, "left_hand_control.stretch": 1.0, "left_hand_control.girth": 1.0})
    assert grown.gaps["left_shoulder_joint"] < 1e-9
    # Treloar, The Physics of Rubber Elasticity: volume is kept where girth is 1 / sqrt(stretch).
    np.testing.assert_allclose(grown.girth[1] ** 2 * grown.stretch[1], 1.0, atol=1e-12)
    assert grown.stretch[3] == grown.girth[3] == 1.0
    np.testing.assert_allclose(np.linalg.norm(grown.local_rotations, axis=-1), 1)
    bones = grown.matrices[1, :3, :3]
    np.testing.assert_allclose(np.linalg.det(bones), 1.0, atol=1e-9)


def test_a_bend_limit_keeps_the_target_away():
    held = arm(most_bend=np.radians(90)).pose({"left_hand_control.move_x": -0.5})
    at = held.positions
    assert rk.bend.angle(*at[1:]) == pytest.approx(np.radians(90), abs=1e-9)
    assert held.gaps["left_shoulder_joint"] > 0.1


def test_a_target_on_the_root_and_a_pole_on_the_line_still_give_a_pose():
    at = ARM.skeleton.rest_world.positions
    for hand, marker in ((at[1], [0.1, 0.2, 0.3]), (at[1] + (0.3, 0, 0), at[1] + (0.9, 0, 0))):
        pose = ARM.pose(
            {"left_hand_control.move": hand - at[3], "left_elbow_marker.move": marker - ARM.control("left_elbow_marker").position}
        )
        assert np.isfinite(pose.positions).all()
        np.testing.assert_allclose(
            np.linalg.norm(np.diff(pose.positions[1:], axis=0), axis=1), np.linalg.norm(np.diff(at[1:], axis=0), axis=1), atol=1e-9
        )


def test_a_straight_limb_needs_a_hinge():
    straight = [((0.0, 0, 0, 1), p, 1.0) for p in ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (2.0, 0.0, 0.0))]
    with pytest.raises(ValueError, match="the limb is straight at rest; expected a bend, or a hinge"):
        _limb_rows.two_bones(straight, None, np.pi)
    root, mid, *_ = _limb_rows.two_bones(straight, (0.0, 0.0, 1.0), np.pi)(
        ((0.0, 0, 0, 1), (1.0, 0.0, 0.0), 1.0), (0.5, -5.0, 0.0), 0.0, 1.0
    )
    np.testing.assert_allclose(mid[1], [0.5, -np.sqrt(0.75), 0], atol=1e-12)
    # a hinge of +z bends towards the pole's side by a turn about z alone
    np.testing.assert_allclose(np.array(root[0])[:2], 0, atol=1e-12)


@given(p=any_turns(), q=any_turns(), t=st.floats(0, 1))
def test_rows_are_rotation_and_frame_in_floats_and_in_arrays(p, q, t):
    one = _rows.slerp(tuple(p.tolist()), tuple(q.tolist()), t)
    many = np.stack(_rows.slerp(tuple(np.array([p, p]).T), tuple(np.array([q, q]).T), np.array([t, t])))
    if np.abs(p @ q) > 1e-6:  # else both ways are as short
        assert apart(np.array(one), rk.rotation.slerp(p, q, t)) < 1e-6
        assert apart(many.T, np.array([one, one])) < 1e-6
    m = rk.rotation.to_matrix(p)
    axes = tuple(tuple(m[:, k].tolist()) for k in range(3))
    assert apart(np.array(_rows.from_axes(*axes)), p) < 1e-7
    many = _rows.from_axes(*(tuple(np.array([c, c]) for c in axis) for axis in axes))
    assert apart(np.stack(many, axis=-1), np.array([p, p])) < 1e-7


@given(a=directions(), b=directions())
def test_rows_between_turns_one_direction_to_the_other(a, b):
    for end in (b, a, -a):
        q = _rows.between(tuple(a.tolist()), tuple(end.tolist()))
        np.testing.assert_allclose(rk.rotation.rotate(np.array(q), a), end, atol=1e-6)
        many = _rows.between(tuple(np.array([a, a]).T), tuple(np.array([end, end]).T))
        np.testing.assert_allclose(np.stack(many, axis=-1)[0], q, atol=1e-12)


@given(q=any_turns(), p=vectors(), r=any_turns(), s=vectors())
def test_rows_compose_and_take_apart_like_frame(q, p, r, s):
    a, b = _rows.frame(q, p, 2.0), _rows.frame(r, s, 0.5)
    turn, place, size = _rows.compose(a, b)
    expected = frame.compose((q, p), (r, 2.0 * s))
    np.testing.assert_allclose(place, expected[1], atol=1e-9)
    assert apart(np.array(turn), expected[0]) < 1e-7 and size == 1.0
    again = _rows.seen_from(a, (turn, place, size))
    np.testing.assert_allclose(again[1], s, atol=1e-9)
    for offset in (b, (b[0], _rows.ORIGIN, 1.0), (_rows.NO_TURN, b[1], 1.0), _rows.WORLD):
        carried, composed = _rows.carrier(offset)(a), _rows.compose(a, offset)
        np.testing.assert_allclose(carried[1], composed[1], atol=1e-12)
        np.testing.assert_allclose(carried[0], composed[0], atol=1e-12)


# ---- feet and eyes of Tally


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_rolling_foot_stands_still_where_it_touches(side):
    at, foot = rk.tally().landmarks, f"{side}_foot_control"
    roll = np.radians(np.linspace(-40, 85, 26))
    pose = TALLY.pose({f"{foot}.roll": roll, f"{side}_hand_control.move_y": 0.0 * roll})
    moved = {joint: sole(pose, joint) for joint in (f"{side}_ankle_joint", f"{side}_ball_joint")}
    heel, toe = (at[f"{side}_{name}"] for name in ("heel", "sole_toe"))
    back, forth = roll < 0, roll > 0
    np.testing.assert_allclose(moved[f"{side}_ankle_joint"](heel)[back], np.broadcast_to(heel, (back.sum(), 3)), atol=1e-9)
    np.testing.assert_allclose(moved[f"{side}_ball_joint"](toe)[forth], np.broadcast_to(toe, (forth.sum(), 3)), atol=1e-9)
    low = roll <= np.radians(40)
    held = forth & low
    np.testing.assert_allclose(
        pose.positions[held][:, SKELETON.index(f"{side}_ball_joint")], np.broadcast_to(at[f"{side}_ball"], (held.sum(), 3)), atol=1e-9
    )
    turned = rk.rotation.angle(
        pose.rotations[:, SKELETON.index(f"{side}_ankle_joint")], SKELETON.rest_world.rotations[SKELETON.index(f"{side}_ankle_joint")]
    )
    np.testing.assert_allclose(turned, np.abs(roll), atol=1e-7)  # ball and toe add up to the roll


def sole(pose, joint):
    """A function that carries a point of the rest pose along with a joint."""
    i = SKELETON.index(joint)
    rest = SKELETON.rest_world.rotations[i], SKELETON.rest_world.positions[i]
    now = pose.rotations[..., i, :], pose.positions[..., i, :]
    return lambda point: frame.to_world(now, frame.to_local(rest, point))


@pytest.mark.parametrize("side,outer", [("left", 1), ("right", -1)])
def test_a_tilted_foot_stands_on_its_edge_and_swivel_brings_toes_outward(side, outer):
    at, foot = rk.tally().landmarks, f"{side}_foot_control"
    for tilt, edge in ((0.3, "outer"), (-0.3, "inner")):
        pose = TALLY.pose({f"{foot}.tilt": tilt})
        point = at[f"{side}_sole_{edge}"]
        np.testing.assert_allclose(sole(pose, f"{side}_ankle_joint")(point), point, atol=1e-9)
        other = at[f"{side}_sole_{'inner' if edge == 'outer' else 'outer'}"]
        assert sole(pose, f"{side}_ankle_joint")(other)[1] > 0.01
    pose = TALLY.pose({f"{foot}.swivel": 0.3})
    toe = sole(pose, f"{side}_ball_joint")(at[f"{side}_sole_toe"])
    assert outer * (toe - at[f"{side}_sole_toe"])[0] > 0.005
    np.testing.assert_allclose(pose.positions[SKELETON.index(f"{side}_ball_joint")], at[f"{side}_ball"], atol=1e-9)


@given(move=vectors(-0.15, 0.15), turn=numbers(-0.5, 0.5), nod=numbers(-0.5, 0.5))
@settings(max_examples=40)
def test_eyes_look_at_their_control_and_stay_level_with_the_head(move, turn, nod):
    pose = TALLY.pose({"centre_eyes_control.move": move, "centre_head_control.turn_y": turn, "centre_head_control.turn_x": nod})
    head = pose.rotations[SKELETON.index("centre_head_joint")]
    for side in ("left", "right"):
        i = SKELETON.index(f"{side}_eye_joint")
        ahead, across = (rk.rotation.rotate(pose.rotations[i], v) for v in ([0, 0, 1.0], [1.0, 0, 0]))
        way = pose.frame(f"{side}_eye_control")[1] - pose.positions[i]
        assert np.linalg.norm(np.cross(ahead, way / np.linalg.norm(way))) < 1e-9
        assert abs(rk.rotation.rotate(rk.rotation.invert(head), across)[1]) < 1e-9


@pytest.mark.parametrize("side", ["left", "right"])
@given(roll=numbers(-0.7, 1.5), tilt=numbers(-0.5, 0.5), swivel=numbers(-1, 1))
@settings(max_examples=25)
def test_a_foot_is_the_stack_of_rigkit_foot(side, roll, tilt, swivel):
    at, name = rk.tally().landmarks, f"{side}_foot_control"
    own = TALLY.control(name).home
    here = {
        part: frame.to_local(own, at[f"{side}_{mark}"])
        for part, mark in (("heel", "heel"), ("ball", "ball"), ("toe", "sole_toe"), ("inner", "sole_inner"), ("outer", "sole_outer"))
    }
    pivots = foot.Pivots(**here, outward=1.0 if side == "left" else -1.0)
    rest = SKELETON.rest_world
    ankle, ball = (
        frame.compose(frame.invert(own), (rest.rotations[i], rest.positions[i]))
        for i in (SKELETON.index(f"{side}_{j}_joint") for j in ("ankle", "ball"))
    )
    expected = foot.joints(own, ankle, ball, foot.stack(pivots, roll, tilt, swivel, turn_over=np.radians(40)))
    pose = TALLY.pose({f"{name}.roll": roll, f"{name}.tilt": tilt, f"{name}.swivel": swivel})
    for (turn, place), made in zip(expected, (f"{side}_ankle_target", f"{side}_ball_joint:planted")):
        np.testing.assert_allclose(pose._frame(made)[1], place, atol=1e-9)
        assert apart(pose._frame(made)[0], turn) < 1e-7


@given(move=vectors(-0.4, 0.4), nod=numbers(-0.5, 0.5))
@settings(max_examples=40)
def test_eyes_are_those_of_rigkit_gaze(move, nod):
    pose = TALLY.pose({"left_eye_control.move": move, "centre_head_control.turn_x": nod})
    i = SKELETON.index("left_eye_joint")
    head = pose.frame("centre_head_joint")
    limits = np.radians([[-35, 35], [-30, 20]])
    expected = gaze.eyes(head, [SKELETON.rest_translations[i]], pose.frame("left_eye_control")[1], limits=limits)
    assert apart(pose.rotations[i], expected[0]) < 1e-7


def test_eyes_stop_at_their_limits():
    pose = TALLY.pose({"centre_eyes_control.move_x": 5.0})
    turned = rk.rotation.to_axis_angle(pose.local_rotations[SKELETON.index("left_eye_joint")])[1]
    assert turned == pytest.approx(np.radians(35), abs=1e-9)


def test_a_target_straight_up_at_rest_gives_no_level():
    skeleton = rk.Skeleton(["centre_eye_joint"], [-1], [[0, 0, 0]])
    with pytest.raises(ValueError, match="stands straight along up .* at rest; expected it ahead"):
        Rig(skeleton, [Control("centre_eye_control", [0, 1, 0], channels=moves())], [Gaze("centre_eye_joint", "centre_eye_control")])


def test_the_hose_reaches_its_control_and_keeps_its_lengths():
    pose = TALLY.pose({"centre_hose_control.move": np.array([[0.05, 0.1, 0], [0.0, -0.05, 0.03], [0.0, 0.0, 0.0]])})
    joints = [SKELETON.index(n) for n in SKELETON.names if "hose" in n]
    last = sole(pose, SKELETON.names[joints[-1]])(rk.tally().landmarks["hose_end"])
    np.testing.assert_allclose(last, pose.frame("centre_hose_control")[1], atol=2e-6)
    lengths = np.linalg.norm(np.diff(pose.positions[:, joints], axis=1), axis=-1)
    np.testing.assert_allclose(lengths, np.broadcast_to(lengths[-1], lengths.shape), atol=1e-9)


def test_one_channel_curls_three_fingers():
    turned = rk.rotation.angle(TALLY.pose({"right_hand_control.curl": 1.0}).local_rotations, SKELETON.rest_rotations)
    fingers = [i for i, n in enumerate(SKELETON.names) if n.startswith("right_finger")]
    assert set(np.flatnonzero(turned > 1e-9)) == set(fingers)
    assert sorted(np.degrees(turned[fingers]).round(6)) == [8, 8, 8, 24, 24, 24]


def test_controls_that_no_joint_needs_are_there_when_asked_for():
    turn = {"left_shoulder_control.turn_z": 0.4, "centre_body_control.move_x": 0.1}
    pose, batch = TALLY.pose(turn), TALLY.pose({name: np.array([v, v]) for name, v in turn.items()})
    place = pose.frame("left_elbow_control")[1]
    assert np.linalg.norm(place - TALLY.control("left_elbow_control").position) > 0.05
    np.testing.assert_allclose(batch.frame("left_elbow_control")[1], [place, place], atol=1e-12)


def test_a_blend_link_stands_between_two():
    skeleton = rk.Skeleton(["centre_low_joint", "centre_between_joint"], [-1, -1], [[0, 0, 0], [0, 1, 0]])
    controls = [
        Control("centre_low_control", [0, 0, 0], channels=(*moves(), *turns())),
        Control("centre_high_control", [0, 2, 0], channels=(*moves(), Channel("share", 0.5, 0, 1))),
    ]
    for share in (0.25, "centre_high_control.share"):
        rig = Rig(skeleton, controls, [Blend("centre_between_joint", "centre_low_control", "centre_high_control", share)])
        part = 0.25 if share == 0.25 else 0.5
        pose = rig.pose({"centre_high_control.move_x": 1.0, "centre_low_control.turn_x": 0.0})
        np.testing.assert_allclose(pose.positions[1], [part, 1, 0], atol=1e-12)
        turned = rig.pose({"centre_low_control.turn_y": 1.0})
        assert rk.rotation.angle(turned.rotations[1], rk.rotation.IDENTITY) == pytest.approx(1 - part)


# ---- what goes wrong, and what is said


def body(*more, links=()):
    skeleton = rk.Skeleton(["centre_body_joint", "left_hand_joint"], [-1, 0], [[0, 1, 0], [0.3, 0, 0]])
    channels = (*moves(low=-1.0, high=1.0), Channel("reach", 0.0, 0.0, 1.0), Channel("old", 0.0, 0, 1, open=False))
    controls = [
        Control("centre_body_control", [0, 1, 0], channels=channels),
        Control("left_hand_control", [0.3, 1, 0], channels=(*moves(), *turns())),
        *more,
    ]
    return Rig(skeleton, controls, links)


HAND, BODY = "left_hand_control", "centre_body_control"


@pytest.mark.parametrize(
    "make,told",
    [
        (
            lambda: body(links=[Follow("left_hand_joint", HAND), Follow(HAND, "left_hand_joint")]),
            "links form a cycle: left_hand_joint -> left_hand_control -> left_hand_joint",
        ),
        (
            lambda: body(links=[Follow(HAND, BODY), Follow(HAND, "world")]),
            "left_hand_control is driven by Follow and Follow; expected one link a frame",
        ),
        (
            lambda: body(links=[Follow("left_hnd_joint", HAND)]),
            "Follow names 'left_hnd_joint', which is no joint or control; near it: left_hand_joint",
        ),
        (
            lambda: body(links=[Follow("left_hand_joint", "left_hnd_control")]),
            "Follow names 'left_hnd_control', which is no joint or control; near it: left_hand_control",
        ),
        (lambda: body(links=[Follow(HAND, (BODY, "world"))]), "follows 2 leaders and no channel picks one"),
        (lambda: body(links=[Follow(HAND, (BODY, "world"), f"{HAND}.folow")]), "left_hand_control has no channel called 'folow'"),
        (
            lambda: body(links=[Share(f"{BODY}.reach", {"left_hand_joint.move_w": 1.0})]),
            "shared to 'left_hand_joint.move_w'; expected one of move_x",
        ),
        (lambda: body(links=[Share(f"{BODY}.reach", {f"{HAND}.move_w": 1.0})]), "left_hand_control has no channel called 'move_w'"),
        (
            lambda: body(links=[Share(f"{BODY}.reach", {f"{HAND}.move_x": 1.0}), Share(f"{HAND}.move_x", {"left_hand_joint.turn_x": 1.0})]),
            "is shared to others and gets a share itself",
        ),
        (lambda: body(Control("left_hand_joint", [0, 0, 0])), "'left_hand_joint' is there twice among joints and controls"),
        (lambda: body().pose({"left_hnd_control.move_x": 1}), "no control is called 'left_hnd_control'; near it: left_hand_control"),
        (lambda: body().pose({f"{HAND}.mvoe_x": 1}), "left_hand_control has no channel called 'mvoe_x'; near it: move_x"),
        (lambda: body().pose({f"{HAND}.mvoe_x": [1, 2]}), "left_hand_control has no channel called 'mvoe_x'; near it: move_x"),
        (lambda: body().pose({f"{BODY}.old": 0.5}), "centre_body_control.old is 0.5 and the channel is closed; expected its home value, 0"),
        (lambda: body().pose({f"{BODY}.turn_x": [0.0, 0.5]}), "centre_body_control.turn_x is 0.5 and the channel is closed"),
        (lambda: body().pose({f"{HAND}.move_x": float("nan")}), "left_hand_control.move_x is nan; expected a finite number"),
        (lambda: body().pose({f"{HAND}.move_x": [0.0, np.inf]}), "expected finite numbers"),
        (lambda: body().pose({f"{HAND}.move_x": [0.0, 1.0], f"{HAND}.move_y": [0.0] * 3}), "batch shapes do not fit together"),
        (lambda: body().pose({f"{HAND}.move_x": "far"}), "left_hand_control.move_x is 'far'; expected numbers"),
        (lambda: body().pose({f"{HAND}.move_x": None}), "left_hand_control.move_x is nan; expected"),
        (
            lambda: body().pose({f"{HAND}.move": [1, 0, 0], f"{HAND}.move_x": 1.0}),
            "left_hand_control.move and left_hand_control.move_x are both given; expected one of the two",
        ),
        (lambda: body(links=["left_hand_joint"]), r"links\[0\] is 'left_hand_joint'; expected a link of rigkit.links"),
        (lambda: body("left_hand_control"), r"controls\[\d\] is 'left_hand_control'; expected a rigkit.control.Control"),
        (lambda: Follow(HAND, ()), "left_hand_control follows nobody; expected a joint, a control or 'world'"),
        (lambda: body().pose().frame("nothing"), "no control is called 'nothing'"),
        (lambda: Limb(("a", "b"), "t", "m"), "expected three of each"),
        (lambda: Limb(("a", "b", "c"), "t", "m", ("d", "e", "f")), "expected both or neither"),
        (lambda: posing.matched(TALLY, {}, "centre_head_joint", "target"), "'centre_head_joint' is in no limb with turned controls"),
        (lambda: posing.matched(TALLY, {}, "left_elbow_joint", "both"), "to is 'both'; expected 'turned' or 'target'"),
    ],
)
def test_errors_say_what_came_and_what_to_do(make, told):
    with pytest.raises(ValueError, match=told):
        make()


def test_a_longer_cycle_is_named_from_member_to_member():
    third = Control("right_hand_control", [-0.3, 1, 0])
    with pytest.raises(ValueError, match="centre_body_control -> left_hand_control -> right_hand_control -> centre_body_control"):
        body(third, links=[Follow(BODY, HAND), Follow(HAND, "right_hand_control"), Follow("right_hand_control", BODY)])


def test_links_may_come_in_any_order():
    links = list(TALLY.links)
    values = some_values(np.random.default_rng(8))
    expected = TALLY.pose(values)
    for seed in range(3):
        np.random.default_rng(seed).shuffle(links)
        same(Rig(SKELETON, TALLY.controls, links).pose(values), expected, 1e-12)


def test_a_value_out_of_range_is_held_and_told():
    rig = body(links=[Follow("centre_body_joint", BODY)])
    assert rig.outside({f"{BODY}.move_x": 3.0, f"{BODY}.move_y": 0.5}) == {f"{BODY}.move_x": (3.0, -1.0, 1.0)}
    assert rig.pose({f"{BODY}.move_x": 3.0}).positions[0, 0] == 1.0
    assert rig.pose({f"{BODY}.move_x": [3.0, -7.0, 0.5]}).positions[:, 0, 0].tolist() == [1.0, -1.0, 0.5]


def test_a_turn_as_quaternion_is_the_same_turn_in_three_angles():
    angles = np.array([0.3, -0.4, 0.5])
    q = rk.rotation.from_euler("XYZ", angles)
    one = TALLY.pose({f"centre_body_control.turn_{axis}": a for axis, a in zip("xyz", angles)})
    same(TALLY.pose({"centre_body_control.turn": q}), one)
    limited = TALLY.pose({"left_elbow_control.turn": rk.rotation.from_axis_angle([0, 0, 1], 0.7), "left_hand_control.blend": 0.0})
    same(limited, TALLY.pose({"left_elbow_control.turn_z": 0.7, "left_hand_control.blend": 0.0}))
    with pytest.raises(ValueError, match="turn_x is .* and the channel is closed"):
        TALLY.pose({"left_elbow_control.turn": rk.rotation.from_axis_angle([1, 0, 0], 0.7)})


def test_a_double_transform_is_found_with_its_count():
    # The hand follows the body and gets the body's move once more.
    links = [Follow("centre_body_joint", BODY), Follow(HAND, BODY), Follow("left_hand_joint", HAND)]
    assert body(links=links).double_transforms() == []
    twice = [Share(f"{BODY}.move_{axis}", {f"{HAND}.move_{axis}": 1.0}) for axis in "xyz"]
    assert body(links=[*links, *twice]).double_transforms() == [(BODY, "left_hand_joint", 2), (BODY, HAND, 2)]
    assert body(links=[*links, *twice]).left_behind(BODY) == ["left_hand_joint"]


def test_what_nothing_carries_is_left_behind():
    rig = body(links=[Follow("centre_body_joint", BODY), Follow("left_hand_joint", HAND)])
    assert rig.left_behind(BODY) == ["left_hand_joint"]
    assert rig.carried(BODY) == {"centre_body_joint": 1, "left_hand_joint": 0, BODY: 1, HAND: 0}


def test_dead_channels_are_found():
    assert set(body(links=[Follow("centre_body_joint", BODY)]).dead_channels()) == {
        f"{BODY}.reach",
        *(f"{HAND}.{kind}_{axis}" for kind in ("move", "turn") for axis in "xyz"),
    }


# ---- another set of values for the same pose


@given(seed=st.integers(0, 10**6), new=st.sampled_from([0.0, 0.5, 1.0, 1.7, 2.0]))
@settings(max_examples=20)
def test_what_a_hand_follows_changes_without_a_jump(seed, new):
    values = some_values(np.random.default_rng(seed))
    again = posing.switched(TALLY, values, "left_hand_control.follow", new)
    same(TALLY.pose(values), TALLY.pose(again), 1e-7)
    moved = TALLY.pose(
        {
            **posing.switched(TALLY, values, "left_hand_control.follow", 2.0),
            "centre_body_control.move_x": values.get("centre_body_control.move_x", 0) + 0.01,
        }
    )
    np.testing.assert_allclose(moved.frame("left_hand_control")[1], TALLY.pose(values).frame("left_hand_control")[1], atol=1e-7)


@given(seed=st.integers(0, 10**6))
@settings(max_examples=20)
def test_target_to_turned_and_back_keeps_the_pose_of_a_hinged_limb(seed):
    values = {
        **some_values(np.random.default_rng(seed)),
        "left_hand_control.stretch": 0.0,
        "left_hand_control.blend": 1.0,
        f"{WHOLE}.size": 1.5,
    }
    turned = posing.matched(TALLY, values, "left_elbow_joint", "turned")
    assert turned.lost == {} and turned.values["left_hand_control.blend"] == 0.0
    same(TALLY.pose(values), TALLY.pose(turned.values), 1e-6)
    back = posing.matched(TALLY, turned.values, "left_wrist_joint", "target")
    assert back.lost == {} and back.values["left_hand_control.blend"] == 1.0


def test_a_leg_matches_with_its_rolled_foot():
    values = {
        "right_foot_control.roll": 0.4,
        "right_foot_control.move": np.array([[0.02, 0.03, 0.1], [0, 0.05, -0.1]]),
        "centre_body_control.move_y": -0.04,
    }
    turned = posing.matched(TALLY, values, "right_knee_joint", "turned")
    assert turned.lost == {}
    back = posing.matched(TALLY, turned.values, "right_knee_joint", "target")
    assert back.lost == {}
    np.testing.assert_allclose(back.values["right_foot_control.roll"], 0.4, atol=1e-9)


def test_what_a_match_loses_is_named():
    off_hinge = {"left_hand_control.blend": 0.0, "left_elbow_control.turn_x": 0.2, "left_elbow_control.turn_z": 0.4}
    match = posing.matched(ARM, off_hinge, "left_elbow_joint", "target")
    assert set(match.lost) == {"left_shoulder_joint", "left_elbow_joint"}  # the twist of both bones; the wrist stands where it stood
    assert max(angle for angle, _ in match.lost.values()) > 0.01 and max(m for _, m in match.lost.values()) < 1e-6
    stretched = {"left_hand_control.stretch": 1.0, "left_hand_control.move_x": 0.5}
    assert posing.matched(ARM, stretched, "left_elbow_joint", "turned").lost["left_wrist_joint"][1] > 0.1


@given(seed=st.integers(0, 10**6))
@settings(max_examples=20)
def test_a_flipped_pose_is_the_mirror_image_and_flipped_twice_the_start(seed):
    values = some_values(np.random.default_rng(seed), leave=())
    flipped = posing.flipped(TALLY, values)
    pose = TALLY.pose(values)
    expected = SKELETON.forward(*rk.mirror.pose(SKELETON, rk.mirror.Plane(), pose.local_rotations, pose.local_translations))
    image = TALLY.pose(flipped)
    np.testing.assert_allclose(image.positions, expected.positions, atol=1e-6)
    assert apart(image.rotations, expected.rotations) < 1e-5
    assert posing.flipped(TALLY, flipped) == values


def test_flipping_turns_and_moves_given_whole_is_the_same():
    q = rk.rotation.from_euler("XYZ", [0.3, 0.2, -0.4])
    flipped = posing.flipped(TALLY, {"left_hand_control.turn": q, "left_hand_control.move": [0.1, 0.05, 0.0]})
    one = posing.flipped(
        TALLY,
        {f"left_hand_control.turn_{a}": v for a, v in zip("xyz", (0.3, 0.2, -0.4))}
        | {"left_hand_control.move_x": 0.1, "left_hand_control.move_y": 0.05},
    )
    same(TALLY.pose(flipped), TALLY.pose(one))


def test_feet_and_chains_say_what_they_drive():
    assert Foot("c", "a", "b", "t", (0, 0, 0), (0, 0, 1), (0, 0, 0), (1, 0, 0)).handles == {"t": "a"}
    assert Chain(["a", "b"], "c", (0, 0, 1)).drives == ("a", "b")
