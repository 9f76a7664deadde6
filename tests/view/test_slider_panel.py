"""Sliders that a cell's own function answers: it is called with all degrees, once for each change, and its errors are told."""

import numpy as np
import pytest

import rigkit as rk
from rigkit.view import Viewer


@pytest.fixture
def viewer():
    made = Viewer(rk.tally())
    yield made
    made.close()


def test_the_function_is_called_at_once_and_after_each_change(viewer):
    seen = []
    viewer.sliders({"shoulder": (-60, 60), "elbow": (0, 150)}, seen.append)
    assert seen == [{"shoulder": 0.0, "elbow": 0.0}]
    viewer._panel._sliders["elbow"].value = 40.0
    assert seen[1:] == [{"shoulder": 0.0, "elbow": 40.0}]
    viewer.slide(shoulder=-30, elbow=90)
    assert seen[2:] == [{"shoulder": -30.0, "elbow": 90.0}]
    assert viewer._panel._sliders["shoulder"].value == -30.0


def test_the_degrees_stand_in_the_table_and_the_readout(viewer):
    viewer.sliders({"elbow": (0, 150)}, lambda degrees: viewer.table([("half", f"{degrees['elbow'] / 2:.0f}")]))
    viewer.slide(elbow=50)
    assert [line.split() for line in viewer.text().splitlines()] == [["half", "25"], ["elbow", "50", "degrees"], ["elbow", "50", "degrees"]]


def test_sliders_may_count_something_else_than_degrees(viewer):
    viewer.sliders({"target": (-20, 50)}, lambda millimetres: None, unit="mm")
    viewer.slide(target=15)
    assert [line.split() for line in viewer.text().splitlines()] == [["target", "15", "mm"], ["target", "15", "mm"]]
    assert viewer._panel._sliders["target"].tooltip == "target, in mm" and "In mm. Arrow keys" in viewer._panel.widget.children[0].value
    with pytest.raises(ValueError, match="expected -20 to 50 mm"):
        viewer.slide(target=60)


def test_what_the_function_draws_goes_with_the_panel(viewer):
    def move(degrees):
        viewer.pose(np.tile([np.sin(np.radians(degrees["all"]) / 2), 0, 0, np.cos(np.radians(degrees["all"]) / 2)], (46, 1)))

    at_rest = viewer.figure.points().copy()
    viewer.sliders({"all": (-10, 10)}, move)
    viewer.slide(all=5)
    assert not np.allclose(viewer.figure.points(), at_rest)
    viewer.clear()
    assert np.allclose(viewer.figure.points(), at_rest)
    with pytest.raises(ValueError, match="no sliders yet"):
        viewer.slide(all=5)


def test_an_error_in_the_function_is_raised_in_the_cell_and_told_at_the_slider(viewer):
    def move(degrees):
        if degrees["elbow"] > 10:
            raise RuntimeError("no such turn")

    viewer.sliders({"elbow": (0, 150)}, move)
    viewer._panel._sliders["elbow"].value = 20.0
    assert "stopped: RuntimeError: no such turn" in viewer.text()
    with pytest.raises(RuntimeError):
        viewer.slide(elbow=30)


@pytest.mark.parametrize("given,why", [({"knee": 5}, "no slider is called 'knee'; there are: elbow"), ({"elbow": 151}, "0 to 150 degrees")])
def test_unknown_sliders_and_degrees_out_of_range_are_refused(viewer, given, why):
    viewer.sliders({"elbow": (0, 150)}, lambda degrees: None)
    with pytest.raises(ValueError, match=why):
        viewer.slide(**given)


def test_a_range_without_the_rest_pose_is_refused(viewer):
    with pytest.raises(ValueError, match="low <= 0 <= high"):
        viewer.sliders({"elbow": (10, 150)}, lambda degrees: None)
