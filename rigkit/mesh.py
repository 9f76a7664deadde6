"""A mesh: points in space and the faces between them, and the closed loops that its edges form.

A sleeve or a tube is modelled as rings of edges, joined by strips of four-sided
faces. The mesh does not say which edges are a ring, but its topology does: stand
on an edge, walk to its end, and where four edges meet go straight on, leaving
one edge on either hand. When the walk comes back to its start it has gone once
around the part. `loops` finds every such ring; the joint belongs at the centre
of one of them (see `rigkit.placement`).

All walks take time in proportion to the number of edges.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from rigkit import arguments
from rigkit._mesh_topology import Edges, closed_walks, groups, in_rows


@dataclass(frozen=True, eq=False)
class Mesh:
    """Vertices (V, 3) in metres and faces (F, 4): four vertex numbers, or three and -1 for a triangle.

    Faces run counter-clockwise seen from outside. Faces of shape (F, 3) are taken
    as triangles. Both arrays are copied and can't be written to.

    Raises ValueError for a wrong shape, numbers that are not finite, a vertex
    number out of range, and a face that uses a vertex twice.

    >>> square = Mesh([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]], [[0, 1, 2, 3]])
    >>> square.triangles.tolist()
    [[0, 1, 2], [0, 2, 3]]
    """

    vertices: np.ndarray
    faces: np.ndarray

    def __repr__(self):
        return f"Mesh({len(self.vertices)} vertices, {len(self.faces)} faces)"

    def __post_init__(self):
        vertices = _vertices(self.vertices)
        faces = _faces(self.faces, len(vertices))
        for name, value in (("vertices", vertices), ("faces", faces)):
            value.flags.writeable = False
            object.__setattr__(self, name, value)

    @cached_property
    def triangles(self):
        """Every face as triangles, (T, 3): a quad a b c d becomes a b c and a c d, in the order of the faces."""
        both = self.faces[:, [[0, 1, 2], [0, 2, 3]]]
        triangles = both[(both >= 0).all(axis=2)]
        triangles.flags.writeable = False
        return triangles

    @property
    def bounds(self):
        """The lowest and the highest corner of the box around all vertices, (2, 3)."""
        if not len(self.vertices):
            raise ValueError("the mesh has 0 vertices; expected at least one: an empty mesh has no bounds")
        return np.array([self.vertices.min(axis=0), self.vertices.max(axis=0)])

    def moved(self, vertices):
        """Return the same faces on other `vertices` (V, 3)."""
        moved = replace(self, vertices=vertices)
        if len(moved.vertices) != len(self.vertices):
            raise ValueError(
                f"{len(moved.vertices)} vertices came for a mesh of {len(self.vertices)}; expected one for each: keep their order"
            )
        return moved

    def flipped(self):
        """Return the mesh with every face turned over, as a reflection asks for."""
        quad = self.faces[:, 3:] >= 0
        return replace(self, faces=np.where(quad, self.faces[:, ::-1], self.faces[:, [0, 2, 1, 3]]))


def joined(meshes):
    """Return one mesh of several; vertices and faces keep their order.

    >>> one = Mesh([[0, 0, 0], [1, 0, 0], [0, 1, 0]], [[0, 1, 2]])
    >>> joined([one, one]).faces.tolist()
    [[0, 1, 2, -1], [3, 4, 5, -1]]
    """
    meshes = list(meshes)
    if not meshes:
        raise ValueError("no mesh came; expected one or more to join")
    starts = np.cumsum([0, *(len(m.vertices) for m in meshes[:-1])])
    faces = [np.where(m.faces >= 0, m.faces + start, -1) for m, start in zip(meshes, starts)]
    return Mesh(np.concatenate([m.vertices for m in meshes]), np.concatenate(faces))


def face_vectors(mesh):
    """Return, for each face, its unit normal times its area, (F, 3).

    Half the cross product of the diagonals: exact for a triangle and a flat quad,
    and the vector area of a quad that is not flat.

    >>> face_vectors(Mesh([[0, 0, 0], [2, 0, 0], [2, 1, 0], [0, 1, 0]], [[0, 1, 2, 3]])) + 0.0
    array([[0., 0., 2.]])
    """
    a, b, c, d = (mesh.vertices[column] for column in _corners(mesh).T)
    return 0.5 * np.cross(c - a, d - b)


def face_normals(mesh):
    """Return the unit normal of each face, (F, 3); zero for a face with no area."""
    return _unit_or_zero(face_vectors(mesh))


def vertex_normals(mesh):
    """Return a unit normal for each vertex, (V, 3): the mean of its faces, each counted by its area.

    Zero for a vertex that no face uses.
    """
    vectors = face_vectors(mesh)
    total = np.zeros_like(mesh.vertices)
    for column in mesh.faces.T:
        used = column >= 0
        np.add.at(total, column[used], vectors[used])
    return _unit_or_zero(total)


def loops(mesh):
    """Return the closed loops that go straight on at every vertex: a list of vertex number arrays.

    Loops that are joined by strips of quads come one after another, as they lie
    along the tube; entry k of one is joined by an edge to entry k of the next, and
    each turns right-handed about the way from the first to the last. A tube starts
    at the end that has the lower vertex numbers, and tubes come in the order of
    their lowest number. Every loop comes once. A line that ends at an open border
    or crosses itself is no loop; a mesh of triangles only has none (see `section`).

    >>> [loop.tolist() for loop in loops(tube(3, [0, 1, 2]))]
    [[0, 1, 2], [3, 4, 5], [6, 7, 8]]
    """
    return [loop for family in tubes(mesh) for loop in family]


def tubes(mesh):
    """Return `loops` grouped into tubes: a list of arrays (loops, vertices around)."""
    edges = Edges(mesh.faces, len(mesh.vertices))
    found = edges.cycles(edges.straight_on())
    return in_rows(mesh.vertices, mesh.faces, edges, found)


def boundary_loops(mesh):
    """Return the loops of edges that have a face on one side only: a list of vertex number arrays.

    Each runs as its faces do, so that the mesh lies on its left seen from outside,
    and starts at its lowest vertex number. Where borders touch in a vertex the line
    can't be told apart, and none through that vertex is returned.

    >>> [loop.tolist() for loop in boundary_loops(tube(3, [0, 1, 2]))]
    [[0, 1, 2], [6, 8, 7]]
    """
    edges = Edges(mesh.faces, len(mesh.vertices))
    found = edges.cycles(edges.along_border())
    runs = {(int(a), int(b)) for a, b in edges.border_ways}
    turned = [loop if (loop[0], loop[1]) in runs else [loop[0], *loop[:0:-1]] for loop in found]
    return [np.array(loop) for loop in turned]


def section(mesh, point, normal):
    """Return the closed lines in which a plane cuts the mesh: a list of points (N, 3), each right-handed about `normal`.

    For meshes whose edges form no loops, and for loops at any place and angle. Each
    line runs from edge to edge of the triangles; its last point joins its first. The
    longest comes first. A line that ends at an open border is left out.

    point (3,), normal (3,): the plane, metres. A vertex in the plane counts as just above it.
    Raises ValueError for a normal of no length.

    >>> cut = section(tube(4, [0, 1]), [0, 0.25, 0], [0, 1, 0])
    >>> len(cut), cut[0].shape, sorted(set(cut[0][:, 1].tolist()))
    (1, (8, 3), [0.25])
    """
    point, normal = arguments.points("point", point), arguments.directions("normal", normal)
    if point.shape != (3,) or normal.shape != (3,):
        raise ValueError(f"point and normal have shapes {point.shape} and {normal.shape}; expected (3,) and (3,): one plane")
    height = (mesh.vertices - point) @ normal
    sides = np.stack([mesh.triangles, np.roll(mesh.triangles, -1, axis=1)], axis=-1)
    crossed = np.sort(sides[np.diff(height[sides] >= 0, axis=-1)[..., 0]], axis=1)  # two sides of each triangle that is cut
    edges, number = np.unique(crossed, axis=0, return_inverse=True)
    low, high = edges.T
    share = height[low] / (height[low] - height[high])
    points = mesh.vertices[low] + share[:, None] * (mesh.vertices[high] - mesh.vertices[low])
    lines = [_without_repeats(points[walk]) for walk in closed_walks(number.reshape(-1, 2), len(edges))]
    lines = [_right_handed(line, normal) for line in lines if len(line) > 2]
    return sorted(lines, key=lambda line: -np.linalg.norm(np.roll(line, -1, axis=0) - line, axis=1).sum())


def weld_numbers(mesh, tolerance=1e-6):
    """Return, for each vertex, the number of the first vertex that it is welded to, (V,): its own where it stands alone.

    Vertices no farther apart than `tolerance`, metres, are welded, and so is a whole
    row of such. Raises ValueError for a tolerance that is not above 0.

    >>> weld_numbers(Mesh([[0, 0, 0], [1, 0, 0], [0, 0, 1e-9]], [])).tolist()
    [0, 1, 0]
    """
    tolerance = float(arguments.array("tolerance", tolerance, ()))
    if tolerance <= 0:
        raise ValueError(f"tolerance is {tolerance:g}; expected metres above 0: 1e-6 welds what is the same but for rounding")
    places, place = np.unique(mesh.vertices, axis=0, return_inverse=True)
    group = groups(_near_pairs(places, tolerance), len(places))[place.reshape(-1)]
    first = np.full(len(places), len(group))
    np.minimum.at(first, group, np.arange(len(group)))
    return first[group]


def welded(mesh, tolerance=1e-6):
    """Return the mesh with vertices that stand in one place made one; faces that lose their area go.

    Files often hold a vertex once for each face or seam; loops need it once.
    Each keeps the place of its first vertex, and those that stay keep their order. A quad with two
    neighbouring corners in one place becomes a triangle. Raises as `weld_numbers` does.

    >>> split = Mesh([[0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]], [[0, 1, 2], [3, 4, 5]])
    >>> welded(split).faces.tolist()
    [[0, 1, 2, -1], [1, 3, 2, -1]]
    """
    kept, number = np.unique(weld_numbers(mesh, tolerance), return_inverse=True)
    faces = np.where(mesh.faces >= 0, number.reshape(-1)[mesh.faces], -1)
    before = np.roll(faces, 1, axis=1)
    before[:, 0] = np.where(faces[:, 3] >= 0, faces[:, 3], faces[:, 2])
    faces = np.where(faces == before, -1, faces)  # a corner that repeats the one before it
    faces = np.take_along_axis(faces, np.argsort(faces < 0, axis=1, kind="stable"), axis=1)
    sound = (faces[:, 2] >= 0) & (faces[:, 0] != faces[:, 2]) & (faces[:, 1] != faces[:, 3])
    return Mesh(mesh.vertices[kept], faces[sound])


def tube(around, heights, radius=1.0):
    """Return an open tube along +Y: `around` vertices a ring, a ring at each of `heights`, metres.

    radius: one for all rings, or one a ring. A small thing to try loops on.

    >>> len(tube(6, [0, 0.1, 0.2]).faces)
    12
    """
    heights = arguments.array("heights", heights, ())
    if around < 3 or heights.ndim != 1 or len(heights) < 2:
        raise ValueError(f"{around} vertices around and heights of shape {heights.shape}; expected at least 3, and 2 heights in a row")
    turn = 2 * np.pi * np.arange(around) / around
    ring = np.stack([np.sin(turn), np.zeros(around), np.cos(turn)], axis=1)
    radii = np.broadcast_to(arguments.array("radius", radius, ()), heights.shape)
    vertices = ring * radii[:, None, None] + heights[:, None, None] * np.array([0.0, 1.0, 0.0])
    first = np.arange(around) + around * np.arange(len(heights) - 1)[:, None]
    second = (np.arange(around) + 1) % around + around * np.arange(len(heights) - 1)[:, None]
    faces = np.stack([first, second, second + around, first + around], axis=-1)
    return Mesh(vertices.reshape(-1, 3), faces.reshape(-1, 4))


# ---- checks ---------------------------------------------------------------------------------------------------


def _vertices(value):
    vertices = np.array(arguments.points("vertices", value if np.size(value) else np.zeros((0, 3))))
    if vertices.ndim != 2:
        raise ValueError(f"vertices has shape {vertices.shape}; expected (V, 3): one row a vertex")
    return vertices


def _faces(value, count):
    faces = np.array(value if np.size(value) else np.zeros((0, 4), dtype=np.int32))
    if faces.ndim != 2 or faces.shape[1] not in (3, 4) or not np.issubdtype(faces.dtype, np.integer):
        raise ValueError(
            f"faces has shape {faces.shape} of {faces.dtype}; expected (F, 4) integers, with -1 in the last column for a triangle"
        )
    if faces.shape[1] == 3:
        faces = np.concatenate([faces, np.full((len(faces), 1), -1)], axis=1)
    real = faces.copy()
    real[:, 3] = np.where(faces[:, 3] == -1, faces[:, 0], faces[:, 3])
    bad = ((real < 0) | (real >= count)).any(axis=1)
    if bad.any():
        row = int(np.argmax(bad))
        raise ValueError(
            f"faces[{row}] = {faces[row].tolist()} with {count} vertices; "
            f"expected numbers from 0 to {count - 1} (-1 only in the last column)"
        )
    ordered = np.sort(np.where(faces == -1, -np.arange(1, 5), faces), axis=1)
    twice = (ordered[:, 1:] == ordered[:, :-1]).any(axis=1)
    if twice.any():
        row = int(np.argmax(twice))
        raise ValueError(
            f"faces[{row}] = {faces[row].tolist()} uses a vertex twice; "
            "expected different ones: write a triangle with -1, leave out what has no area"
        )
    return faces.astype(np.int32)


def _corners(mesh):
    """Faces (F, 4) with a triangle's first vertex in place of -1."""
    return np.where(mesh.faces >= 0, mesh.faces, mesh.faces[:, :1])


def _near_pairs(places, tolerance):
    """Pairs (P, 2) of places (V, 3) no farther apart than `tolerance`.

    Sorted along a direction that no model is built along, near places are near in the order too.
    """
    along = places @ np.array([0.5377, 0.6180, 0.5735])
    order = np.argsort(along, kind="stable")
    places, along = places[order], along[order]
    found, step = [np.zeros((0, 2), dtype=np.int64)], 1
    while (here := np.flatnonzero(along[step:] - along[:-step] <= 1.001 * tolerance)).size:
        near = np.linalg.norm(places[here + step] - places[here], axis=1) <= tolerance
        found.append(np.stack([order[here[near]], order[here[near] + step]], axis=1))
        step += 1
    return np.concatenate(found)


def _without_repeats(line):
    step = np.linalg.norm(line - np.roll(line, 1, axis=0), axis=1)
    return line[step > 1e-12 * np.ptp(line, axis=0).max()]


def _right_handed(line, normal):
    spin = np.cross(line - line[0], np.roll(line, -1, axis=0) - line[0]).sum(axis=0)
    return line if spin @ normal >= 0 else np.concatenate([line[:1], line[:0:-1]])


def _unit_or_zero(v):
    length = np.linalg.norm(v, axis=-1, keepdims=True)
    return np.divide(v, length, out=np.zeros_like(v), where=length > 0)
