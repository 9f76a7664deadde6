"""Shells that run into each other, on cubes and balls whose distances are known by hand."""

import numpy as np
import pytest

import rigkit as rk
from rigkit.view.collide import clearance, distance, winding
from tests.view.test_model import CUBE, FACES

TRIANGLES = rk.Mesh(CUBE, FACES).triangles


def ball(centre, radius, n=24):
    """A ball of rings with two poles."""
    v, u = np.meshgrid(np.linspace(0, np.pi, n)[1:-1], np.linspace(0, 2 * np.pi, n, endpoint=False), indexing="ij")
    rings = np.stack([np.sin(v) * np.cos(u), np.cos(v), np.sin(v) * np.sin(u)], axis=-1).reshape(-1, 3)
    points = np.concatenate([rings, [[0, 1, 0], [0, -1, 0]]]) * radius + centre
    i, j = (k.ravel() for k in np.meshgrid(np.arange(n - 3), np.arange(n), indexing="ij"))
    a, b = i * n + j, i * n + (j + 1) % n
    k = np.arange(n)
    top, low = np.full(n, len(rings)), np.full(n, len(rings) + 1)
    caps = [np.column_stack([top, (k + 1) % n, k]), np.column_stack([low, (n - 3) * n + k, (n - 3) * n + (k + 1) % n])]
    return points, np.concatenate([np.column_stack([a, b, b + n]), np.column_stack([a, b + n, a + n]), *caps])


def test_the_winding_number_is_one_inside_a_cube_and_nought_outside():
    assert winding(np.array([[0.5, 0.5, 0.5], [0.01, 0.99, 0.3], [1.01, 0.5, 0.5], [5, 5, 5]]), CUBE, TRIANGLES) == pytest.approx([1, 1, 0, 0], abs=1e-12)


def test_distances_to_a_cube_to_its_face_its_edge_and_its_corner():
    points = np.array([[0.5, 0.5, 1.3], [0.5, 1.3, 1.4], [2, 2, 2], [0.5, 0.5, 0.9]])
    gap, nearest = distance(points, CUBE, TRIANGLES)
    assert gap == pytest.approx([0.3, 0.5, np.sqrt(3), 0.1])
    assert nearest[2] == pytest.approx([1, 1, 1])


@pytest.mark.parametrize("apart,expected", [(0.30, 0.10), (0.22, 0.02), (0.17, -0.03)])
def test_two_balls_of_radius_a_tenth(apart, expected):
    """Gap or overlap of two balls: the distance of their centres less both radii; the balls have flat faces, 1 mm at most."""
    signed, where = clearance(ball((0, 0, 0), 0.1), ball((apart, 0, 0), 0.1))
    assert signed == pytest.approx(expected, abs=2e-3)
    assert np.abs(where[1:]).max() < 0.03


def test_a_corner_that_sticks_into_a_cube_is_as_deep_as_it_is():
    moved = CUBE + [0.9, 0.3, 0.3]
    spike = moved.copy()
    spike[0] = [0.8, 0.5, 0.5]
    assert clearance((CUBE, TRIANGLES), (spike, TRIANGLES))[0] == pytest.approx(-0.2)


def test_boxes_farther_apart_than_asked_are_not_looked_at():
    assert clearance((CUBE, TRIANGLES), (CUBE + [3, 0, 0], TRIANGLES), beyond=1.5) == (np.inf, None)


def test_it_does_not_matter_which_shell_comes_first():
    one, other = ball((0, 0, 0), 0.1), (CUBE + [0.05, -0.5, -0.5], TRIANGLES)
    assert clearance(one, other)[0] == pytest.approx(clearance(other, one)[0])
