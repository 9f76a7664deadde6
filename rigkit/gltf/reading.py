"""From files to a Character: each module of this package reads its own, and here it is put together."""

import re
from pathlib import Path

import numpy as np

from rigkit import arguments
from rigkit.character import BLENDS, KINDS, Character, Part
from rigkit.gltf import animations, container, materials, meshes, rigdata, scene, skins, soundness
from rigkit.gltf.accessors import Accessors
from rigkit.gltf.fields import Item
from rigkit.gltf.source import PartSource, Source
from rigkit.mesh import Mesh
from rigkit.skeleton import Skeleton

# What a file may require of its reader: these change nothing that we read, and are kept.
HARMLESS = re.compile(
    r"KHR_(materials|texture|lights|xmp|mesh_quantization|animation_pointer|node_visibility)\w*|EXT_texture\w*|EXT_lights\w*"
)


def load(path, scene_wanted=None):
    """Return the Character of a .gltf or .glb; see `rigkit.load`."""
    with np.errstate(all="ignore"):  # what numbers of a broken file lead to is told where it is found
        try:
            files = container.read(path)
            return _character(files, Path(path).stem, scene_wanted)
        except np.linalg.LinAlgError as wrong:
            raise ValueError(f"{Path(path).name}: a transform of the file can't be taken apart: {wrong}") from None
        except ValueError as wrong:
            raise ValueError(f"{Path(path).name}: {wrong}") from None


def _character(files, stem, scene_wanted):
    root = Item(files.document, "")
    soundness.check(files.document)
    _check_required(root)
    ours = (root.item("extras") if isinstance(root.value.get("extras"), dict) else Item({}, "extras")).item(scene.OWN)
    ours = rigdata.checked(ours) if ours else None
    accessors, tree = Accessors(files), scene.Tree(files.document, scene_wanted)
    notes = [*files.missing, *tree.notes]
    if not tree.order:
        raise ValueError("the scene has no node; expected something to show")
    every_skin = skins.through_bones(skins.read(files.document, accessors), tree)
    nodes = _sorted(scene.joints(tree, [s.joints for s in every_skin], animations.moved(files.document)), tree, ours)
    before = len(tree.notes)
    joint_names = scene.names(tree, nodes)
    sizes, translations, scales = scene.baked(tree, nodes, _used(tree, every_skin))
    notes += tree.notes[before:]
    place = {node: j for j, node in enumerate(nodes)}
    parents = np.array([place.get(int(tree.parents[node]), -1) for node in nodes])
    world, rest_notes = _rest(tree, every_skin, place, parents, translations, scales, sizes)
    notes += rest_notes
    skeleton, left = _skeleton(joint_names, parents, world, tree.rotations[nodes], translations, scales, not rest_notes)
    bind = world @ _sized(sizes)
    parts = _parts(files, accessors, tree, every_skin, place, bind, joint_names, notes)
    found = animations.read(files.document, accessors, dict(zip(nodes, joint_names)), sizes, parents, notes)
    bones = {
        joint_names[place[int(tree.parents[n])]]: n
        for n in tree.order
        if scene.own(tree.items[n]).get("bone") and int(tree.parents[n]) in place
    }
    source = Source(
        files.document,
        files.buffers,
        files.images,
        tree.scene,
        skeleton,
        left,
        dict(zip(joint_names, nodes)),
        bones,
        {one.part.name: one for one in parts},
        found,
        bind,
        sizes,
        tuple(dict.fromkeys(notes)),
    )
    return _with_ours(ours, stem, skeleton, [one.part for one in parts], [one[0] for one in found.values()], left, source)


def _with_ours(ours, stem, skeleton, parts, moved, left, source):
    extras = {"notes": source.notes, "gltf": source}
    if ours is None:
        return Character(stem, skeleton, parts, extras=extras, animations=moved, scales=left)
    more, order = ours.item("extras"), {name: k for k, name in enumerate(ours.list("parts")) if isinstance(name, str)}
    parts.sort(key=lambda part: order.get(part.name, len(order)))
    return Character(
        ours.text("name", stem),
        skeleton,
        parts,
        landmarks=rigdata.points(ours, "landmarks"),
        hinges=rigdata.points(ours, "hinges"),
        loops=rigdata.loops(ours),
        rig=rigdata.rig(ours, skeleton),
        motions=rigdata.motions(ours),
        extras=(more.value if more else {}) | extras,
        animations=moved,
        scales=left,
    )


def _check_required(root):
    for i, name in enumerate(root.list("extensionsRequired")):
        if not (isinstance(name, str) and HARMLESS.fullmatch(name)):
            raise ValueError(f"extensionsRequired[{i}] is {arguments.shorten(name)}, which this reader lacks; save the file without it")


# ---- joints -----------------------------------------------------------------------------------------------------


def _sorted(nodes, tree, ours):
    """The joints' nodes, parents first; in the order of our own list where all of its joints are there."""
    wanted = ours.list("joints") if ours else []
    by_name = {tree.items[node].text("name", ""): node for node in nodes}
    order = [by_name.get(name) for name in wanted if isinstance(name, str)]
    if None in order or sorted(order) != sorted(nodes):
        return nodes
    seen = {-1} | (set(range(len(tree.items))) - set(nodes))
    for node in order:
        if int(tree.parents[node]) not in seen:
            return nodes
        seen.add(node)
    return order


def _used(tree, every_skin):
    rigid = {node for node in tree.order if "mesh" in tree.items[node].value and "skin" not in tree.items[node].value}
    return rigid.union(*(skin.joints for skin in every_skin))


def _sized(sizes):
    return np.eye(4) * np.stack([sizes, sizes, sizes, np.ones(len(sizes))], axis=1)[:, None, :]


def _rest(tree, every_skin, place, parents, translations, scales, sizes):
    """(world transforms (J, 4, 4) of rest in metres, notes): a joint's own frame is not larger for what was baked in."""
    numbers = list(place)
    world = skins.stacked(parents, tree.rotations[numbers], translations, scales)
    named = [
        every_skin[number]
        for number in dict.fromkeys(
            tree.items[node].index("skin", len(every_skin))
            for node in tree.order
            if "mesh" in tree.items[node].value and "skin" in tree.items[node].value
        )
    ]
    full, _, notes = skins.rest(named, place, parents, tree.local[numbers], world @ _sized(sizes))
    return (full @ np.linalg.inv(_sized(sizes)), notes) if notes else (world, [])


def _skeleton(names, parents, world, rotations, translations, scales, as_posed):
    """(Skeleton, scales left or None); the file's own numbers where rest is as the file poses it."""
    if not as_posed:
        rotations, translations, scales = skins.locally(world, parents)
    left = scales if np.abs(scales - 1).max() > 1e-6 else None
    return Skeleton(names, parents, translations, rotations), left


# ---- parts ------------------------------------------------------------------------------------------------------


def _parts(files, accessors, tree, every_skin, place, bind, joint_names, notes):
    """The PartSources of all triangles in the scene."""
    document = files.document
    colours, decoded, found, taken = materials.colours(document), {}, [], set()
    quantized = "KHR_mesh_quantization" in Item(document, "").list("extensionsUsed")
    every_mesh = Item(document, "").items("meshes")
    for node in tree.order:
        mesh = tree.items[node].index("mesh", len(every_mesh))
        if mesh is None:
            continue
        skin = tree.items[node].index("skin", len(every_skin))
        primitives = every_mesh[mesh].items("primitives")
        for number, item in enumerate(primitives):
            joint_count = len(every_skin[skin].joints) if skin is not None else 0
            key, ours = (mesh, number, joint_count), scene.own(item)
            if key not in decoded:
                decoded[key] = meshes.read(accessors, item, joint_count, quantized, "runs" in ours)
                notes += decoded[key].notes if decoded[key] else []
            one = decoded[key]
            if one is None or not len(one.triangles):
                continue
            name = (
                ours.get("part")
                if isinstance(ours.get("part"), str) and ours["part"]
                else _part_name(tree.items[node], every_mesh[mesh], number, len(primitives))
            )
            while name in taken:
                name += f" (node {node})"
            taken.add(name)
            colour = item.index("material", len(colours))
            _charge(accessors, one, item)
            placed = _skinned(one, every_skin[skin], place, bind) if skin is not None else _rigid(one, tree, node, place, bind)
            part = _part(name, item, one, accessors, *placed[:3], joint_names, ours, materials.PLAIN if colour is None else colours[colour])
            found.append(PartSource(part, node, mesh, number, skin, one.used, placed[3], "runs" in ours))
    return found


def _charge(accessors, one, item):
    """A mesh that is shown once more takes memory once more."""
    try:
        accessors.spend(
            24 * len(one.points) + 16 * len(one.triangles) + (8 * one.weights.size if one.weights is not None else 8 * len(one.points))
        )
    except ValueError as wrong:
        raise ValueError(f"{item.place}: {wrong}") from None


def _part_name(node, mesh, number, count):
    name = node.text("name", "") or mesh.text("name", "") or mesh.place
    return name if count == 1 else f"{name} {number + 1}"


def _skinned(one, skin, place, bind):
    """(points at rest, joints, weights, the matrix that carried them or None)."""
    joints = np.array([place[skin.joints[k]] for k in one.joints])
    points, matrix = skins.carried(skin, one.joints, one.weights, one.points, bind[joints])
    return points, joints, one.weights, matrix


def _rigid(one, tree, node, place, bind):
    """As `_skinned`, for a mesh that hangs on the joint at or above its node."""
    matrix = np.eye(4)
    while node not in place:
        matrix, node = tree.local[node] @ matrix, int(tree.parents[node])
    matrix = bind[place[node]] @ matrix
    return one.points @ matrix[:3, :3].T + matrix[:3, 3], np.array([place[node]]), np.ones((len(one.points), 1)), matrix


def _part(name, item, one, accessors, points, joints, weights, joint_names, ours, colour):
    kind = ours.get("kind") if ours.get("kind") in KINDS else "hard" if len(joints) == 1 else "sleeve"
    triangles, faces = one.triangles, None
    if "runs" in ours:
        points, weights, triangles = _joined(item, accessors, points, weights, triangles)
        faces = meshes.quads(triangles, ours["runs"] if isinstance(ours["runs"], list) else [], f"{item.at('extras')}.{scene.OWN}.runs")
    names = [joint_names[j] for j in joints]
    if "joints" in ours and isinstance(ours["joints"], list) and set(names) <= set(map(str, ours["joints"])) <= set(joint_names):
        names, weights = _in_order(names, weights, [str(joint) for joint in ours["joints"]])
    mesh = _made(item, points, triangles if faces is None else faces)
    blend = ours.get("blend") if ours.get("blend") in BLENDS else BLENDS[0]
    return Part(
        name,
        mesh,
        names,
        weights,
        kind,
        ours["colour"] if isinstance(ours.get("colour"), str) else colour,
        ours.get("smooth") is True,
        blend,
    )


def _made(item, points, faces):
    try:
        return Mesh(points, faces)
    except ValueError as wrong:
        raise ValueError(f"{item.place}: {wrong}") from None


def _in_order(names, weights, wanted):
    """Weights with a column for each wanted joint, those that hold nothing too."""
    if len(set(wanted)) < len(wanted):
        return names, weights
    out = np.zeros((len(weights), len(wanted)))
    out[:, [wanted.index(name) for name in names]] = weights
    return wanted, out


def _joined(item, accessors, points, weights, triangles):
    """A part of ours as it was before its vertices were split into corners: (points, weights, triangles)."""
    attributes = item.item("attributes")
    place = attributes.at("_RIGKIT_VERTEX")
    number = accessors.numbers(attributes.index("_RIGKIT_VERTEX", len(accessors.items), -1), place, ("SCALAR",))[:, 0]
    if len(number) != len(points) or (number != np.round(number)).any() or number.min() < 0 or number.max() >= len(number):
        raise ValueError(f"{place} does not number the {len(points)} vertices")
    number = number.astype(np.int64)
    kept, first = np.unique(number, return_index=True)
    if not np.array_equal(kept, np.arange(len(kept))):
        raise ValueError(f"{place} leaves out vertex {int(np.setdiff1d(np.arange(number.max() + 1), kept)[0])}")
    return points[first], weights[first], number[triangles]
