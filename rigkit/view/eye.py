"""Where the picture is taken from: a point to look from, a point to look at, a height of view.

Seen in perspective, or parallel (an orthographic view: no size is lost with
distance, so lengths across the view can be compared). The same numbers serve
the browser's camera, the still picture, and the maths of clicks: which ray a
pixel stands for, and where a point falls on the screen.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from rigkit import rotation

FIELD_OF_VIEW = 32.0  # degrees, top to bottom
UP = np.array([0.0, 1.0, 0.0])
FAR = 12.0  # metres from a parallel camera to what it looks at; any will do that clears the scene
VIEWS = {
    "front": (0.0, 0.0, 1.0),
    "side": (1.0, 0.0, 0.0),
    "top": (0.0, 1.0, 1e-5),  # a hair off the pole, so that "up" on the screen is away from the front
    "perspective": (0.62, 0.28, 1.0),
}


@dataclass(frozen=True)
class Eye:
    """position, target: (3,), metres. height: metres from the bottom to the top of the picture, at the target."""

    position: np.ndarray
    target: np.ndarray
    height: float
    parallel: bool = False

    @cached_property
    def back(self):
        """Unit vector from the target to the eye."""
        v = self.position - self.target
        return _fixed(v / np.linalg.norm(v))

    def axes(self):
        """Right, up and back as the columns of a (3, 3) rotation matrix."""
        return self._axes

    @cached_property
    def _axes(self):
        right = np.cross(UP, self.back)
        right /= np.linalg.norm(right)
        return _fixed(np.column_stack([right, np.cross(self.back, right), self.back]))

    def quaternion(self):
        """The camera's turn from looking along -z, xyzw."""
        return rotation.from_matrix(self.axes())

    def ray(self, seen):
        """The ray of the pixel in which the world point `seen` (3,) appears: an origin and a unit direction."""
        seen = np.asarray(seen, dtype=float)
        if self.parallel:
            return seen + self.back * (np.dot(self.position - seen, self.back)), -self.back
        direction = seen - self.position
        return self.position, direction / np.linalg.norm(direction)

    def pixels(self, points, size):
        """Where world points (..., 3) fall in a picture of size (width, height): x right, y down, and depth, (..., 3)."""
        local = (np.asarray(points, dtype=float) - self.position) @ self.axes()
        depth = -local[..., 2]
        near = np.full(depth.shape, self.distance) if self.parallel else np.maximum(depth, 1e-6)
        scale = size[1] / self.height * self.distance / near
        x, y = local[..., 0] * scale + size[0] / 2, size[1] / 2 - local[..., 1] * scale
        return np.stack([x, y, depth], axis=-1)

    @cached_property
    def distance(self):
        """Metres from the eye to what it looks at."""
        return float(np.linalg.norm(self.position - self.target))

    def metres_per_pixel(self, size):
        """How much of the world one pixel covers, at the target."""
        return self.height / size[1]

    def nearer(self, factor):
        """The same view with everything `factor` times as large."""
        if self.parallel:
            return replace(self, height=self.height / factor)
        return replace(self, position=self.target + (self.position - self.target) / factor, height=self.height / factor)

    def turned(self, sideways, upwards):
        """The eye carried around the target, radians; it stops short of the poles."""
        x, y, z = self.back
        azimuth = np.arctan2(x, z) + sideways
        height = np.clip(np.arcsin(np.clip(y, -1, 1)) + upwards, -1.55, 1.55)
        back = np.array([np.cos(height) * np.sin(azimuth), np.sin(height), np.cos(height) * np.cos(azimuth)])
        return replace(self, position=self.target + self.distance * back)

    def moved(self, right, up):
        """The eye and what it looks at, moved along the screen, metres."""
        shift = self.axes()[:, :2] @ [right, up]
        return replace(self, position=self.position + shift, target=self.target + shift)


def _fixed(made):
    """An array that is handed out more than once, read-only."""
    made.setflags(write=False)
    return made


def looking(view, target, height):
    """The Eye of one of the four named views; an unknown name is a ValueError.

    >>> looking("front", (0, 0.5, 0), 1.0).position.tolist()
    [0.0, 0.5, 12.0]
    """
    if view not in VIEWS:
        raise ValueError(f"there is no view {view!r}; choose one of: {', '.join(VIEWS)}")
    back = np.array(VIEWS[view])
    parallel = view != "perspective"
    distance = FAR if parallel else distance_for(height)
    target = np.asarray(target, dtype=float)
    return Eye(target + back / np.linalg.norm(back) * distance, target, float(height), parallel)


def distance_for(height):
    """How far a perspective eye stands back to see `height` metres from bottom to top."""
    return height / 2 / np.tan(np.radians(FIELD_OF_VIEW) / 2)


def height_for(distance):
    """The height of view of a perspective eye at `distance` metres."""
    return distance * 2 * np.tan(np.radians(FIELD_OF_VIEW) / 2)
