"""Meshes, loops, planes of symmetry and outlines against libraries that others wrote, on random input. Each check names its source."""

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize
from scipy.spatial import ConvexHull, Delaunay, cKDTree
from sympy import Point as SympyPoint
from sympy import Polygon

from rigkit import limb, mesh, mirror, outline, placement, rotation, symmetry
from rigkit.mesh import Mesh
from tests.strategies import random_turns


def simple_polygon(rng, count):
    """A star around the origin, not convex as a rule, with whole numbers as corners: (N, 2)."""
    turn = np.sort(rng.uniform(0, 2 * np.pi, count) + 2 * np.pi * np.arange(count)) / count
    corners = np.round(rng.uniform(20, 100, count)[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=1)).astype(int)
    return corners[np.any(corners != np.roll(corners, 1, axis=0), axis=1)]


def hull_mesh(rng, count=40):
    """The hull of a random cloud as a Mesh of triangles that look outward."""
    hull = ConvexHull(rng.normal(size=(count, 3)))
    faces = hull.simplices.copy()
    a, b, c = hull.points[faces].swapaxes(0, 1)
    inward = np.einsum("ij,ij->i", np.cross(b - a, c - a), hull.equations[:, :3]) < 0
    faces[inward] = faces[inward][:, ::-1]
    return Mesh(hull.points, faces)


def as_trimesh(one):
    return trimesh.Trimesh(one.vertices, one.triangles, process=False)


# ---------------------------------------------------------------- loops


# Source: PyPI sympy (BSD-3-Clause), Polygon.centroid, area, perimeter in exact fractions, for outlines that are not convex.
@pytest.mark.source("SymPy")
@pytest.mark.parametrize("seed", range(8))
def test_centre_area_and_length_of_a_loop_in_exact_fractions(seed):
    rng = np.random.default_rng(seed)
    corners = simple_polygon(rng, 9)
    exact = Polygon(*(SympyPoint(int(x), int(y)) for x, y in corners))
    turn, move = random_turns(rng), rng.normal(size=3)
    loop = rotation.rotate(turn, np.pad(corners.astype(float), ((0, 0), (0, 1)))) + move
    centre = rotation.rotate(turn, [float(exact.centroid.x), float(exact.centroid.y), 0.0]) + move
    np.testing.assert_allclose(placement.area_centre(loop), centre, atol=1e-11)
    assert placement.loop_area(loop) == pytest.approx(abs(float(exact.area)), rel=1e-12)
    assert placement.loop_length(loop) == pytest.approx(float(exact.perimeter), rel=1e-12)
    wider = [loop, 1.1 * (loop - move) + move]
    assert placement.narrowest_loop(wider) == 0 and placement.narrowest_loop(wider[::-1]) == 1


# Source: PyPI trimesh (MIT), intersections.mesh_plane: the segments in which a plane cuts the triangles, one by one.
@pytest.mark.source("trimesh")
@given(st.integers(0, 2**32 - 1))
def test_a_section_is_made_of_the_segments_of_trimesh(seed):
    rng = np.random.default_rng(seed)
    solid = hull_mesh(rng)
    point, normal = rng.normal(size=3) * 0.3, rng.normal(size=3)
    segments = trimesh.intersections.mesh_plane(as_trimesh(solid), normal, point)
    lines = mesh.section(solid, point, normal)
    assert len(lines) == bool(len(segments))  # convex: one line, or none
    if lines:
        ends = cKDTree(segments.reshape(-1, 3))
        assert ends.query(lines[0])[0].max() < 1e-6
        length = np.linalg.norm(segments[:, 1] - segments[:, 0], axis=1).sum()
        assert placement.loop_length(lines[0]) == pytest.approx(length, rel=1e-6)


# Source: SciPy's ConvexHull (Qhull): a plane cuts a convex solid in a convex line, so the cut has the area and length of its own hull.
@pytest.mark.source("SciPy")
@given(st.integers(0, 2**32 - 1))
def test_a_section_of_a_convex_solid_is_its_own_hull(seed):
    rng = np.random.default_rng(seed)
    solid, normal = hull_mesh(rng), rng.normal(size=3)
    (line,) = mesh.section(solid, solid.vertices.mean(axis=0), normal)
    flat = rotation.rotate(rotation.between(normal, [0.0, 0, 1]), line)[:, :2]
    hull = ConvexHull(flat)
    assert placement.loop_area(line) == pytest.approx(hull.volume, rel=1e-9)
    assert placement.loop_length(line) == pytest.approx(hull.area, rel=1e-9)


# ---------------------------------------------------------------- faces


# Source: PyPI trimesh (MIT), Trimesh.area_faces, face_normals, bounds; geometry.mean_vertex_normals of normals times areas.
@pytest.mark.source("trimesh")
@pytest.mark.parametrize("seed", range(5))
def test_areas_normals_and_bounds_as_in_trimesh(seed):
    solid = hull_mesh(np.random.default_rng(seed))
    other = as_trimesh(solid)
    np.testing.assert_allclose(np.linalg.norm(mesh.face_vectors(solid), axis=1), other.area_faces, atol=1e-12)
    np.testing.assert_allclose(mesh.face_normals(solid), other.face_normals, atol=1e-9)
    np.testing.assert_allclose(solid.bounds, other.bounds)
    weighed = other.face_normals * other.area_faces[:, None]
    used = np.isin(np.arange(len(solid.vertices)), solid.triangles)
    expected = trimesh.geometry.mean_vertex_normals(len(solid.vertices), solid.triangles, weighed)
    np.testing.assert_allclose(mesh.vertex_normals(solid)[used], expected[used], atol=1e-9)


# Source: PyPI trimesh (MIT), Trimesh.volume: above zero where all faces look outward, and the same below zero where they are turned over.
@pytest.mark.source("trimesh")
@pytest.mark.parametrize("seed", range(5))
def test_a_reflected_mesh_keeps_its_volume_once_its_faces_are_turned_over(seed):
    rng = np.random.default_rng(seed)
    solid, plane = hull_mesh(rng), mirror.Plane(rng.normal(size=3), rng.normal(size=3))
    image = solid.moved(mirror.points(solid.vertices, plane))
    volume = as_trimesh(solid).volume
    assert volume > 0 and as_trimesh(image).volume == pytest.approx(-volume)
    assert as_trimesh(image.flipped()).volume == pytest.approx(volume)


# Source: PyPI trimesh (MIT), Trimesh.volume of a closed tube drawn out along its axis and made thinner across.
@pytest.mark.source("trimesh")
@pytest.mark.parametrize("stretch", [0.5, 1.2, 2.0, 4.0])
def test_a_stretched_tube_with_the_girth_of_the_law_keeps_its_volume(stretch):
    tube = mesh.tube(24, [0.0, 0.1, 0.25, 0.4], radius=[0.05, 0.06, 0.04, 0.05])
    rings = mesh.loops(tube)
    caps = [[rings[0][0], rings[0][k + 1], rings[0][k]] for k in range(1, 23)] + [
        [rings[-1][0], rings[-1][k], rings[-1][k + 1]] for k in range(1, 23)
    ]
    shell = Mesh(tube.vertices, np.concatenate([tube.triangles, caps]))
    girth = float(limb.girth(stretch))
    assert as_trimesh(shell).is_watertight
    drawn = as_trimesh(shell.moved(shell.vertices * [girth, stretch, girth]))
    assert drawn.volume == pytest.approx(as_trimesh(shell).volume, rel=1e-12)


# Source: PyPI trimesh (MIT), grouping.group_rows: the edges that one face alone has.
@pytest.mark.source("trimesh")
@pytest.mark.parametrize("seed", range(5))
def test_the_border_is_the_edges_that_trimesh_finds_once(seed):
    rng = np.random.default_rng(seed)
    solid = hull_mesh(rng, 60)
    open_mesh = Mesh(solid.vertices, solid.faces[solid.vertices[solid.faces[:, :3]].mean(axis=1)[:, 0] > -0.4])
    other = as_trimesh(open_mesh)
    lone = other.edges_sorted[trimesh.grouping.group_rows(other.edges_sorted, require_count=1)]
    loops = mesh.boundary_loops(open_mesh)
    found = {tuple(sorted(pair)) for loop in loops for pair in zip(loop.tolist(), np.roll(loop, -1).tolist())}
    touching = np.flatnonzero(np.bincount(lone.ravel(), minlength=len(open_mesh.vertices)) > 2)
    if not len(touching):
        assert found == {tuple(map(int, pair)) for pair in lone}
    else:
        assert found < {tuple(map(int, pair)) for pair in lone} and not np.isin(touching, [v for pair in found for v in pair]).any()


# Source: PyPI trimesh (MIT), Trimesh.merge_vertices: a mesh torn into single triangles and put together again.
@pytest.mark.source("trimesh")
@pytest.mark.parametrize("seed", range(5))
def test_a_mesh_torn_into_triangles_is_welded_as_by_trimesh(seed):
    solid = hull_mesh(np.random.default_rng(seed))
    torn = Mesh(solid.vertices[solid.triangles].reshape(-1, 3), np.arange(3 * len(solid.triangles)).reshape(-1, 3))
    other = as_trimesh(torn)
    other.merge_vertices()
    whole = mesh.welded(torn)
    assert len(whole.vertices) == len(other.vertices) and len(whole.triangles) == len(other.faces)
    assert cKDTree(other.vertices).query(whole.vertices)[0].max() == 0
    assert as_trimesh(whole).is_watertight and as_trimesh(whole).volume == pytest.approx(as_trimesh(solid).volume)


# Source: PyPI trimesh (MIT), convex hulls, and SciPy's SLSQP for their closest points: the angle at which they first come in touch.
@pytest.mark.source("trimesh", "SciPy")
@pytest.mark.parametrize("seed", range(3))
def test_two_hulls_touch_at_the_angle_at_which_their_distance_is_gone(seed):
    rng = np.random.default_rng(seed)
    fixed, moving = (trimesh.Trimesh(rng.normal(size=(12, 3)) * 0.2 + off, process=False).convex_hull for off in ([1, 0, 0], [-1, 0, 0]))
    one, other = (Mesh(np.array(m.vertices), np.array(m.faces)) for m in (fixed, moving))
    angle = placement.touching_angle(one, other, [0, 0, 0], [0, 1, 0])
    assert angle < np.pi

    def distance(turn):
        turned = rotation.rotate(rotation.from_axis_angle([0, 1, 0], turn), other.vertices)
        planes = [ConvexHull(points).equations for points in (one.vertices, turned)]
        found = minimize(
            lambda p: np.sum((p[:3] - p[3:]) ** 2),
            np.concatenate([one.vertices.mean(axis=0), turned.mean(axis=0)]),
            jac=lambda p: 2 * np.concatenate([p[:3] - p[3:], p[3:] - p[:3]]),
            constraints=[
                {"type": "ineq", "fun": lambda p, e=e, part=part: -(p[part] @ e[:, :3].T + e[:, 3])}
                for e, part in zip(planes, (slice(0, 3), slice(3, 6)))
            ],
            method="SLSQP",
            options={"maxiter": 300, "ftol": 1e-16},
        )
        return np.sqrt(found.fun)

    assert distance(angle) < 1e-3
    assert distance(angle - 0.05) > 1e-3


# ---------------------------------------------------------------- planes of symmetry


# Source: SciPy's minimize (Nelder-Mead) on the squared distances to the nearest point of the mirrored cloud (cKDTree).
@pytest.mark.source("SciPy")
@pytest.mark.parametrize("seed", range(4))
def test_the_best_plane_is_the_one_an_optimiser_ends_at(seed):
    rng = np.random.default_rng(seed)
    plane = mirror.Plane(rng.normal(size=3) * 0.1, rng.normal(size=3))
    half = rng.normal(size=(120, 3)) * [0.3, 1.0, 0.6]
    half = half[(half - plane.point) @ plane.normal > 0.02]
    cloud = np.vstack([half, mirror.points(half, plane) + rng.normal(size=half.shape) * 1e-4])
    found = symmetry.best_plane(cloud, tolerance=0.05)
    tree = cKDTree(cloud)

    def cost(x):
        normal = np.array([np.sin(x[0]) * np.cos(x[1]), np.sin(x[0]) * np.sin(x[1]), np.cos(x[0])])
        image = cloud - 2 * np.outer(cloud @ normal - x[2], normal)
        return np.square(tree.query(image)[0]).sum()

    start = np.array([np.arccos(found.normal[2]), np.arctan2(found.normal[1], found.normal[0]), found.point @ found.normal])
    best = minimize(cost, start, method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-15, "maxiter": 600})
    assert np.abs(best.x - start).max() < 1e-5
    assert cost(start) <= best.fun * (1 + 1e-3)


# Source: SciPy's minimize (BFGS) on the squared distances between the mirrored points of one side and those of the other.
@pytest.mark.source("SciPy")
@pytest.mark.parametrize("seed", range(6))
def test_the_plane_of_pairs_is_the_least_squares_one(seed):
    rng = np.random.default_rng(seed)
    plane = mirror.Plane(rng.normal(size=3), rng.normal(size=3))
    left = rng.normal(size=(15, 3)) + 2 * plane.normal + plane.point
    right = mirror.points(left, plane) + rng.normal(size=left.shape) * 0.01

    def cost(x):
        normal = x[:3] / np.linalg.norm(x[:3])
        return np.square(left - 2 * np.outer(left @ normal - x[3], normal) - right).sum()

    found = symmetry.plane_of_pairs(left, right, plane.normal)
    best = minimize(cost, [*plane.normal, plane.point @ plane.normal], method="BFGS", options={"gtol": 1e-10})
    ours = cost(np.append(found.normal, found.point @ found.normal))
    assert ours == pytest.approx(best.fun, rel=1e-6)


# ---------------------------------------------------------------- outlines


# Source: SciPy's Delaunay (Qhull): every point of the part lies in a simplex of the outline's points.
@pytest.mark.source("SciPy")
@pytest.mark.parametrize("name", sorted(set(outline.SHAPES) - {"arc", "ball"}))
@pytest.mark.parametrize("seed", range(3))
def test_a_fitted_outline_holds_its_part_in_its_hull(name, seed):
    points = np.random.default_rng(seed).normal(size=(30, 3)) * [0.1, 0.05, 0.2]
    fitted = outline.fitted(name, points).points
    axes = [0, 1, 2] if np.ptp(fitted[:, 1]) > 0 else [0, 2]  # a flat one is seen from above
    assert (Delaunay(fitted[:, axes]).find_simplex(points[:, axes]) >= 0).all()
