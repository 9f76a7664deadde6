"""The limb and the joint placement against what others published or wrote. Each check names its source."""

import modern_robotics as mr
import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.spatial import ConvexHull

from rigkit import limb, placement, rotation

# ---- textbook values ------------------------------------------------------------------------------------------------


# Source: Euclid, Elements II.12-13 (law of cosines): the inner angle of triangles that a hand can check, degrees.
@pytest.mark.source("Euclid")
@pytest.mark.parametrize(
    ("upper", "lower", "distance", "inner"),
    [(3, 4, 5, 90), (5, 8, 7, 60), (3, 5, 7, 120), (1, 1, np.sqrt(2), 90), (1, 1, np.sqrt(3), 120)],
)
def test_the_inner_angle_at_the_elbow_is_that_of_the_triangle(upper, lower, distance, inner):
    s = limb.solve([0, 0, 0], [upper, 0, 0], [upper + lower, 0, 0], [0, distance, 0], [1, 0, 0])
    cosine = (-s.mid) @ (s.end - s.mid) / (upper * lower)
    assert np.degrees(np.arccos(cosine)) == pytest.approx(inner, abs=1e-9)


# Source: Lynch & Park, Modern Robotics (2017), chapter 6; Craig, Introduction to Robotics, chapter 4 (memory): abs(a - b) <= r <= a + b.
@pytest.mark.source("Lynch & Park", "Craig")
@pytest.mark.parametrize(("upper", "lower"), [(1.0, 1.0), (0.186, 0.146), (2.0, 0.5), (0.5, 2.0)])
def test_the_reach_shell(upper, lower):
    inner, outer = limb.reach(upper, lower)
    assert (inner, outer) == (pytest.approx(abs(upper - lower), abs=1e-15), pytest.approx(upper + lower))
    r = np.linspace(0.001, outer * 1.2, 997)
    s = limb.solve([0, 0, 0], [upper, 0, 0], [upper + lower, 0, 0], r[:, None] * [0.6, 0, 0.8], [0, 1, 0])
    np.testing.assert_array_equal(s.reached, (r >= inner) & (r <= outer))


# Source: Tolani, Goswami & Badler, Graphical Models 62 (2000) 353-388: centre (a^2 + d^2 - b^2) / 2d along the line.
@pytest.mark.source("Tolani et al.")
@pytest.mark.parametrize(
    ("sides", "centre", "radius"), [((3, 4, 5), 1.8, 2.4), ((1, 1, 1), 0.5, 0.8660254), ((5, 8, 7), 5 / 7, 4.94871659)]
)
def test_the_elbow_circle(sides, centre, radius):
    along, off = limb.elbow_circle(*sides)
    assert along == pytest.approx(centre, abs=1e-8) and off == pytest.approx(radius, abs=1e-7)
    s = limb.solve([0, 0, 0], [sides[0], 0, 0], [sides[0] + sides[1], 0, 0], [sides[2], 0, 0], [0, 0, 7])
    np.testing.assert_allclose(s.mid, [centre, 0, radius], atol=1e-7)


# Source: Lynch & Park, Modern Robotics (2017), Example 6.1 (memory): lengths 1, 1, tip (0.366, 1.366) at angles (30, 90) degrees.
@pytest.mark.source("Lynch & Park")
def test_the_closed_form_gives_where_newton_of_the_textbook_ends():
    s = limb.solve([0, 0, 0], [1, 0, 0], [2, 0, 0], [0.366, 1.366, 0], [1, 0, 0])
    first = np.degrees(np.arctan2(s.mid[1], s.mid[0]))
    second = np.degrees(np.arctan2(*(s.end - s.mid)[1::-1])) - first
    assert (first, second) == (pytest.approx(30.0, abs=0.01), pytest.approx(90.0, abs=0.01))


# Source: Corke, Robotics, Vision and Control 3e, chapter 7 notebook: angles (30, 40) degrees, lengths 1, 1.
@pytest.mark.source("Corke")
def test_a_planar_arm_by_corke():
    s = limb.solve([0, 0, 0], [1, 0, 0], [2, 0, 0], [1.20804555, 1.43969262, 0], [1, 0, 0])
    np.testing.assert_allclose(s.mid, [np.cos(np.radians(30)), 0.5, 0], atol=1e-7)
    assert np.degrees(np.arctan2(*(s.end - s.mid)[1::-1])) == pytest.approx(70, abs=1e-5)


# Source: Mechanical Engineers' Handbook, vol. 2, Table 6: response of a first-order lag, 1 - e^-k for k = 1..5.
@pytest.mark.source("Mechanical Engineers' Handbook")
def test_soft_reach_is_the_response_of_a_first_order_lag():
    k = np.arange(1, 6)
    slowed = limb.soft_distance(8 + 2.0 * k, reach=10, soft=2) - 8
    np.testing.assert_allclose(slowed / 2, [0.632, 0.865, 0.950, 0.982, 0.993], atol=5e-4)
    np.testing.assert_allclose(limb.soft_distance([9, 10, 12], 10, 2), [8.78693868, 9.26424112, 9.72932943], atol=5e-9)
    assert (limb.soft_distance(8 + 1e-7, 10, 2) - 8) / 1e-7 == pytest.approx(1, abs=1e-6)


# Source: incompressible uniaxial extension (Treloar, The Physics of Rubber Elasticity): girth 1 / sqrt(s).
@pytest.mark.source("Treloar")
@pytest.mark.parametrize(("stretch", "girth"), [(4, 0.5), (2, 0.70710678), (1.44, 0.8333333)])
def test_the_girth_of_a_stretched_limb(stretch, girth):
    assert limb.girth(stretch) == pytest.approx(girth, abs=5e-8)


# Source: American Academy of Orthopaedic Surgeons, joint ranges (memory): an elbow bends 150 degrees; the lengths are Drillis & Contini's
# fractions of height (in Winter, Biomechanics and Motor Control of Human Movement, 4e, Fig. 4.1): .186 and .146.
@pytest.mark.source("AAOS", "Drillis & Contini")
def test_the_inner_reach_of_an_arm_whose_elbow_stops_at_150_degrees():
    inner, outer = limb.reach(0.186, 0.146, np.radians(150))
    assert outer == pytest.approx(0.332)
    assert inner == pytest.approx(np.sqrt(0.186**2 + 0.146**2 - 2 * 0.186 * 0.146 * np.cos(np.radians(30))), abs=1e-12)


# ---- other people's code --------------------------------------------------------------------------------------------


# Source: SciPy's SLSQP (scipy.optimize.minimize) asked for the point on both spheres that lies farthest to the pole's side.
@pytest.mark.source("SciPy")
@pytest.mark.parametrize("seed", range(12))
def test_an_optimiser_finds_the_same_elbow(seed):
    rng = np.random.default_rng(seed)
    root, target, pole = rng.normal(size=(3, 3))
    distance = np.linalg.norm(target - root)
    upper = rng.uniform(0.4, 0.9) * distance
    lower = rng.uniform(1.1, 1.5) * distance - upper
    rest = root, root + [upper, 0, 0], root + [upper + lower, 0, 0]
    s = limb.solve(*rest, target, pole)
    spheres = [
        {"type": "eq", "fun": lambda p: (p - root) @ (p - root) - upper**2, "jac": lambda p: 2 * (p - root)},
        {"type": "eq", "fun": lambda p: (p - target) @ (p - target) - lower**2, "jac": lambda p: 2 * (p - target)},
    ]
    start = root + 0.5 * (target - root) + 0.3 * (pole - root)
    found = minimize(
        lambda p: -(p - root) @ (pole - root),
        start,
        jac=lambda p: root - pole,
        constraints=spheres,
        method="SLSQP",
        options={"ftol": 1e-14, "maxiter": 300},
    )
    assert found.success
    np.testing.assert_allclose(s.mid, found.x, atol=1e-5)


# Source: PyPI modern_robotics 1.1.1 (MIT), IKinSpace and FKinSpace: an arm of three turns at the shoulder and a hinge at the elbow.
@pytest.mark.source("modern_robotics")
@pytest.mark.parametrize("seed", range(8))
def test_inverse_kinematics_of_modern_robotics_gives_the_same_arm(seed):
    rng = np.random.default_rng(100 + seed)
    root, mid, end = np.zeros(3), np.array([0.3, -0.02, 0.0]), np.array([0.55, 0.0, 0.0])
    hinge = np.array([0.0, 0.0, 1.0])
    target = end + rng.uniform([-0.25, -0.15, -0.15], [-0.08, 0.15, 0.15])
    pole = limb.pole_point(root, mid, end, 0.5) + rng.uniform(-0.1, 0.1, 3)
    s = limb.solve(root, mid, end, target, pole)
    _, lower = limb.rotations(root, mid, end, s, pole)
    screws = np.array([[*axis, *-np.cross(axis, at)] for axis, at in (([1, 0, 0], root), ([0, 1, 0], root), (hinge, root), (hinge, mid))]).T
    goal, home = np.eye(4), np.eye(4)
    goal[:3, :3], goal[:3, 3], home[:3, 3] = rotation.to_matrix(lower), s.end, end
    starts = ([0, 0, 0, 0], [0, 0, -0.5, 1.2], [0.3, 0.3, -0.5, 1.2], [-0.3, -0.3, -0.5, 1.2])  # Newton's method needs a near start
    angles, success = next(
        (found for start in starts if (found := mr.IKinSpace(screws.astype(float), home, goal, np.array(start, float), 1e-10, 1e-10))[1]),
        (None, False),
    )
    assert success and s.reached
    elbow = np.eye(4)
    elbow[:3, 3] = mid
    np.testing.assert_allclose(mr.FKinSpace(elbow, screws[:, :3], angles[:3])[:3, 3], s.mid, atol=1e-8)
    np.testing.assert_allclose(mr.FKinSpace(home, screws, angles)[:3, 3], target, atol=1e-8)


# ---- placement ------------------------------------------------------------------------------------------------------


# Source: Archimedes, On the Equilibrium of Planes I.13-14: the centre of a triangle's area is where its medians cross, a third up.
@pytest.mark.source("Archimedes")
def test_the_area_centre_of_a_triangle_is_a_third_up():
    np.testing.assert_allclose(placement.area_centre([[0, 0, 0], [6, 0, 0], [1, 9, 0]]), [7 / 3, 3, 0], atol=1e-15)


# Source: Beer & Johnston, Vector Mechanics for Engineers: Statics, table of centroids (memory): half disc 4 r / 3 pi.
@pytest.mark.source("Beer & Johnston")
def test_the_area_centre_of_a_half_disc():
    turn = np.linspace(0, np.pi, 2001)
    half = np.stack([np.cos(turn), np.sin(turn), 0 * turn], axis=1)
    np.testing.assert_allclose(placement.area_centre(half), [0, 4 / (3 * np.pi), 0], atol=1e-6)
    assert placement.loop_area(half) == pytest.approx(np.pi / 2, abs=1e-5)


# Source: SciPy's ConvexHull (Qhull): area (its "volume" in the plane) and length (its "area") of convex outlines.
@pytest.mark.source("SciPy")
@pytest.mark.parametrize("seed", range(5))
def test_area_and_length_of_convex_loops_equal_qhull(seed):
    rng = np.random.default_rng(seed)
    hull = ConvexHull(rng.normal(size=(60, 2)))
    turn = rotation.from_axis_angle(rng.normal(size=3), 1.1)
    loop = rotation.rotate(turn, np.pad(hull.points[hull.vertices], ((0, 0), (0, 1)))) + rng.normal(size=3)
    assert placement.loop_area(loop) == pytest.approx(hull.volume, rel=1e-12)
    assert placement.loop_length(loop) == pytest.approx(hull.area, rel=1e-12)


# Source: Pappus-Guldinus theorem: a plane outline swept once round an axis encloses 2 pi times its centre's distance times its area.
@pytest.mark.source("Pappus")
def test_the_area_centre_obeys_pappus():
    outline = np.array([[2, 0], [3, 0.2], [3.5, 1], [2.4, 0.9], [2.2, 1.8], [1.5, 1]])  # not convex
    centre = placement.area_centre(np.pad(outline, ((0, 0), (0, 1))))
    x, y = outline.T
    x2, y2 = np.roll(outline, -1, axis=0).T
    swept = np.pi / 3 * ((y2 - y) * (x * x + x * x2 + x2 * x2)).sum()  # a sum of frustums of cones (Elements XII.10)
    assert 2 * np.pi * centre[0] * placement.loop_area(np.pad(outline, ((0, 0), (0, 1)))) == pytest.approx(swept, rel=1e-12)
