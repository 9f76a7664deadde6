"""Marks keep their size on the screen, and can be told apart without colour."""

import numpy as np
import pytest

from rigkit import words
from rigkit.view import guides, joints, marks


def luminance(colour):
    """Relative luminance: WCAG 2.1, definition of "relative luminance"."""
    c = marks.rgb(colour)
    return np.where(c <= 0.03928, c / 12.92, ((c + 0.055) / 1.055) ** 2.4) @ [0.2126, 0.7152, 0.0722]


def contrast(one, other):
    """WCAG 2.1, definition of "contrast ratio"."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.source("WCAG")
def test_the_contrast_formula_gives_the_published_value():
    """#767676 on white is 4.542 (WCAG 2.1)."""
    assert contrast("#767676", "#FFFFFF") == pytest.approx(4.542, abs=1e-3)


@pytest.mark.source("WCAG")
@pytest.mark.parametrize("colour", [*words.SIDE_COLOUR.values(), *words.AXIS_COLOUR.values(), words.PALETTE["vermilion"], words.PALETTE["yellow"], "#9AA3AA", "#7F8A93"])
def test_marks_stand_out_from_the_scene(colour):
    """Graphics need 3:1 (WCAG 2.1, 1.4.11)."""
    assert contrast(colour, words.SCENE) >= 3


def test_a_prism_is_as_wide_as_its_stroke_says():
    stroke = marks.strokes((0, 0, 0), (0, 0, 1), "#FFFFFF", 6, 2)
    corners = marks.prisms(stroke, 0.001)[0]
    assert np.linalg.norm(corners[0] - corners[2]) == pytest.approx(0.006)
    assert np.linalg.norm(corners[4] - corners[6]) == pytest.approx(0.002)
    assert corners[:4, 2] == pytest.approx(0) and corners[4:, 2] == pytest.approx(1)


def test_a_stroke_without_length_is_no_nan():
    assert np.isfinite(marks.prisms(marks.strokes((1, 1, 1), (1, 1, 1), "#FFFFFF"), 0.001)).all()


def test_a_prisms_triangles_face_outwards():
    corners = marks.prisms(marks.strokes((0, 0, 0), (0.3, 0.2, 1), "#FFFFFF"), 0.01)[0]
    a, b, c = (corners[marks.PRISM_TRIANGLES[:, k]] for k in range(3))
    out = np.einsum("ti,ti->t", np.cross(b - a, c - a), (a + b + c) / 3 - corners.mean(axis=0))
    assert (out > 0).all()


def test_a_dashed_line_reaches_both_ends():
    dashed = marks.dashes((0, 0, 0), (1, 0, 0), "#FFFFFF", count=4)
    assert dashed.starts[0, 0] == 0 and dashed.ends[-1, 0] == pytest.approx(1) and len(dashed.starts) == 4


def test_a_ring_has_its_radius_and_lies_square_to_its_normal():
    points = marks.ring((1, 2, 3), (1, 1, 0), 0.5) - [1, 2, 3]
    assert np.linalg.norm(points, axis=1) == pytest.approx(0.5)
    assert points @ [1, 1, 0] == pytest.approx(0, abs=1e-12)


def test_sides_differ_in_shape_and_in_colour():
    names = ["left_elbow_joint", "right_elbow_joint", "centre_body_joint"]
    dots = joints.layer(np.zeros((3, 3)), names, [-1, -1, -1]).glyphs
    assert [int(d.shapes[0]) for d in dots] == [marks.SHAPES[s] for s in ("round", "square", "diamond")]
    assert len({d.colours[0].tobytes() for d in dots}) == 3


def test_bones_run_from_parents_to_children():
    bones = joints.layer(np.eye(3), ["a", "b", "c"], [-1, 0, 0]).strokes
    assert [(b.starts[0].tolist(), b.ends[0].tolist()) for b in bones] == [([1, 0, 0], [0, 1, 0]), ([1, 0, 0], [0, 0, 1])]


def test_without_parents_joints_form_a_chain_and_a_mapping_gives_the_names():
    points, names, parents = joints.named({"left_hip": (0, 1, 0), "left_knee": (0, 0.5, 0)})
    assert names == ["left_hip", "left_knee"] and parents == [-1, 0] and points.shape == (2, 3)


@pytest.mark.parametrize("given,told", [
    ((np.zeros((2, 3)), ["one"], None), "1 names came for 2 points; give one for each point"),
    ((np.zeros((2, 3)), None, [-1]), "1 parents came for 2 points"),
    ((np.zeros((2, 3)), None, [-1, 2]), "expected numbers from -1"),
    ((np.zeros((2, 2)), None, None), "points has shape"),
])
def test_what_does_not_fit_is_told(given, told):
    with pytest.raises(ValueError, match=told):
        joints.named(*given)


def test_frames_are_lettered_along_their_axes():
    quarter = [0, 0, np.sqrt(0.5), np.sqrt(0.5)]  # a quarter turn about z: x goes to y
    layer = guides.frames([[1, 0, 0]], [quarter], 0.1)
    assert [(w.text, np.round(w.point, 9).tolist()) for w in layer.words] == [("x", [1, 0.1, 0]), ("y", [0.9, 0, 0]), ("z", [1, 0, 0.1])]


def test_labels_that_start_with_an_underscore_are_not_written():
    layer = guides.lines({"_quiet": np.eye(3), "told": np.eye(3)})
    assert [w.text for w in layer.words] == ["told"] and len(layer.strokes) == 2
