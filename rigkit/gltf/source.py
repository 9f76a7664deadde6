"""What a loaded file was: its document and bytes, and which part of the character came from where.

A character keeps it under extras["gltf"], so that saving can give back what a Character has no place for: materials, textures,
cameras, morph targets, extensions, other scenes. Whatever in the character is still the very object that was loaded goes
back as it came.
"""

from dataclasses import dataclass, field

import numpy as np


@dataclass(frozen=True, eq=False)
class PartSource:
    """part: as loaded. node, mesh, primitive, skin: numbers in the document. used: (V,) numbers of its vertices, None for all.

    carried: (4, 4) from the mesh's space to the world at rest, None where no one matrix does. split: whether the file's
    vertices are corners of the part's."""

    part: object
    node: int
    mesh: int
    primitive: int
    skin: int | None
    used: np.ndarray | None
    carried: np.ndarray | None
    split: bool


@dataclass(frozen=True, eq=False)
class Source:
    """document, buffers, images: see `container.Files`. scene: the number of the one loaded. skeleton, scales: as loaded.

    nodes: joint name to node. bones: joint name to the node below it that holds its drawn length. parts: part name to PartSource.
    animations: name to (Animation, number, whether it is as it came). bind: (J, 4, 4) joints at rest with what scale the file has.
    sizes: (J,) see `scene.baked`.
    notes: what was set right on loading."""

    document: dict
    buffers: list
    images: dict
    scene: int | None
    skeleton: object
    scales: np.ndarray | None
    nodes: dict
    bones: dict
    parts: dict
    animations: dict
    bind: np.ndarray
    sizes: np.ndarray
    notes: tuple = field(default=())

    def __repr__(self):
        return f"Source({len(self.document.get('nodes', ()))} nodes, {len(self.parts)} parts, {len(self.notes)} notes)"
