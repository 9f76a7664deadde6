"""Guides: what each draws, what its numbers say, that they come and go and follow."""

import numpy as np
import pytest

import rigkit as rk
from rigkit.view import Viewer, foot_guides, gaze_guides, guides, limb_guides, ramp, trails, weight_guide
from tests.browser_support import image

BENT = [0.0, 0, 0], [1.0, 0, 0], [1.0, -1, 0]  # a right angle in the plane z = 0


@pytest.fixture(scope="module")
def robot():
    return rk.tally()


@pytest.fixture
def viewer(robot):
    made = Viewer(robot, caption="Tally, variant 0")
    yield made
    made.close()


def test_the_bend_plane_holds_the_limb_and_its_arrow_is_square_to_it():
    made = limb_guides.plane(*BENT)
    sheet = made.layer.sheets[0]
    assert np.abs(sheet.vertices[:, 2]).max() < 1e-12 and dict(made.rows)["bend"] == "90.0 degrees"
    x, y = sheet.vertices[:, 0], sheet.vertices[:, 1]
    assert x.max() >= 1 and y.min() <= -1
    assert dict(made.rows)["normal of the bend plane"] == "(0.000, 0.000, -1.000)"


def test_a_straight_limb_has_a_plane_only_with_its_hinge():
    straight = [0.0, 0, 0], [1.0, 0, 0], [2.0, 0, 0]
    with pytest.raises(ValueError, match="lie on one line"):
        limb_guides.plane(*straight)
    assert np.abs(limb_guides.plane(*straight, hinge=[0, 1, 0]).layer.sheets[0].vertices[:, 1]).max() < 1e-12


def test_the_flip_line_tells_the_swivel_gain():
    rows = dict(limb_guides.flip_line([0, 0, 0], [0, 1, 0], [1, 1, 0]).rows)  # 45 degrees: cot is 1
    assert rows == {"target to flip line": "45.0 degrees", "swivel gain": "1.00 degrees a degree of the target"}
    assert dict(limb_guides.flip_line([0, 0, 0], [0, 1, 0], [0, 3, 0]).rows)["swivel gain"] == "without bound"


def test_the_swivel_circle_goes_through_the_middle_joint():
    made = limb_guides.swivel_circle([0, 0, 0], [1, 0, 1], [2, 0, 0], reference=[0, 1, 0])
    circle, swept = made.layer.strokes[0], made.layer.strokes[1]
    assert np.linalg.norm(circle.starts - [1, 0, 0], axis=1) == pytest.approx(1)
    assert swept.ends[-1] == pytest.approx([1, 0, 1]) and swept.starts[0] == pytest.approx([1, 1, 0])
    assert made.rows[0][1].startswith("90.0 degrees")


def test_the_soft_zone_is_shaded_between_its_beginning_and_the_reach():
    layer = guides.reach([0, 1, 0], 0.5, 0.1, soft=0.1)
    away = np.concatenate([np.linalg.norm(sheet.vertices - [0, 1, 0], axis=1) for sheet in layer.sheets])
    assert len(layer.sheets) == 3 and away.min() == pytest.approx(0.4) and away.max() == pytest.approx(0.5)
    with pytest.raises(ValueError, match="soft is 0.6; expected metres from 0 to the outer reach, 0.5"):
        guides.reach([0, 0, 0], 0.5, soft=0.6)


def foot():
    sole = [[-0.03, 0, -0.06], [0.04, 0, -0.06], [0.04, 0, 0.14], [-0.03, 0, 0.14]]
    return rk.foot.pivots(sole, [0, 0.02, 0.1], "left")


def test_the_pivots_that_turn_are_lit_and_stay_on_the_floor():
    world = rk.rotation.IDENTITY, np.array([1.0, 0, 2.0])
    flat = foot_guides.pivots(foot(), world)
    rolled = foot_guides.pivots(foot(), world, roll=np.radians(50))
    told = {word.text: word for word in rolled.layer.words}
    assert {word.text for word in flat.layer.words} == set(foot_guides.NAMES)
    assert dict(rolled.rows) == {"turn about the toe": "20.0 degrees", "turn about the ball": "30.0 degrees"}
    assert told["toe 20 degrees"].point == pytest.approx([1.005, 0, 2.14]) and told["heel"].point == pytest.approx(
        [1.005, 0, 1.94]
    )  # the pivot, not the shell
    assert told["toe 20 degrees"].colour == foot_guides.LIT != told["heel"].colour
    assert "outer 10 degrees" in {word.text for word in foot_guides.pivots(foot(), world, tilt=np.radians(10)).layer.words}


def test_an_eye_that_misses_says_by_how_much():
    eyes = {"left_eye": [0.03, 1, 0], "right_eye": [-0.03, 1, 0]}
    made = gaze_guides.look_lines(eyes, [0.03, 1, 1], turns=np.tile(rk.rotation.IDENTITY, (2, 1)))
    rows = dict(made.rows)
    assert rows["left eye"] == "1 m from the target, off by 0.0 degrees" and rows["right eye"].endswith("off by 3.4 degrees")  # atan 0.06
    assert len(made.layer.strokes[0].starts) == 1 < len(made.layer.strokes[1].starts)  # left solid, right dashed


def test_trails_are_told_apart_by_their_lines_and_keep_their_length():
    way = np.stack([np.linspace(0, 1, 50), np.zeros(50), np.zeros(50)], axis=1)
    made = trails.trails({"a": way, "b": way + 1, "c": way + 2}, now=10, every=10)
    inked = [np.linalg.norm(s.ends - s.starts, axis=1).sum() for s in made.layer.strokes]
    assert inked[0] == pytest.approx(1) and 0.5 < inked[1] < 0.7 and 0.15 < inked[2] < 0.4
    assert made.rows[0] == ("way of a", "1 m long, now at (0.204, 0.000, 0.000) m")


def test_weights_colour_the_model_and_count_every_vertex_once(robot, viewer):
    joint = "left_elbow_joint"
    branch = next(b for b in viewer.figure.branches if any(p.name == "left_elbow_sleeve" for p in b.patches))
    viewer.weights(joint)
    patch = next(p for p in branch.patches if p.name == "left_elbow_sleeve")
    k = patch.joints.tolist().index(robot.skeleton.index(joint))
    light = ramp.lightness(viewer.figure.colours(branch)[patch.where])
    order = np.argsort(patch.weights[:, k])
    assert (np.diff(light[order]) >= -1e-9).all() and np.ptp(light) > 60
    counted = [int(value.split()[0].replace(",", "")) for _, value in weight_guide.counts(robot, joint)]
    assert sum(counted) == sum(len(part.mesh.vertices) for part in robot.parts)
    with pytest.raises(ValueError, match="left_elbow"):
        viewer.weights("left_elbow")


def test_the_still_picture_shows_weights_in_the_ramps_own_colours(viewer):
    viewer.weights("left_elbow_joint")
    viewer.look("front")
    shown = image(viewer.picture())
    for share in (0.0, 1.0):
        assert (np.abs(shown - 255 * ramp.colours(share)).max(axis=2) <= 2).sum() > 500
    viewer.weights(None)
    assert (np.abs(image(viewer.picture()) - 255 * ramp.colours(1.0)).max(axis=2) <= 2).sum() < 50


def test_guides_come_replace_follow_and_go(viewer):
    viewer.bend_plane(*BENT)
    viewer.bend_plane(*BENT)
    viewer.reach([0, 0, 0], 0.5)
    assert viewer.text().count("normal of the bend plane") == 1 and "farthest reach            500.0 mm" in viewer.text()
    viewer.reach(None)
    viewer.bend_plane(None)
    assert viewer.text() == "Tally, variant 0"
    place = [0.0, 1, 0]
    viewer.guide("mine", lambda: limb_guides.flip_line([0, 0, 0], place, [1, 1, 0]))
    place[0] = 1.0
    assert "0.0 degrees" in viewer.text()  # it is asked each time
    viewer.guide("mine", lambda: limb_guides.plane([0, 0, 0], [1, 0, 0], [2, 0, 0]))
    assert "lie on one line" in viewer.text()
    viewer.clear()
    assert viewer.text() == "Tally, variant 0"


def test_the_legend_stays_in_the_picture_from_every_side(robot):
    from rigkit.view.eye import VIEWS, looking

    for view in VIEWS:
        eye = looking(view, (0, 0.6, 0), 1.4)
        layer = weight_guide.legend(eye, (640, 500), "left_elbow_joint")
        at = eye.pixels(np.array([word.point for word in layer.words]), (640, 500))[:, :2]
        assert (at > 20).all() and (at < [620, 480]).all()


def test_a_still_picture_of_weights_has_no_colour_outside_of_its_range(viewer, caplog):
    """The brightest colour of the ramp, averaged, rounded to a hair over 1, and the learner saw a warning."""
    viewer.focus("left_elbow_sleeve", 0.3)
    viewer.weights("left_elbow_joint")
    viewer.picture(fine=1)
    assert not caplog.records
