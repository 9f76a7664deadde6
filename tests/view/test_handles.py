"""Dragging: a handle stays under the pointer, in the plane that faces the eye."""

import numpy as np
import pytest

from rigkit.view.eye import VIEWS, looking
from rigkit.view.handles import GRIP, Drag, on_plane

SIZE = (640, 500)


def seen_at(eye, pixel):
    """A far point on the ray of a pixel, as the browser reports it."""
    right, up, _ = eye.axes().T
    step = eye.metres_per_pixel(SIZE)
    on_target_plane = eye.target + (pixel[0] - SIZE[0] / 2) * step * right + (SIZE[1] / 2 - pixel[1]) * step * up
    origin, direction = eye.ray(on_target_plane)
    return origin + (eye.distance + 20) * direction


@pytest.mark.parametrize("view", VIEWS)
def test_a_dragged_handle_goes_where_the_pointer_goes(view):
    eye = looking(view, (0, 0.6, 0), 1.4)
    places = {"target": np.array([0.2, 0.7, 0.3]), "pole": np.array([0.1, 0.6, -0.4])}
    start = eye.pixels(places["target"], SIZE)[:2] + [3, -2]
    drag = Drag()
    assert drag.press(places, eye, SIZE, seen_at(eye, start)) == "target"
    moved = drag.place(eye, seen_at(eye, start + [40, 25]))
    assert eye.pixels(moved, SIZE)[:2] == pytest.approx(eye.pixels(places["target"], SIZE)[:2] + [40, 25], abs=0.02 if view != "perspective" else 1.0)
    assert (moved - places["target"]) @ eye.back == pytest.approx(0, abs=1e-9)


def test_a_press_beside_every_handle_takes_none():
    eye = looking("front", (0, 0, 0), 1.0)
    drag = Drag()
    assert drag.press({"target": np.zeros(3)}, eye, SIZE, seen_at(eye, (320 + GRIP + 1, 250))) is None
    assert drag.place(eye, seen_at(eye, (0, 0))) is None


def test_the_nearer_of_two_handles_is_taken():
    eye = looking("front", (0, 0, 0), 1.0)
    places = {"one": np.zeros(3), "other": np.array([0.03, 0, 0])}
    assert Drag().press(places, eye, SIZE, seen_at(eye, (320 + 9, 250))) == "other"


def test_after_the_release_nothing_is_held():
    eye = looking("front", (0, 0, 0), 1.0)
    drag = Drag()
    drag.press({"target": np.zeros(3)}, eye, SIZE, seen_at(eye, (320, 250)))
    assert drag.release() == "target" and drag.held is None


def test_a_ray_along_the_plane_or_away_from_it_meets_it_nowhere():
    assert on_plane((0, 0, 1), (1, 0, 0), (0, 0, 0), (0, 0, 1)) is None
    assert on_plane((0, 0, 1), (0, 0, 1), (0, 0, 0), (0, 0, 1)) is None
