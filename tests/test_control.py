"""Controls: names by rule, outlines that enclose and can be seen, home frames, the other side without negative scale."""

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import rigkit as rk
from rigkit import control, naming, outline, words
from rigkit.control import Channel, Control
from tests.strategies import apart, planes, turns, vectors

ROBOT = rk.tally()
FIGURE = np.concatenate([part.mesh.vertices for part in ROBOT.parts])


# ---- names


@pytest.mark.parametrize(
    "name,told",
    [
        ("left_elbow_joint1", "ends in a counter, '1'"),
        ("left_elbow_joint_2", "ends in a counter, '2'"),
        ("left_elbow_joint_copy", "ends in a counter, 'copy'"),
        ("left_elbow_joint.001", "ends in a counter, '001'"),
        ("Left_elbow_joint", "more than small letters"),
        ("left elbow joint", "more than small letters"),
        ("upper_elbow_joint", "starts with 'upper'; expected a side first: left, right, centre"),
        ("l_elbow_joint", "starts with 'l'"),
        ("left_elbow", "has 2 words; expected side, part and kind"),
        ("left_elbow_thing", "ends with 'thing'; expected a kind last"),
        ("left_lwr_joint", "the short form 'lwr'"),
        ("left_el_joint", "the short form 'el'"),
        ("left_right_joint", "a second side, 'right'"),
        ("centre_hose_3_joint", "the number '3'; expected two digits for a member of a series: '03'"),
        ("", "is no name"),
    ],
)
def test_a_bad_name_is_told_what_is_wrong(name, told):
    assert any(told in problem for problem in naming.problems(name)), naming.problems(name)
    with pytest.raises(ValueError, match=re.escape(naming.problems(name)[0])):
        naming.parse(name)


@pytest.mark.parametrize("name", [n for n in ROBOT.skeleton.names])
def test_tally_keeps_the_rule_and_names_survive_there_and_back(name):
    assert naming.problems(name) == []
    assert naming.build(*naming.parse(name)) == name


def test_a_set_of_names_is_checked_whole():
    assert naming.check(["left_hand_control", "right_hand_control"]) == []
    assert len(naming.check(["left_hand_control", "left_hand_control", "hand"])) == 2


def test_a_word_that_contains_a_side_is_not_one():
    assert naming.parse("centre_bright_lamp_joint").part == "bright_lamp"
    assert words.side("centre_bright_lamp_joint") == "centre"


def test_a_number_out_of_a_series_is_refused():
    with pytest.raises(ValueError, match="number is 0; expected 1 to 99"):
        naming.build("left", "finger", "joint", 0)


# ---- outlines


@pytest.mark.parametrize("name", sorted(outline.SHAPES))
def test_every_outline_has_size_about_one_and_encloses_its_pivot(name):
    unit = outline.shape(name)
    assert 1.0 < unit.size <= 2.0 + 1e-12
    if name != "arc":
        assert outline.clearance(unit, [[0, 0, 0]]) > 0.25


@given(points=vectors(-0.3, 0.3, shape=(6, 3)), name=st.sampled_from(sorted(set(outline.SHAPES) - {"arc"})))
def test_a_fitted_outline_encloses_its_part(points, name):
    fitted = outline.fitted(name, points, least=0.01)
    assert outline.clearance(fitted, points) >= outline.MARGIN * np.ptp(points, axis=0).max() * 0.99 - 1e-12


@pytest.mark.source("Euclid")
def test_ring_and_square_enclose_what_geometry_says():
    # A unit circle holds a square of side sqrt 2, a square of half side 1 holds the unit circle: Euclid, Elements IV.6-7.
    corner = np.sqrt(0.5)
    assert outline.fitted("ring", [[corner, 0, corner], [-corner, 3, -corner]], margin=0).size == pytest.approx(2.0, abs=2e-3)
    assert outline.fitted("square", outline.shape("ring").points, margin=0).size == pytest.approx(2.0, abs=1e-9)
    assert outline.fitted("diamond", outline.shape("ring").points, margin=0).size == pytest.approx(2 * np.sqrt(2), abs=1e-9)


def test_clearance_tells_an_outline_inside_the_mesh():
    assert outline.clearance(outline.shape("ring").scaled(0.5), [[0.8, 0, 0]]) == pytest.approx(-0.3, abs=1e-9)


@pytest.mark.source("WCAG")
def test_the_smallest_outline_is_24_of_480_picture_lines():
    # WCAG 2.2, 2.5.8 Target Size (Minimum): 24 by 24 CSS pixels (memory); 480 lines show the whole figure.
    height = np.ptp(FIGURE, axis=0).max()
    assert outline.least_size(FIGURE) / height * 480 == pytest.approx(24)


def test_unknown_outline_is_told_the_set():
    with pytest.raises(ValueError, match="no outline is called 'star'; there are: ring, square"):
        outline.shape("star")


def test_a_line_of_one_point_is_refused():
    with pytest.raises(ValueError, match=r"lines\[0\] has shape \(1, 3\); expected"):
        outline.Outline(([[0, 0, 0]],), (True,))
    with pytest.raises(ValueError, match="an outline has 0 lines"):
        outline.Outline((), ())


# ---- controls


def test_a_control_fitted_to_tallys_head_encloses_it_and_can_be_seen():
    head = ROBOT.part("head_lantern").mesh.vertices
    ring = control.fit(Control("centre_head_control", ROBOT.landmarks["head"]), "ring", head, FIGURE)
    assert control.clearance(ring, head) > 0
    assert ring.outline.size >= outline.least_size(FIGURE)
    lens = control.fit(Control("left_eye_control", ROBOT.landmarks["left_eye"]), "ring", ROBOT.part("left_eye_lens").mesh.vertices, FIGURE)
    assert lens.outline.size >= outline.least_size(FIGURE) - 1e-12


def test_home_leaves_nothing_over():
    hand = Control("left_hand_control", [0.3, 1, 0], channels=(*control.moves(), Channel("curl", 0, 0, 1)))
    assert all(c.home == 0 for c in hand.channels)
    assert [c.name for c in hand.open_channels] == ["move_x", "move_y", "move_z", "curl"]
    assert not hand.channel("turn_x").open


def test_unknown_channel_is_told_near_ones():
    with pytest.raises(ValueError, match="left_hand_control has no channel called 'move_w'; near it: move_z"):
        Control("left_hand_control", [0, 0, 0], channels=control.moves()).channel("move_w")


@pytest.mark.parametrize(
    "make,told",
    [
        (lambda: Channel("roll", 2.0, -1.0, 1.0), "channel roll is 2 at home; expected a value in its range, -1 to 1"),
        (lambda: Control("a", [0, 0, 0], channels=(Channel("roll"), Channel("roll"))), "a has two channels called 'roll'"),
        (lambda: Control("a", [0, 0, 0], order="XYX"), "order of a is 'XYX'; expected X, Y and Z"),
        (lambda: Control("a", [0, 0]), r"position of a has shape \(2,\)"),
        (lambda: Control("a", [[0, 0, 0]]), r"position of a has shape \(1, 3\); expected \(3,\)"),
        (lambda: Control("a", [0, 0, 0], [[0, 0, 0, 1]]), r"rotation of a has shape \(1, 4\); expected \(4,\)"),
        (lambda: control.fit(Control("a", [0, 0, 0]), "ring", np.zeros((0, 3))), r"points has shape \(0, 3\); expected \(N, 3\), one or"),
        (lambda: control.clearance(Control("a", [0, 0, 0]), [[0, 0, 0]]), "a has no outline"),
        (lambda: control.mirrored(Control("centre_body_control", [0, 0, 0]), rk.mirror.Plane()), "'centre_body_control' names no side"),
    ],
)
def test_errors_say_what_to_do(make, told):
    with pytest.raises(ValueError, match=told):
        make()


@given(q=turns(), p=vectors(), plane=planes(), how=st.sampled_from(["matched", "parallel"]))
def test_mirroring_a_control_twice_gives_the_start_back_and_the_frame_stays_a_turn(q, p, plane, how):
    channels = (*control.turns("x", -0.1, 0.7), *control.moves("y", -0.3, 0.2), Channel("lean", 0.0, -1, 2, flips=True))
    start = Control("left_foot_control", p, q, channels, outline.shape("arrow"))
    other = control.mirrored(start, plane, how)
    assert other.name == "right_foot_control"
    assert np.linalg.det(rk.rotation.to_matrix(other.rotation)) == pytest.approx(1.0)
    for line, image in zip(control.drawn(start), control.drawn(other)):
        np.testing.assert_allclose(image, rk.mirror.points(line, plane), atol=1e-9)
    back = control.mirrored(other, plane, how)
    assert apart(back.rotation, start.rotation) < 1e-6
    np.testing.assert_allclose(back.outline.points, start.outline.points, atol=1e-9)
    assert back.channels == start.channels
    assert (other.channel("lean").low, other.channel("lean").high) == (-2, 1)


def test_matched_ranges_of_moves_turn_round_and_of_turns_stay():
    # CURRICULUM's table, derived in rigkit.mirror: matched turns (+, +, +), moves (-, -, -); parallel (+, -, -) and (-, +, +).
    start = Control("left_hand_control", [0.3, 1, 0], channels=(*control.turns("xyz", -0.2, 0.5), *control.moves("xyz", -0.1, 0.3)))
    for how, turned in (("matched", [False] * 3 + [True] * 3), ("parallel", [False, True, True, True, False, False])):
        other = control.mirrored(start, rk.mirror.Plane(), how)
        names = [*control.TURNS, *control.MOVES]
        assert [other.channel(n).low != start.channel(n).low for n in names] == turned


def test_both_sides_refuses_a_name_that_is_there_already():
    hands = [Control("left_hand_control", [0.3, 1, 0]), Control("right_hand_control", [-0.3, 1, 0])]
    with pytest.raises(ValueError, match="'right_hand_control' is there already; expected one side only"):
        control.both_sides(hands, rk.mirror.Plane())
    with pytest.raises(ValueError, match="ways names 'left_foot_control', which is no control here"):
        control.both_sides(hands[:1], rk.mirror.Plane(), {"left_foot_control": "matched"})


def test_both_sides_keeps_order_and_leaves_the_centre_alone():
    some = [Control("centre_body_control", [0, 1, 0]), Control("left_hand_control", [0.3, 1, 0])]
    assert [c.name for c in control.both_sides(some, rk.mirror.Plane())] == [
        "centre_body_control",
        "left_hand_control",
        "right_hand_control",
    ]


def test_a_side_is_told_by_colour_and_by_line():
    some = control.both_sides([Control("centre_body_control", [0, 1, 0]), Control("left_hand_control", [0.3, 1, 0])], rk.mirror.Plane())
    drawn = control.styles(some)
    assert len({colour for colour, _ in drawn.values()}) == len({line for _, line in drawn.values()}) == 3


@pytest.mark.source("WCAG")
@pytest.mark.parametrize("colour", words.SIDE_COLOUR.values())
def test_colours_of_sides_reach_the_contrast_of_graphics_on_the_scene(colour):
    # WCAG 2.1, 1.4.11 Non-text Contrast: 3 to 1; relative luminance and contrast as defined there.
    def luminance(text):
        c = np.array([int(text[i : i + 2], 16) for i in (1, 3, 5)]) / 255
        return np.where(c <= 0.03928, c / 12.92, ((c + 0.055) / 1.055) ** 2.4) @ (0.2126, 0.7152, 0.0722)

    assert (luminance(colour) + 0.05) / (luminance(words.SCENE) + 0.05) >= 3


def test_count_tells_controls_and_open_channels():
    assert control.count([Control("left_hand_control", [0, 0, 0], channels=control.moves("xy"))] * 2) == (2, 4)
