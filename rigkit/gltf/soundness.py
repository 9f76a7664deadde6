"""Soundness: whatever points to something in the document points to something, also where nothing of ours reads it.

What is not read is saved again, and what saving packs anew must be there. Only the fields that the specification says are numbers of
things are looked at; materials, cameras and extensions are kept as they are.
"""

from rigkit.gltf import limits
from rigkit.gltf.fields import MUST, Item


def check(document):
    """Raise the ValueError, with its place, for the first thing that points to nothing."""
    root = Item(document, "")
    if len(root.list("nodes")) > limits.NODES:
        raise ValueError(f"nodes has {len(root.list('nodes'))} items; expected at most {limits.NODES}")
    counts = {
        name: len(root.items(name)) for name in ("accessors", "bufferViews", "nodes", "meshes", "skins", "scenes", "materials", "textures")
    }
    buffers = len(root.items("buffers"))
    for item in root.items("bufferViews"):
        item.index("buffer", buffers, MUST)
        item.integer("byteOffset", 0)
        item.integer("byteLength", low=1)
    for item in root.items("meshes"):
        _mesh(item, counts)
    for item in root.items("nodes"):
        for name, kind in (("mesh", "meshes"), ("skin", "skins")):
            item.index(name, counts[kind])
    for item in root.items("skins"):
        item.indices("joints", counts["nodes"], least=1)
        item.index("inverseBindMatrices", counts["accessors"])
        item.index("skeleton", counts["nodes"])
    for item in root.items("animations"):
        _animation(item, counts)
    for item in root.items("images"):
        item.index("bufferView", counts["bufferViews"])
        item.text("uri", None)
    for item in root.items("scenes"):
        item.indices("nodes", counts["nodes"])


def _mesh(item, counts):
    primitives = item.items("primitives")
    if not primitives:
        item.fail("primitives", "at least one")
    for primitive in primitives:
        for arrays in (primitive.item("attributes") or primitive.fail("attributes", "an object"), *primitive.items("targets")):
            for name in arrays.value:
                arrays.index(name, counts["accessors"])
        primitive.index("indices", counts["accessors"])
        primitive.index("material", counts["materials"])


def _animation(item, counts):
    samplers = item.items("samplers")
    for sampler in samplers:
        for name in ("input", "output"):
            sampler.index(name, counts["accessors"], MUST)
    for channel in item.items("channels"):
        channel.index("sampler", len(samplers), MUST)
        target = channel.item("target") or channel.fail("target", "an object")
        target.index("node", counts["nodes"])
        target.text("path")
