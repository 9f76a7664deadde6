"""Motions in the viewer: what is worked out, what is told, what is sent while they play, and what stays behind."""

import re
import time
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ipywidgets.widgets import widget as registry

import rigkit as rk
from rigkit.acceptance import carried
from rigkit.robot.rig import rigged_tally
from rigkit.view import Viewer, baked, curves, moments
from rigkit.view.trails import COLOURS
from rigkit.view.clip import hung
from tests.browser_support import image
from tests.view.test_viewer import live, sent  # noqa: F401 (fixtures)


@pytest.fixture(scope="module")
def robot():
    return rigged_tally()


@pytest.fixture(scope="module")
def walk(robot):
    return rk.motion.walk(robot.rig, "centre_body_control")


@pytest.fixture(scope="module")
def made(robot, walk):
    return baked.bake(walk, robot)


@pytest.fixture
def viewer(robot):
    shown = Viewer(robot, "Tally walks.")
    yield shown
    shown.close()


# ---- worked out -----------------------------------------------------------------------------------------------------


def test_two_rounds_of_a_walk_are_thirty_frames_a_second_and_go_two_strides(made, walk, robot):
    assert len(made) == 61 and made.length == 2.0 and made.rate == pytest.approx(30)
    body = made.names.index("centre_body_joint")
    assert made.positions[-1, body] - made.positions[0, body] == pytest.approx([0, 0, 2 * walk.stride], abs=1e-6)
    pose = robot.rig.pose(walk.motion.sample(np.array([0.5])))
    assert made.positions[15] == pytest.approx(pose.positions[0])


def test_a_planted_spot_stays_where_it_is_told_and_a_seam_does_not_cut_it(made, robot, walk):
    heel = next(c for c in walk.contacts if c.joint == "left_ankle_joint")
    first = next(p for p in made.planted if p.label == "left heel")
    pose = robot.rig.pose(walk.motion.sample(np.linspace(heel.start, heel.end, 5)))
    assert np.abs(carried(robot.rig, pose, heel.joint, heel.point)[:, [0, 2]] - first.point[[0, 2]]).max() < 1e-3
    toes = [p for p in made.planted if p.label == "right toe"]
    assert [(round(p.start, 2), round(p.end, 2)) for p in toes] == [(0.0, 0.12), (0.62, 1.12), (1.62, 2.0)]  # 0.62 to 0.12 of the next


def test_what_a_texture_holds_carries_every_corner_as_the_figure_does(made, viewer):
    """The shader's sum, done here: shares times the three rows of a joint's matrix."""
    rows = np.concatenate([made.turns, made.moves[..., None]], axis=-1)[17]
    viewer.figure.carry(made.turns[17], made.moves[17])
    for branch in viewer.figure.branches:
        joints, shares = hung(branch)
        assert shares.sum(axis=1) == pytest.approx(1)
        matrices = np.einsum("vk,vkab->vab", shares, rows[joints.astype(int)])
        moved = np.einsum("vab,vb->va", matrices, np.column_stack([branch.points, np.ones(len(branch.points))]))
        assert moved == pytest.approx(viewer.figure.now(branch)[0], abs=1e-9)


def test_other_kinds_of_motions_are_worked_out_too(robot):
    skeleton = robot.skeleton
    nod = rk.animation.Animation("nod", {("centre_head_joint", "rotation"): rk.motion.Keys([0, 1], [[0, 0, 0, 1], [0.5, 0, 0, 0.75**0.5]])})
    assert len(baked.bake(nod, robot, rate=10)) == 11
    turns = np.tile(skeleton.rest_rotations, (5, 1, 1))
    still = baked.bake(turns, robot, rate=4)
    assert still.length == 1.0 and np.abs(still.moves).max() < 1e-12
    with pytest.raises(ValueError, match=r"shape \(2, 3\); expected a Walk, a Motion, an Animation, a function of seconds"):
        baked.bake(np.zeros((2, 3)), robot)
    with pytest.raises(ValueError, match="expected Viewer\\(character\\) of a character with a rig"):
        baked.bake(rk.motion.Motion("m", {}), rk.tally())
    with pytest.raises(ValueError, match="1 frames|no length"):
        baked.bake(turns[:1], robot)
    with pytest.raises(ValueError, match="2401 frames; expected 2000 at most"):
        baked.timed(print, 80.0)


# ---- told and drawn -------------------------------------------------------------------------------------------------


def test_scrubbing_tells_frame_seconds_and_what_touches_the_floor(viewer, walk):
    viewer.motion(walk, trails=("left_ankle_joint",), curves={"knee": "left_knee_joint", "height": "centre_body_joint.y"})
    viewer.scrub(0.2)
    told = viewer.text()
    assert "frame 6 of 60, 0.20 of 2.00 s: left heel and left toe on the floor" in told
    assert "on the floor  left heel, left toe" in told and re.search(r"left ankle\s+\(0\.\d+", told) and " degrees at 0.20 s; " in told
    knee = dict(viewer._all_rows())["knee"]
    viewer.scrub(0.4)
    assert dict(viewer._all_rows())["knee"] != knee
    with pytest.raises(ValueError, match="there is no curve of 'left_elbow.y'"):
        viewer.motion(walk, curves={"x": "left_elbow.y"})


def test_steps_go_round_a_loop_and_stop_at_an_end(viewer, walk):
    viewer.motion(walk)
    panel = viewer._panel
    panel.step(-1)
    assert panel.frame == 60 == panel._slider.value
    panel.step(1)
    assert panel.frame == 0
    panel._loop.value = False
    panel.step(-1)
    assert panel.frame == 0
    panel._slider.value = 12
    assert panel.frame == 12 and "frame 12 of 60" in viewer.text()


def test_nothing_plays_by_itself_nor_where_nothing_is_shown(viewer, walk):
    viewer.motion(walk)
    assert not viewer._panel.playing
    with pytest.raises(ValueError, match="call viewer.show\\(\\) first"):
        viewer.play()
    viewer.done()
    with pytest.raises(ValueError, match="call viewer.motion"):
        viewer.pause()


def test_the_still_picture_shows_the_frame_and_its_spot_on_the_floor(viewer, walk):
    viewer.motion(walk)
    viewer.look("top")
    pictures = []
    for seconds in (0.2, 0.9):
        viewer.scrub(seconds)
        pictures.append(image(viewer.picture(fine=1)))
    assert (np.abs(pictures[0] - pictures[1]).sum(axis=2) > 40).mean() > 0.02


def test_moments_before_are_dashed_and_after_whole_and_the_ends_have_fewer(made):
    middle, start = moments.around(made, 30, 1, 4), moments.around(made, 0, 1, 4)
    before, after = (len(s.starts) for s in middle.strokes)
    assert before == 4 * after and len(start.strokes) == 1 and [w.text for w in middle.words] == ["-4", "+4"]


def test_a_function_of_seconds_draws_a_motion_and_says_what_stops_it(viewer):
    seen = []

    def sway(seconds):
        seen.append(seconds)
        if seconds > 0.8:
            raise RuntimeError("too late")
        viewer.lines({"swaying": np.array([[0, 0, 0], [seconds, 1, 0]])})

    viewer.motion(sway, length=1.0, rate=10)
    viewer.scrub(0.5)
    assert seen[-1] == 0.5 and "frame 5 of 10, 0.50 of 1.00 s" in viewer.text()
    viewer.scrub(1.0)
    assert "the function that draws the motion stopped: RuntimeError: too late" in viewer.text()
    with pytest.raises(ValueError, match="length is None; expected seconds above 0"):
        viewer.motion(sway)


# ---- in a page ------------------------------------------------------------------------------------------------------


def test_while_the_browser_plays_nothing_is_sent_but_words(live, sent, walk, robot):  # noqa: F811
    viewer = Viewer(robot, "Tally walks.")
    viewer._repr_mimebundle_()
    viewer.motion(walk, curves={"knee": "left_knee_joint"})
    viewer.play()
    sent.clear()
    time.sleep(1.0)
    panel = viewer._panel
    told = {type(widget).__name__ for widget, _, _ in sent}
    assert panel.playing and 0 < panel.frame < 60
    assert told <= {"HTML", "IntSlider"} and len(sent) <= 8
    viewer.pause()
    assert not panel.playing and panel._button.description == "Play"
    sent.clear()
    panel._slider.value = 3
    assert {type(w).__name__ for w, _, buffers in sent if buffers} <= {"InterleavedBuffer"}  # the marks; not the model
    assert [type(w).__name__ for w, _, _ in sent].count("Group") == 1  # its clock
    viewer.close()


def test_where_python_draws_every_picture_the_model_is_sent(live, sent, walk, robot):  # noqa: F811
    viewer = Viewer(robot, "Tally walks.")
    viewer._repr_mimebundle_()
    viewer.motion(walk, client=False)
    viewer.play()
    sent.clear()
    time.sleep(0.7)
    viewer.pause()
    assert sum(type(w).__name__ == "InterleavedBuffer" for w, _, _ in sent) >= 5
    viewer.close()


def test_motions_leave_no_widget_behind(live, sent, walk, robot):  # noqa: F811
    before = set(registry._instances)
    viewer = Viewer(robot, "Tally walks.")
    viewer._repr_mimebundle_()
    counts = []
    for _ in range(3):
        viewer.motion(walk, trails=("left_ankle_joint",), curves={"knee": "left_knee_joint"}, before_after=1)
        viewer.done()
        counts.append(len(registry._instances))
    assert counts[0] == counts[1] == counts[2]
    viewer.close()
    left = [registry._instances[key] for key in set(registry._instances) - before]
    assert not left, {type(widget).__name__ for widget in left}


# ---- curves ---------------------------------------------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(st.floats(-1e4, 1e4), st.floats(1e-3, 1e4))
def test_ticks_are_few_even_and_hold_the_values(low, span):
    ticks = curves.nice(low, low + span)
    steps = [b - a for a, b in pairwise(ticks)]
    assert 2 <= len(ticks) <= 5 and max(steps) == pytest.approx(min(steps), rel=1e-4)
    assert ticks[0] <= low + 1e-6 * span and ticks[-1] >= low + span - 1e-6 * span


def test_a_still_picture_has_the_curves_below_the_scene_with_the_line_at_now(robot, walk):
    viewer = Viewer(robot, "curves")
    scene = image(viewer.picture(fine=1))
    values = {"up": np.linspace(0, 90, 31), "even": np.full(31, 45.0)}
    viewer.curves(values, np.linspace(0, 1, 31), "degrees", now=15)
    drawn = image(viewer.picture(fine=1))
    assert (drawn[: len(scene)] == scene).all() and drawn.shape[1] == scene.shape[1]
    chart = drawn[len(scene) :]
    yellow, purple = (np.argwhere(np.abs(chart - rgb(colour)).max(axis=2) < 12) for colour in COLOURS[:2])
    across = np.polyfit(yellow[:, 1], yellow[:, 0], 1)
    assert across[0] < -0.05  # rises from left to right, as the numbers do
    plotted = purple[purple[:, 0] > 24, 0]  # below the legend
    assert len(plotted) > 40 and np.ptp(plotted) <= 8  # an even line, and the dot at now
    ink = (np.abs(chart - rgb(curves.INK)).max(axis=2) < 40).sum(axis=0)
    assert abs(int(ink.argmax()) - (62 + (640 - 62 - 14) / 2)) <= 2  # the line stands in the middle of the plot
    assert len(image(viewer.picture(fine=1, beside=False))) == len(scene)
    viewer.curves(None)
    assert len(image(viewer.picture(fine=1))) == len(scene)
    viewer.motion(walk, curves={"knee": "left_knee_joint"})
    assert len(image(viewer.picture(fine=1))) > len(scene) + 150  # a plot and the bars of contact


def rgb(colour):
    """A colour "#rrggbb" as three numbers from 0 to 255."""
    return np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)])


def test_curves_stand_where_their_numbers_say_and_the_line_moves_by_itself_only_while_playing(made):
    chart = curves.checked({"a": np.linspace(0, 100, len(made)), "b <i>": np.zeros(len(made))}, made.times, "degrees")
    drawn = curves.svg([chart], made.times, 30, made.planted)
    points = [tuple(map(float, p.split(","))) for p in re.search(r'polyline points="([^"]+)"', drawn)[1].split()]
    assert points[0][0] == curves.LEFT and points[-1][0] == pytest.approx(curves.WIDE - curves.RIGHT, abs=0.1)
    assert points[0][1] - points[-1][1] == pytest.approx(curves.PLOT, abs=0.2)  # 0 to 100 fills the plot
    assert "b &lt;i&gt;" in drawn and "<i>" not in drawn and "animateTransform" not in drawn and "a 50 degrees at 1.00 s" in drawn
    assert drawn.count('stroke-dasharray="7 4"') == 2  # the second curve, and its key
    playing = curves.svg([chart], made.times, 30, made.planted, playing=(4.0, True))
    assert 'begin="-2.000s" dur="4.000s" repeatCount="indefinite"' in playing
    with pytest.raises(ValueError, match=r"curves\['a'\] has shape \(3,\); expected \(2,\) finite numbers"):
        curves.checked({"a": [1, 2, 3]}, [0, 1])


def test_curves_beside_a_scene_come_and_go(viewer):
    viewer.curves({"angle": [0.0, 30.0, 20.0]}, times=[0, 0.5, 1], unit="degrees", now=1)
    assert viewer.text().endswith("angle  30 degrees at 0.50 s; 0 to 30") and "<svg" in viewer._aside.value
    viewer.curves(None)
    assert viewer.text() == "Tally walks." and viewer._aside.value == ""


def test_what_the_browser_says_late_does_not_undo_a_step(live, sent, walk, robot):  # noqa: F811
    viewer = Viewer(robot, "Tally walks.")
    viewer._repr_mimebundle_()
    viewer.motion(walk)
    panel = viewer._panel
    viewer.play()
    viewer.pause()
    panel.heard(0.5)
    assert panel.frame == 15  # a little later than was reckoned here
    panel.step(1)
    panel.heard(1.0)
    assert panel.frame == 16
    viewer.close()
