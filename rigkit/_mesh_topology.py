"""The edges of a mesh: which one goes straight on, which run along a border, and how closed loops lie along a tube.

A *dart* is an edge walked one way. Straight on from a dart is the edge at its end
that shares no face with it. The numbers of all edges at a vertex, less the edge
one comes from, less those that share a face with it, leave the number of that one:
a sum a vertex, and no search.
"""

import numpy as np


class Edges:
    """The edges of a mesh, and for each face corner the two edges that meet there.

    ends: (E, 2) vertex numbers, the lower first. of_side: (S,) the edge of each face
    side; sides: (S, 2) as the faces run. A *dart* is an edge walked one way: dart 2 e
    goes to ends[e, 0], dart 2 e + 1 to ends[e, 1].
    """

    def __init__(self, faces, count):
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


def closed_walks(links, count):
    """The closed walks over `links` (L, 2) between `count` places that have two links each: a list of lists of places."""
    beside = [[] for _ in range(count)]
    for a, b in links.tolist():
        beside[a].append(b)
        beside[b].append(a)
    seen, found = bytearray(count), []
    for start in range(count):
        walk, here = [], start
        while here is not None and not seen[here] and len(beside[here]) == 2:
            seen[here] = 1
            walk.append(here)
            here = next((place for place in beside[here] if not seen[place]), None)
        if here is None and len(walk) > 2 and start in beside[walk[-1]]:
            found.append(walk)
    return found


def groups(pairs, count):
    """The number of the lowest place that each of `count` places is joined to by `pairs` (P, 2), over any number of steps."""
    group, before = np.arange(count), None
    while before is None or (group != before).any():
        before = group.copy()
        lower = group[pairs].min(axis=1) if len(pairs) else np.zeros(0, dtype=np.int64)
        np.minimum.at(group, pairs[:, 0], lower)
        np.minimum.at(group, pairs[:, 1], lower)
        group = group[group]
    return group


def in_rows(vertices, faces, edges, found):
    """Order loops along their tubes and turn each as its neighbour: a list of (loops, vertices around)."""
    loop_of = np.full(len(edges.ends), -1)
    lookup = {(int(a), int(b)): i for i, (a, b) in enumerate(edges.ends)}
    for number, loop in enumerate(found):
        for a, b in zip(loop, loop[1:] + loop[:1]):
            loop_of[lookup[min(a, b), max(a, b)]] = number
    rungs = _rungs(faces, edges, loop_of, found)
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
        rows.append(_turned(vertices, np.array(row)))
    return sorted(rows, key=lambda row: (row.min(), row.tolist()[0]))


def _rungs(faces, edges, loop_of, found):
    """For each loop, its neighbours across whole strips of quads: {other: {vertex: vertex across}}."""
    quads = np.flatnonzero(faces[:, 3] >= 0)
    across = [{} for _ in found]
    for i in (0, 1):
        one, two = loop_of[edges.by_face[quads, i]], loop_of[edges.by_face[quads, i + 2]]
        joins = (one >= 0) & (two >= 0) & (one != two)
        a, b, c, d = faces[quads[joins]][:, np.roll(np.arange(4), -i)].T.tolist()
        for m, n, p, q, r, s in zip(one[joins].tolist(), two[joins].tolist(), a, b, c, d):
            across[m].setdefault(n, {}).update({p: s, q: r})
            across[n].setdefault(m, {}).update({s: p, r: q})
    return [
        {n: steps for n, steps in sides.items() if len(steps) == len(found[m]) == len(found[n]) == len(across[n][m])}
        for m, sides in enumerate(across)
    ]


def _turned(vertices, row):
    """Turn all loops of a tube the other way round where the first turns left-handed about the way along the tube."""
    if len(row) < 2:
        return row
    first = vertices[row[0]]
    way = vertices[row[-1]].mean(axis=0) - first.mean(axis=0)
    spin = np.cross(first - first.mean(axis=0), np.roll(first, -1, axis=0) - first.mean(axis=0)).sum(axis=0)
    return row if spin @ way >= 0 else np.concatenate([row[:, :1], row[:, :0:-1]], axis=1)
