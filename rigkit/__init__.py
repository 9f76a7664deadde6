"""rigkit: the maths of a character rig, a robot to practise on, and a workbook that checks.

Importing rigkit costs little more than importing numpy: every module below is
loaded when it is first used.

>>> import rigkit as rk
>>> rk.rotation.rotate(rk.rotation.from_axis_angle([0, 0, 1], 3.141592653589793 / 2), [1, 0, 0]).round(6)
array([0., 1., 0.])
"""

from importlib import import_module

__version__ = "0.1.0"

_MODULES = (
    "rotation", "frame", "skeleton", "mesh", "placement", "bend", "mirror", "symmetry", "limb", "chain", "foot", "gaze", "matching",
    "binding", "skinning", "naming", "outline", "control", "links", "rig", "posing", "motion", "animation",
    "character", "robot", "audit", "gltf", "words", "view", "course", "grading",
)
_NAMES = {
    "Skeleton": "skeleton",
    "Mesh": "mesh",
    "Character": "character",
    "Part": "character",
    "tally": "robot",
    "tally_rig": "robot.rig",
    "Rig": "rig",
    "load": "gltf",
    "save": "gltf",
}

__all__ = [*_MODULES, *_NAMES]


def __getattr__(name):
    if name in _MODULES:
        return import_module(f"rigkit.{name}")
    if name in _NAMES:
        return getattr(import_module(f"rigkit.{_NAMES[name]}"), name)
    raise AttributeError(f"module 'rigkit' has no attribute {name!r}; it has: {', '.join(__all__)}")


def __dir__():
    return sorted([*globals(), *__all__])
