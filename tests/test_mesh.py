"""Meshes: what is refused, loops from topology, borders, sections, welding."""

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import ConvexHull, cKDTree

import rigkit as rk
from rigkit import mesh, placement
from rigkit.mesh import Mesh, tube


def capped(around, rings):
    """A tube along +Y closed with a fan of triangles at each end."""
    open_ = tube(around, np.linspace(0, 1, rings))
    vertices = np.vstack([open_.vertices, [[0, -0.1, 0], [0, 1.1, 0]]])
    n, k = len(open_.vertices), np.arange(around)
    low = np.stack([np.full(around, n), (k + 1) % around, k, np.full(around, -1)], axis=1)
    high = np.stack([np.full(around, n + 1), n - around + k, n - around + (k + 1) % around, np.full(around, -1)], axis=1)
    return Mesh(vertices, np.vstack([open_.faces, low, high]))


def cube_grid(n):
    """A cube whose sides are n by n quads: loops in three families, none of them closed at the eight corners."""
    parts = []
    u = np.linspace(0, 1, n + 1)
    x, y = np.meshgrid(u, u, indexing="ij")
    index = np.arange((n + 1) ** 2).reshape(n + 1, n + 1)
    quads = np.stack([index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]], axis=-1).reshape(-1, 4)
    for axis in range(3):
        for side in (0.0, 1.0):
            points = np.roll(np.stack([np.full(x.size, side), x.ravel(), y.ravel()], axis=1), axis, axis=1)
            parts.append(Mesh(points, quads if side else quads[:, ::-1]))
    return mesh.welded(mesh.joined(parts))


def torus(around, along):
    """A ring of quads: closed loops both ways."""
    i, j = np.meshgrid(np.arange(along), np.arange(around), indexing="ij")
    p, q = 2 * np.pi * i / along, 2 * np.pi * j / around
    vertices = np.stack([(2 + np.cos(q)) * np.cos(p), np.sin(q), (2 + np.cos(q)) * np.sin(p)], axis=-1).reshape(-1, 3)
    at = lambda i, j: (i % along) * around + j % around  # noqa: E731
    return Mesh(vertices, np.stack([at(i, j), at(i, j + 1), at(i + 1, j + 1), at(i + 1, j)], axis=-1).reshape(-1, 4))


# ---- loops ----------------------------------------------------------------------------------------------------------


@settings(max_examples=30, deadline=None)
@given(st.integers(3, 12), st.integers(2, 9), st.randoms(use_true_random=False), st.booleans())
def test_the_loops_of_a_tube_are_its_rings_in_order_however_it_is_numbered(around, rings, random, closed):
    closed = closed and around != 4  # four lines meet in a cap of four, and loops run over it too
    plain = capped(around, rings) if closed else tube(around, np.linspace(0, 1, rings))
    numbers = np.array(random.sample(range(len(plain.vertices)), len(plain.vertices)))
    vertices = np.empty_like(plain.vertices)
    vertices[numbers] = plain.vertices
    faces = np.where(plain.faces >= 0, numbers[plain.faces], -1)
    shuffled = Mesh(vertices, faces[random.sample(range(len(faces)), len(faces))])
    found = mesh.loops(shuffled)
    assert len(found) == rings
    heights = np.array([vertices[loop][:, 1] for loop in found])
    np.testing.assert_allclose(np.ptp(heights, axis=1), 0, atol=1e-12)
    steps = np.diff(heights[:, 0])
    assert (steps > 0).all() or (steps < 0).all()
    around_axis = np.array([np.arctan2(vertices[loop][:, 0], vertices[loop][:, 2]) for loop in found])
    np.testing.assert_allclose(np.sin(around_axis - around_axis[:1]), 0, atol=1e-9)  # entry k lies over entry k
    if rings > 1:
        up = np.sign(steps[0])
        turns = np.angle(np.exp(1j * np.diff(around_axis[0])))
        assert (turns * up > 0).all()  # right-handed about the way along


def test_every_loop_runs_right_handed_about_the_way_along_the_tube():
    bent = tube(16, np.linspace(0, 1, 11))
    y = bent.vertices[:, 1]
    bent = bent.moved(bent.vertices + np.stack([0 * y, 0 * y, 3 * y * y], axis=1))
    found = [bent.vertices[loop] for loop in mesh.loops(bent)]
    centres = placement.chain_from_loops(found)
    for loop, way in zip(found, np.gradient(centres, axis=0)):
        assert placement.normal(loop) @ way > 0


def test_a_tube_starts_at_the_end_with_the_lower_numbers():
    assert [loop[0] for loop in mesh.loops(tube(5, [0, 1, 2, 3]))] == [0, 5, 10, 15]


def test_loops_of_two_tubes_come_tube_by_tube():
    found = mesh.tubes(mesh.joined([tube(6, [0, 1, 2]), tube(8, [0, 1])]))
    assert [rows.shape for rows in found] == [(3, 6), (2, 8)]


def test_a_torus_has_loops_both_ways():
    found = mesh.tubes(torus(5, 7))
    assert sorted(rows.shape for rows in found) == [(5, 7), (7, 5)]


def test_a_cube_has_three_families_of_loops_and_each_loop_once():
    found = mesh.tubes(cube_grid(4))
    assert [rows.shape for rows in found] == [(3, 16)] * 3
    assert len({frozenset(loop.tolist()) for rows in found for loop in rows}) == 9


def test_the_way_round_of_the_faces_does_not_matter():
    plain = tube(6, [0, 1, 2, 3])
    faces = plain.faces.copy()
    faces[::2] = faces[::2, ::-1]
    assert [loop.tolist() for loop in mesh.loops(Mesh(plain.vertices, faces))] == [loop.tolist() for loop in mesh.loops(plain)]


def test_a_line_that_winds_round_and_ends_at_the_borders_is_no_loop():
    """A helix: the rings of a tube joined one step up."""
    around, rings = 6, 5
    count = around * rings
    k = np.arange(count - around - 1)
    helix = Mesh(np.random.default_rng(0).normal(size=(count, 3)), np.stack([k, k + 1, k + 1 + around, k + around], axis=1))
    assert mesh.loops(helix) == []


def test_a_mesh_of_triangles_and_an_empty_mesh_have_no_loops():
    plain = tube(6, [0, 1, 2])
    assert mesh.loops(Mesh(plain.vertices, plain.triangles)) == []
    assert mesh.loops(Mesh([], [])) == [] and mesh.boundary_loops(Mesh([], [])) == []


def test_tally_every_sleeve_gives_its_rings_and_its_fold_is_the_joint():
    robot = rk.tally(3)
    for side in ("left", "right"):
        for joint in ("elbow", "knee", "ball"):
            part = robot.part(f"{side}_{joint}_sleeve").mesh
            rows = mesh.tubes(part)
            assert len(rows) == 1
            found = [part.vertices[loop] for loop in rows[0]]
            fold = found[placement.narrowest_loop(found)]
            np.testing.assert_allclose(placement.area_centre(fold), robot.landmarks[f"{side}_{joint}"], atol=1e-4)


def test_time_grows_as_the_number_of_vertices():
    """Eight times as many vertices may take twenty times as long, not sixty-four."""

    def seconds(rings):
        plain = tube(32, np.arange(rings))
        best = np.inf
        for _ in range(3):
            start = time.perf_counter()
            assert len(mesh.loops(plain)) == rings
            best = min(best, time.perf_counter() - start)
        return best

    assert seconds(800) < 20 * seconds(100)


# ---- borders --------------------------------------------------------------------------------------------------------


def test_boundary_loops_keep_the_mesh_on_their_left():
    plain = tube(6, [0, 1, 2])
    low, high = mesh.boundary_loops(plain)
    assert low.tolist() == [0, 1, 2, 3, 4, 5] and high.tolist() == [12, 17, 16, 15, 14, 13]
    assert placement.normal(plain.vertices[low])[1] > 0 and placement.normal(plain.vertices[high])[1] < 0


def test_a_closed_mesh_has_no_border():
    assert mesh.boundary_loops(capped(6, 3)) == [] and mesh.boundary_loops(cube_grid(2)) == []


def test_a_flat_patch_has_its_outline_as_border():
    square = Mesh([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]], [[0, 1, 2, 3]])
    assert [loop.tolist() for loop in mesh.boundary_loops(square)] == [[0, 1, 2, 3]]
    assert [loop.tolist() for loop in mesh.boundary_loops(square.flipped())] == [[0, 3, 2, 1]]


def test_borders_that_touch_in_a_vertex_are_left_out():
    two = Mesh([[0, 0, 0], [1, 0, 0], [0, 1, 0], [-1, 0, 0], [0, -1, 0]], [[0, 1, 2], [0, 3, 4]])
    assert mesh.boundary_loops(two) == []


# ---- normals, bounds, moves -------------------------------------------------------------------------------------------


@pytest.mark.source("theorem")
def test_the_face_vectors_of_a_closed_mesh_add_up_to_nothing():
    """The divergence theorem for a constant field."""
    for closed in (capped(7, 4), cube_grid(3), torus(6, 9)):
        np.testing.assert_allclose(mesh.face_vectors(closed).sum(axis=0), 0, atol=1e-12)


def test_normals_point_out_and_have_unit_length():
    solid = cube_grid(3)
    out = solid.vertices[np.where(solid.faces >= 0, solid.faces, solid.faces[:, :1])].mean(axis=1) - 0.5
    assert (np.einsum("ij,ij->i", mesh.face_normals(solid), out) > 0).all()
    np.testing.assert_allclose(np.linalg.norm(mesh.vertex_normals(solid), axis=1), 1)
    assert (np.einsum("ij,ij->i", mesh.vertex_normals(solid), solid.vertices - 0.5) > 0).all()
    np.testing.assert_allclose(mesh.face_normals(solid.flipped()), -mesh.face_normals(solid), atol=1e-15)


# Source: SciPy's ConvexHull (Qhull): the area of the hull of a random cloud, and its triangles as a mesh.
@pytest.mark.source("SciPy")
def test_face_areas_equal_qhull():
    hull = ConvexHull(np.random.default_rng(1).normal(size=(80, 3)))
    assert np.linalg.norm(mesh.face_vectors(Mesh(hull.points, hull.simplices)), axis=1).sum() == pytest.approx(hull.area, rel=1e-12)


def test_a_face_of_no_area_and_a_vertex_of_no_face_have_the_normal_zero():
    thin = Mesh([[0, 0, 0], [1, 0, 0], [2, 0, 0], [5, 5, 5]], [[0, 1, 2]])
    assert not mesh.face_normals(thin).any() and not mesh.vertex_normals(thin).any()


def test_bounds_moved_joined():
    plain = tube(4, [0, 2])
    np.testing.assert_allclose(plain.bounds, [[-1, 0, -1], [1, 2, 1]], atol=1e-15)
    np.testing.assert_allclose(plain.moved(plain.vertices + 1).bounds, plain.bounds + 1)
    both = mesh.joined([plain, plain.moved(plain.vertices + 5)])
    assert both.faces.shape == (8, 4) and both.faces[4].tolist() == (plain.faces[0] + 8).tolist()


def test_a_mesh_is_its_own_copy_and_can_not_be_written_to():
    vertices, faces = np.zeros((3, 3)), np.array([[0, 1, 2]])
    made = Mesh(vertices, faces)
    vertices[0] = 9
    assert made.vertices[0, 0] == 0 and made.faces.dtype == np.int32 and made.vertices.dtype == np.float64
    for array in (made.vertices, made.faces, made.triangles):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1


# ---- sections -------------------------------------------------------------------------------------------------------


@settings(max_examples=40, deadline=None)
@given(st.floats(0.05, 0.95), st.floats(-0.4, 0.4), st.floats(-0.4, 0.4))
def test_a_section_of_a_tube_lies_in_the_plane_and_has_the_area_of_the_slanted_cut(height, slope_x, slope_z):
    """A cylinder cut at a slant: the area across, over the cosine of the slant."""
    around = 48
    plain = tube(around, np.linspace(-2, 3, 31))
    normal = np.array([slope_x, 1, slope_z]) / np.linalg.norm([slope_x, 1, slope_z])
    cut = mesh.section(plain, [0, height, 0], normal)
    assert len(cut) == 1
    np.testing.assert_allclose((cut[0] - [0, height, 0]) @ normal, 0, atol=1e-12)
    across = around / 2 * np.sin(2 * np.pi / around)
    assert placement.loop_area(cut[0]) == pytest.approx(across / normal[1], rel=1e-9)
    assert placement.normal(cut[0]) @ normal == pytest.approx(1)
    np.testing.assert_allclose(placement.area_centre(cut[0]), [0, height, 0], atol=1e-9)


@pytest.mark.source("SciPy")
def test_a_section_through_a_ring_of_vertices_is_the_ring():
    plain = tube(12, [0, 1, 2])
    cut = mesh.section(plain, [0, 1, 0], [0, 1, 0])
    assert len(cut) == 1 and len(cut[0]) == 12
    assert len(cKDTree(plain.vertices[12:24]).query_ball_point(cut[0], 1e-12).nonzero()[0]) == 12


def test_sections_of_hollow_and_double_shapes_come_longest_first():
    ring = mesh.section(torus(24, 48), [0, 0.1, 0], [0, 1, 0])
    assert [len(line) for line in ring] == sorted((len(line) for line in ring), reverse=True) and len(ring) == 2
    assert placement.loop_area(ring[0]) > placement.loop_area(ring[1])
    across = mesh.section(torus(24, 48), [0, 0, 0], [0.01, 0, 1])
    assert len(across) == 2


def test_a_section_agrees_with_the_loops_of_tally():
    """Topology and plane give one fold, so a mesh without loops can be rigged the same way."""
    robot = rk.tally(0)
    sleeve = robot.part("left_elbow_sleeve").mesh
    found = [sleeve.vertices[loop] for loop in mesh.loops(sleeve)]
    fold = found[placement.narrowest_loop(found)]
    triangles = Mesh(sleeve.vertices, sleeve.triangles)
    cut = mesh.section(triangles, placement.area_centre(fold), placement.normal(fold))
    np.testing.assert_allclose(placement.area_centre(cut[0]), robot.landmarks["left_elbow"], atol=1e-6)


def test_a_plane_beside_the_mesh_cuts_nothing_and_an_open_line_is_left_out():
    assert mesh.section(tube(6, [0, 1]), [0, 5, 0], [0, 1, 0]) == []
    assert mesh.section(tube(6, [0, 1]), [0.1, 0, 0], [1, 0, 0]) == []
    assert mesh.section(Mesh([], []), [0, 0, 0], [0, 1, 0]) == []


# ---- welding --------------------------------------------------------------------------------------------------------


def test_a_torn_tube_is_whole_again_after_welding():
    plain = tube(8, np.linspace(0, 1, 5))
    torn = Mesh(plain.vertices[plain.faces.reshape(-1)], np.arange(4 * len(plain.faces)).reshape(-1, 4))
    assert mesh.loops(torn) == []
    whole = mesh.welded(torn)
    assert len(whole.vertices) == len(plain.vertices) and [len(loop) for loop in mesh.loops(whole)] == [8] * 5


# Source: SciPy's cKDTree.query_pairs and connected_components on the same cloud.
@pytest.mark.source("SciPy")
@pytest.mark.parametrize("tolerance", [1e-3, 0.02, 0.06])
def test_welding_groups_equal_those_of_scipy(tolerance):
    rng = np.random.default_rng(2)
    points = np.vstack([rng.uniform(size=(400, 3)), rng.uniform(size=(50, 3)) * [1, 1, 0]])
    points = np.vstack([points, points[:100], points[:60] + rng.normal(size=(60, 3)) * 1e-4])
    number = mesh.weld_numbers(Mesh(points, []), tolerance)
    pairs = cKDTree(points).query_pairs(tolerance, output_type="ndarray")
    _, label = connected_components(coo_matrix((np.ones(len(pairs)), pairs.T), shape=(len(points),) * 2))
    first = {group: np.flatnonzero(label == group)[0] for group in set(label)}
    np.testing.assert_array_equal(number, [first[group] for group in label])


def test_welding_drops_what_lost_its_area_and_keeps_the_rest_of_a_quad():
    vertices = [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [0, 0, 1e-9], [1, 0, 1e-9]]
    quads = [[0, 1, 2, 3], [0, 1, 5, 4], [0, 4, 2, 3], [3, 0, 2, 4], [0, 4, 1, -1]]
    assert mesh.welded(Mesh(vertices, quads)).faces.tolist() == [[0, 1, 2, 3], [0, 2, 3, -1]]


# ---- errors ---------------------------------------------------------------------------------------------------------

SQUARE = [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: Mesh([[0, 0]], []), r"vertices has shape \(1, 2\); expected \(..., 3\)"),
        (lambda: Mesh([[[0, 0, 0]]], []), r"vertices has shape \(1, 1, 3\); expected \(V, 3\): one row a vertex"),
        (lambda: Mesh([[0, 0, 0], [0, np.nan, 0]], []), r"vertices at row \(1,\) is .*nan.*; expected finite numbers"),
        (
            lambda: Mesh(SQUARE, [0, 1, 2]),
            r"faces has shape \(3,\) of int.*; expected \(F, 4\) integers, with -1 in the last column for a triangle",
        ),
        (lambda: Mesh(SQUARE, [[0.0, 1.0, 2.0]]), "faces has shape .* of float64; expected"),
        (lambda: Mesh(SQUARE, [[0, 1, 2], [1, 2, 4]]), r"faces\[1\] = \[1, 2, 4, -1\] with 4 vertices; expected numbers from 0 to 3"),
        (
            lambda: Mesh(SQUARE, [[0, 1, -1, -1]]),
            r"faces\[0\] = \[0, 1, -1, -1\] with 4 vertices; expected numbers from 0 to 3 \(-1 only in the last column\)",
        ),
        (lambda: Mesh(SQUARE, [[0, 1, 2, -2]]), r"faces\[0\] = \[0, 1, 2, -2\] with 4 vertices"),
        (lambda: Mesh(SQUARE, [[0, 1, 2, 1]]), r"faces\[0\] = \[0, 1, 2, 1\] uses a vertex twice; expected different ones"),
        (lambda: Mesh([], []).bounds, "the mesh has 0 vertices; expected at least one: an empty mesh has no bounds"),
        (lambda: Mesh(SQUARE, []).moved(SQUARE[:3]), "3 vertices came for a mesh of 4; expected one for each: keep their order"),
        (lambda: mesh.joined([]), "no mesh came; expected one or more to join"),
        (lambda: mesh.section(Mesh(SQUARE, []), [0, 0, 0], [0, 0, 0]), "normal has length 0; expected a direction"),
        (
            lambda: mesh.section(Mesh(SQUARE, []), [[0, 0, 0]], [0, 0, 1]),
            r"point and normal have shapes \(1, 3\) and \(3,\); expected \(3,\) and \(3,\): one plane",
        ),
        (lambda: mesh.welded(Mesh(SQUARE, []), 0), "tolerance is 0; expected metres above 0"),
        (lambda: tube(2, [0, 1]), "2 vertices around and heights of shape .*; expected at least 3"),
    ],
)
def test_bad_input_is_told_in_words(call, text):
    with pytest.raises(ValueError, match=text):
        call()
