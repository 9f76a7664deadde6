"""The browser's side of the scene, without a browser: what is sent for the floor."""

import numpy as np

from rigkit.view import floor
from rigkit.view.eye import looking
from rigkit.view.stage import Stage


def widths(stage):
    """The widths of the strokes on the floor, metres."""
    corners = np.asarray(stage._floor._axes.array, dtype=float).reshape(-1, 8, 3)
    return np.linalg.norm(corners[:, 0] - corners[:, 2], axis=1)


def test_axes_on_the_floor_are_thin_in_a_close_view_and_as_before_from_far():
    stage = Stage([], lambda: None, lambda *_: None)
    for height, parallel in ((3.0, "front"), (0.1, "front"), (0.05, "perspective"), (3.0, "perspective")):
        eye = looking(parallel, (0, 0, 0), height)
        stage.look(eye)
        pixels = widths(stage) / eye.metres_per_pixel(stage.size)
        assert (pixels <= floor.FINE * 1.06).all()
    assert np.allclose(widths(stage), min(floor.THICK, floor.FINE * 3.0 / 500), rtol=0.06)
    stage.close()


def test_zooming_in_thins_them_too():
    stage = Stage([], lambda: None, lambda *_: None)
    stage.look(looking("front", (0, 0, 0), 1.5))
    before = widths(stage)
    stage.camera().zoom = 20.0  # the browser's wheel
    assert np.allclose(widths(stage), before / 20, rtol=0.06)
    stage.close()
