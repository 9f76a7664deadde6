"""Comparing: what differs is measured, the largest first; labels keep apart; it follows what moves."""

import numpy as np
import pytest

from rigkit import rotation
from rigkit.robot.rig import rigged_tally
from rigkit.view import Viewer, compare, labels

EXPECTED = {"left_shoulder": (0.2, 0.8, 0.0), "left_elbow": (0.2, 0.5, 0.0), "left_wrist": (0.2, 0.2, 0.0)}
OWN = EXPECTED | {"left_elbow": (0.24, 0.5, 0.03), "left_wrist": (0.2, 0.2, 0.0002)}


@pytest.fixture(scope="module")
def character():
    return rigged_tally()


@pytest.fixture
def viewer(character):
    made = Viewer(character, "compared")
    yield made
    made.close()


def test_differences_are_distances_and_the_angles_between_bones():
    """By hand: 3-4-5 makes 50 mm; the upper bone is off by atan(50/300), the lower by nearly as much."""
    parents = {"left_elbow": "left_shoulder", "left_wrist": "left_elbow"}
    elbow, wrist = compare.differences(OWN, EXPECTED, parents)
    assert (elbow.name, elbow.metres, elbow.radians) == ("left_elbow", pytest.approx(0.05), pytest.approx(np.arctan2(50, 300)))
    assert wrist.metres == pytest.approx(0.0002) and wrist.radians == pytest.approx(np.arctan2(50, 300), abs=1e-3)
    assert elbow.text == "left elbow 50.0 mm, 9.5 deg" and wrist.text == "left wrist 9.4 deg"
    assert compare.differences(EXPECTED, EXPECTED, parents) == []


def test_with_frames_the_angle_is_theirs_and_what_is_only_carried_along_comes_last():
    turn = rotation.from_axis_angle([1, 0, 0], np.radians(30))
    points, turns = {"a": np.zeros(3), "b": np.array([0, 0.3, 0.0])}, {"a": rotation.IDENTITY, "b": rotation.IDENTITY}
    own = {"a": np.zeros(3), "b": rotation.rotate(turn, points["b"])}
    found = compare.differences(own, points, {"b": "a"}, dict.fromkeys("ab", turn), turns)
    assert [(one.name, one.carried) for one in found] == [("a", False), ("b", True)]
    assert np.degrees(found[0].radians) == pytest.approx(30) and found[1].metres == pytest.approx(2 * 0.3 * np.sin(np.radians(15)))


def test_joints_beside_expected_ones_are_labelled_listed_and_drawn_as_a_faint_copy(viewer):
    viewer.joints(OWN)
    viewer.compare(np.array(list(EXPECTED.values())), list(EXPECTED))
    assert "left_elbow off by  50.0 mm, 9.5 degrees" in viewer.text() and "compared           3 joints, 2 differ" in viewer.text()
    (guide,) = viewer.guides_now()
    assert guide.layer.glyphs[0].points.tolist() == [list(point) for point in EXPECTED.values()]
    assert [word.text for word in guide.layer.words] == ["left elbow 50.0 mm, 9.5 deg", "left wrist 9.4 deg"]
    viewer.joints(EXPECTED)
    assert viewer.differences == [] and "3 joints, no difference above 0.5 mm" in viewer.text()
    viewer.compare(None)
    assert " joints, " not in viewer.text()


def test_labels_never_overlap_nor_leave_the_picture_and_the_largest_comes_first(viewer):
    names = [f"left_joint_{k:02}" for k in range(12)]
    crowd = {name: (0.001 * k, 0.6, 0.0) for k, name in enumerate(names)}
    found = [compare.Difference(name, 0.1 - 0.001 * k) for k, name in enumerate(names)]
    told = compare.laid(found, crowd, viewer.eye, viewer.size)
    boxes = [labels.box(word, word.point, viewer.eye, viewer.size) for word in told]
    assert told[0].text == "left joint 00 100.0 mm" and 2 <= len(told) <= compare.MOST
    for i, a in enumerate(boxes):
        assert a[2] <= a[0] <= viewer.size[0] - a[2] and a[3] <= a[1] <= viewer.size[1] - a[3]
        assert all(abs(a[0] - b[0]) >= a[2] + b[2] or abs(a[1] - b[1]) >= a[3] + b[3] for b in boxes[:i])


def test_a_posed_rig_is_compared_with_a_pose_as_it_moves(viewer, character):
    goal = {"left_hand_control.move_y": 0.12}
    viewer.rig(controls=["left_hand_control"])
    viewer.compare(character.rig.pose(goal), parts=["left_elbow_sleeve", "left_forearm_tube"])
    off = {one.name: one for one in viewer.differences if not one.carried}
    assert set(off) == {"left_shoulder_joint", "left_elbow_joint", "left_wrist_joint"} and off["left_wrist_joint"].metres > 0.1
    sheets = viewer.guides_now()[0].layer.sheets
    viewer.values = goal
    assert viewer.differences == [] and "no difference" in viewer.text()
    for sheet, part in zip(sheets, [part.name for part in character.parts if part.name in ("left_elbow_sleeve", "left_forearm_tube")]):  # the model is where its faint copy was
        now = viewer.figure.part_points(part)
        assert np.abs(now.min(axis=0) - sheet.vertices.min(axis=0)).max() < 1e-6 and np.abs(now.max(axis=0) - sheet.vertices.max(axis=0)).max() < 1e-6


def test_one_side_is_laid_over_the_other(viewer):
    viewer.rig()
    viewer.compare_sides()
    assert viewer.differences == []
    viewer.values = {"left_hand_control.move_y": 0.1}
    off = viewer.differences
    assert {one.name for one in off} >= {"right_wrist_joint", "right_elbow_joint"} and all(one.name.startswith("right_") for one in off)
    viewer.values = {"left_hand_control.move_y": 0.1, "right_hand_control.move_y": 0.1}
    assert viewer.differences == []
    with pytest.raises(ValueError, match="source is 'top'"):
        viewer.compare_sides("top")


def test_a_switch_shows_before_or_after_and_the_other_as_a_faint_copy(viewer, character):
    before, after = character.rig.pose(), character.rig.pose({"left_hand_control.move_y": 0.1})
    viewer.before_after(before, after)
    wrist = viewer.figure.part_points("left_wrist_collar").copy()
    assert "this is after" in viewer.text() and viewer.differences[0].metres > 0.09
    viewer.panel._switch.value = "before"
    assert "this is before" in viewer.text() and np.abs(viewer.figure.part_points("left_wrist_collar") - wrist).max() > 0.09
    viewer.switch("after")
    assert viewer.panel._switch.value == "after" and viewer.figure.part_points("left_wrist_collar") == pytest.approx(wrist)
    viewer.before_after(OWN, EXPECTED)
    assert viewer.differences[0].metres == pytest.approx(0.05)
    with pytest.raises(ValueError, match="not of one kind"):
        viewer.before_after(before, OWN)


def test_what_can_not_be_compared_is_told(viewer, character):
    with pytest.raises(ValueError, match="2 names came for 3 points"):
        viewer.compare(np.array(list(EXPECTED.values())), ["a", "b"])
    with pytest.raises(ValueError, match="one pose of the character's skeleton"):
        viewer.compare(character.rig.pose({"left_hand_control.move_y": [0.0, 0.1]}))
    with pytest.raises(ValueError, match=r"call viewer.compare\(...\) first"):
        viewer.differences
    with pytest.raises(ValueError, match="no joint of the left side is drawn"):
        viewer.compare_sides()
