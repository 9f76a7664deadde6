"""A rig as a learner poses it: ranges held and told, undo, home, code; circles that turn by one number and show where it ends."""

import re

import numpy as np
import pytest

from rigkit import rotation
from rigkit.control import Channel, Control, moves, turns
from rigkit.robot.rig import tally_rig
from rigkit.view import circles
from rigkit.view.eye import VIEWS, looking
from rigkit.view.posed_rig import PosedRig
from tests.view.test_handles import SIZE, seen_at

HAND, ELBOW, FOOT = "left_hand_control", "left_elbow_control", "left_foot_control"


@pytest.fixture
def posed():
    return PosedRig(tally_rig())


def test_a_value_is_held_in_its_range_and_what_is_left_is_told_before_it_is_used_up(posed):
    posed.picked = FOOT
    for asked, told in ((60, "60.0 degrees, from -45.0 to 90.0; 30.0 degrees left"), (400, "90.0 degrees, from -45.0 to 90.0; at its high end")):
        posed.set(f"{FOOT}.roll", np.radians(asked))
        assert ("roll", told) in posed.rows()
    assert posed.values[f"{FOOT}.roll"] == pytest.approx(np.pi / 2) and "roll is at the end" in posed.told(posed.pose())
    assert posed.near("roll") and not posed.near("tilt")
    posed.set(f"{FOOT}.roll", 0.5)
    assert "roll 28.6 degrees (61.4 left)" in posed.told(posed.pose()) and not posed.near("roll")


def test_the_code_gives_the_pose_back(posed):
    posed.take({f"{HAND}.move_y": 0.1, f"{HAND}.turn_x": 0.3, f"{FOOT}.roll": np.radians(35)})
    names = {}
    exec(posed.code, names)
    assert posed.rig.pose(names["pose"]).positions == pytest.approx(posed.pose().positions, abs=2e-5)
    assert re.search(r'"left_foot_control.roll": 0.61087,  # 35.0 degrees', posed.code) and "move_x" not in posed.code


def test_moves_and_turns_given_as_a_whole_are_the_same_pose(posed):
    given = {f"{HAND}.move": (0.05, 0.1, 0.02), f"{HAND}.turn": rotation.from_axis_angle([0, 1, 0], 0.4)}
    posed.take(given)
    assert posed.pose().positions == pytest.approx(posed.rig.pose(given).positions, abs=1e-9)
    assert posed.values[f"{HAND}.turn_y"] == pytest.approx(0.4)


def test_undo_takes_back_a_drag_as_one_step_and_home_as_another(posed):
    drag = object()
    for value in (0.1, 0.2, 0.3):
        posed.set(f"{HAND}.move_y", value, drag)
    posed.set(f"{HAND}.curl", 0.5)
    posed.home(HAND)
    assert posed.changed() == {}
    assert posed.undo() and posed.changed() == {f"{HAND}.move_y": 0.3, f"{HAND}.curl": 0.5}
    assert posed.undo() and posed.undo() and posed.changed() == {} and not posed.undo()


def test_a_control_stands_where_it_is_dragged_to_though_what_it_stands_on_is_turned_and_larger(posed):
    posed.take({"centre_whole_control.turn_y": 0.7, "centre_whole_control.size": 2.0, "centre_body_control.turn_z": 0.2})
    pose, place = posed.pose(), np.array([0.6, 1.3, 0.4])
    posed.stand_at(HAND, place, pose.base(HAND), pose.size_of(HAND))
    assert posed.pose().frame(HAND)[1] == pytest.approx(place, abs=1e-9)


def test_what_moves_nothing_is_known_and_why(posed):
    assert {ELBOW, "left_shoulder_control", "left_ball_control"} <= posed.idle() and HAND not in posed.idle()
    posed.picked = ELBOW
    assert "it moves nothing as the rig stands: left_hand_control.blend is 1, so the limb follows its target" in posed.told(posed.pose(), posed.idle())
    posed.set(f"{HAND}.blend", 0.0)
    assert ELBOW not in posed.idle()


def test_a_target_out_of_reach_is_told_in_millimetres(posed):
    posed.picked = HAND
    assert re.match(r"\d+\.\d mm left until straight", dict(posed.limb_rows(posed.pose()))["left wrist"])
    posed.set(f"{HAND}.move_z", 1.0)
    pose = posed.pose()
    short = float(dict(posed.limb_rows(pose))["left wrist"].split()[1])
    wrist = pose.positions[posed.rig.skeleton.index("left_wrist_joint")]
    assert short == pytest.approx(1000 * np.linalg.norm(pose.frame(HAND)[1] - wrist), abs=0.06)


def test_only_what_is_asked_for_is_offered_and_nothing_is_refused(posed):
    few = PosedRig(posed.rig, [FOOT, HAND], ["roll", "tilt"])
    assert few.names == [FOOT] and [c.name for c in few.channels[FOOT]] == ["roll", "tilt"]
    with pytest.raises(ValueError, match="no open channel is left to pose by"):
        PosedRig(posed.rig, HAND, "roll")
    with pytest.raises(ValueError, match="no control is called 'left_hnd_control'; near it: left_hand_control"):
        PosedRig(posed.rig, ["left_hnd_control"])


# circles

TURNED = Control("left_arm_control", [0.2, 0.7, 0.1], rotation.from_axis_angle([0.6, 0.0, 0.8], 0.5), (*moves(), *turns()), order="ZXY")


def turn_of(values):
    """The control's turn in the world, its channels multiplied in its order (SciPy's intrinsic orders, as in rigkit.euler)."""
    local = rotation.from_euler(TURNED.order, [values[f"turn_{axis.lower()}"] for axis in TURNED.order])
    return rotation.multiply(TURNED.rotation, local)


@pytest.mark.parametrize("channel", ["turn_x", "turn_y", "turn_z"])
def test_a_circle_stands_square_to_the_axis_about_which_its_number_turns_now(channel):
    values = {"turn_x": 0.4, "turn_y": -0.9, "turn_z": 1.3}
    (circle,) = [c for c in circles.circles(TURNED, TURNED.rotation, TURNED.position, values, 0.1) if c.channel == channel]
    step = 1e-6
    turned = rotation.multiply(turn_of({**values, channel: values[channel] + step}), rotation.invert(turn_of(values)))
    axis, angle = rotation.to_axis_angle(turned)
    assert axis == pytest.approx(circle.axis, abs=1e-6) and angle == pytest.approx(step, rel=1e-5)
    knob = circle.at(values[channel]) - TURNED.position
    more = circle.at(values[channel] + 0.3) - TURNED.position
    assert rotation.rotate(rotation.from_axis_angle(circle.axis, 0.3), knob) == pytest.approx(more, abs=1e-12)


@pytest.mark.parametrize("view", VIEWS)
def test_a_drag_along_a_circle_turns_as_far_as_the_pointer_goes_round(view):
    """From the edge a circle is a line: there the value only has to go the right way."""
    eye = looking(view, TURNED.position, 0.6)
    for circle in circles.circles(TURNED, TURNED.rotation, TURNED.position, {}, circles.RADIUS * eye.metres_per_pixel(SIZE)):
        turning = circles.Turning(circle, eye, SIZE, seen_at(eye, eye.pixels(circle.at(0.0), SIZE)[:2]))
        for angle in np.linspace(0, 0.6, 7)[1:]:
            value = turning.value(eye, SIZE, seen_at(eye, eye.pixels(circle.at(angle), SIZE)[:2]))
        edge_on = abs(circle.axis @ eye.back) < circles.EDGE_ON
        assert value == pytest.approx(0.6, abs=0.45 if edge_on else 0.02), circle.channel


def test_a_full_round_is_counted_on_and_the_end_of_a_range_holds():
    eye = looking("front", (0, 0, 0), 0.6)
    for low, high, expected in ((-10.0, 10.0, 2 * np.pi + 0.5), (-0.2, 0.7, 0.7)):
        control = Control("centre_dial_control", [0, 0, 0], channels=(Channel("turn_z", 0.0, low, high),))
        (circle,) = circles.circles(control, rotation.IDENTITY, (0, 0, 0), {}, 0.08)
        turning = circles.Turning(circle, eye, SIZE, seen_at(eye, eye.pixels(circle.at(0), SIZE)[:2]))
        for angle in np.linspace(0, 2 * np.pi + 0.5, 40):
            value = turning.value(eye, SIZE, seen_at(eye, eye.pixels(circle.at(angle), SIZE)[:2]))
        assert value == pytest.approx(expected, abs=0.01)


def test_the_allowed_range_is_drawn_with_stops_and_the_knob_changes_its_shape_before_the_end():
    control = Control("left_lid_control", [0, 0, 0], channels=(Channel("turn_z", 0.0, -0.5, 1.5),))
    shapes, texts = [], []
    for value in (0.3, 1.45, 1.5):
        drawn = circles.circles(control, rotation.IDENTITY, (0, 0, 0), {"turn_z": value}, 0.1)
        layer = circles.layer(drawn)
        shapes.append(int(layer.glyphs[0].shapes[0]))
        texts.append(layer.words[0].text)
    assert texts == ["Z", "Z near its end", "Z at its end"] and len(set(shapes)) == 3
    allowed, out, stops = layer.strokes[0], layer.strokes[1], layer.strokes[2]
    angles = np.arctan2(allowed.starts[:, 1], allowed.starts[:, 0])
    assert angles.min() == pytest.approx(-0.5) and angles.max() < 1.5 and allowed.widths.min() > 2 * out.widths.max()
    assert np.arctan2(stops.starts[:, 1], stops.starts[:, 0]) == pytest.approx([-0.5, 1.5])


def test_at_a_crossing_the_circle_whose_knob_is_there_is_taken():
    eye = looking("perspective", (0, 0, 0), 0.6)
    drawn = circles.circles(Control("centre_ball_control", [0, 0, 0], channels=turns()), rotation.IDENTITY, (0, 0, 0), {}, 0.08)
    for circle in drawn:
        knob = eye.pixels(circle.at(circle.value), SIZE)[:2]
        assert circles.under(drawn, eye, SIZE, seen_at(eye, knob + [2, -2])) == circle.channel
    assert circles.under(drawn, eye, SIZE, seen_at(eye, (20, 20))) is None
