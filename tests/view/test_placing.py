"""Placing joints: snapping, the two coordinates a view shows, undo, and code that can be pasted."""

import numpy as np
import pytest

from rigkit import bend
from rigkit.view.eye import looking
from rigkit.view.marks import ring
from rigkit.view.placing import SNAP, Placement
from tests.view.test_handles import SIZE, seen_at

LOOPS = {"upper": ring((0.2, 0.8, 0.01), (0, 1, 0), 0.03), "lower": ring((0.21, 0.7, -0.02), (0, 1, 0), 0.03)}


@pytest.fixture
def placement():
    return Placement(["left_elbow", "left_wrist"], LOOPS)


@pytest.fixture
def front():
    return looking("front", (0.2, 0.75, 0), 0.4)


def at(eye, point, shift=(0, 0)):
    return seen_at(eye, eye.pixels(point, SIZE)[:2] + shift)


def test_a_click_near_a_loop_takes_its_exact_centre(placement, front):
    point, label = placement.aim(front, SIZE, at(front, (0.21, 0.7, 0), (SNAP / 2, -SNAP / 2)))
    assert label == "lower" and point == pytest.approx((0.21, 0.7, -0.02), abs=1e-12)


def test_of_two_loops_the_nearer_is_taken(placement):
    far = looking("front", (0.2, 0.75, 0), 4.0)  # both centres within reach of the pointer
    assert placement.near(far, SIZE, at(far, (0.2, 0.79, 0)))[0] == "upper"
    assert placement.near(far, SIZE, at(far, (0.21, 0.71, 0)))[0] == "lower"


def test_a_click_beside_all_loops_is_free(placement, front):
    point, label = placement.aim(front, SIZE, at(front, (0.1, 0.75, 0)))
    assert label is None and point[:2] == pytest.approx((0.1, 0.75), abs=1e-6)


def test_without_snapping_a_click_is_free_even_on_a_centre(placement, front):
    placement.snapping = False
    point, label = placement.aim(front, SIZE, at(front, (0.21, 0.7, 0), (5, 0)))
    assert label is None and point[0] == pytest.approx(0.21 + 5 * front.metres_per_pixel(SIZE), abs=1e-6)


def test_front_then_side_fixes_all_three_coordinates(placement, front):
    placement.snapping = False
    goal = np.array([0.24, 0.77, 0.055])
    placement.put(placement.aim(front, SIZE, at(front, goal))[0])
    placement.current = "left_elbow"
    side = looking("side", (0.2, 0.75, 0), 0.4)
    placement.put(placement.aim(side, SIZE, at(side, goal))[0])
    assert placement.places["left_elbow"] == pytest.approx(goal, abs=1e-6)


def test_after_placing_the_next_name_is_current(placement):
    placement.put((0, 0, 0))
    assert placement.current == "left_wrist"


def test_a_free_click_waits_for_the_one_from_another_view(placement, front):
    goal = np.array([0.1, 0.75, 0.055])
    point, label = placement.aim(front, SIZE, at(front, goal))
    placement.put(point, whole=label is not None)
    assert placement.current == "left_elbow"
    side = looking("side", (0.2, 0.75, 0), 0.4)
    placement.put(placement.aim(side, SIZE, at(side, goal))[0], whole=False)
    assert placement.places["left_elbow"] == pytest.approx(goal, abs=1e-6) and placement.places["left_wrist"] is None


def test_placing_again_does_not_move_on(placement):
    placement.put((0, 0, 0))
    placement.current = "left_elbow"
    placement.put((0, 1, 0))
    assert placement.current == "left_elbow"


def test_undo_takes_back_one_step_at_a_time(placement):
    placement.put((0, 0, 0))
    placement.current = "left_elbow"
    placement.nudge((0.001, 0, 0))
    assert placement.places["left_elbow"] == pytest.approx((0.001, 0, 0))
    assert placement.undo() and placement.places["left_elbow"] == pytest.approx((0, 0, 0))
    assert placement.undo() and placement.places["left_elbow"] is None and placement.current == "left_elbow"
    assert not placement.undo()


def test_the_code_gives_the_points_back_within_a_tenth_of_a_millimetre(placement):
    point = np.array([0.123456, -0.0000001, 1 / 3])
    placement.put(point)
    names = {}
    exec(placement.code, names)
    assert names["left_elbow"] == pytest.approx(point, abs=1e-5) and names["left_wrist"] is ...
    assert placement.code.splitlines()[0] == "left_elbow = (0.12346, 0.00000, 0.33333)"


def test_the_distance_to_the_nearest_loop_is_told(placement):
    placement.put((0.2, 0.803, 0.014))
    assert placement.off_centre("left_elbow") == ("upper", pytest.approx(0.005))


@pytest.mark.parametrize("names", [[], ["left elbow"], ["class"], [3]])
def test_names_that_are_no_python_names_are_refused(names):
    with pytest.raises(ValueError, match="names is empty|can't be a Python name"):
        Placement(names, LOOPS)


def test_bends_are_known_as_soon_as_a_joint_and_its_neighbours_are_placed_and_for_a_place_that_is_only_tried():
    """A right angle and a 3-4-5 triangle, by hand: atan(3/4) = 36.87 degrees."""
    limb = Placement(["shoulder", "elbow", "wrist"], {})
    limb.put((0, 1, 0))
    limb.put((0, 0, 0))
    assert limb.bends() == {}
    assert np.degrees(bend.angle(*limb.bends(at=(0, 0, 1))["elbow"])) == pytest.approx(90)
    limb.put((0.3, -0.4, 0))
    assert list(limb.bends()) == ["elbow"] and np.degrees(bend.angle(*limb.bends()["elbow"])) == pytest.approx(np.degrees(np.arctan2(3, 4)))
    limb.current = "wrist"
    limb.put((0, 0, 0))
    assert limb.bends() == {}, "a bone without a length bends nothing"
