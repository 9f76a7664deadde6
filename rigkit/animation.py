"""An animation: joints moved one by one, as files bring them.

A `Motion` moves the channels of a rig, and links carry it to the joints. A file of others has no rig of ours: its animations say
for a joint where it stands in its parent, how it is turned there and how it is scaled, at moments (glTF 2.0, section 3.11,
"Animations"). Values are absolute: they replace those of rest. What an animation does not name stays at rest.
"""

from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from rigkit import arguments
from rigkit.keys import Keys

PATHS = {"translation": 3, "rotation": 4, "scale": 3}


@dataclass(frozen=True, eq=False)
class Animation:
    """Tracks on joints: (joint name, "translation" or "rotation" or "scale") to Keys, metres, quaternions (xyzw) and factors.

    Raises ValueError for another path, and for keys of another width.

    >>> nod = Animation("nod", {("head", "translation"): Keys([0, 1], [[0, 0, 0], [0, 2, 0]])})
    >>> nod.length
    1.0
    """

    name: str
    tracks: dict

    def __post_init__(self):
        for (joint, path), keys in self.tracks.items():
            if path not in PATHS or not isinstance(keys, Keys) or keys.values.shape[1:] != (PATHS[path],):
                raise ValueError(
                    f"animation {self.name!r} moves {joint!r} by {path!r} with {arguments.shorten(keys)}; expected Keys of "
                    "translation (K, 3), rotation (K, 4) or scale (K, 3)"
                )
        object.__setattr__(self, "tracks", MappingProxyType(dict(self.tracks)))

    def __repr__(self):
        return f"Animation({self.name!r}, {len(self.tracks)} tracks, {self.length:g} s)"

    @property
    def length(self):
        """Seconds from 0 to the last key."""
        return max((float(keys.times[-1]) for keys in self.tracks.values()), default=0.0)

    def sample(self, skeleton, times, scales=None):
        """Return (rotations (..., J, 4), translations (..., J, 3), scales (..., J, 3) or None) at `times` (...), for `Skeleton.forward`.

        scales: (J, 3) local ones at rest, None: none. A track of a joint that the skeleton lacks is a ValueError.
        """
        times = arguments.array("times", times, ())
        if scales is None and any(path == "scale" for _, path in self.tracks):
            scales = np.ones((len(skeleton), 3))
        rest = {"rotation": skeleton.rest_rotations, "translation": skeleton.rest_translations, "scale": scales}
        found = {
            path: None if value is None else np.broadcast_to(value, (*times.shape, *value.shape)).copy() for path, value in rest.items()
        }
        for (joint, path), keys in self.tracks.items():
            found[path][..., skeleton.index(joint), :] = keys.at(times)
        return found["rotation"], found["translation"], found["scale"]
