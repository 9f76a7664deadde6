"""A character's model as it stands now: where its parts are, which are tinted, which of them a ray meets.

Plain numpy; the Viewer sends to the browser what a call here says has changed.
"""

import numpy as np

from rigkit import words
from rigkit.view import marks, model, picking, ramp, weight_guide

STILL = 1e-12  # a turn or a move this small is rounding: what hangs on it stays as it is


class Figure:
    """`character` may be None: a figure without parts. `rest`: its skeleton's rest pose."""

    def __init__(self, character):
        self.character = character
        self.branches = model.branches(character) if character is not None else []
        self.rest = character.skeleton.forward() if character is not None else None
        self.tinted, self.weighed = set(), None
        self._now = {branch.name: (branch.points, branch.normals) for branch in self.branches}
        self._carried = {}

    def now(self, branch):
        """Points and normals (V, 3) each of a branch as it stands."""
        return self._now[branch.name]

    def points(self):
        """All points as they stand, (N, 3)."""
        return np.concatenate([np.zeros((0, 3)), *(points for points, _ in self._now.values())])

    def surfaces(self):
        """(points, normals, colours, triangles) of each branch."""
        return [(*self.now(branch), self.colours(branch), branch.triangles) for branch in self.branches]

    def at_rest(self):
        """The turns (J, 3, 3) and moves (J, 3) that `carry` takes for the rest pose."""
        count = len(self.rest.positions)
        return np.tile(np.eye(3), (count, 1, 1)), np.zeros((count, 3))

    # moving

    def carry(self, turns, moves):
        """Let joint j carry its parts from rest by turns[j] (3, 3) and moves[j] (3,); returns the branches that changed."""
        moved = (np.abs(turns - np.eye(3)) > STILL).any(axis=(1, 2)) | (np.abs(moves) > STILL).any(axis=1)
        news = [branch for branch in self.branches if self._is_news(branch, turns, moves)]
        return [branch for branch in news
                if self._place(branch, *(branch.posed(turns, moves) if moved[branch.joints].any() else (branch.points, branch.normals)))]

    def _is_news(self, branch, turns, moves):
        """Whether a branch is carried otherwise than it was last."""
        asked = turns[branch.joints].tobytes(), moves[branch.joints].tobytes()
        before, self._carried[branch.name] = self._carried.get(branch.name), asked
        return asked != before

    def carry_parts(self, moving, sleeves, turn, move):
        """Carry whole parts by one turn (3, 3) and move (3,); sleeves follow by how much they hang on the moving parts' joints."""
        moved, self._carried = self._joints_of(moving), {}
        for branch in self.branches:
            points, normals = branch.points.copy(), branch.normals.copy()
            for patch in branch.patches:
                if patch.name not in moving and patch.name not in sleeves:
                    continue
                rows = patch.where
                hangs = [int(j) in moved for j in patch.joints]
                hangs[-1] |= not any(hangs)  # where the joints don't tell which end moves, it is the last one
                share = np.ones(1) if patch.name in moving else patch.weights[:, hangs].sum(axis=1)
                there, turned = branch.points[rows] @ turn.T + move, branch.normals[rows] @ turn.T
                points[rows] += share[..., None] * (there - branch.points[rows])
                normals[rows] += share[..., None] * (turned - branch.normals[rows])
            self._place(branch, points, normals)
        return self.branches

    def _place(self, branch, points, normals):
        """Whether that is news."""
        if self._now[branch.name][0] is points:
            return False
        self._now[branch.name] = (points, normals)
        return True

    # names

    def below(self, moving, fixed):
        """The names of `moving` parts and of all that hang on their joints or on joints below; `fixed` parts and sleeves stay out."""
        skeleton, moved = self.character.skeleton, self._joints_of(moving)
        if moved & self._joints_of(fixed):
            return list(moving)  # the joints do not tell the two apart
        for joint, parent in enumerate(skeleton.parents):  # parents come first
            if parent in moved:
                moved.add(joint)
        hanging = [part.name for part in self.character.parts if {skeleton.index(name) for name in part.joints} <= moved]
        return list(dict.fromkeys([*moving, *hanging]))

    def _joints_of(self, parts):
        return {self.character.skeleton.index(name) for part in parts for name in self.character.part(part).joints}

    def branch_of(self, chain):
        """The name of the branch that a chain of joints moves, or None."""
        if not chain:
            return None
        return next((branch.name for branch in self.branches if chain[1] in branch.joints), None)

    def part_points(self, name):
        """The points of a part as it stands, (V, 3)."""
        self.character.part(name)
        return next(self.now(branch)[0][patch.where] for branch in self.branches for patch in branch.patches if patch.name == name)

    def part_at(self, eye, seen):
        """The name of the part first met by the ray through the point `seen` (3,), or None."""
        best = None
        for branch in self.branches:
            hit = picking.first_hit(*eye.ray(seen), self.now(branch)[0], branch.triangles)
            if hit is not None and (best is None or hit[1] < best[0]):
                corner = branch.triangles[hit[0], 0]
                best = hit[1], next(p.name for p in branch.patches if p.where.start <= corner < p.where.stop)
        return best[1] if best else None

    # colours

    def tint(self, part_names):
        """Tint these parts in the colour of a warning and no others; returns the branches that changed."""
        changed = self.tinted ^ set(part_names)
        self.tinted = set(part_names)
        return [branch for branch in self.branches if any(patch.name in changed for patch in branch.patches)]

    def weigh(self, joint_name):
        """Colour all corners by their weight on a joint (`ramp`), or as they are for None; returns the branches that changed."""
        changed = self.branches if joint_name != self.weighed else []
        self.weighed = joint_name
        return changed

    def colours(self, branch):
        """The colours of a branch's corners, (V, 3)."""
        if self.weighed is not None:
            return ramp.colours(weight_guide.shares(branch, self.character.skeleton.index(self.weighed)))
        colours = branch.colours.copy()
        for patch in branch.patches:
            if patch.name in self.tinted:
                colours[patch.where] = 0.3 * colours[patch.where] + 0.7 * marks.rgb(words.PALETTE["vermilion"])
        return colours

    # framing

    def framing(self):
        """What to look at, and how many metres from bottom to top, to see it whole from any of the four views, wherever it stands."""
        points = np.concatenate([np.zeros((0, 3)), *(np.asarray(p.mesh.vertices) for p in getattr(self.character, "parts", ()))])
        if not len(points):
            return np.array([0.0, 0.5, 0.0]), 1.5
        low, high = points.min(axis=0), points.max(axis=0)
        wide, tall, deep = high - low
        height = max(tall, 0.8 * wide, deep, 1e-3)
        middle = (low + high) / 2
        middle[[0, 2]] *= np.abs(middle[[0, 2]]) >= 0.15 * height  # it stands about the middle of the floor: turn about that
        return middle, float(height * 1.22)
