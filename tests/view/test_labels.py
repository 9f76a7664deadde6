"""Labels of lines keep clear of handles' labels and of each other."""

import numpy as np
import pytest

import rigkit as rk
from rigkit.view import Viewer, labels, marks
from rigkit.view.eye import looking

SIZE = (640, 500)
EYE = looking("front", (0, 0, 0), 1.0)


def overlap(one, other, eye=EYE, size=SIZE):
    """Whether two words cover each other."""
    x, y, w, h = labels.box(one, one.point, eye, size)
    a, b, u, v = labels.box(other, other.point, eye, size)
    return abs(x - a) < w + u and abs(y - b) < h + v


def test_a_label_stands_at_the_end_that_is_clear():
    line = np.array([[-0.4, 0, 0], [0.3, 0, 0]])
    word = marks.Word("a line", tuple(line[-1]))
    alone, = labels.lay([word], [labels.places(line)], [], EYE, SIZE)
    assert alone.point == tuple(line[-1])
    handle = marks.Word("pole", (0.31, 0.01, 0))
    moved, = labels.lay([word], [labels.places(line)], [handle], EYE, SIZE)
    assert overlap(alone, handle) and not overlap(moved, handle) and moved.point == tuple(line[0])


def test_labels_of_circles_that_touch_do_not_cover_each_other():
    rings = [np.vstack([marks.ring((0, 0, 0), (0, 0, 1), r, 32)] * 2)[:33] for r in (0.2, 0.21, 0.22)]
    told = [marks.Word(f"circle {i}", tuple(ring[-1])) for i, ring in enumerate(rings)]
    laid = labels.lay(told, [labels.places(ring) for ring in rings], [], EYE, SIZE)
    pairs = [(0, 1), (0, 2), (1, 2)]
    assert all(overlap(told[i], told[j]) for i, j in pairs) and not any(overlap(laid[i], laid[j]) for i, j in pairs)


def test_a_label_does_not_leave_the_picture_where_it_need_not():
    line = np.array([[0, 0.2, 0], [0, 4, 0]])
    inside, = labels.lay([marks.Word("up", (0, 4, 0))], [labels.places(line)], [], EYE, SIZE)
    assert inside.point == (0, 0.2, 0)


@pytest.mark.parametrize("points,count", [(np.zeros((1, 3)), 1), (np.eye(3), 2), (marks.ring((0, 0, 0), (0, 0, 1), 1, 64), labels.ALONG)])
def test_an_open_line_has_two_places_and_a_closed_one_more(points, count):
    assert len(labels.places(points)) == count and (labels.places(points)[0] == points[-1]).all()


def test_the_label_of_a_line_through_the_pole_leaves_the_pole_alone_also_after_the_pole_was_dragged():
    robot = rk.tally()
    root, mid, end = (robot.landmarks[f"left_{n}"] for n in ("shoulder", "elbow", "wrist"))
    viewer = Viewer(robot)
    across = np.array([0, 0, 0.5])
    viewer.look("side")
    viewer.limb(root, mid, end, end + [0, 0.2, 0.1], root - across, rk.limb.solve)
    viewer.lines({"line through the pole": np.array([root + across, root - across])})

    def told(text):
        return next(word for layer in viewer._all_layers() for word in layer.words if word.text == text)

    assert not overlap(told("line through the pole"), told("pole"), viewer.eye, viewer.size)
    assert told("line through the pole").point == tuple(root + across)
    viewer.pole = root + across
    assert told("line through the pole").point == tuple(root - across)
    viewer.close()
