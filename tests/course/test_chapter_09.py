"""Chapter 09: right answers of any kind earn full marks, wrong turns cost their own claims, and the facts told are facts."""

import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.spatial.transform import Rotation, Slerp

from rigkit import gaze, matching, mirror, posing, rotation
from rigkit.course.chapters import (
    chapter_09_blend,
    chapter_09_carry,
    chapter_09_curl,
    chapter_09_flip,
    chapter_09_follow,
    chapter_09_look,
    chapter_09_match,
    chapter_09_switch,
)
from rigkit.course.chapters.chapter_09_frames import frame, rest_frames, spun
from rigkit.course.collect import collect
from rigkit.course.judge import Mistakes, judge, tried_text
from rigkit.course.panel import panel
from rigkit.robot.rig import tally_rig
from tests.course.tried import Tried, missed

TRIED = Tried("09")
CHAPTER, TEXT, CHECKPOINT = TRIED.chapter, TRIED.text, TRIED.checkpoint
context, answered = TRIED.context, TRIED.answered
rig = cache(lambda: tally_rig(7))


# ---- the text ----------------------------------------------------------------------------------------------------


def test_no_name_of_a_cell_can_stand_in_for_a_line_forgotten_in_a_function():
    written = TRIED.worked_functions()
    assert {name for one in CHAPTER.checkpoints for name in one.names} | {"offset_of", "side_of", "normal_of"} == set(written) - {"stand"}


def test_every_scene_sets_its_own_view_and_there_are_few():
    scenes = [one for one in re.findall(r"```python\n(.*?)```", TEXT, re.DOTALL) if "viewer.clear()" in one]
    assert len(scenes) == 5  # and one show() makes six
    for scene in scenes:
        assert all(f"viewer.{call}(" in scene for call in ("look", "see_through", "show", "caption")), scene
        assert "viewer.focus(" in scene or "viewer.whole()" in scene


def test_a_panel_is_never_cut_and_a_case_fits_its_line():
    for name, checkpoint in CHECKPOINT.items():
        cases, known = TRIED.cases_of(name, 41), context(41)
        run_once = Mistakes(checkpoint, known, strict=True)
        for mistake in checkpoint.mistakes:
            record = collect(replace(checkpoint, closed=()), dict.fromkeys(checkpoint.names, mistake.answer), cases)
            told = panel(judge(checkpoint, record, known, cases, mistakes=run_once), can_show=True).text
            assert "..." not in told, f"{mistake.name}\n{told}"
        assert all(len(tried_text(case)) <= 80 for seed in range(5) for case in checkpoint.cases(np.random.default_rng(seed), context(41)))


# ---- other right answers -----------------------------------------------------------------------------------------


def by_motion(leader_then, driven_then, leader_now):
    """The leader's motion as one matrix first, by solving."""
    return np.linalg.solve(leader_then.T, leader_now.T).T @ driven_then


def pass_by_pass(rest, leaders, own):
    """Passes through the list until nothing is missing."""
    now = {}
    while len(now) < len(rest):
        for name, leader in leaders.items():
            if leader == "world":
                now[name] = rest[name] @ own.get(name, np.eye(4))
            elif leader in now:
                now[name] = now[leader] @ np.linalg.inv(rest[leader]) @ rest[name] @ own.get(name, np.eye(4))
    return now


def package_eyes(head, eyes, target):
    """The package's."""
    place = rotation.from_matrix(head), np.zeros(3)
    return rotation.to_matrix(gaze.eyes(place, eyes @ head, target))


def another_level_eye(head, eyes, target):
    """The package's, but turned half round its own up where there is no side: level all the same."""
    found = chapter_09_look.looking(head, eyes, target)
    upright = np.abs(found[:, :, 2] @ head[:, 1]) > 1 - 1e-12
    found[upright] = found[upright] * [-1, -1, 1]
    return found


def farther_pole(frames):
    """Another pole of the half-plane, slid along the line too."""
    end, pole, stands, lost = chapter_09_match.matched_limb(frames)
    line = (end - frames[0, :3, 3]) / np.linalg.norm(end - frames[0, :3, 3])
    return end, pole + 0.4 * (pole - frames[1, :3, 3]) - 0.2 * line, stands, lost


def scipy_blend(first, second, share):
    """SciPy's, with the other sign."""
    return -np.array([Slerp([0, 1], Rotation.from_quat([p, q]))(share).as_quat() for p, q in zip(first, second)])


def solved_switch(hand, home, leader_rest, leader_now):
    """By solving."""
    return np.linalg.solve(leader_now @ np.linalg.solve(leader_rest, home), hand)


def scipy_curl(curl, rest, gains):
    """SciPy's turns."""
    held = max(-1.0, min(1.0, curl))
    return rest @ Rotation.from_rotvec(np.outer(np.asarray(gains) * held, [0, 0, 1])).as_matrix()


def by_quaternions(rest, posed, other):
    """Turns as quaternions, each part mirrored by its own rule."""
    done = [Rotation.from_matrix(posed[o][:3, :3] @ rest[o][:3, :3].T).as_quat() * [1, -1, -1, 1] for o in other]
    return np.array(
        [
            frame(Rotation.from_quat(q).as_matrix() @ rest[i][:3, :3], posed[o][:3, 3] * [-1, 1, 1])
            for i, (o, q) in enumerate(zip(other, done))
        ]
    )


OTHERS = (
    ("09.1", by_motion), ("09.2", pass_by_pass), ("09.3", package_eyes), ("09.3", another_level_eye), ("09.4", farther_pole),
    ("09.5", scipy_blend), ("09.6", solved_switch), ("09.7", scipy_curl), ("09.8", by_quaternions),
)  # fmt: skip


@pytest.mark.source("SciPy")
@pytest.mark.parametrize("name, answer", OTHERS, ids=[f"{name} {answer.__name__}" for name, answer in OTHERS])
def test_other_right_answers_earn_full_marks(name, answer):
    # SciPy: Slerp and Rotation know the short way, turns about z and turns as quaternions
    for variant, seed in ((0, None), (41, b"one"), (99, b"two")):
        result = answered(name, answer, variant, seed)
        assert result.earned == CHECKPOINT[name].points, panel(result).text


# ---- wrong turns nobody planned ----------------------------------------------------------------------------------


def test_a_wrong_turn_costs_its_own_claims_only():
    def world_missing(rest, leaders, own):
        return {name: found for name, found in chapter_09_carry.carried(rest, leaders, own).items() if name != "left_knee_marker"}

    def rolled(head, eyes, target):
        return chapter_09_look.looking(head, eyes, target) @ spun([0, 0, 1], 3)

    def signed_loss(frames):
        end, pole, stands, lost = chapter_09_match.matched_limb(frames)
        return end, pole, stands, -lost

    def half_a_degree(first, second, share):
        return chapter_09_blend.blended(first, second, min(share + 0.01, 1.0) if 0 < share < 1 else share)

    assert missed(answered("09.2", world_missing, 3)) == {"home", "own", "once", "order"}
    assert missed(answered("09.3", rolled, 3)) == {"level", "special"}
    assert missed(answered("09.4", signed_loss, 3)) == {"lost"}
    assert missed(answered("09.5", half_a_degree, 3)) == {"even"}


def test_carried_twice_and_left_behind_are_proved_by_the_numbers():
    def one_thing(doubled):
        def answer(rest, leaders, own):
            found = chapter_09_carry.carried(rest, leaders, own)
            if "left_hand_control" in found and "centre_whole_control" in own:
                motion = rest["centre_whole_control"] @ own["centre_whole_control"] @ np.linalg.inv(rest["centre_whole_control"])
                found["left_hand_control"] = (motion if doubled else np.linalg.inv(motion)) @ found["left_hand_control"]
            return found

        return answer

    for doubled, told in (
        (True, "left_hand_control is carried twice: four times as large, not twice"),
        (False, "left_hand_control is left behind"),
    ):
        once = next(claim for claim in answered("09.2", one_thing(doubled), 3).claims if claim.id == "once")
        assert once.likely.startswith(told)


# ---- against the package's rig ------------------------------------------------------------------------------------


def of_pose(posed):
    """World frames (J, 4, 4) of a rig's Pose."""
    return np.array([frame(rotation.to_matrix(q) * size, p) for q, p, size in zip(posed.rotations, posed.positions, posed.sizes)])


def test_the_whole_carries_the_package_s_rig_as_it_carries_frames():
    values = {"centre_body_control.turn_x": 0.3, "left_hand_control.move_y": 0.1, "centre_head_control.turn_y": -0.4}
    whole = {"centre_whole_control.turn_y": np.radians(137), "centre_whole_control.move_x": 0.3, "centre_whole_control.size": 2.0}
    motion = frame(2 * spun([0, 1, 0], 137), [0.3, 0, 0])
    assert of_pose(rig().pose({**values, **whole})) == pytest.approx(motion @ of_pose(rig().pose(values)), abs=1e-9)
    assert not rig().left_behind("centre_whole_control") and not rig().double_transforms()


def test_loose_knees_and_eyes_are_left_behind():
    loose = {"left_knee_marker", "right_knee_marker", "centre_eyes_control"}
    broken = type(rig())(rig().skeleton, rig().controls, [link for link in rig().links if not loose & set(link.drives)])
    assert {"left_knee_joint", "right_knee_joint", "left_eye_joint"} <= set(broken.left_behind("centre_whole_control"))


def test_the_flip_is_the_package_s_flip():
    values = {
        "left_hand_control.move_y": 0.12,
        "left_hand_control.curl": 0.7,
        "centre_body_control.turn_z": 0.1,
        "centre_head_control.turn_y": 0.4,
    }
    other = chapter_09_flip.counterparts(list(rig().skeleton.names))
    posed, mirrored = (of_pose(rig().pose(one)) for one in (values, posing.flipped(rig(), values)))
    limbs = [i for i, name in enumerate(rig().skeleton.names) if "hose" not in name]
    assert chapter_09_flip.flipped(rest_frames(rig().skeleton), posed, other)[limbs] == pytest.approx(mirrored[limbs], abs=1e-6)


def test_the_curl_is_the_package_s_curl():
    known, joints = context(7).given, rig().skeleton
    posed = rig().pose({"left_hand_control.curl": 0.6}).local_rotations
    rows = [joints.index(name) for name in chapter_09_curl.FINGERS]
    got = chapter_09_curl.curled(0.6, known["finger_rest"], known["finger_gains"])
    assert got == pytest.approx(rotation.to_matrix(posed[rows]), abs=1e-9)


def test_the_switch_is_the_package_s_switch():
    values = {"centre_head_control.turn_y": 0.5, "left_hand_control.move_y": 0.1, "left_hand_control.turn_x": 0.4}
    after = posing.switched(rig(), values, "left_hand_control.follow", 1.0)
    hand = frame(*(f(x) for f, x in zip((rotation.to_matrix, np.array), rig().pose(values).frame("left_hand_control"))))
    home = frame(rotation.to_matrix(rig().control("left_hand_control").rotation), rig().control("left_hand_control").position)
    head = rig().skeleton.index("centre_head_joint")
    own = chapter_09_switch.switched(hand, home, rest_frames(rig().skeleton)[head], of_pose(rig().pose(values))[head])
    assert own[:3, 3] == pytest.approx([after[f"left_hand_control.move_{axis}"] for axis in "xyz"], abs=1e-9)


def test_what_a_match_loses_is_what_the_package_says():
    arm = context(7).robot.skeleton.keep(["left_shoulder_joint", "left_elbow_joint", "left_wrist_joint"])
    turns = arm.rest_rotations.copy()
    turns[1] = rotation.multiply(
        turns[1], rotation.multiply(rotation.from_axis_angle([0, 0, 1], 1.0), rotation.from_axis_angle([1, 0.4, 0], 0.5))
    )
    world = arm.forward(turns)
    frames = np.array([frame(rotation.to_matrix(q), p) for q, p in zip(world.rotations, world.positions)])
    told = matching.lost(arm, turns, matching.to_turned(arm, matching.to_target(arm, turns)).rotations)
    assert chapter_09_match.matched_limb(frames)[3] == pytest.approx(np.degrees(np.abs([told.upper_twist, told.lower_twist])), abs=1e-4)


# ---- the facts ---------------------------------------------------------------------------------------------------


def test_a_follower_of_round_numbers_goes_round():
    post, lamp = frame(np.eye(3), [0, 1, 0]), frame(np.eye(3), [0.3, 1, 0])
    now = frame(spun([0, 1, 0], 90), [0, 1, 0])
    assert chapter_09_follow.followed(post, lamp, now)[:3, 3] == pytest.approx([0, 1, -0.3], abs=1e-12)
    assert mirror.names("left_hand_control") == "right_hand_control"


@pytest.mark.source("glTF 2.0")
def test_a_quarter_of_the_share_is_a_quarter_of_the_turn():
    # glTF 2.0 specification, Appendix C: spherical linear interpolation; a normalised mean would give 21.598 degrees
    ends = np.array([[0, 0, 0, 1.0]]), np.array([[0, 0, np.sqrt(0.5), np.sqrt(0.5)]])
    angle = [
        np.degrees(2 * np.arctan2(q[0, 2], q[0, 3]))
        for q in (chapter_09_blend.blended(*ends, 0.25), chapter_09_blend.straight_mean(*ends, 0.25))
    ]
    assert angle == pytest.approx([22.5, 21.59816098], abs=1e-7)


def test_the_shortest_way_rolls_by_the_law_told():
    for side, rise in ((50, 50), (30, 60), (-20, 70)):
        told = 2 * np.degrees(np.arctan(np.tan(np.radians(side) / 2) * np.tan(np.radians(rise) / 2)))
        sight = rotation.rotate(gaze.from_angles(*np.radians([side, rise])), [0, 0, 1])
        got = np.degrees(gaze.roll(rotation.from_matrix(chapter_09_look.shortest_way(np.eye(3), np.zeros((1, 3)), sight)[0])))
        assert abs(got) == pytest.approx(abs(told), abs=1e-9)
