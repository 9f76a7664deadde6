"""The angle at which two shells touch: by hand, against SciPy's least distance of triangles, and on the robot."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import nnls

import rigkit as rk
from rigkit import Mesh, placement
from rigkit import _placement_touching as touching
from rigkit.view import collide
from tests.strategies import directions, numbers, turns, vectors

ORIGIN, X, Z = np.zeros(3), np.array([1.0, 0, 0]), np.array([0, 0, 1.0])
CORNERS = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], float)
SIDES = [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]]

triangles = vectors(-1, 1, (3, 3))


def box(low, high):
    return Mesh(np.array(low) + CORNERS * (np.array(high, float) - low), SIDES)


def distance(one, other, weight=1e4):
    """The least distance of two triangles: |A u - B v| for shares u, v of their corners; the sums of shares are weighty rows of nnls."""
    ones, none = np.full(3, weight), np.zeros(3)
    m = np.vstack([np.hstack([one.T, -other.T]), np.concatenate([ones, none]), np.concatenate([none, ones])])
    shares, _ = nnls(m, np.array([0, 0, 0, weight, weight]))
    u, v = shares[:3] / shares[:3].sum(), shares[3:] / shares[3:].sum()
    return float(np.linalg.norm(one.T @ u - other.T @ v))


def size(triangle):
    return np.linalg.norm(np.cross(triangle[1] - triangle[0], triangle[2] - triangle[0]))


# ---- by hand --------------------------------------------------------------------------------------------------------


def test_two_bars_of_a_folding_rule():
    """Bars of half thickness h in one line, each ending at a from a hinge in their middle: their corners meet at pi - 2 atan(h / a)."""
    h, a = 0.05, 0.2
    left, right = box([-1, -h, -0.1], [-a, h, 0.1]), box([a, -h, -0.1], [1, h, 0.1])
    found = placement.touching_angle(left, right, ORIGIN, Z)
    assert found == pytest.approx(np.pi - 2 * np.arctan2(h, a), abs=2e-5)
    assert placement.touching_angle(left, right, ORIGIN, -Z) == pytest.approx(found, abs=2e-5)


def test_a_lid_on_its_stop():
    """A thin lid, closed at 0; a stop that leans by 30 degrees past upright lets it open by 120.

    Its far end is at radius 1 and its near one at 0.1, where the two are a tenth as far apart: ten tolerances are 0.006 degrees.
    """
    lean = np.radians(120)
    lid = Mesh([[0.1, 0, -0.2], [1, 0, -0.2], [1, 0, 0.2], [0.1, 0, 0.2]], [[0, 1, 2, 3]])
    stop = Mesh(lid.vertices @ np.array([[np.cos(lean), np.sin(lean), 0], [-np.sin(lean), np.cos(lean), 0], [0, 0, 1]]), [[0, 1, 2, 3]])
    assert np.degrees(placement.touching_angle(stop, lid, ORIGIN, Z)) == pytest.approx(120, abs=6e-3)
    assert placement.touching_angle(stop, lid, ORIGIN, Z, most=np.radians(119)) == np.inf
    assert np.degrees(placement.touching_angle(stop, lid, ORIGIN, -Z, most=2 * np.pi)) == pytest.approx(240, abs=6e-3)


def test_clearance_keeps_a_gap():
    """A point at radius r that turns to a plane through the hinge is r sin(angle left) from it; the nearer end is at 0.99."""
    wall = Mesh([[0, -5, -5], [0, 5, -5], [0, 5, 5], [0, -5, 5]], [[0, 1, 2, 3]])
    needle = Mesh([[1, 0, 0], [0.99, 0, 1e-4], [0.99, 0, -1e-4]], [[0, 1, 2]])
    found = placement.touching_angle(wall, needle, ORIGIN, Z, clearance=0.1)
    assert found == pytest.approx(np.pi / 2 - np.arcsin(0.1 / 0.99), abs=2e-5)


def test_shells_that_touch_from_the_start_have_no_range():
    assert placement.touching_angle(box([0, 0, 0], [1, 1, 1]), box([0.5, 0.5, 0.5], [2, 2, 2]), ORIGIN, Z) == 0
    assert placement.touching_angle(box([0, 0, 0], [1, 1, 1]), box([1, 0, 0], [2, 1, 1]), [1, 0, 0], Z) == 0


def test_shells_that_share_no_height_or_radius_never_touch():
    assert placement.touching_angle(box([0, 0, 0], [1, 1, 1]), box([0, 0, 1.001], [1, 1, 2]), ORIGIN, Z, most=2 * np.pi) == np.inf
    assert placement.touching_angle(box([2, 0, 0], [3, 1, 1]), box([0, 0, 0], [1, 1, 1]), ORIGIN, Z, most=2 * np.pi) == np.inf


def test_a_tube_that_turns_in_another_touches_nothing():
    """A millimetre of play all round: no two faces ever meet. With the play as clearance they do from the start."""
    ring = np.stack([np.cos(np.arange(24) * np.pi / 12), np.sin(np.arange(24) * np.pi / 12)], axis=1)

    def tube(radius, low, high):
        rows = [np.column_stack([radius * ring, np.full(24, z)]) for z in (low, high)]
        return Mesh(np.vstack(rows), [[i, (i + 1) % 24, 24 + (i + 1) % 24, 24 + i] for i in range(24)])

    outer, inner = tube(0.05, 0, 0.1), tube(0.048, 0.02, 0.12)
    assert placement.touching_angle(outer, inner, ORIGIN, Z) == np.inf
    assert placement.touching_angle(outer, inner, ORIGIN, Z, clearance=0.002) == 0


# ---- against SciPy --------------------------------------------------------------------------------------------------


@pytest.mark.source("SciPy")
@given(triangles, triangles)
def test_a_gap_of_shadows_is_never_above_the_distance(one, other):
    assert touching.gaps(one[None], other[None])[0] <= distance(one, other) + 1e-6


@pytest.mark.source("SciPy")
@given(triangles, triangles)
def test_triangles_that_are_apart_have_a_gap(one, other):
    """The separating axes are complete: whatever is apart can be proved so."""
    assume(min(size(one), size(other)) > 1e-2)
    far = distance(one, other)
    assume(far > 1e-3)
    assert touching.gaps(one[None], other[None])[0] > 0.05 * far


@pytest.mark.source("SciPy")
@given(st.integers(0, 10_000))
def test_triangles_are_apart_up_to_the_angle_and_meet_at_it(seed):
    rng = np.random.default_rng(seed)
    one, other = rng.uniform(-1, 1, (2, 3, 3))
    found = placement.touching_angle(Mesh(one, [[0, 1, 2]]), Mesh(other, [[0, 1, 2]]), ORIGIN, Z, most=2 * np.pi)

    def apart_at(angle):
        return distance(one, rk.rotation.rotate(rk.rotation.from_axis_angle(Z, angle), other))

    for angle in np.linspace(0, min(found, 2 * np.pi), 12)[: 11 if found < np.inf else 12]:
        assert apart_at(angle) > 1e-7 or found == 0
    if found < np.inf:
        assert apart_at(found) < 2e-3


def test_plain_pairs_are_all_found():
    """Against every pair: a pair is left out only where heights or radii do not meet."""
    rng = np.random.default_rng(0)
    one, other = (rng.uniform(-1, 1, (count, 1, 3)) + rng.uniform(-0.2, 0.2, (count, 3, 3)) for count in (40, 50))
    one[0], other[0] = [[-2, 0.1, -2], [2, 0, -2], [0, 0, 3]], [[0.01, 0.05, 0], [0, 0.06, 0.01], [0.01, 0.1, 0.01]]  # on the axis
    found = set(map(tuple, touching.candidates(one, other, 0.0).tolist()))
    for i, j in np.ndindex(40, 50):
        heights = one[i, :, 1].min() <= other[j, :, 1].max() and other[j, :, 1].min() <= one[i, :, 1].max()
        share = rng.dirichlet(np.ones(3), 300)
        a, b = (np.linalg.norm((share @ t)[:, [0, 2]], axis=1) for t in (one[i], other[j]))
        if heights and a.min() <= b.max() and b.min() <= a.max():
            assert (i, j) in found
        if not heights:
            assert (i, j) not in found
    assert (0, 0) in found and len(found) < 1200


# ---- laws -----------------------------------------------------------------------------------------------------------


@settings(max_examples=25)
@given(turns(), vectors(), numbers(0.3, 1.2), numbers(0.05, 0.3))
def test_shells_elsewhere_touch_at_the_same_angle(turn, move, length, thick):
    left, right = box([-1, -thick, -0.1], [-0.2, thick, 0.2]), box([0.1, -thick, -0.1], [length, thick / 2, 0.1])
    here = placement.touching_angle(left, right, ORIGIN, Z)
    moved = (Mesh(move + rk.rotation.rotate(turn, mesh.vertices), SIDES) for mesh in (left, right))
    assert placement.touching_angle(*moved, move, rk.rotation.rotate(turn, Z)) == pytest.approx(here, abs=1e-4)


@settings(max_examples=25)
@given(directions(), numbers(0.05, 0.3))
def test_it_does_not_matter_which_shell_turns(axis, thick):
    left, right = box([-1, -thick, -0.1], [-0.2, thick, 0.2]), box([0.1, -thick, -0.1], [0.8, thick, 0.1])
    one, other = placement.touching_angle(left, right, ORIGIN, axis), placement.touching_angle(right, left, ORIGIN, -axis)
    assert (one == other == np.inf) or one == pytest.approx(other, abs=1e-4)


@pytest.mark.parametrize("variant", [0, 5])
@pytest.mark.parametrize("mid,root,tip", [("elbow", "upper_arm_tube", "forearm_tube"), ("knee", "thigh_tube", "shin_tube")])
def test_the_robots_shells_are_apart_before_and_overlap_after(variant, mid, root, tip):
    """Against winding numbers and nearest faces (`rigkit.view.collide`), which share nothing with the separating axes."""
    robot = rk.tally(variant)
    fixed, moving = (robot.part(f"left_{name}").mesh for name in (root, tip))
    point, hinge = robot.landmarks[f"left_{mid}"], robot.hinges[f"left_{mid}"]
    found = placement.touching_angle(fixed, moving, point, hinge)
    assert 60 < np.degrees(found) < 150

    def clear(angle):
        turned = point + rk.rotation.rotate(rk.rotation.from_axis_angle(hinge, angle), moving.vertices - point)
        return collide.clearance((fixed.vertices, fixed.triangles), (turned, moving.triangles))[0]

    assert clear(found - np.radians(0.3)) > 0 > clear(found + np.radians(0.3))
    assert abs(clear(found)) < 1e-4
    shells = (robot.part(f"right_{name}").mesh for name in (root, tip))
    right = placement.touching_angle(*shells, robot.landmarks[f"right_{mid}"], robot.hinges[f"right_{mid}"])
    assert right == pytest.approx(found, abs=1e-4)


# ---- errors ---------------------------------------------------------------------------------------------------------

BOX = box([0, 0, 0], [1, 1, 1])


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: placement.touching_angle(BOX, BOX, ORIGIN, ORIGIN), "axis has length 0; expected a direction"),
        (lambda: placement.touching_angle(BOX, BOX, [0, 0], Z), r"point has shape \(2,\); expected \(..., 3\)"),
        (lambda: placement.touching_angle(BOX, BOX, ORIGIN, Z, most=7), "most is 7; expected 0 to 6.28319 radians"),
        (lambda: placement.touching_angle(BOX, BOX, ORIGIN, Z, clearance=-1), "clearance is -1; expected metres, 0 or more"),
        (lambda: placement.touching_angle(BOX, BOX, ORIGIN, Z, tolerance=0), "tolerance is 0; expected radians above 0"),
        (
            lambda: placement.touching_angle(BOX, Mesh(np.zeros((1, 3)), np.zeros((0, 3), int)), ORIGIN, Z),
            "a mesh has no faces; expected two shells",
        ),
    ],
)
def test_bad_input_is_told_in_words(call, text):
    with pytest.raises(ValueError, match=text):
        call()
