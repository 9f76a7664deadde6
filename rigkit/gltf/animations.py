"""Animations of a document, read into `rigkit.animation.Animation` and written from tracks (glTF 2.0, section 3.11)."""

import numpy as np

from rigkit.animation import PATHS, Animation
from rigkit.gltf import scene
from rigkit.gltf.fields import MUST, Item
from rigkit.keys import Keys

KINDS = {"STEP": "step", "LINEAR": "linear", "CUBICSPLINE": "smooth"}
MODES = {kind: mode for mode, kind in KINDS.items()}
ANY = (5126, 5120, 5121, 5122, 5123)


def moved(document):
    """Return the nodes that some animation of others moves, turns or scales; those that we baked say so and do not count."""
    found = set()
    for item in Item(document, "").items("animations"):
        if "motion" not in scene.own(item):
            targets = [channel.item("target") for channel in item.items("channels")]
            found |= {target.value.get("node") for target in targets if target and target.value.get("path") in PATHS}
    return {node for node in found if type(node) is int}


def read(document, accessors, names, sizes, parents, notes):
    """Return ({name: (Animation, number in the document, whether it is as it came)}).

    names: node to joint name. sizes: (J,) what was baked in, by joint, in the order of `names`. parents: (J,). An animation that moves
    no joint of ours stays in the document alone.
    """
    place = {name: j for j, name in enumerate(names.values())}
    found = {}
    for number, item in enumerate(Item(document, "").items("animations")):
        if "motion" in scene.own(item):
            continue
        before, tracks = len(notes), {}
        for channel in item.items("channels"):
            target = channel.item("target") or channel.fail("target", "an object")
            node, path = target.index("node", len(document.get("nodes", ()))), target.text("path")
            if node not in names or path not in PATHS:
                continue
            key = names[node], path
            if key in tracks:
                raise ValueError(f"{channel.place} moves {path} of nodes[{node}] a second time; expected one channel for each")
            j = place[names[node]]
            above = sizes[parents[j]] if parents[j] >= 0 else 1.0
            factor = {"translation": above, "scale": above / sizes[j], "rotation": 1.0}[path]
            tracks[key] = _keys(item, channel, accessors, path, factor, notes)
        if tracks:
            name = item.text("name", "") or f"animation {number}"
            while name in found:
                name += f" (animation {number})"
            found[name] = Animation(name, tracks), number, len(notes) == before
    return found


def _keys(animation, channel, accessors, path, factor, notes):
    samplers = animation.items("samplers")
    sampler = samplers[channel.index("sampler", len(samplers), MUST)]
    kind = KINDS[sampler.choice("interpolation", KINDS, "LINEAR")]
    inputs, outputs = (sampler.index(name, len(accessors.items), MUST) for name in ("input", "output"))
    times = accessors.numbers(inputs, sampler.at("input"), ("SCALAR",))[:, 0]
    kinds = ("VEC4",) if path == "rotation" else ("VEC3",)
    values = accessors.numbers(outputs, sampler.at("output"), kinds, ANY if path == "rotation" else (5126,))
    each = 3 if kind == "smooth" else 1
    if len(values) != each * len(times):
        raise ValueError(
            f"{sampler.at('output')}: accessor {outputs} has {len(values)} elements; expected {each} for each of {len(times)} times"
        )
    values = values.reshape(len(times), each, -1) * factor
    late = np.concatenate([[True], times[1:] > np.maximum.accumulate(times)[:-1]])
    if not late.all():
        notes.append(f"{sampler.at('input')}: {int((~late).sum())} keys do not come after the one before; they are left out")
        times, values = times[late], values[late]
    middle = values[:, each // 2]
    if path == "rotation":
        middle = _unit(middle, sampler, notes)
    if kind != "smooth":
        return Keys(times, middle, kind)
    return Keys(times, middle, kind, values[:, 0], values[:, 2])


def _unit(turns, sampler, notes):
    length = np.linalg.norm(turns, axis=1)
    if not (length > 1e-6).all():
        raise ValueError(f"{sampler.at('output')}: key {int(length.argmin())} is a quaternion of length {length.min():.3g}; expected 1")
    if np.abs(length - 1).max() > 1e-3:
        notes.append(f"{sampler.at('output')} has quaternions of length {length[np.abs(length - 1).argmax()]:.4g}; they are divided by it")
    return turns / length[:, None]


# ---- writing ----------------------------------------------------------------------------------------------------


class Writer:
    """Samplers and channels of one animation under way; tracks with the same times share them."""

    def __init__(self, packer):
        self._packer, self._times = packer, {}
        self.samplers, self.channels = [], []

    def add(self, node, path, times, values, kind="linear", ins=None, outs=None):
        """Add a track on a node. times: (K,) seconds. values, ins, outs: (K, n)."""
        values = np.asarray(values)
        if kind == "smooth":
            values = np.stack([ins, values, outs], axis=1).reshape(-1, values.shape[1])
        output = self._packer.add(values.astype(np.float32), f"VEC{values.shape[1]}")
        self.samplers.append({"input": self._input(times), "output": output, "interpolation": MODES[kind]})
        self.channels.append({"sampler": len(self.samplers) - 1, "target": {"node": node, "path": path}})

    def _input(self, times):
        times = np.asarray(times, np.float32)
        key = times.tobytes()
        if key not in self._times:
            self._times[key] = self._packer.add(times, "SCALAR", bounds=True)
        return self._times[key]
