"""A character: a skeleton with the parts of its model, each part bound to joints.

A hard part follows one joint with weight one; a sleeve or a hose is shared
between the joints it runs along. Both are written the same way: the names of
the joints and one weight per vertex and joint.
"""

from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from rigkit.mesh import Mesh
from rigkit.skeleton import Skeleton


@dataclass(frozen=True)
class Part:
    """One piece of the model.

    mesh: its geometry in the rest pose, metres. joints: K joint names. weights:
    (V, K), each row sums to one. kind: "hard" or "sleeve" or "hose". colour:
    "#rrggbb". smooth: shade it round rather than flat.
    """

    name: str
    mesh: Mesh
    joints: tuple
    weights: np.ndarray
    kind: str = "hard"
    colour: str = "#9AA5AC"
    smooth: bool = False


@dataclass(frozen=True)
class Character:
    """A skeleton, its parts, and named points and directions of the model.

    landmarks: name to point (3,), for example "left_elbow". hinges: name to unit
    direction (3,), for example "left_elbow". All in the rest pose, metres.
    """

    name: str
    skeleton: Skeleton
    parts: tuple
    landmarks: MappingProxyType = field(default_factory=lambda: MappingProxyType({}))
    hinges: MappingProxyType = field(default_factory=lambda: MappingProxyType({}))

    def part(self, name):
        """Return the part called `name`; an unknown name is a ValueError that lists those near it."""
        found = next((p for p in self.parts if p.name == name), None)
        if found is None:
            words = set(name.split("_"))
            near = [p.name for p in self.parts if words & set(p.name.split("_"))] or [p.name for p in self.parts]
            raise ValueError(f"no part is called {name!r}; {self.name} has, among others: {', '.join(near[:8])}")
        return found
