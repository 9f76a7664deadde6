"""What is left of a document that came: its arrays packed anew, so that nothing of the old buffers is needed, and its images.

Where an extension that we do not know may point to arrays by number, they stay in front as they are, and whatever points to them stays.
"""

import numpy as np

from rigkit import arguments
from rigkit.gltf import animations, container, shapes

IMAGE_TYPES = {b"\x89PNG": "image/png", b"\xff\xd8\xff": "image/jpeg"}


def pack_rest(job):
    """Pack the arrays of meshes, skins, animations and images of a job (see `rigkit.gltf.writing`) that came."""
    limit = job.kept["kept"]["accessors"] if job.kept else 0
    weights = _weights(job)
    for m, mesh in enumerate(job.draft.document.get("meshes", ())):
        for p, primitive in enumerate(mesh["primitives"]):
            if id(primitive) not in job.fresh and not _all_below(primitive, limit):
                made = shapes.copied(job.packer, job.accessors, primitive, f"meshes[{m}].primitives[{p}]", weights.get(_key(primitive)))
                primitive.clear()
                primitive.update(made)
    for s, skin in enumerate(job.draft.document.get("skins", ())):
        number = skin.get("inverseBindMatrices")
        if number is not None and id(skin) not in job.fresh and number >= limit:
            array, kind, _ = job.accessors.array(number, f"skins[{s}].inverseBindMatrices")
            skin["inverseBindMatrices"] = job.packer.add(array[: len(skin["joints"])], kind, use="skins")
    _samplers(job, limit)
    _images(job, job.kept["kept"]["bufferViews"] if job.kept else 0)


def _key(primitive):
    """What tells a primitive of the document that came, wherever it now stands: the numbers of its arrays."""
    return tuple(sorted(primitive["attributes"].items())), primitive.get("indices")


def _weights(job):
    """For each skinned primitive that came: (places in the skin, weights) as they were set right, for all its vertices."""
    found = {}
    document = job.source.document
    for one in job.source.parts.values():
        if one.skin is None:
            continue
        primitive = document["meshes"][one.mesh]["primitives"][one.primitive]
        skin = [_joint(job, node) for node in document["skins"][one.skin]["joints"]]
        places = [skin.index(job.source.nodes[name]) if job.source.nodes[name] in skin else 0 for name in one.part.joints]
        weights = one.part.weights
        count = job.accessors.count(primitive["attributes"]["POSITION"])
        if one.split or one.used is not None:
            rows = _corner_rows(job, primitive) if one.split else one.used
            if one.split:
                weights = weights[rows]
            else:
                full = np.zeros((count, weights.shape[1]))
                full[:, 0], full[rows] = 1.0, weights
                weights = full
        found[_key(primitive)] = places, weights
    return found


def _joint(job, node):
    """The joint of a node that a skin names: its own, or the one whose bone it is."""
    bones = {bone: job.source.nodes[name] for name, bone in job.source.bones.items()}
    return bones.get(node, node)


def _corner_rows(job, primitive):
    number = primitive["attributes"]["_RIGKIT_VERTEX"]
    return job.accessors.numbers(number, "_RIGKIT_VERTEX", ("SCALAR",))[:, 0].astype(np.int64)


def _all_below(primitive, limit):
    numbers = [*primitive["attributes"].values(), *([primitive["indices"]] if "indices" in primitive else [])]
    return all(number < limit for number in numbers)


def _samplers(job, limit):
    made = {}

    def again(number, place, bounds, turns):
        key = number, bounds, turns
        if number < limit:
            return number
        if key not in made:
            array, kind, normalised = job.accessors.array(number, place)
            if turns and array.dtype.kind == "f":
                array = shapes.unit_where_needed(array)
            made[key] = job.packer.add(array, kind, normalised=normalised, bounds=bounds)
        return made[key]

    for a, item in enumerate(job.draft.document.get("animations", ())):
        turned = {c["sampler"] for c in item["channels"] if c["target"].get("path") == "rotation"}
        for s, sampler in enumerate(item.get("samplers", ())):
            if id(sampler) not in job.fresh:
                place, smooth = f"animations[{a}].samplers[{s}]", sampler.get("interpolation") == animations.MODES["smooth"]
                sampler["input"] = again(sampler["input"], f"{place}.input", True, False)
                sampler["output"] = again(sampler["output"], f"{place}.output", False, s in turned and not smooth)


def _images(job, limit):
    """Images, wherever they lay, go into the buffer."""
    for i, image in enumerate(job.draft.document.get("images", ())):
        view = image.get("bufferView")
        if view is not None and view >= limit:
            image["bufferView"] = job.packer.blob(job.accessors.bytes_of(view, f"images[{i}].bufferView"))
        elif i in job.source.images or str(image.get("uri", "")).startswith("data:"):
            data = job.source.images[i] if i in job.source.images else container.data_at(image["uri"], f"images[{i}].uri")
            kind = image.get("mimeType") or next((kind for magic, kind in IMAGE_TYPES.items() if data.startswith(magic)), None)
            if kind is None:
                job.notes.append(
                    f"images[{i}] ({arguments.shorten(image['uri'])}) is neither PNG nor JPEG; it is still looked for in its own file"
                )
                continue
            del image["uri"]
            image |= {"bufferView": job.packer.blob(data), "mimeType": kind}
