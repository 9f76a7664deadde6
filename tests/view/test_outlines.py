"""Controls are drawn so that sides can be told without colour, found by a click, and asked for in a game."""

import numpy as np
import pytest

import rigkit as rk
from rigkit.control import Control
from rigkit.view import Viewer, outlines
from rigkit.view.find_panel import FindPanel

RING, SQUARE = (
    rk.outline.shape("ring").scaled(0.1),
    rk.outline.shape("square").scaled(0.08),
)
CONTROLS = [
    Control("left_foot_control", [0.2, 0, 0], outline=RING),
    Control("right_foot_control", [-0.2, 0, 0], outline=SQUARE),
]
WANTED = [
    ("the left foot", "left_foot_control"),
    ("the right foot", "right_foot_control"),
]


@pytest.fixture
def viewer():
    made = Viewer()
    made.look("top")
    made.focus([0, 0, 0], 1.0)
    yield made
    made.close()


def clicked(viewer, point):
    viewer._mouse("mousedown", point)
    viewer._mouse("mouseup", point)


@pytest.mark.parametrize(
    "style, pieces, share",
    [("solid", 32, 1.0), ("dashed", 24, 0.62), ("dotted", 48, 0.30)],
)
def test_a_line_style_is_told_by_how_much_of_the_line_is_drawn(style, pieces, share):
    ring = rk.control.drawn(CONTROLS[0])[0]
    drawn = outlines.styled(ring, "#FFFFFF", style)
    assert len(drawn.starts) == pieces
    length = np.linalg.norm(drawn.ends - drawn.starts, axis=1).sum()
    assert length == pytest.approx(
        share * np.linalg.norm(np.diff(ring, axis=0), axis=1).sum(), rel=0.01
    )


def test_an_unknown_line_style_is_refused():
    with pytest.raises(ValueError, match="wavy.*solid, dashed or dotted"):
        outlines.styled(np.eye(3), "#FFFFFF", "wavy")


def test_a_control_is_drawn_as_its_side_says_unless_told_otherwise(viewer):
    viewer.controls(CONTROLS, {"right_foot_control": ("#888888", "solid")})
    left, right = viewer._layers["controls"].strokes
    assert np.allclose(left.colours[0] * 255, [0x56, 0xB4, 0xE9]) and np.allclose(
        right.colours[0] * 255, 0x88
    )
    viewer.clear()
    assert "controls" not in viewer._layers


def test_a_click_on_an_outline_says_whose_it_is(viewer):
    viewer.controls(CONTROLS)
    clicked(viewer, [0.3, 0, 0])
    assert viewer.text().strip().startswith("left_foot_control")
    clicked(viewer, [0.2, 0, 0])
    assert "nothing there" in viewer.text()


def test_the_game_asks_times_and_counts(viewer):
    clock = iter([10.0, 12.5, 20.0, 20.5])
    viewer.controls(CONTROLS)
    panel = FindPanel(viewer, CONTROLS, WANTED, clock=lambda: next(clock))
    viewer._use(panel)
    assert panel.numbers() == [("questions found", "0 of 2")]
    panel.ask()
    clicked(viewer, [-0.12, 0, 0])
    assert "right_foot_control is not it" in viewer.text()
    clicked(viewer, [0.3, 0, 0])
    assert ("the left foot", "2.5 seconds, after 1 wrong") in panel.numbers()
    panel.ask()
    viewer.pick("right_foot_control")
    assert (
        panel.found == [(2.5, 1), (0.5, 0)]
        and "1 of 2 at once and within 3 seconds" in viewer.text()
    )


def test_before_the_first_question_a_pick_only_tells_where_the_control_stands(viewer):
    viewer.find(CONTROLS, WANTED)
    viewer.pick("left_foot_control")
    assert "(0.200, 0.000, 0.000)" in viewer.text() and "0 of 2" in viewer.text()


def test_what_is_not_there_is_refused_by_name(viewer):
    with pytest.raises(ValueError, match="nothing to find"):
        viewer.pick("left_foot_control")
    with pytest.raises(ValueError, match="'tail'.*left_foot_control"):
        viewer.find(CONTROLS, [("the tail", "tail")])
    viewer.find(CONTROLS, WANTED)
    with pytest.raises(ValueError, match="'tail'"):
        viewer.pick("tail")
