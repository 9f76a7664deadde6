"""Parts as primitives: vertices split into corners that shade right, weights in sets of four, and what a file's own vertices carried.

A part of ours is split at its edges, for a viewer draws one normal a vertex; the attribute _RIGKIT_VERTEX says which vertex of the
part a corner is of, and `runs` in the extras which triangles were quads, so that the part comes back as it was. A part that
came from a file keeps that file's vertices and all they carried: coordinates of textures, colours, morph targets.
"""

import numpy as np

from rigkit.corners import CREASE, corners
from rigkit.gltf import materials, meshes, scene
from rigkit.gltf.packing import INDICES, VERTICES
from rigkit.mesh import vertex_normals

UP = (0.0, 1.0, 0.0)
NEAR = 1e-4


def fresh(packer, part, points, linear, skin_places):
    """Return a primitive of a part that came from no file.

    points: (V, 3) in the space of its node. linear: (3, 3), which brought directions there. skin_places: for each of the part's
    joints its place in the skin, or None for a part that hangs on one joint.
    """
    mesh = part.mesh
    where, normals, triangles, owner = corners(mesh.vertices, mesh.triangles, CREASE[part.smooth])
    loose = np.flatnonzero(np.bincount(owner, minlength=len(points)) == 0)
    owner = np.concatenate([owner, loose])
    normals = np.concatenate([normals, np.tile(UP, (len(loose), 1))])
    attributes = {
        "POSITION": packer.add(points[owner].astype(np.float32), "VEC3", VERTICES, bounds=True),
        "NORMAL": packer.add(units(normals @ _of_normals(linear)), "VEC3", VERTICES),
    }
    attributes["_RIGKIT_VERTEX"] = packer.add(owner.astype(np.float32)[:, None], "SCALAR", VERTICES)
    if skin_places is not None:
        attributes |= weight_sets(packer, skin_places, part.weights[owner])
    extras = {scene.OWN: own_words(part) | {"runs": meshes.runs_of(mesh)}}
    return {"attributes": attributes, "indices": indices(packer, triangles, len(owner)), "extras": extras}


def own_words(part):
    """What we write about a part in the extras of its primitive."""
    words = {"part": part.name, "kind": part.kind, "joints": list(part.joints), "colour": part.colour}
    return words | ({"smooth": True} if part.smooth else {}) | ({"blend": part.blend} if part.blend != "linear" else {})


def indices(packer, triangles, count):
    """Add triangles (T, 3) as indices of the smallest type; the greatest number of a type is no index in glTF."""
    kind = np.uint16 if count <= 65535 else np.uint32
    return packer.add(triangles.reshape(-1, 1).astype(kind), "SCALAR", INDICES)


def weight_sets(packer, places, weights):
    """Add JOINTS_n and WEIGHTS_n of weights (V, K) whose columns are joints at `places` (K,) in the skin; returns the attributes.

    As many sets as the vertex with most joints asks for. Places without weight name joint 0. A row adds up to one as
    well as 32-bit floats can.
    """
    places = np.asarray(places)
    most = max(int((weights > 0).sum(axis=1).max(initial=1)), 1)
    sets = -(-most // 4)
    best = np.argsort(-weights, axis=1, kind="stable")[:, : 4 * sets]
    shares = np.take_along_axis(weights, best, axis=1)
    shares = (shares / shares.sum(axis=1, keepdims=True)).astype(np.float32)
    named = np.where(shares > 0, places[best], 0)
    missing = 4 * sets - shares.shape[1]
    shares, named = np.pad(shares, ((0, 0), (0, missing))), np.pad(named, ((0, 0), (0, missing)))
    kind = np.uint8 if named.max(initial=0) < 256 else np.uint16
    found = {}
    for k in range(sets):
        block = slice(4 * k, 4 * k + 4)
        found[f"JOINTS_{k}"] = packer.add(named[:, block].astype(kind), "VEC4", VERTICES)
        if (shares[:, block] == np.round(shares[:, block])).all():
            found[f"WEIGHTS_{k}"] = packer.add((255 * shares[:, block]).astype(np.uint8), "VEC4", VERTICES, normalised=True)
        else:
            found[f"WEIGHTS_{k}"] = packer.add(shares[:, block], "VEC4", VERTICES)
    return found


def units(vectors, otherwise=UP):
    """Vectors (V, 3) at unit length as 32-bit floats; those of no length point up."""
    length = np.linalg.norm(vectors, axis=1, keepdims=True)
    return np.where(length > 1e-12, vectors / np.maximum(length, 1e-12), otherwise).astype(np.float32)


def unit_where_needed(array):
    """Rows of 32-bit floats at unit length; what is as near to it as a validator asks is left as it is."""
    length = np.linalg.norm(array.astype(np.float64), axis=1, keepdims=True)
    off = np.abs(length - 1) > NEAR
    return np.where(off & (length > 1e-12), array / np.where(length > 1e-12, length, 1.0), array).astype(np.float32)


def _of_normals(linear):
    """The matrix (3, 3) that brings rows of normals along when `linear` brings points."""
    return np.linalg.inv(linear)


# ---- what came from a file ------------------------------------------------------------------------------------------


def copied(packer, accessors, primitive, place, weights=None):
    """Return a primitive as it came, its arrays packed anew.

    weights: (skin places (K,), (V, K)) to write in place of the file's, or None.
    """
    out = dict(primitive)
    out["attributes"] = {
        name: _copy(packer, accessors, number, f"{place}.attributes.{name}", name)
        for name, number in primitive["attributes"].items()
        if weights is None or not name.startswith(("JOINTS_", "WEIGHTS_"))
    }
    if weights is not None:
        out["attributes"] |= weight_sets(packer, *weights)
    if "indices" in primitive:
        array, kind, _ = accessors.array(primitive["indices"], f"{place}.indices")
        out["indices"] = packer.add(array, kind, INDICES)
    if "targets" in primitive:
        out["targets"] = [
            {name: _copy(packer, accessors, number, f"{place}.targets[{k}].{name}", f"d{name}") for name, number in target.items()}
            for k, target in enumerate(primitive["targets"])
        ]
    return out


def _copy(packer, accessors, number, place, name):
    array, kind, normalised = accessors.array(number, place)
    if array.dtype.kind == "f" and name in ("NORMAL", "TANGENT"):
        flat = np.linalg.norm(array[:, :3], axis=1) < 1e-12
        array[flat, :3] = UP
        array = np.concatenate([unit_where_needed(array[:, :3]), np.where(array[:, 3:] < 0, -1, 1).astype(np.float32)], axis=1)
    return packer.add(array, kind, VERTICES, normalised, bounds=name in ("POSITION", "dPOSITION"))


def carried(packer, accessors, primitive, source, part, change, place, weights, notes):
    """Return a primitive of a part that was changed since it was loaded, but has the file's vertices still.

    change: (4, 4) from the world at rest to the space of the part's new node. source: its PartSource. Directions turn along where
    the part's way from the file's space is one matrix.
    """
    points = part.mesh.vertices @ change[:3, :3].T + change[:3, 3]
    same = part.mesh is source.part.mesh and source.carried is not None
    linear = (change @ source.carried)[:3, :3] if same else None
    rows = slice(None) if source.used is None else source.used
    attributes = {"POSITION": packer.add(points.astype(np.float32), "VEC3", VERTICES, bounds=True)}
    for name, number in primitive["attributes"].items():
        if name == "POSITION" or name.startswith(("JOINTS_", "WEIGHTS_")):
            continue
        array, kind, normalised = accessors.array(number, f"{place}.attributes.{name}")
        array = array[rows]
        if name == "NORMAL":
            array = (
                units(accessors.numbers(number, place, ("VEC3",), (5126, 5120, 5122))[rows] @ _of_normals(linear))
                if same
                else units(vertex_normals(part.mesh) @ _of_normals(change[:3, :3]))
            )
            normalised = False
        elif name == "TANGENT":
            if not same:
                notes.append(f"part {part.name!r} was changed; its tangents are left out, viewers work them out")
                continue
            turned = units(array[:, :3].astype(float) @ linear.T)
            array, normalised = np.concatenate([turned, np.where(array[:, 3:] < 0, -1, 1).astype(np.float32)], axis=1), False
        attributes[name] = packer.add(array, kind, VERTICES, normalised)
    if weights is not None:
        attributes |= weight_sets(packer, *weights)
    out = {key: value for key, value in primitive.items() if key in ("material", "extras", "extensions")} | {
        "attributes": attributes,
        "mode": 4,
    }
    out["indices"] = indices(packer, part.mesh.triangles, len(points))
    if targets := primitive.get("targets"):
        if source.carried is None:
            notes.append(f"part {part.name!r} was changed; its morph targets can't be brought along")
        else:
            out["targets"] = [_target(packer, accessors, target, (change @ source.carried)[:3, :3], rows, place) for target in targets]
    return out


def _target(packer, accessors, target, linear, rows, place):
    out = {}
    for name, number in target.items():
        array, kind, normalised = accessors.array(number, f"{place}.targets.{name}")
        array = array[rows]
        if name in ("POSITION", "NORMAL", "TANGENT"):
            moved = accessors.numbers(number, place, ("VEC3",), meshes.QUANTIZED)[rows] @ (
                linear.T if name != "NORMAL" else _of_normals(linear)
            )
            array, normalised = moved.astype(np.float32), False
        out[name] = packer.add(array, kind, VERTICES, normalised, bounds=name == "POSITION")
    return out


class Materials:
    """Materials of plain colours, each made once."""

    def __init__(self, draft):
        self._draft, self._made = draft, {}

    def number(self, colour):
        """The number of the material of a colour, "#rrggbb"."""
        made = materials.material(colour)
        if colour not in self._made:
            there = self._draft.document.get("materials", [])
            self._made[colour] = there.index(made) if made in there else self._draft.add("materials", made)
        return self._made[colour]
