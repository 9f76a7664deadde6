"""Primitives: the triangles of a mesh, with what joints move them (glTF 2.0, section 3.7, "Meshes").

Triangles come as lists, strips or fans, with indices or without; weights as floats or normalised integers, four to a set, in
any number of sets. Points and lines are no parts of a model: they stay in the document.
"""

from typing import NamedTuple

import numpy as np

from rigkit import arguments
from rigkit.gltf.fields import Item

LIST, STRIP, FAN = 4, 5, 6
FLOATS = (5126,)
QUANTIZED = (5126, 5120, 5121, 5122, 5123)  # KHR_mesh_quantization allows these for positions
WEIGHT_TYPES = (5126, 5121, 5123)
MOST_WEIGHTS = 100_000_000  # of one primitive: vertices times joints
SUM_TOLERANCE = 1e-3


class Primitive(NamedTuple):
    """points (V, 3), in the mesh's own space, those in use. triangles (T, 3). used: (V,) their numbers in the file, or None for all.

    joints: (K,) places in the skin, and weights (V, K), adding up to one; None without them. notes: what was set right."""

    points: np.ndarray
    triangles: np.ndarray
    used: np.ndarray | None
    joints: np.ndarray | None
    weights: np.ndarray | None
    notes: list


def read(accessors, item, joint_count, quantized, whole=False):
    """Return the Primitive of an Item, or None for points and lines.

    joint_count: how many joints the skin has, 0 for none. quantized: whether the file says that it uses KHR_mesh_quantization.
    whole: keep vertices that no triangle uses too.
    """
    attributes = item.item("attributes") or item.fail("attributes", "an object")
    mode = item.integer("mode", LIST, high=6)
    number = attributes.index("POSITION", len(accessors.items))
    if number is None or mode < LIST:
        return None
    points = accessors.numbers(number, attributes.at("POSITION"), ("VEC3",), QUANTIZED if quantized else FLOATS)
    triangles, notes = _triangles(accessors, item, mode, len(points)), []
    area = (triangles[:, 0] != triangles[:, 1]) & (triangles[:, 1] != triangles[:, 2]) & (triangles[:, 2] != triangles[:, 0])
    if not area.all():
        notes.append(f"{item.place} has {int((~area).sum())} triangles that use a vertex twice; they are left out of the part")
        triangles = triangles[area]
    joints = weights = None
    if joint_count:
        joints, weights = _weights(accessors, attributes, len(points), joint_count, notes)
    seen = np.zeros(len(points), bool)
    seen[triangles] = True
    if whole or seen.all() or not seen.any():
        return Primitive(points, triangles, None, joints, weights, notes)
    used = np.flatnonzero(seen)
    return Primitive(points[used], (np.cumsum(seen) - 1)[triangles], used, joints, None if weights is None else weights[used], notes)


def _triangles(accessors, item, mode, count):
    number = item.index("indices", len(accessors.items))
    if number is None:
        order = np.arange(count)
    else:
        order = accessors.integers(number, item.at("indices"), ("SCALAR",))[:, 0]
        if order.max() >= count:
            raise ValueError(f"{item.at('indices')}: accessor {number} points to vertex {order.max()}; expected 0 to {count - 1}")
    if mode == LIST:
        return order[: len(order) // 3 * 3].reshape(-1, 3)
    if len(order) < 3:
        return np.zeros((0, 3), np.int64)
    if mode == FAN:
        return np.stack([order[1:-1], order[2:], np.broadcast_to(order[0], len(order) - 2)], axis=1)
    odd = (np.arange(len(order) - 2) % 2)[:, None]
    return order[np.arange(len(order) - 2)[:, None] + np.where(odd, [0, 2, 1], [0, 1, 2])]


def _weights(accessors, attributes, count, joint_count, notes):
    """(joints (K,), weights (V, K)) of all sets together."""
    sets = sorted(name[7:] for name in attributes.value if name.startswith("JOINTS_"))
    if not sets:
        raise ValueError(f"{attributes.place} has no JOINTS_0; expected it, and WEIGHTS_0, for the node has a skin")
    named, shares = [], []
    for one in sets:
        both = {name: attributes.index(f"{name}_{one}", len(accessors.items)) for name in ("JOINTS", "WEIGHTS")}
        if None in both.values():
            attributes.fail(f"WEIGHTS_{one}", "an accessor, for there are joints of that set")
        named.append(accessors.integers(both["JOINTS"], attributes.at(f"JOINTS_{one}"), ("VEC4",), (5121, 5123)))
        shares.append(_shares(accessors, both["WEIGHTS"], attributes.at(f"WEIGHTS_{one}")))
        if len(named[-1]) != count or len(shares[-1]) != count:
            raise ValueError(
                f"{attributes.at(f'JOINTS_{one}')} has {len(named[-1])} and WEIGHTS_{one} {len(shares[-1])} elements; expected {count}"
            )
    return _dense(np.concatenate(named, axis=1), np.concatenate(shares, axis=1), joint_count, attributes, notes)


def _shares(accessors, number, place):
    item = accessors.items[number]
    if item.value.get("componentType") in (5121, 5123) and not item.truth("normalized"):
        raise ValueError(f"{place}: accessor {number} holds integers that are not normalized; expected normalized ones, or floats")
    return accessors.numbers(number, place, ("VEC4",), WEIGHT_TYPES)


def _dense(named, shares, joint_count, attributes, notes):
    if (shares < 0).any():
        notes.append(f"{attributes.place}: {int((shares < 0).any(axis=1).sum())} vertices have a weight below zero; it is taken as zero")
        shares = np.maximum(shares, 0.0)
    total = shares.sum(axis=1)
    if not (total > 0).all():
        notes.append(f"{attributes.place}: {int((total <= 0).sum())} vertices have no weight at all; they go with the skin's first joint")
        shares[total <= 0, 0], named[total <= 0, 0] = 1.0, 0
        total = shares.sum(axis=1)
    off = np.abs(total - 1)
    if off.max() > SUM_TOLERANCE:
        notes.append(
            f"{attributes.place}: {int((off > SUM_TOLERANCE).sum())} vertices have weights that do not add up to 1 (the worst to "
            f"{total[off.argmax()]:.4g}); they are divided by their sum"
        )
    bad = (shares > 0) & (named >= joint_count)
    if bad.any():
        row, column = map(int, np.argwhere(bad)[0])
        raise ValueError(
            f"{attributes.place}: vertex {row} follows joint {named[row, column]}; expected 0 to {joint_count - 1}, the skin's joints"
        )
    shares = shares / total[:, None]
    joints, column = np.unique(
        np.where(shares > 0, named, named[np.arange(len(named)), shares.argmax(axis=1)][:, None]), return_inverse=True
    )
    if len(shares) * len(joints) > MOST_WEIGHTS:
        raise ValueError(
            f"{attributes.place}: {len(shares)} vertices on {len(joints)} joints; expected at most {MOST_WEIGHTS} of both multiplied"
        )
    place = np.arange(len(shares))[:, None] * len(joints) + column.reshape(shares.shape)
    dense = np.bincount(place.ravel(), weights=shares.ravel(), minlength=len(shares) * len(joints)).reshape(len(shares), len(joints))
    return joints, dense / dense.sum(axis=1, keepdims=True)


def quads(triangles, runs, place):
    """Return faces (F, 4) of triangles (T, 3) that were quads: runs tells in turn how many quads and how many triangles come.

    >>> quads(np.array([[0, 1, 2], [0, 2, 3], [4, 5, 6]]), [1, 1], "runs").tolist()
    [[0, 1, 2, 3], [4, 5, 6, -1]]
    """
    runs = np.asarray(runs, np.int64) if all(type(n) is int and 0 <= n <= len(triangles) for n in runs) else np.array([-1])
    takes = np.where(np.arange(len(runs)) % 2 == 0, 2, 1) * runs
    if takes.sum() != len(triangles) or (runs < 0).any():
        raise ValueError(
            f"{place} is {arguments.shorten(runs)}; expected numbers of quads and triangles in turn, for {len(triangles)} triangles"
        )
    is_quad = np.repeat(np.arange(len(runs)) % 2 == 0, runs)
    first = np.cumsum(np.where(is_quad, 2, 1)) - np.where(is_quad, 2, 1)
    faces = np.concatenate([triangles[first], np.full((len(first), 1), -1)], axis=1)
    faces[is_quad, 3] = triangles[first[is_quad] + 1, 2]
    return faces


def runs_of(mesh):
    """Return the runs that `quads` takes, of a Mesh."""
    is_quad = mesh.faces[:, 3] >= 0
    edges = np.flatnonzero(np.diff(is_quad)) + 1
    lengths = np.diff([0, *edges, len(is_quad)]).tolist()
    return lengths if len(is_quad) and is_quad[0] else [0, *lengths]


def item_of(document, mesh, primitive):
    """The Item of one primitive."""
    return Item(document["meshes"][mesh]["primitives"][primitive], f"meshes[{mesh}].primitives[{primitive}]")
