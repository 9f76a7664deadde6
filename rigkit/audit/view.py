"""What every rule looks at: the subject, its roles and the rule file, with what several rules need worked out once."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from rigkit.audit import wording

UP = np.array([0.0, 1.0, 0.0])


@dataclass(frozen=True, eq=False)
class View:
    """subject: a Subject. roles: Roles. book: the Rulebook."""

    subject: object
    roles: object
    book: object

    @property
    def settings(self):
        return self.book.settings

    @cached_property
    def wordings(self):
        """The Wording of every joint's name."""
        return wording.all_apart(self.subject.names, self.book.names)

    @cached_property
    def pairs(self):
        """Joint to the joint of the other side, by name, else by roles, else by place where names tell no side."""
        found = wording.pairs(self.subject.names, self.book.names)
        for role, joint in self.roles.joints.items():
            if role.startswith("left_") and (other := self.roles.joints.get("right_" + role[5:])) is not None:
                found.setdefault(joint, other)
                found.setdefault(other, joint)
        return found

    @cached_property
    def lefts(self):
        """The joints of the left with a counterpart, in order."""
        told = {j for role, j in self.roles.joints.items() if role.startswith("left_")}
        return [i for i in sorted(self.pairs) if self.wordings[i].side == "left" or (self.wordings[i].side is None and i in told)]

    @cached_property
    def left(self):
        """Unit vector to the character's left, or None: from pairs where there are any, level."""
        if not self.lefts:
            return None
        across = (self.subject.positions[self.lefts] - self.subject.positions[[self.pairs[i] for i in self.lefts]]).mean(axis=0)
        across = across - (across @ UP) * UP
        size = np.linalg.norm(across)
        return across / size if size > 1e-6 * self.subject.size else None

    @cached_property
    def ahead(self):
        """Unit vector to where the character faces, level, or None: from left to right and up, right-handed."""
        return None if self.left is None else np.cross(self.left, UP)

    @cached_property
    def chains(self):
        """Limbs first (root to end with all between), then other unbranched chains of three joints or more: lists of joint numbers."""
        limbs, inside = [], set()
        for mid in ("left_elbow", "right_elbow", "left_knee", "right_knee"):
            if chain := self.roles.limb(mid):
                path = self.subject.path(chain[2])
                limbs.append(path[path.index(chain[0]) :])
                inside |= set(limbs[-1][:-1])
        return limbs + [chain for chain in self._runs(inside) if len(chain) >= 3]

    def _runs(self, taken):
        """Unbranched runs of joints outside those taken, each from a joint that is no only child down to where it branches."""
        children = self.subject.children
        for joint in range(len(self.subject)):
            above = self.subject.parents[joint]
            starts = above < 0 or len(children[above]) != 1 or above in taken
            if joint in taken or not starts:
                continue
            run = [joint]
            while len(children[run[-1]]) == 1 and children[run[-1]][0] not in taken:
                run += children[run[-1]]
            yield run

    @cached_property
    def walk(self):
        """(place (J,), end (J,)): where each joint stands in a walk through the tree, and where its branch ends."""
        subject = self.subject
        place, count = np.zeros(len(subject), int), np.ones(len(subject), int)
        for joint in reversed(subject.order):
            if subject.parents[joint] >= 0:
                count[subject.parents[joint]] += count[joint]
        free = {-1: 0}  # the next free place under each joint
        for joint in subject.order:
            above = int(subject.parents[joint])
            place[joint] = free[above]
            free[above] += count[joint]
            free[joint] = place[joint] + 1
        return place, place + count

    def same_place(self, joint):
        """The highest of the joints above that stand where this one stands: one place may hold a joint for each axis."""
        above = self.subject.parents[joint]
        while above >= 0 and np.linalg.norm(self.at(above) - self.at(joint)) <= 1e-6 * self.subject.size:
            joint, above = int(above), self.subject.parents[above]
        return joint

    def name(self, joint):
        return self.subject.names[joint]

    def at(self, joint):
        return self.subject.positions[joint]

    # ------------------------------------------------------------ weights

    @cached_property
    def used(self):
        """For each joint, whether any vertex hangs on it, (J,)."""
        used = np.zeros(len(self.subject), bool)
        for skin in self.subject.skins:
            used[skin.joints[(skin.weights != 0).any(axis=0)]] = True
        return used

    @cached_property
    def mains(self):
        """For each skin, the joint (V,) with the largest weight at each vertex."""
        return [skin.joints[skin.weights.argmax(axis=1)] for skin in self.subject.skins]

    def driven(self, joints):
        """All vertices (N, 3) whose main joint is among `joints`."""
        wanted = np.zeros(len(self.subject), bool)
        wanted[list(joints)] = True
        found = [skin.vertices[wanted[main]] for skin, main in zip(self.subject.skins, self.mains)]
        return np.concatenate([np.zeros((0, 3)), *found])

    # ------------------------------------------------------------ the rig

    @cached_property
    def carried(self):
        """For each control that moves or turns: what it carries how often, see `Rig.carried`."""
        rig = self.subject.rig
        movable = [c for c in rig.controls if any(channel.name.startswith(("move_", "turn_")) for channel in c.open_channels)]
        return {control.name: rig.carried(control.name) for control in movable}

    @cached_property
    def whole(self):
        """The name of the control that carries most joints exactly once, or None where none carries half of them."""
        names = self.subject.names
        counts = {control: sum(times[name] == 1 for name in names) for control, times in self.carried.items()}
        best = max(counts, key=counts.get, default=None)
        return best if best is not None and 2 * counts[best] >= len(names) else None
