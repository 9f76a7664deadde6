"""The open format in and out: glTF 2.0 (Khronos; ISO/IEC 12113:2022), as .glb or as .gltf with a .bin.

    character = rk.load("robot.glb")          # joints, parts, animations; a rig of ours too, if it was saved with one
    saved = rk.save(character, "robot.glb")   # everybody's viewer shows mesh, skin and motion

What a Character has no place for (textures, cameras, morph targets, extensions, other scenes ...) stays with it and is saved again.
Controls, links and motions travel in the document's extras under "rigkit"; motions are baked to animations of joints besides.
`container` opens files, `accessors` reads arrays, `scene`, `skins`, `meshes` and `animations` say what they mean, `reading` puts a
Character together; `packing`, `drafting`, `baking` and `writing` go the other way.
"""

import warnings

from rigkit.gltf.reading import load as _load
from rigkit.gltf.writing import Saved  # noqa: F401 (part of this package's calls)
from rigkit.gltf.writing import save as _save


def load(path, scene=None):
    """Return the Character in a .gltf or .glb.

    path: of the file. scene: the name or number of one of its scenes; None: the one the file says, else the first.
    Lengths are metres. Nodes become joints (see `rigkit.gltf.scene`), triangles become parts whose vertices stand in the world at rest,
    animations of nodes become `character.animations`. Names that are missing or there twice are made up.
    A uniform scale of the whole model is baked in. What was set right is told in character.extras["notes"], a tuple of texts.
    Raises ValueError for what is no glTF 2.0, is broken, cut short, hostile or beyond `rigkit.gltf.limits`; the message begins with the
    file's name and names the place, as in "skins[0].inverseBindMatrices: accessor 7: ...". OSError for a file that can't be read.
    """
    return _load(path, scene)


def save(character, path):
    """Write a Character as .glb, or as .gltf with a .bin beside it, and return what was done: a Saved(path, size, notes).

    What came from a file and was not changed is written as it came; the rest is added. Motions of the rig are baked to
    animations of joints, sampled so densely that no joint is off by more than 0.1 mm between samples. A
    limb that is drawn longer or thicker has that scale on a node below its joint, so that everybody's linear skinning shows the same picture. What others will see otherwise than it is meant (a part
    blended by dual quaternions) is in `notes`, and a UserWarning each.
    Raises ValueError for another ending and for what glTF can't hold; OSError where the file can't be written.
    """
    saved = _save(character, path)
    for note in saved.notes:
        warnings.warn(f"{saved.path.name}: {note}", stacklevel=2)
    return saved
