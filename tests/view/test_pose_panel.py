"""Posing a whole rig in the Viewer: outlines, circles and sliders move it, one message a frame, and everything can be taken back."""

import ipywidgets
import numpy as np
import pytest
from ipywidgets.widgets import widget as registry

from rigkit.control import Control, moves
from rigkit.links import Follow
from rigkit.rig import Rig
from rigkit.robot.rig import rigged_tally
from rigkit.skeleton import Skeleton
from rigkit.view import Viewer, circles
from tests.view.test_handles import seen_at

HAND, ELBOW, FOOT, BODY = "left_hand_control", "left_elbow_control", "left_foot_control", "centre_body_control"


@pytest.fixture(scope="module")
def character():
    return rigged_tally()


@pytest.fixture
def viewer(character):
    made = Viewer(character, "Tally's rig")
    made.rig()
    made.pick(HAND)
    yield made
    made.close()


@pytest.fixture
def live(monkeypatch):
    monkeypatch.delenv("RIGKIT_OUTPUT", raising=False)


def pixel(viewer, point):
    return viewer.eye.pixels(point, viewer.size)[:2]


def place(viewer, control):
    return viewer.posed.frame(control)[1]


def drag(viewer, start, *shifts, release=True):
    """Press at a pixel, move by each shift (x, y), release."""
    start = np.asarray(start, dtype=float)
    events = [("mousemove", (0, 0)), ("mousedown", (0, 0)), *(("mousemove", shift) for shift in shifts), *([("mouseup", shifts[-1])] if release else [])]
    for kind, shift in events:
        viewer._mouse(kind, seen_at(viewer.eye, start + shift))


def circle(viewer, channel):
    return next(c for c in viewer.panel._circles() if c.channel == channel)


def turn_by(viewer, channel, angle):
    """Drag along a circle of the picked control, in small steps."""
    drawn = circle(viewer, channel)
    start = pixel(viewer, drawn.at(drawn.value))
    ways = [pixel(viewer, drawn.at(drawn.value + angle * t)) - start for t in np.linspace(0, 1, 8)[1:]]
    drag(viewer, start, *ways)


# dragging

def test_a_dragged_control_stays_under_the_pointer_and_the_whole_model_follows(viewer):
    viewer.look("front")
    wrist, start = viewer.figure.part_points("left_wrist_collar").mean(axis=0), pixel(viewer, place(viewer, HAND))
    drag(viewer, start, (20, -15), (40, -30))
    assert pixel(viewer, place(viewer, HAND)) == pytest.approx(start + [40, -30], abs=0.1)
    moved = viewer.figure.part_points("left_wrist_collar").mean(axis=0) - wrist
    joint = viewer.character.skeleton.index("left_wrist_joint")
    assert moved == pytest.approx(viewer.posed.positions[joint] - viewer.figure.rest.positions[joint], abs=0.01) and moved[0] > 0.05
    assert set(viewer.values) == {f"{HAND}.move_x", f"{HAND}.move_y"}  # the front view's plane


def test_a_press_on_an_outline_picks_its_control_and_a_shaky_one_moves_nothing(viewer):
    outline = viewer.panel._lines
    rows = outline._owner == outline.names.index("right_hand_control")
    drag(viewer, pixel(viewer, outline.starts[rows][0]), (2, 0))
    assert viewer.panel.rigged.picked == viewer.panel._list.value == "right_hand_control" and viewer.values == {}
    assert viewer.text().splitlines()[-1] == "right hand control: at home"


def test_a_press_beside_everything_turns_the_view(viewer):
    viewer._mouse("mousedown", seen_at(viewer.eye, (10, 10)))
    assert viewer.panel._turning and not viewer.panel._holding


def test_a_drag_along_a_circle_turns_by_one_number_and_stops_at_the_end_of_its_range(viewer):
    viewer.values = {f"{HAND}.blend": 0.0}
    viewer.look("side")
    viewer.pick(ELBOW)
    high = viewer.panel.rigged.rig.channel(f"{ELBOW}.turn_z").high
    turn_by(viewer, "turn_z", 0.8)
    assert viewer.values == {f"{HAND}.blend": 0.0, f"{ELBOW}.turn_z": pytest.approx(0.8, abs=0.03)}
    turn_by(viewer, "turn_z", high)
    assert viewer.values[f"{ELBOW}.turn_z"] == pytest.approx(high)
    assert "turn z is at the end" in viewer.text() and circles.layer(viewer.panel._circles()).words[0].text == "Z at its end"


def test_leaving_the_picture_ends_a_drag(viewer):
    start = pixel(viewer, place(viewer, HAND))
    drag(viewer, start, (15, 0), release=False)
    viewer._mouse("mouseleave", seen_at(viewer.eye, (639, 10)))
    before = viewer.values
    viewer._mouse("mousemove", seen_at(viewer.eye, start + [60, 0]))
    assert viewer.values == before != {} and not viewer.panel._holding


# sliders and buttons: keyboard alone

def slider(viewer, channel):
    return viewer.panel._dials[channel].widget


def test_every_open_number_of_the_picked_control_has_a_slider_with_its_unit_and_range_and_no_closed_one_has(viewer):
    viewer.pick(ELBOW)
    assert list(viewer.panel._dials) == ["turn_z"]
    made, channel = slider(viewer, "turn_z"), viewer.panel.rigged.rig.channel(f"{ELBOW}.turn_z")
    assert made.description == "turn z (deg)" and (made.min, made.max) == (round(np.degrees(channel.low)), round(np.degrees(channel.high)))
    assert "from -8" in made.tooltip and "to 92" in made.tooltip
    viewer.pick(FOOT)
    assert {"roll", "tilt", "swivel", "move_x"} <= set(viewer.panel._dials) and slider(viewer, "move_x").description == "move x (m)"


def test_a_slider_rolls_the_foot_and_undo_and_home_bring_it_back(viewer):
    viewer.pick(FOOT)
    ankle = viewer.posed.frame("left_ankle_joint")[1]
    for degrees in range(1, 21):
        slider(viewer, "roll").value = float(degrees)
    assert viewer.values == {f"{FOOT}.roll": pytest.approx(np.radians(20))}
    assert viewer.posed.frame("left_ankle_joint")[1][1] > ankle[1] + 0.01
    viewer.panel.undo()
    assert viewer.values == {} and slider(viewer, "roll").value == 0
    slider(viewer, "tilt").value = 10.0
    viewer.pick(BODY)
    slider(viewer, "move_y").value = -0.05
    viewer.home(BODY)
    assert set(viewer.values) == {f"{FOOT}.tilt"}
    viewer.home()
    assert viewer.values == {} and viewer.code.startswith("pose = {}")
    assert viewer.figure.part_points("left_heel_block") == pytest.approx(Viewer(viewer.character).figure.part_points("left_heel_block"), abs=1e-9)


def test_a_slider_beyond_its_first_range_is_replaced_and_no_widget_is_left(viewer):
    count = len(registry._instances)
    viewer.values = {f"{HAND}.move_x": 3.0}
    assert slider(viewer, "move_x").value == 3.0 and slider(viewer, "move_x") in viewer.panel._box.children
    viewer.pick(ELBOW)
    viewer.pick(HAND)
    assert len(registry._instances) == count


def test_the_start_can_be_shown_and_what_is_now_lies_over_it_as_a_faint_copy(viewer, character):
    viewer.rig(values={f"{FOOT}.roll": 0.3})
    viewer.values = {f"{FOOT}.roll": 0.3, f"{HAND}.move_z": 0.2}
    viewer.show_start()
    assert viewer.posed.positions == pytest.approx(character.rig.pose({f"{FOOT}.roll": 0.3}).positions, abs=1e-12)
    assert viewer.values[f"{HAND}.move_z"] == 0.2 and "the pose at the start" in viewer.text() and viewer.panel._start.value
    faint = viewer.panel._faint_now().glyphs[0].points
    assert len(faint) < 15 and np.abs(faint - character.rig.pose(viewer.values).frame("left_wrist_joint")[1]).sum(axis=1).min() < 1e-9
    viewer.show_start(False)
    assert viewer.posed.positions == pytest.approx(character.rig.pose(viewer.values).positions, abs=1e-12)


def test_values_that_are_set_are_the_pose_and_wrong_ones_are_told(viewer, character):
    viewer.values = {f"{HAND}.move_y": 0.15, "centre_whole_control.size": 1.5}
    assert viewer.posed.positions == pytest.approx(character.rig.pose(viewer.values).positions, abs=1e-12)
    drum = viewer.figure.part_points("body_drum")
    viewer.values = {}
    assert np.ptp(drum, axis=0) == pytest.approx(1.5 * np.ptp(viewer.figure.part_points("body_drum"), axis=0))
    with pytest.raises(ValueError, match="no control is called 'left_hnd_control'"):
        viewer.values = {"left_hnd_control.move_y": 0.1}
    with pytest.raises(ValueError, match="no control called 'hand' is to be posed here"):
        viewer.pick("hand")


def test_in_words_alone_it_tells_the_picked_control_its_ranges_and_what_is_off(viewer):
    viewer.pick(FOOT)
    viewer.values = {f"{FOOT}.roll": np.radians(80)}
    told = viewer.text()
    for expected in ("picked       left foot control", "roll         80.0 degrees, from -45.0 to 90.0; 10.0 degrees left", "1 number of 1 control"):
        assert expected in told, told


def test_a_press_while_the_start_is_shown_goes_on_from_the_pose_as_it_is_now(viewer):
    viewer.values = {f"{HAND}.move_y": 0.1}
    viewer.show_start()
    drag(viewer, pixel(viewer, place(viewer, HAND)), (20, 0))
    assert not viewer.panel.shows_start and viewer.values[f"{HAND}.move_y"] == pytest.approx(0.1, abs=0.03)
    viewer.undo()
    assert viewer.values == {f"{HAND}.move_y": 0.1}


# what it needs

def test_a_small_rig_of_ones_own_works_without_a_model_and_without_outlines():
    control = Control("centre_body_control", [0, 1, 0], channels=moves("xy"))
    rig = Rig(Skeleton(["centre_body_joint"], [-1], [[0, 1, 0]]), [control], [Follow("centre_body_joint", "centre_body_control")])
    viewer = Viewer()
    viewer.rig(rig)
    assert list(viewer.panel._dials) == ["move_x", "move_y"] and viewer.panel.widget.children[1] is not viewer.panel._list
    viewer.look("front")
    drag(viewer, pixel(viewer, (0, 1, 0)), (30, 0))
    assert list(viewer.values) == ["centre_body_control.move_x"] and viewer.posed.positions[0][0] > 0.05
    turns, places, sizes = viewer.posed.frames(["centre_body_control", "centre_body_joint"])
    assert places == pytest.approx(np.array([viewer.posed.frame(name)[1] for name in ("centre_body_control", "centre_body_joint")]))
    assert turns.shape == (2, 4) and sizes.tolist() == [1.0, 1.0]
    viewer.close()


def test_a_rig_of_other_joints_or_none_is_refused(character):
    bare = Viewer()
    bare.rig(character.rig, [HAND])
    assert len(bare.panel.layer().glyphs) > 40  # without a model the joints are drawn
    bare.close()
    lone = Viewer(character)
    lone.character = type("C", (), {"skeleton": type("S", (), {"names": ("left_wrist_joint",)})(), "rig": character.rig})()
    with pytest.raises(ValueError, match="the rig's joints are not the character's"):
        lone.rig()
    with pytest.raises(ValueError, match=r"no rig is posed in this viewer yet; call viewer.rig\(...\) first"):
        lone.values
    lone.character = None
    with pytest.raises(ValueError, match="there is no rig to pose"):
        lone.rig()


# messages

def test_a_frame_of_a_drag_is_one_binary_message_and_picking_leaves_no_rows_behind(viewer, live, monkeypatch):
    viewer._repr_mimebundle_()
    viewer._pace._seconds = 3600
    viewer.pick(BODY)
    pages = {name: page.used for name, page in viewer._stage.pages.items()}
    for control in (HAND, FOOT, BODY):
        viewer.pick(control)
    assert {name: page.used for name, page in viewer._stage.pages.items()} == pages
    viewer.values = {f"{FOOT}.roll": 0.4, f"{BODY}.move_y": -0.02}
    viewer.pick(HAND)
    start, sent = pixel(viewer, place(viewer, HAND)), []
    drag(viewer, start, (10, 0), release=False)
    monkeypatch.setattr(ipywidgets.Widget, "_send", lambda self, msg, buffers=None: sent.append((type(self).__name__, len(buffers or []))))
    viewer._mouse("mousemove", seen_at(viewer.eye, start + [14, 3]))  # the body and the foot, moved before, are not sent again
    assert sent == [("InterleavedBuffer", 1)]


def test_closing_leaves_no_widget_behind(character, live):
    before = set(registry._instances)
    made = Viewer(character, "to be closed")
    made.rig()
    made._repr_mimebundle_()
    made.pick(HAND)
    made.compare(character.rig.pose({f"{HAND}.move_y": 0.1}))
    made.before_after(character.rig.pose(), character.rig.pose({f"{HAND}.move_y": 0.1}))
    made.close()
    assert {type(registry._instances[k]).__name__ for k in set(registry._instances) - before} == set()
