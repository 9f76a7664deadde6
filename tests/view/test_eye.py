"""Where points fall on the screen, and which ray a pixel stands for."""

import numpy as np
import pytest

from rigkit.view.eye import FIELD_OF_VIEW, VIEWS, distance_for, height_for, looking

SIZE = (640, 500)


@pytest.mark.parametrize("view", VIEWS)
def test_the_target_is_in_the_middle_of_the_picture(view):
    eye = looking(view, (0.2, 0.7, -0.1), 0.8)
    assert eye.pixels((0.2, 0.7, -0.1), SIZE)[:2] == pytest.approx((320, 250), abs=1e-6)


def test_from_the_front_left_is_right_and_up_is_up():
    """A character faces +Z, so its left (+X) is on the right of a picture from the front (CONVENTIONS of the course)."""
    eye = looking("front", (0, 0, 0), 1.0)
    assert eye.pixels((0.1, 0.2, 0), SIZE)[:2] == pytest.approx((320 + 50, 250 - 100))


def test_from_the_side_the_front_is_on_the_left():
    """Seen from the character's left the front (+Z) points left."""
    assert looking("side", (0, 0, 0), 1.0).pixels((0, 0, 0.1), SIZE)[0] == pytest.approx(320 - 50)


def test_from_above_the_front_is_below():
    assert looking("top", (0, 0, 0), 1.0).pixels((0, 0, 0.1), SIZE)[1] == pytest.approx(250 + 50, abs=1e-3)


def test_a_parallel_view_shows_lengths_alike_at_any_depth():
    eye = looking("front", (0, 0, 0), 1.0)
    near, far = (np.diff(eye.pixels([[0, 0, z], [0.1, 0, z]], SIZE)[:, 0]) for z in (0.9, -3.0))
    assert [near[0], far[0]] == pytest.approx([50, 50])


def test_in_perspective_a_thing_twice_as_far_looks_half_as_large():
    """Similar triangles."""
    eye = looking("perspective", (0, 0, 0), 1.0)
    right = eye.axes()[:, 0]
    sizes = [np.linalg.norm(np.diff(eye.pixels([p, p + 0.01 * right], SIZE)[:, :2], axis=0)) for p in (np.zeros(3), -eye.distance * eye.back)]
    assert sizes[0] == pytest.approx(2 * sizes[1], rel=1e-9)


@pytest.mark.parametrize("view", VIEWS)
def test_every_point_of_a_pixels_ray_falls_on_that_pixel(view):
    eye = looking(view, (0, 0.6, 0), 1.3)
    seen = np.array([0.31, 0.2, -0.4])
    origin, direction = eye.ray(seen)
    for t in (0.5, 1.7, 3.0):
        assert eye.pixels(origin + t * direction, SIZE)[:2] == pytest.approx(eye.pixels(seen, SIZE)[:2], abs=1e-6)


def test_the_cameras_turn_is_a_rotation_that_looks_at_the_target():
    from rigkit import rotation

    eye = looking("perspective", (0.1, 0.5, 0), 1.0)
    assert rotation.rotate(eye.quaternion(), [0, 0, -1]) == pytest.approx(-eye.back)


def test_height_and_distance_are_each_others_inverse():
    assert height_for(distance_for(1.3)) == pytest.approx(1.3)
    assert height_for(1.0) == pytest.approx(2 * np.tan(np.radians(FIELD_OF_VIEW / 2)))


@pytest.mark.parametrize("view", VIEWS)
def test_nearer_enlarges_what_is_looked_at(view):
    eye = looking(view, (0, 0, 0), 1.0)
    step = 0.01 * eye.axes()[:, 0]
    before, after = (e.pixels(step, SIZE)[0] - 320 for e in (eye, eye.nearer(2.0)))
    assert after == pytest.approx(2 * before)


def test_turning_keeps_the_distance_and_stops_short_of_the_poles():
    eye = looking("perspective", (0, 0.5, 0), 1.0).turned(0.3, 9.0)
    assert eye.distance == pytest.approx(distance_for(1.0)) and 0.999 < eye.back[1] < 1
    assert np.isfinite(eye.quaternion()).all()


def test_an_unknown_view_is_told():
    with pytest.raises(ValueError, match="there is no view 'back'; choose one of: front, side, top, perspective"):
        looking("back", (0, 0, 0), 1)
