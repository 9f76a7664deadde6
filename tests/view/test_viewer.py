"""The Viewer without a browser: what it says, what it sends, and that it cleans up after itself."""

import base64
import os
import threading
import time
from dataclasses import replace

import ipywidgets
import numpy as np
import pytest
import pythreejs
from ipywidgets.widgets import widget as registry

import rigkit as rk
from rigkit.view import Viewer, dials
from rigkit.view.desks import CLOSED, LIVE
from rigkit.view.eye import VIEWS
from tests.browser_support import image
from tests.view.test_handles import seen_at


@pytest.fixture(scope="module")
def robot():
    return rk.tally()


@pytest.fixture
def viewer(robot):
    made = Viewer(robot, caption="Tally, variant 0")
    yield made
    made.close()


@pytest.fixture
def live(monkeypatch):
    """Viewers show scenes, as in a learner's notebook."""
    monkeypatch.delenv("RIGKIT_OUTPUT", raising=False)


@pytest.fixture
def sent(monkeypatch):
    """Every message to the browser: (widget, its data, number of binary buffers)."""
    messages = []
    monkeypatch.setattr(ipywidgets.Widget, "_send", lambda self, msg, buffers=None: messages.append((self, msg, len(buffers or []))))
    return messages


def arm(robot):
    """Rest points of the left arm, a target in front of it, a pole point behind it, the solver."""
    root, mid, end = (robot.landmarks[f"left_{n}"] for n in ("shoulder", "elbow", "wrist"))
    return root, mid, end, end + [0.05, 0.15, 0.2], mid - [0, 0, 0.4], rk.limb.solve


def mouse(viewer, kind, pixel):
    viewer._mouse(kind, seen_at(viewer.eye, pixel))


def pixel_of(viewer, point):
    return viewer.eye.pixels(point, viewer.size)[:2]


# what it says

def test_where_output_is_text_a_viewer_is_its_caption_and_its_numbers(viewer, monkeypatch):
    monkeypatch.setenv("RIGKIT_OUTPUT", "text")
    viewer.table([("height", "1.2 m"), ("joints", "46")])
    assert viewer._repr_mimebundle_() == {"text/plain": "Tally, variant 0\n  height  1.2 m\n  joints  46"}


def test_showing_prints_the_text_and_returns_nothing(viewer, monkeypatch, capsys):
    monkeypatch.setenv("RIGKIT_OUTPUT", "text")
    assert viewer.show() is None
    assert "Tally, variant 0" in capsys.readouterr().out


def test_a_live_viewer_brings_scene_picture_and_text(viewer, live):
    bundle = viewer._repr_mimebundle_()
    assert set(bundle) == {"application/vnd.jupyter.widget-view+json", "image/png", "text/plain"}
    assert bundle["application/vnd.jupyter.widget-view+json"]["model_id"] == viewer.model_id
    assert base64.b64decode(bundle["image/png"]).startswith(b"\x89PNG")


def test_the_status_is_read_out_and_markup_in_words_stays_words(viewer):
    viewer.say("<b>bold</b> & true")
    assert 'role="status"' in viewer._status.value and "&lt;b&gt;bold&lt;/b&gt; &amp; true" in viewer._status.value


def test_the_numbers_are_a_table_with_headings(viewer):
    viewer.table([("bend", "12 degrees")])
    assert '<th scope="row"' in viewer._table.value and "12 degrees" in viewer._table.value and "<caption" in viewer._table.value


def test_every_button_has_words_and_a_hint(viewer):
    for made in viewer._bar.children:
        assert made.description and made.tooltip


# pictures

def test_the_still_picture_shows_the_robot(viewer):
    shown = image(viewer.picture(fine=1))
    empty = Viewer()
    empty.eye = viewer.eye
    bare = image(empty.picture(fine=1))
    empty.close()
    changed = (np.abs(shown - bare).sum(axis=2) > 30).mean()
    assert 0.05 < changed < 0.5


def test_see_through_changes_the_picture_and_joints_can_be_seen_in_it(viewer, robot):
    solid = image(viewer.picture(fine=1))
    viewer.see_through(True)
    glass = image(viewer.picture(fine=1))
    viewer.joints([robot.landmarks["left_elbow"]], ["left_elbow_joint"])
    marked = image(viewer.picture(fine=1))
    x, y = pixel_of(viewer, robot.landmarks["left_elbow"]).astype(int)
    assert np.abs(solid - glass).sum() > 1e6
    assert marked[y, x] == pytest.approx([0x56, 0xB4, 0xE9], abs=6) and glass[y, x] != pytest.approx([0x56, 0xB4, 0xE9], abs=60)


# views and picking

def elsewhere(robot, turn, move):
    """The robot's model with all points carried elsewhere; its skeleton is left behind."""
    return replace(robot, parts=[replace(part, mesh=part.mesh.moved(part.mesh.vertices @ turn.T + move)) for part in robot.parts])


ON_ITS_BACK = np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]])


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("turn,move", [(np.eye(3), (0, 0, 0)), (np.eye(3), (-1.8, 0.2, 3)), (ON_ITS_BACK, (-1.8, 1.0, 0.7)), (10 * np.eye(3), (50, 0, -80))])
def test_a_model_is_framed_wherever_it_stands(robot, turn, move, view):
    moved = elsewhere(robot, np.asarray(turn), np.asarray(move))
    made = Viewer(moved)
    made.look(view)
    points = np.concatenate([part.mesh.vertices for part in moved.parts])
    x, y, depth = made.eye.pixels(points, made.size).T
    assert (depth > 0).all() and x.min() > 0 and x.max() < made.size[0] and y.min() > 0 and y.max() < made.size[1]
    assert max(np.ptp(x) / made.size[0], np.ptp(y) / made.size[1]) > 0.3
    made.close()


def test_focus_frames_a_part(viewer, robot):
    viewer.focus("left_elbow_sleeve", 0.3)
    vertices = robot.part("left_elbow_sleeve").mesh.vertices
    pixels = viewer.eye.pixels(vertices, viewer.size)
    assert (pixels[:, :2] > 0).all() and (pixels[:, :2] < viewer.size).all()
    assert viewer.eye.height == pytest.approx(0.3 * viewer.size[1] / viewer.size[0])


def test_looking_elsewhere_keeps_what_is_looked_at_and_how_near(viewer):
    viewer.focus((0.2, 0.6, 0.0), 0.4)
    height = viewer.eye.height
    viewer.look("side")
    assert viewer.eye.target == pytest.approx((0.2, 0.6, 0)) and viewer.eye.height == height and viewer.eye.parallel


def test_a_click_on_a_part_tells_its_name_and_its_size(viewer, robot):
    viewer.look("front")
    at = pixel_of(viewer, np.mean(robot.part("left_forearm_tube").mesh.vertices, axis=0))
    mouse(viewer, "mousedown", at)
    mouse(viewer, "mouseup", at)
    assert viewer.text().splitlines()[-1].startswith("left_forearm_tube, ") and "mm, follows left_elbow_joint" in viewer.text()


def test_a_click_on_a_joint_tells_its_name_and_its_place(viewer, robot):
    viewer.look("front")
    viewer.joints([robot.landmarks["left_knee"]], ["left_knee_joint"])
    at = pixel_of(viewer, robot.landmarks["left_knee"]) + [4, 3]
    mouse(viewer, "mousedown", at)
    mouse(viewer, "mouseup", at)
    assert viewer.text().splitlines()[-1].startswith("left_knee_joint at (")


def test_turning_the_view_is_no_click(viewer):
    viewer.say("quiet")
    mouse(viewer, "mousedown", (300, 200))
    mouse(viewer, "mouseup", (360, 220))
    assert viewer.text().splitlines()[-1] == "quiet"


# posing

def test_a_pose_moves_the_parts_of_the_joint_and_no_others(viewer, robot):
    turned = np.array([robot.skeleton.rest_rotations[j] for j in range(len(robot.skeleton.names))])
    j = robot.skeleton.index("left_elbow_joint")
    turned[j] = rk.rotation.multiply(turned[j], rk.rotation.from_axis_angle([0, 0, 1], 0.8))
    before = {n: viewer.figure.part_points(n).copy() for n in ("left_forearm_tube", "left_upper_arm_tube", "right_forearm_tube")}
    viewer.pose(turned)
    moved = {n: np.abs(viewer.figure.part_points(n) - before[n]).max() for n in before}
    assert moved["left_forearm_tube"] > 0.05 and moved["left_upper_arm_tube"] < 1e-12 and moved["right_forearm_tube"] == 0
    viewer.pose()
    assert viewer.figure.part_points("left_forearm_tube") == pytest.approx(before["left_forearm_tube"])


def test_without_a_character_a_pose_is_refused_and_joints_still_show():
    bare = Viewer(caption="points only")
    bare.joints({"left_hip": (0.1, 1, 0), "left_knee": (0.1, 0.5, 0.02)})
    assert "left_knee" in bare.text()
    with pytest.raises(ValueError, match=r"pose needs a viewer with a character: Viewer\(robot\)"):
        bare.pose()
    bare.close()


# placing

def loops_of(robot, part):
    mesh = robot.part(part).mesh
    return {f"{part} {i}": mesh.vertices[loop] for i, loop in enumerate(rk.mesh.loops(mesh))}


def test_a_click_places_a_joint_on_a_loop_and_the_code_runs(viewer, robot):
    loops = loops_of(robot, "left_elbow_sleeve")
    viewer.look("front")
    viewer.focus("left_elbow_sleeve", 0.2)
    viewer.place(["left_elbow", "left_wrist"], loops)
    label = list(loops)[5]
    centre = rk.placement.area_centre(loops[label])
    mouse(viewer, "mousemove", pixel_of(viewer, centre) + [2, 1])
    assert label in viewer.text().splitlines()[-1] and "a click places left_elbow there" in viewer.text()
    mouse(viewer, "mousedown", pixel_of(viewer, centre) + [2, 1])
    mouse(viewer, "mouseup", pixel_of(viewer, centre) + [2, 1])
    names = {}
    exec(viewer.code, names)
    assert names["left_elbow"] == pytest.approx(centre, abs=1e-4) and names["left_wrist"] is ...


def test_the_readout_promises_a_loop_only_while_the_pointer_is_near_its_centre(viewer, robot):
    loops = loops_of(robot, "left_elbow_sleeve")
    viewer.look("front")
    viewer.focus("left_elbow_sleeve", 0.2)
    viewer.place(["left_elbow", "left_wrist"], loops)
    centre = pixel_of(viewer, rk.placement.area_centre(loops[list(loops)[5]]))
    mouse(viewer, "mousemove", centre)
    mouse(viewer, "mousemove", centre + [150, 0])
    assert "no loop's centre is near" in viewer.text() and "there" not in viewer.text().splitlines()[-1]
    mouse(viewer, "mousedown", centre + [150, 0])
    mouse(viewer, "mouseup", centre + [150, 0])
    assert "click again from another view" in viewer.text().splitlines()[-1]
    assert viewer._panel.placement.current == "left_elbow"


def test_all_a_click_does_can_be_done_by_keyboard(viewer, robot):
    loops = loops_of(robot, "left_knee_sleeve")
    viewer.place(["left_knee"], loops)
    panel = viewer._panel
    panel._loop.value = list(loops)[3]
    centre = rk.placement.area_centre(loops[list(loops)[3]])
    assert panel.placement.places["left_knee"] == pytest.approx(centre)
    panel._numbers[1].value = panel._numbers[1].value + 2.0
    assert panel.placement.places["left_knee"] == pytest.approx(centre + [0, 0.002, 0], abs=2e-5)
    panel.undo()
    assert panel.placement.places["left_knee"] == pytest.approx(centre)
    assert panel._code.value == viewer.code


def test_the_readout_stands_right_under_its_canvas_so_that_a_narrow_window_shows_both(viewer, live):
    viewer._repr_mimebundle_()
    (desk,) = viewer._desks
    under = desk._row.children[0]
    assert under.children == (desk._canvas.renderer, viewer._status)


# a limb

def test_the_arm_follows_its_target(viewer, robot):
    viewer.limb(*arm(robot))
    wrist = viewer.figure.part_points("left_wrist_collar").mean(axis=0)
    viewer.target = viewer.target + [0.0, 0.1, 0.05]
    moved = viewer.figure.part_points("left_wrist_collar").mean(axis=0)
    s = rk.limb.solve(*arm(robot)[:3], viewer.target, viewer.pole)
    assert np.linalg.norm(moved - wrist) > 0.05 and s.reached
    assert ("wrist", f"{rk.words.point(s.end)} m") in viewer._panel.numbers()


def test_a_dragged_target_and_a_dragged_pole_follow_the_pointer(viewer, robot):
    viewer.limb(*arm(robot))
    for name in ("target", "pole"):
        start = pixel_of(viewer, getattr(viewer, name))
        for kind, shift in (("mousedown", 0), ("mousemove", 10), ("mousemove", 20), ("mouseup", 25)):
            mouse(viewer, kind, start + [shift, -shift])
        assert pixel_of(viewer, getattr(viewer, name)) == pytest.approx(start + [25, -25], abs=1.0)
        assert viewer._panel._drag.held is None


def test_leaving_the_picture_ends_a_drag(viewer, robot):
    viewer.limb(*arm(robot))
    start = pixel_of(viewer, viewer.target)
    for kind, shift in (("mousedown", 0), ("mousemove", 10), ("mouseleave", 200), ("mousemove", 60)):
        mouse(viewer, kind, start + [shift, 0])
    assert pixel_of(viewer, viewer.target) == pytest.approx(start + [10, 0], abs=1.0)


def told(sent):
    """(widget, keys of its state, binary buffers) of each message."""
    return [(type(w).__name__, list(m["state"]), n) for w, m, n in sent if "state" in m]


FRAME, WORDS = ("InterleavedBuffer", ["array"], 1), ("HTML", ["value"], 0)


def test_a_frame_of_a_drag_is_one_binary_message_and_now_and_then_two_short_ones(viewer, robot, live, sent):
    viewer.limb(*arm(robot))
    viewer._repr_mimebundle_()
    viewer._pace._seconds = 3600
    start = pixel_of(viewer, viewer.target)
    mouse(viewer, "mousemove", start)
    mouse(viewer, "mousedown", start)
    sent.clear()
    mouse(viewer, "mousemove", start + [7, 3])
    assert told(sent) == [FRAME, WORDS, WORDS] and len(sent) == 3
    sent.clear()
    mouse(viewer, "mousemove", start + [9, 4])
    assert told(sent) == [FRAME] and len(sent) == 1


def test_table_and_readout_follow_a_drag_and_end_on_its_last_place(viewer, robot):
    viewer.limb(*arm(robot))
    start, seen = pixel_of(viewer, viewer.target), []
    mouse(viewer, "mousedown", start)
    viewer._table.observe(lambda change: seen.append(change["new"]), names="value")
    began = time.monotonic()
    for step in range(1, 31):
        mouse(viewer, "mousemove", start + [step, -step])
    assert 1 <= len(seen) <= (time.monotonic() - began) / 0.1 + 1 and 'aria-busy="true"' in viewer._status.value
    end = time.monotonic() + 20
    while f"{rk.words.point(viewer.target)} m" not in viewer._table.value and time.monotonic() < end:
        time.sleep(0.02)
    assert f"{rk.words.point(viewer.target)} m" in viewer._table.value  # the pointer rests, the button is still down
    mouse(viewer, "mouseup", start + [40, -40])
    assert f"{rk.words.point(viewer.target)} m" in viewer._table.value and "aria-busy" not in viewer._status.value
    assert viewer._panel.told() in viewer._status.value


def test_the_sliders_move_the_target_and_the_pole(viewer, robot):
    viewer.limb(*arm(robot))
    sliders = viewer._panel._sliders._widgets
    before = viewer.target
    sliders["target", 1].value += 0.05
    assert viewer.target == pytest.approx([before[0], sliders["target", 1].value, before[2]], abs=0)
    root, pole, axis = arm(robot)[0], viewer.pole, viewer.target - arm(robot)[0]
    sliders["swivel"].value = 90
    turned = viewer.pole
    assert np.linalg.norm(turned - root) == pytest.approx(np.linalg.norm(pole - root))
    assert (turned - root) @ axis == pytest.approx((pole - root) @ axis)
    assert sliders["swivel"].value == 90
    sliders["swivel"].value = 0
    assert viewer.pole == pytest.approx(pole)


def test_the_swivel_can_be_read_after_the_pole_was_set_or_dragged(viewer, robot):
    root, mid, end, target, pole, solve = arm(robot)
    viewer.limb(root, mid, end, target, pole, solve)
    swivel = viewer._panel._sliders._widgets["swivel"]
    quarter = rk.rotation.from_axis_angle((target - root) / np.linalg.norm(target - root), np.radians(90))
    viewer.pole = root + rk.rotation.rotate(quarter, pole - root)
    assert swivel.value == 90 and viewer._panel.swivel == pytest.approx(90)
    swivel.value = 100
    assert rk.words.point(viewer.pole) == rk.words.point(
        root + rk.rotation.rotate(rk.rotation.from_axis_angle((target - root) / np.linalg.norm(target - root), np.radians(100)), pole - root))
    viewer.pole = pole
    assert swivel.value == 0


def snapped(widget):
    """What a slider in the browser does when it is shown or set: it reports the nearest value of its grid, not free of rounding."""
    steps = round((widget.value - widget.min) / widget.step)
    widget.value = min(max(widget.min + steps * widget.step * (1 + 1e-12), widget.min), widget.max)


def test_what_code_set_stays_exact_when_the_browser_shows_the_sliders(viewer, robot):
    root, mid, end, _, _, solve = arm(robot)
    pole = mid - [0.0123456, 0, 0.4006789]
    viewer.limb(root, mid, end, end, pole, solve)
    for _ in range(2):
        for widget in viewer._panel._sliders._widgets.values():
            snapped(widget)
        assert (viewer.target == end).all() and (viewer.pole == pole).all()
        viewer.target, viewer.pole = end, pole
    assert np.linalg.norm(viewer._panel.solution.end - end) < 1e-9


def test_a_late_echo_of_an_earlier_value_moves_nothing(viewer, robot, monkeypatch):
    monkeypatch.setattr(dials, "ECHO", 3600)
    viewer.limb(*arm(robot))
    widget = viewer._panel._sliders._widgets["target", 0]
    first = viewer.target + [0.1, 0, 0]
    viewer.target = first
    early = widget.value
    viewer.target = last = first + [0.0321, 0, 0]
    widget.value = early + 1e-13
    assert (viewer.target == last).all()


def test_sliders_hold_any_value_that_is_set_by_a_new_slider_and_not_by_widening_a_live_one(viewer, robot):
    root, mid, end, _, _, solve = arm(robot)
    far = np.array([5.0, -3.0, 2.5])
    viewer.limb(root, mid, end, far, -far, solve)
    panel = viewer._panel._sliders
    first = dict(panel._widgets)
    ranges = {key: (widget.min, widget.max) for key, widget in first.items()}
    assert [first["target", k].value for k in range(3)] == [5.0, -3.0, 2.5]
    count = len(open_widgets())
    viewer.pole = 2 * far
    assert [panel._widgets["pole", k].value for k in range(3)] == [10.0, -6.0, 5.0]
    assert (viewer.target == far).all() and (viewer.pole == 2 * far).all()
    assert {key: (widget.min, widget.max) for key, widget in first.items()} == ranges, "the browser's slider calls itself without end"
    assert all(widget in panel.widget.children for widget in panel._widgets.values()) and first["pole", 0] not in panel.widget.children
    assert len(open_widgets()) == count
    panel._widgets["pole", 0].value = 9.5
    assert viewer.pole.tolist() == [9.5, -6.0, 5.0]


def speeds(viewer):
    """How fast a drag turns the view, in each canvas."""
    return [canvas._orbits[viewer.eye.parallel].rotateSpeed for canvas in viewer._stage.canvases]


def event(viewer, kind, pixel, canvas=0):
    """A mouse event as the browser reports it, in one canvas."""
    viewer._stage.canvases[canvas]._picked(kind, seen_at(viewer.eye, pixel) - viewer._stage._origin)


@pytest.mark.parametrize("view", ["perspective", "front"])
def test_a_hurried_press_on_a_handle_never_turns_the_view_and_one_beside_it_does(viewer, robot, live, view):
    viewer.limb(*arm(robot))
    viewer.look(view)
    viewer._repr_mimebundle_()
    target, beside = pixel_of(viewer, viewer.target), np.array([20.0, 20.0])
    event(viewer, "mousemove", beside)  # far from every handle; the next thing seen is a press
    assert speeds(viewer) == [0]
    event(viewer, "mousedown", target)
    assert speeds(viewer) == [0] and viewer._panel._drag.held == "target"
    event(viewer, "mouseup", target)
    event(viewer, "mousedown", beside)
    assert speeds(viewer) == [1]
    event(viewer, "mousemove", target)  # on its way over a handle the view goes on turning
    assert speeds(viewer) == [1]
    event(viewer, "mouseup", target)
    assert speeds(viewer) == [0]
    viewer.done()
    assert speeds(viewer) == [1]


def test_a_view_let_go_outside_the_picture_is_let_go(viewer, robot, live):
    viewer.limb(*arm(robot))
    viewer._repr_mimebundle_()
    event(viewer, "mousedown", np.array([20.0, 20.0]))
    event(viewer, "mouseleave", np.array([1.0, 20.0]))
    assert speeds(viewer) == [1]  # the button is still down
    camera = viewer._stage.camera()
    camera.position = [*np.array(camera.position[:2]) + 0.1, camera.position[2]]  # the orbit's last word, at its end
    assert speeds(viewer) == [0]


def test_a_solver_that_stops_or_gives_nan_is_told_and_the_viewer_lives_on(viewer, robot):
    root, mid, end, target, pole, _ = arm(robot)

    def broken(*_):
        raise ZeroDivisionError("division by zero")

    viewer.limb(root, mid, end, target, pole, broken)
    assert "the solver stopped: ZeroDivisionError: division by zero" in viewer.text()
    viewer.limb(root, mid, end, target, pole, lambda *_: type("S", (), {"mid": mid * np.nan, "end": end}))
    assert "nan" in viewer.text()
    viewer.target = target + 0.01


def test_the_expected_limb_is_drawn_faint_and_measured(viewer, robot):
    viewer.limb(*arm(robot), expected=lambda *a: rk.limb.solve(*a[:4], a[4] + [0.3, 0, 0]))
    assert "elbow to expected" in viewer.text()


def test_without_a_limb_there_is_no_target(viewer):
    with pytest.raises(ValueError, match=r"call viewer.limb\(...\) first"):
        viewer.target


# bending

def test_bending_about_the_elbow_brings_the_shells_together(viewer, robot):
    viewer.bend_at(robot.landmarks["left_elbow"], robot.hinges["left_elbow"], ["left_upper_arm_tube"], ["left_forearm_tube"], "left_elbow_sleeve")
    gaps = []
    for angle in (0, 45, 90, 120):
        viewer._panel.turn(angle)
        gaps.append(viewer._panel.gap)
    assert gaps == sorted(gaps, reverse=True) and gaps[-1] < 0
    assert viewer.figure.tinted == {"left_upper_arm_tube", "left_forearm_tube"} and "overlap" in viewer.text()
    viewer.done()
    assert not viewer.figure.tinted


def test_a_bend_is_set_by_number_as_by_the_slider(viewer, robot):
    with pytest.raises(ValueError, match="call viewer.bend_at"):
        viewer.bend(10)
    viewer.bend_at(robot.landmarks["left_elbow"], robot.hinges["left_elbow"], ["left_upper_arm_tube"], ["left_forearm_tube"])
    viewer.bend(44.6)
    assert viewer._panel.angle == viewer._panel._slider.value == 45
    assert "45 degrees" in viewer.text()
    with pytest.raises(ValueError, match="expected 0 to 120 degrees"):
        viewer.bend(121)


def test_bending_turns_the_moving_part_rigidly_about_the_joint(viewer, robot):
    joint, hinge = robot.landmarks["left_elbow"], robot.hinges["left_elbow"]
    rest = viewer.figure.part_points("left_forearm_tube").copy()
    viewer.bend_at(joint, hinge, ["left_upper_arm_tube"], ["left_forearm_tube"])
    viewer._panel.turn(60)
    expected = rk.rotation.rotate(rk.rotation.from_axis_angle(hinge, np.radians(60)), rest - joint) + joint
    assert viewer.figure.part_points("left_forearm_tube") == pytest.approx(expected)


def test_what_hangs_below_bends_along_and_the_rest_stays(viewer, robot):
    names = ("left_finger_02_tip", "left_gripper_plate", "left_upper_arm_tube", "body_drum")
    rest = {n: viewer.figure.part_points(n).copy() for n in names}
    viewer.bend_at(robot.landmarks["left_elbow"], robot.hinges["left_elbow"], ["left_upper_arm_tube"], ["left_forearm_tube"])
    viewer._panel.turn(90)
    moved = [np.abs(viewer.figure.part_points(n) - rest[n]).max() > 0.05 for n in names]
    assert moved == [True, True, False, False]


def test_a_leg_is_told_as_a_leg(viewer, robot):
    root, mid, end = (robot.landmarks[f"left_{n}"] for n in ("hip", "knee", "ankle"))
    viewer.limb(root, mid, end, end + [0, 0.1, 0.1], mid + [0, 0, 0.4], rk.limb.solve)
    assert "knee bent" in viewer.text() and "the ankle is on the target" in viewer.text() and "elbow" not in viewer.text()


def test_an_unknown_part_is_told(viewer, robot):
    with pytest.raises(ValueError, match="no part is called 'left_forarm_tube'"):
        viewer.bend_at((0, 0, 0), (1, 0, 0), ["left_upper_arm_tube"], ["left_forarm_tube"])


# lasting

def open_widgets():
    return set(registry._instances)


def test_closing_leaves_no_widget_behind(robot, live):
    before = open_widgets()
    made = Viewer(robot, "to be closed")
    made.joints([robot.landmarks["left_elbow"]], ["left_elbow_joint"])
    made.frames([robot.landmarks["left_elbow"]], [[0, 0, 0, 1]])
    made._repr_mimebundle_()
    made.place(["left_elbow"], loops_of(robot, "left_elbow_sleeve"))
    made._repr_mimebundle_()
    made.limb(*arm(robot))
    made.bend_at(robot.landmarks["left_elbow"], robot.hinges["left_elbow"], ["left_upper_arm_tube"], ["left_forearm_tube"], "left_elbow_sleeve")
    made.see_through(True)
    made.look("front")
    made.joints(None)
    assert len(open_widgets() - before) > 50
    made.close()
    assert {type(registry._instances[k]).__name__ for k in open_widgets() - before} == set()


def test_drawing_again_and_again_keeps_the_number_of_widgets(viewer, robot, live):
    viewer._repr_mimebundle_()

    def draw():
        viewer.joints(robot.landmarks["left_elbow"][None], ["left_elbow_joint"])
        viewer.lines({"one": np.eye(3), "other": np.eye(3) * 2})
        viewer.limb(*arm(robot))
        viewer.place(["left_elbow"], loops_of(robot, "left_elbow_sleeve"))
        viewer.lines(None)
        viewer.done()

    draw()
    count = len(open_widgets())
    for _ in range(3):
        draw()
    assert len(open_widgets()) == count


RESTING, PICTURE = 48, 15  # widgets: of a viewer that no cell shows; of a scene that was retired to a picture


def shown_now(viewer):
    """Show a viewer once more; returns the box of widgets and the picture of that moment."""
    bundle = viewer._repr_mimebundle_()
    return registry._instances[bundle["application/vnd.jupyter.widget-view+json"]["model_id"]], base64.b64decode(bundle["image/png"])


def held(box, kind):
    """All widgets of a kind in a box."""
    return [found for child in getattr(box, "children", ()) for found in ([child] if isinstance(child, kind) else held(child, kind))]


def test_of_all_viewers_together_few_are_live_and_the_oldest_shows_how_it_was_and_why(viewer, robot, live):
    first = Viewer(robot, "the first of all")
    oldest, picture = shown_now(first)
    first.look("top")
    first.caption("another caption")
    boxes = [shown_now(viewer)[0] for _ in range(LIVE)]
    assert len({box.model_id for box in boxes}) == LIVE and len(viewer._stage.canvases) == LIVE and first._stage is None
    assert [image.value for image in held(oldest, ipywidgets.Image)] == [picture]
    words = [html.value for html in held(oldest, ipywidgets.HTML)]
    assert any("the first of all" in w for w in words) and any(CLOSED in w for w in words)
    assert held(oldest, pythreejs.Renderer) == [] and all(len(held(box, pythreejs.Renderer)) == 1 for box in boxes)
    again, _ = shown_now(first)
    assert len(first._stage.canvases) == 1 and len(viewer._stage.canvases) == LIVE - 1 and len(held(again, pythreejs.Renderer)) == 1
    first.close()
    shown_now(viewer)
    assert len(viewer._stage.canvases) == LIVE  # a closed viewer takes no room


def test_running_the_oldest_cell_again_retires_no_other(viewer, live, monkeypatch):
    cells = [f"cell {i}" for i in range(LIVE)]
    for run, cell in enumerate([*cells, cells[0]]):
        in_cell(monkeypatch, cell, run)
        viewer._repr_mimebundle_()
    assert len(viewer._stage.canvases) == LIVE and all(desk.live for desk in viewer._desks)


def in_cell(monkeypatch, cell, run):
    """Let what is shown from now on be shown by one run of one cell."""
    monkeypatch.setattr("rigkit.view.showing.asked", lambda: (cell, run))


def test_a_cell_run_again_and_again_with_a_viewer_of_its_own_keeps_one_scene(robot, live, monkeypatch):
    made, counts = [], []
    for run in range(8):
        in_cell(monkeypatch, "the cell", run)
        made.append(Viewer(robot, f"run {run}"))
        made[-1]._repr_mimebundle_()
        counts.append(len(open_widgets()))
    assert [one._stage is not None for one in made] == [False] * 7 + [True]
    assert set(np.diff(counts)) == {RESTING}  # the words and buttons of a viewer that waits to be shown again, and nothing that is large
    in_cell(monkeypatch, "another cell", 0)
    shown_now(made[0])  # what was at rest is drawn again
    assert len(made[0]._stage.canvases) == 1
    for one in made:
        one.close()


def test_two_scenes_of_one_run_stand_side_by_side(viewer, live, monkeypatch):
    in_cell(monkeypatch, "the cell", 0)
    boxes = [shown_now(viewer)[0] for _ in range(2)]
    assert len(viewer._stage.canvases) == 2 and all(len(held(box, pythreejs.Renderer)) == 1 for box in boxes)
    in_cell(monkeypatch, "the cell", 1)
    shown_now(viewer)
    assert len(viewer._stage.canvases) == 1


def test_twenty_scenes_hold_no_more_than_the_newest_and_a_picture_each(robot, live, monkeypatch):
    viewers, counts = [Viewer(robot, f"figure {i}") for i in range(20)], []
    for number, one in enumerate(viewers):
        in_cell(monkeypatch, f"cell {number}", 0)
        one._repr_mimebundle_()
        counts.append(len(open_widgets()))
    assert [one._stage is not None for one in viewers] == [False] * (20 - LIVE) + [True] * LIVE
    assert max(np.diff(counts)[LIVE:]) <= PICTURE
    for one in viewers:
        one.close()


def test_a_motion_that_was_put_to_rest_plays_again_once_it_is_shown(live, monkeypatch):
    one = Viewer(rk.tally(), "a nod")
    quarter = [0.5, 0, 0, 0.75**0.5]
    one.motion(rk.animation.Animation("nod", {("centre_head_joint", "rotation"): rk.motion.Keys([0, 1], [[0, 0, 0, 1], quarter])}))
    in_cell(monkeypatch, "a", 0)
    one._repr_mimebundle_()
    one.play()
    other = Viewer(caption="another")
    in_cell(monkeypatch, "a", 1)
    other._repr_mimebundle_()
    assert one._stage is None and not one.panel.playing
    with pytest.raises(ValueError, match="nothing is shown yet"):
        one.play()
    in_cell(monkeypatch, "b", 0)
    one._repr_mimebundle_()
    one.play()
    assert one._stage.clip is not None and one.panel.playing
    one.close()
    other.close()


def test_the_mouse_waits_while_a_cell_changes_the_scene(viewer, robot):
    """The kernel handles widget messages beside a running cell, in another thread."""
    viewer.limb(*arm(robot))
    start = pixel_of(viewer, viewer.target)
    mouse(viewer, "mousedown", start)
    before = viewer.target
    hand = threading.Thread(target=mouse, args=(viewer, "mousemove", start + [30, 0]))
    with viewer.turn_lock:
        hand.start()
        hand.join(0.3)
        assert hand.is_alive() and (viewer.target == before).all()
    hand.join(30)
    assert not hand.is_alive() and (viewer.target != before).any()


def test_nothing_of_the_browser_is_made_before_a_scene_is_shown(robot):
    made = Viewer(robot)
    made.place(["left_elbow"], loops_of(robot, "left_elbow_sleeve"))
    made.limb(*arm(robot))
    assert os.environ["RIGKIT_OUTPUT"] == "text"
    made._repr_mimebundle_()
    assert made._stage is None
    made.close()
