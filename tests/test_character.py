"""Characters and their parts: what is refused, and how it is told."""

import numpy as np
import pytest

import rigkit as rk

SQUARE = rk.Mesh([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]], [[0, 1, 2, 3]])
ONES = np.ones((4, 1))
SKELETON = rk.Skeleton(["root", "tip"], [-1, 0], [[0, 0, 0], [1, 0, 0]])


def part(name="plate", joints=("root",), weights=ONES, **more):
    return rk.Part(name, SQUARE, joints, weights, **more)


def character(*parts, **more):
    return rk.Character("thing", SKELETON, parts, **more)


def test_a_part_keeps_its_weights_from_being_changed():
    weights = ONES.copy()
    made = part(weights=weights)
    weights[0] = 0
    assert (made.weights == 1).all()
    with pytest.raises(ValueError):
        made.weights[0] = 0


@pytest.mark.parametrize("change,told", [
    ({"weights": np.ones((3, 1))}, r"shape \(3, 1\); expected \(4, 1\)"),
    ({"weights": np.ones(4)}, r"shape \(4,\); expected \(4, 1\)"),
    ({"weights": [[1], [1], [0.9], [1]]}, "vertex 2.*sum of 1"),
    ({"joints": ("root", "tip"), "weights": [[1, 0], [1.5, -0.5], [1, 0], [1, 0]]}, "vertex 1.*none below zero"),
    ({"weights": [[1], [np.nan], [1], [1]]}, "finite"),
    ({"joints": ("root", "root"), "weights": np.full((4, 2), 0.5)}, "names a joint twice"),
    ({"kind": "soft"}, "kind 'soft'; expected one of hard, sleeve, hose"),
    ({"colour": "teal"}, "#rrggbb"),
])
def test_an_unsound_part_is_refused(change, told):
    with pytest.raises(ValueError, match=told):
        part(**change)


def test_a_part_bound_to_an_unknown_joint_is_refused():
    with pytest.raises(ValueError, match="plate is bound to 'elbow'"):
        character(part(joints=("elbow",)))


def test_two_parts_of_one_name_are_refused():
    with pytest.raises(ValueError, match="two parts called 'plate'"):
        character(part(), part())


def test_a_loop_of_an_unknown_landmark_or_part_is_refused():
    for loops in ({"middle": ("plate", [0, 1, 2])}, {"corner": ("board", [0, 1, 2])}):
        with pytest.raises(ValueError, match="expected a landmark and a part"):
            character(part(), landmarks={"corner": [0, 0, 0]}, loops=loops)


def test_landmarks_are_points_and_can_not_be_changed():
    thing = character(part(), landmarks={"corner": [0, 0, 0]}, hinges={"corner": [1, 0, 0]})
    assert thing.landmarks["corner"].dtype == np.float64
    with pytest.raises(ValueError):
        thing.hinges["corner"][0] = 5
    with pytest.raises(ValueError, match="corner"):
        character(part(), landmarks={"corner": [0, 0]})


def test_a_loop_is_found_by_its_landmark():
    thing = character(part(), landmarks={"corner": [0, 0, 0]}, loops={"corner": ("plate", [0, 1, 2])})
    assert thing.loop("corner").tolist() == [[0, 0, 0], [1, 0, 0], [1, 1, 0]]
    with pytest.raises(ValueError, match="no loop is known for 'edge'; thing has loops for corner"):
        thing.loop("edge")


def test_an_unknown_part_is_answered_with_those_near_it():
    thing = character(part("left_plate"), part("right_plate"), part("lid"))
    assert thing.part("lid").name == "lid"
    with pytest.raises(ValueError, match="no part is called 'left_board'; thing has, among others: left_plate$"):
        thing.part("left_board")
