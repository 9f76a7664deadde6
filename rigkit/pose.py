"""A pose of a rig, or a motion of them: where every joint and control stands."""

from functools import cached_property

import numpy as np

from rigkit.arithmetic import matrix

BLOCK = 4096  # poses worked on together, by the rig too: few enough to stay in the processor's cache


class Pose:
    """Joints of a posed rig; every array has the batch's leading axes (...) in front.

    rotations (..., J, 4) and positions (..., J, 3) in the world; local_rotations and local_translations, seen
    from the parent, to give to `Skeleton.forward`; sizes (..., J): how many times as large the whole rig
    stands; stretch and girth (..., J): how many times as long and as thick a limb's bones are drawn, which no child inherits.
    """

    def __init__(self, rig, shape, parts, count=1):
        self._rig, self._shape, self._parts, self._count = rig, shape, parts, count
        self.positions = self._gather(lambda frames, name: frames[name][1], 3)
        self.rotations = self._gather(lambda frames, name: frames[name][0], 4)

    @cached_property
    def sizes(self):
        """(..., J), 1 for a rig as large as it was made."""
        return self._gather(lambda frames, name: (frames[name][2],), 1)[..., 0]

    @cached_property
    def _local(self):
        return self._rig.skeleton.local(self.rotations, self.positions)

    @property
    def local_rotations(self):
        """(..., J, 4), seen from the parent."""
        return self._local[0]

    @property
    def local_translations(self):
        """(..., J, 3), seen from the parent."""
        return self._local[1]

    @cached_property
    def _limbs(self):
        return {link.joints: f"{link.joints[0]}:stretch" for link in self._rig.links if hasattr(link, "girth")}

    def _along_limbs(self, which):
        out = np.ones((*self._shape, len(self._rig.skeleton)))
        for (root, mid, _), name in self._limbs.items():
            for joint in (root, mid):
                out[..., self._rig.skeleton.index(joint)] = self._number(name, which)
        return out

    @cached_property
    def stretch(self):
        """(..., J), 1 for a bone at its length."""
        return self._along_limbs(0)

    @cached_property
    def girth(self):
        """(..., J), 1 for a bone as thick as it was made."""
        return self._along_limbs(1)

    @cached_property
    def gaps(self):
        """Root joint of each limb to the distance (...) that its end stays away from its target, metres."""
        return {joints[0]: self._number(name, 2) for joints, name in self._limbs.items()}

    def _number(self, name, which):
        return self._spread(lambda frames: (frames[name][which],), 1)[..., 0]

    @cached_property
    def matrices(self):
        """(..., J, 4, 4): world transforms with size, stretch and girth, for the vertices of each joint; its bone lies along its x."""
        m = np.zeros((*self.positions.shape[:-1], 4, 4))
        thick = self.sizes * self.girth
        m[..., :3, :3] = matrix(self.rotations) * np.stack([self.sizes * self.stretch, thick, thick], axis=-1)[..., None, :]
        m[..., :3, 3], m[..., 3, 3] = self.positions, 1.0
        return m

    def frame(self, name):
        """Return (rotation (..., 4), position (..., 3)) of a joint or control in the world; an unknown name is a ValueError."""
        if name not in self._rig.rest.frames:
            self._rig.control(name)
        return self._frame(name)

    def frames(self, names):
        """Return (rotations (..., N, 4), positions (..., N, 3), sizes (..., N)) of joints or controls in the world, in the order of `names`."""
        for name in names:
            if name not in self._rig.rest.frames:
                self._rig.control(name)
        turns = self._gather(lambda frames, name: frames[name][0], 4, names)
        places = self._gather(lambda frames, name: frames[name][1], 3, names)
        return turns, places, self._gather(lambda frames, name: (frames[name][2],), 1, names)[..., 0]

    def base(self, control):
        """Return (rotation, position) of what a control stands on: where it would be with its moves and turns at home."""
        self._rig.control(control)
        return self._frame(f"{control}:base")

    def size_of(self, control):
        """Return how many times as large (...) as it was made the rig is around a control."""
        return self._spread(lambda frames: (frames[f"{control}:base"][2],), 1)[..., 0]

    def _frame(self, name):
        return self._spread(lambda frames: frames[name][0], 4), self._spread(lambda frames: frames[name][1], 3)

    def _gather(self, take, width, names=None):
        """Rows of every joint, or of the frames named, as one array (..., J, width)."""
        names = self._rig.skeleton.names if names is None else names
        if not self._shape:
            return np.array([take(self._parts[0], name) for name in names])
        out = np.empty((self._count, len(names), width))
        for part, frames in self._blocks():
            for joint, name in enumerate(names):
                for axis, row in enumerate(take(frames, name)):
                    out[part, joint, axis] = row
        return out.reshape(*self._shape, len(names), width)

    def _spread(self, take, width):
        """Rows of one frame as an array (..., width)."""
        out = np.empty((self._count, width))
        for part, frames in self._blocks():
            for axis, row in enumerate(take(frames)):
                out[part, axis] = row
        return out.reshape(*self._shape, width)

    def _blocks(self):
        for i, frames in enumerate(self._parts):
            yield slice(i * BLOCK, min((i + 1) * BLOCK, self._count)), frames
