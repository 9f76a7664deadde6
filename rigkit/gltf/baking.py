"""Baking: a motion of the rig as tracks of joints, so that a viewer that knows no controls shows the same.

Every joint's place and turn in its parent is sampled evenly, and then again between two samples wherever straight lines between
them would put a joint off by more than a tenth of a millimetre. A limb that is drawn
longer or thicker than it was made has that scale on a node of its own below the joint, its *bone*, to which the skin
is bound: no child inherits it there (see `rigkit.pose.Pose`). So linear skinning shows the same picture.
"""

from typing import NamedTuple

import numpy as np

from rigkit import binding, rotation, skinning
from rigkit.gltf import limits

RATE = 30.0  # samples a second to begin with
OFF = 1e-4  # metres, between samples
ROUNDS = 5  # of halving
ARM = 0.1  # metres: how far from a joint its own turn is looked at
STILL = 1e-9  # metres, and twice as much of a quaternion: less is rounding


class Baked(NamedTuple):
    """name. times (T,). rotations (T, J, 4), translations (T, J, 3) in the parent; scales (T, J, 3): how each joint's bone is drawn."""

    name: str
    times: np.ndarray
    rotations: np.ndarray
    translations: np.ndarray
    scales: np.ndarray


def baked(character, motion):
    """Return (Baked, notes) of one motion of a character."""
    times, notes = _times(motion)
    found = _sampled(character, motion, times)
    fresh = np.ones(len(times) - 1, bool)  # stretches between samples not looked at yet
    for _ in range(ROUNDS):
        looked = np.flatnonzero(fresh & (np.diff(found.times) > 2e-3))
        if not len(looked) or len(found.times) > limits.SAMPLES:
            break
        middle = _sampled(character, motion, (0.5 * (found.times[looked] + found.times[looked + 1])).astype(np.float32).astype(np.float64))
        off = _off(character.skeleton, _rows(found, looked), _rows(found, looked + 1), middle) > OFF
        found, fresh = _with(found, _rows(middle, off), looked[off] + 1)
    return found, notes


def _sampled(character, motion, times):
    pose = character.rig.pose(motion.sample(times))
    scales = np.stack([pose.sizes * pose.stretch, pose.sizes * pose.girth, pose.sizes * pose.girth], axis=-1)
    return Baked(motion.name, times, pose.local_rotations, pose.local_translations, scales)


def _rows(one, which):
    return Baked(one.name, *(array[which] for array in one[1:]))


def _with(one, more, before):
    """(a Baked with more samples, each before a number of `before`; which of its stretches are new, truths)."""
    joined = Baked(one.name, *(np.insert(array, before, new, axis=0) for array, new in zip(one[1:], more[1:])))
    new = before + np.arange(len(before))
    fresh = np.zeros(len(joined.times) - 1, bool)
    fresh[new], fresh[new - 1] = True, True
    return joined, fresh


def _off(skeleton, left, right, true):
    """How far straight lines between samples put any joint off at the moments between them, (N,) metres."""
    turns = rotation.slerp(left.rotations, right.rotations, 0.5)
    straight = skeleton.forward(turns, 0.5 * (left.translations + right.translations))
    exact = skeleton.forward(true.rotations, true.translations)
    off = np.linalg.norm(straight.positions - exact.positions, axis=-1) + ARM * rotation.angle(straight.rotations, exact.rotations)
    off += ARM * np.abs(0.5 * (left.scales + right.scales) - true.scales).max(axis=-1)
    return off.max(axis=-1)


def _times(motion):
    """Evenly over the motion and at all its keys, and just before each key that steps."""
    count, notes = max(int(np.ceil(motion.length * RATE)), 1), []
    if count > limits.SAMPLES:
        notes.append(f"motion {motion.name!r} lasts {motion.length:g} s; it is sampled {limits.SAMPLES} times, not {RATE:g} times a second")
        count = limits.SAMPLES
    keyed = [
        np.concatenate([keys.times, keys.times - 1e-3] if keys.kind == "step" else [keys.times])
        for keys in motion.tracks.values()
        if len(keys.times) < count / 2
    ]
    times = np.concatenate([np.linspace(0.0, motion.length, count + 1), *keyed])
    times = np.unique(np.clip(times, 0.0, motion.length).astype(np.float32))
    return times[np.concatenate([[True], np.diff(times) > 1e-5])].astype(np.float64), notes


def stretched(every):
    """Return the joints whose bones are drawn at another scale than 1 in any of the Bakeds, (J,) truths."""
    return np.any([np.abs(one.scales - 1).max(axis=(0, 2)) > STILL for one in every], axis=0)


def tracks(one, skeleton, scaled):
    """Yield (joint, path, values (T, n)) of all that moves: "translation", "rotation", and "bone", the drawn scale, where `scaled`."""
    for j in range(len(skeleton)):
        if np.abs(one.translations[:, j] - skeleton.rest_translations[j]).max() > STILL:
            yield j, "translation", one.translations[:, j]
        turned = one.rotations[:, j] * np.sign(one.rotations[:, j] @ skeleton.rest_rotations[j] + 1e-300)[:, None]
        if np.abs(turned - skeleton.rest_rotations[j]).max() > STILL:
            yield j, "rotation", one.rotations[:, j]
        if scaled[j]:
            yield j, "bone", one.scales[:, j]


def off_linear(part, skeleton, every):
    """Return how far, at most, linear blending puts a vertex of a part from where dual quaternions put it in these motions, metres."""
    joints = np.tile([skeleton.index(name) for name in part.joints], (len(part.mesh.vertices), 1))
    skin, worst = skinning.bind(part.mesh.vertices, joints, part.weights), 0.0
    for one in every:
        for start in range(0, len(one.times), 16):
            block = slice(start, start + 16)
            transforms = binding.skinning_transforms(skeleton, one.rotations[block], one.translations[block])
            off = skin.linear_blend(*transforms) - skin.dual_quaternion(*transforms)
            worst = max(worst, float(np.linalg.norm(off, axis=-1).max(initial=0.0)))
    return worst
