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
            raise ValueError(f"{len(moved.vertices)} vertices came for a mesh of {len(self.vertices)}; expected one for each: keep their order")
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
    edges = _Edges(mesh)
    found = edges.cycles(edges.straight_on())
    return _in_rows(mesh, edges, found)


def boundary_loops(mesh):
    """Return the loops of edges that have a face on one side only: a list of vertex number arrays.

    Each runs as its faces do, so that the mesh lies on its left seen from outside,
    and starts at its lowest vertex number. Where borders touch in a vertex the line
    can't be told apart, and none through that vertex is returned.

    >>> [loop.tolist() for loop in boundary_loops(tube(3, [0, 1, 2]))]
    [[0, 1, 2], [6, 8, 7]]
    """
    edges = _Edges(mesh)
    found = edges.cycles(edges.along_border())
    runs = {(int(a), int(b)) for a, b in edges.border_ways}
    turned = [loop if (loop[0], loop[1]) in runs else [loop[0], *loop[:0:-1]] for loop in found]
    return [np.array(loop) for loop in turned]


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


# ---- topology -------------------------------------------------------------------------------------------------


class _Edges:
    """The edges of a mesh, and for each face corner the two edges that meet there.

    ends: (E, 2) vertex numbers, the lower first. of_side: (S,) the edge of each face
    side; sides: (S, 2) as the faces run. A *dart* is an edge walked one way: dart 2 e
    goes to ends[e, 0], dart 2 e + 1 to ends[e, 1].
    """

    def __init__(self, mesh):
        faces, count = mesh.faces, len(mesh.vertices)
        size = np.where(faces[:, 3] >= 0, 4, 3)
        corner = np.arange(4)
        real = corner < size[:, None]
        following = np.take_along_axis(faces, (corner + 1) % size[:, None], axis=1)
        self.sides = np.stack([faces[real], following[real]], axis=1).astype(np.int64)
        low, high = self.sides.min(axis=1), self.sides.max(axis=1)
        keys, self.of_side = np.unique(low * count + high, return_inverse=True)
        self.ends = np.stack([keys // max(count, 1), keys % max(count, 1)], axis=1)
        self.faces_at = np.bincount(self.of_side, minlength=len(keys))
        self.by_face = np.full(faces.shape, -1)
        self.by_face[real] = self.of_side
        self.corner_of = (faces, real, size)
        self.count = count

    @property
    def border_ways(self):
        """The border edges (B, 2), each as its one face runs."""
        return self.sides[self.faces_at[self.of_side] == 1]

    def straight_on(self):
        """For each dart the dart that goes straight on, or -1.

        Of the edges at a vertex, straight on is the one that shares no face with the
        edge one comes from: unique where four faces meet, and along a border where two do.
        """
        faces, real, size = self.corner_of
        dart_sum = np.zeros(2 * len(self.ends), dtype=np.int64)  # edges that share a face with this one at its end
        dart_count = np.zeros_like(dart_sum)
        before = np.take_along_axis(self.by_face, (np.arange(4) - 1) % size[:, None], axis=1)[real]
        after, vertex = self.by_face[real], faces[real]
        for edge, other in ((before, after), (after, before)):
            dart = self._dart_to(edge, vertex)
            np.add.at(dart_sum, dart, other)
            np.add.at(dart_count, dart, 1)
        edge = np.repeat(np.arange(len(self.ends)), 2)
        vertex = self.ends.reshape(-1)
        valence = np.bincount(vertex, minlength=self.count)[vertex]
        edge_sum = np.bincount(vertex, weights=edge, minlength=self.count).astype(np.int64)[vertex]
        border = np.zeros(self.count, dtype=bool)
        border[self.ends[self.faces_at != 2]] = True
        inside = ~border[vertex] & (valence == 4) & (dart_count == 2)
        along = border[vertex] & (valence == 3) & (dart_count == 1)
        opposite = edge_sum - edge - dart_sum
        return self._walk_on(np.where(inside | along, opposite, -1), vertex)

    def along_border(self):
        """For each dart the dart that goes on along the border, or -1."""
        edge = np.flatnonzero(self.faces_at == 1)
        vertex = self.ends[edge].reshape(-1)
        at = np.bincount(vertex, minlength=self.count)
        total = np.bincount(vertex, weights=np.repeat(edge, 2), minlength=self.count).astype(np.int64)
        every, ends = np.repeat(np.arange(len(self.ends)), 2), self.ends.reshape(-1)
        on = (self.faces_at[every] == 1) & (at[ends] == 2)
        return self._walk_on(np.where(on, total[ends] - every, -1), ends)

    def cycles(self, following):
        """The closed walks that never meet a vertex twice, each once, as lists from the lowest vertex number."""
        following, ends = following.tolist(), self.ends.reshape(-1).tolist()
        seen, found = bytearray(len(following)), []
        for start in range(len(following)):
            walk, dart = [], start
            while dart >= 0 and not seen[dart]:
                seen[dart] = 1
                walk.append(dart)
                dart = following[dart]
            if dart == start and walk:
                for used in walk:
                    seen[used ^ 1] = 1  # the same loop walked the other way
                loop = [ends[used] for used in walk]
                if len(set(loop)) == len(loop) > 2:
                    low = loop.index(min(loop))
                    found.append(loop[low:] + loop[:low])
        return found

    def _dart_to(self, edge, vertex):
        return 2 * edge + (self.ends[edge, 1] == vertex)

    def _walk_on(self, edge, vertex):
        """The darts that leave `vertex` along `edge`, -1 where there is none or where the way back is another one."""
        dart = np.where(edge >= 0, 2 * edge + (self.ends[edge, 0] == vertex), -1)
        back = np.where(dart >= 0, dart[dart ^ 1], -1) if len(dart) else dart
        return np.where(back == (np.arange(len(dart)) ^ 1), dart, -1)


def _in_rows(mesh, edges, found):
    """Order loops along their tubes and turn each as its neighbour: a list of (loops, vertices around)."""
    loop_of = np.full(len(edges.ends), -1)
    lookup = {(int(a), int(b)): i for i, (a, b) in enumerate(edges.ends)}
    for number, loop in enumerate(found):
        for a, b in zip(loop, loop[1:] + loop[:1]):
            loop_of[lookup[min(a, b), max(a, b)]] = number
    rungs = _rungs(mesh, edges, loop_of, found)
    rows, placed = [], set()
    for start in sorted(range(len(found)), key=lambda i: (len(rungs[i]) > 1, found[i])):
        if start in placed:
            continue
        row, number = [found[start]], start
        placed.add(start)
        while (step := next((n for n in rungs[number] if n not in placed), None)) is not None:
            row.append([rungs[number][step][vertex] for vertex in row[-1]])
            placed.add(step)
            number = step
        rows.append(_turned(mesh, np.array(row)))
    return sorted(rows, key=lambda row: (row.min(), row.tolist()[0]))


def _rungs(mesh, edges, loop_of, found):
    """For each loop, its neighbours across whole strips of quads: {other: {vertex: vertex across}}."""
    quads = np.flatnonzero(mesh.faces[:, 3] >= 0)
    across = [{} for _ in found]
    for i in (0, 1):
        one, two = loop_of[edges.by_face[quads, i]], loop_of[edges.by_face[quads, i + 2]]
        joins = (one >= 0) & (two >= 0) & (one != two)
        a, b, c, d = mesh.faces[quads[joins]][:, np.roll(np.arange(4), -i)].T.tolist()
        for m, n, p, q, r, s in zip(one[joins].tolist(), two[joins].tolist(), a, b, c, d):
            across[m].setdefault(n, {}).update({p: s, q: r})
            across[n].setdefault(m, {}).update({s: p, r: q})
    return [
        {n: steps for n, steps in sides.items() if len(steps) == len(found[m]) == len(found[n]) == len(across[n][m])}
        for m, sides in enumerate(across)
    ]


def _turned(mesh, row):
    """Turn all loops of a tube the other way round where the first turns left-handed about the way along the tube."""
    if len(row) < 2:
        return row
    first = mesh.vertices[row[0]]
    way = mesh.vertices[row[-1]].mean(axis=0) - first.mean(axis=0)
    spin = np.cross(first - first.mean(axis=0), np.roll(first, -1, axis=0) - first.mean(axis=0)).sum(axis=0)
    return row if spin @ way >= 0 else np.concatenate([row[:, :1], row[:, :0:-1]], axis=1)


# ---- checks ---------------------------------------------------------------------------------------------------


def _vertices(value):
    vertices = np.array(arguments.points("vertices", value if np.size(value) else np.zeros((0, 3))))
    if vertices.ndim != 2:
        raise ValueError(f"vertices has shape {vertices.shape}; expected (V, 3): one row a vertex")
    return vertices


def _faces(value, count):
    faces = np.array(value if np.size(value) else np.zeros((0, 4), dtype=np.int32))
    if faces.ndim != 2 or faces.shape[1] not in (3, 4) or not np.issubdtype(faces.dtype, np.integer):
        raise ValueError(f"faces has shape {faces.shape} of {faces.dtype}; expected (F, 4) integers, with -1 in the last column for a triangle")
    if faces.shape[1] == 3:
        faces = np.concatenate([faces, np.full((len(faces), 1), -1)], axis=1)
    real = faces.copy()
    real[:, 3] = np.where(faces[:, 3] == -1, faces[:, 0], faces[:, 3])
    bad = ((real < 0) | (real >= count)).any(axis=1)
    if bad.any():
        row = int(np.argmax(bad))
        raise ValueError(f"faces[{row}] = {faces[row].tolist()} with {count} vertices; expected numbers from 0 to {count - 1} (-1 only in the last column)")
    ordered = np.sort(np.where(faces == -1, -np.arange(1, 5), faces), axis=1)
    twice = (ordered[:, 1:] == ordered[:, :-1]).any(axis=1)
    if twice.any():
        row = int(np.argmax(twice))
        raise ValueError(f"faces[{row}] = {faces[row].tolist()} uses a vertex twice; expected different ones: write a triangle with -1, leave out what has no area")
    return faces.astype(np.int32)


def _corners(mesh):
    """Faces (F, 4) with a triangle's first vertex in place of -1."""
    return np.where(mesh.faces >= 0, mesh.faces, mesh.faces[:, :1])


def _unit_or_zero(v):
    length = np.linalg.norm(v, axis=-1, keepdims=True)
    return np.divide(v, length, out=np.zeros_like(v), where=length > 0)
