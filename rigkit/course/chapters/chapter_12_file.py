"""Checkpoint 12.6: the file, as a stranger sees it, who knows the open standard and nothing of ours.

The file is really written from the learner's pieces. All that is ours (`extras`) is taken out of it, what is left is read
again and posed by its own keys, and its sleeves are blended linearly, as glTF 2.0 says (section Skins). Then both are compared.
"""

import tempfile
import warnings
from dataclasses import replace
from pathlib import Path

import numpy as np

from rigkit import binding, gltf, rotation
from rigkit.course import forms
from rigkit.course.chapters.chapter_12_pieces import CLOSED, PIECES, build, digest, named, once, rigged
from rigkit.course.chapters.chapter_12_show import show_file
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.gltf import container
from rigkit.keys import Keys, Motion
from rigkit.words import millimetres

SLEEVES = ("left_elbow_sleeve", "right_elbow_sleeve")
BLENDS = ("linear", "dual quaternion")
SAME, LOST = 0.0001, 0.0001  # metres
THINGS = (
    "joints", "parents", "weights", "the walk as keys on joints",
    "controls", "links", "ranges of hinges", "dual quaternions",
)  # fmt: skip
STAYS = frozenset(THINGS[4:])
FILE, ELSEWHERE, LAW = "the file, what a file holds", "the file, elsewhere", "the file, what it costs"


def task(robot, variant):
    """A twist, in degrees, and a sleeve's radius, in metres, for the claim about what is lost."""
    rng = np.random.default_rng([126, variant])
    loop = robot.part("left_elbow_sleeve").mesh.vertices[:18]
    radius = float(np.linalg.norm(loop - loop.mean(axis=0), axis=1).mean())
    return {"twist": int(rng.integers(14, 27)) * 5, "radius": round(radius, 5)}


def bending():
    """A short motion: both elbows bend."""
    tracks = {}
    for side in ("left", "right"):
        tracks |= {f"{side}_hand_control.blend": Keys([0, 1], [0, 0]), f"{side}_elbow_control.turn_z": Keys([0, 1], [0, 1.2])}
    return Motion("bend", tracks)


def written(robot, pieces, blends):
    """(notes of the reader, largest gap in metres, part) of the file, or a text that says why there is none."""
    found = rigged(robot, pieces)
    if isinstance(found, str):
        return found
    return once("file", robot, pieces, lambda: _written(found, blends), digest(blends))


def _written(found, blends):
    parts = [replace(found.part(name), blend=blends[name]) for name in SLEEVES]
    small = replace(found, parts=parts, loops={}, landmarks={}, motions=(bending(),))
    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        path = Path(folder) / "tally.glb"
        gltf.save(small, path)
        notes = tuple(gltf.load(path).extras["notes"])
        held = container.read(path)
        stranger = Path(folder) / "stranger.glb"
        container.write(stranger, bare(held.document), bytes(held.buffers[0]))
        seen = gltf.load(stranger)
    gaps = {name: gap(small, seen, name) for name in SLEEVES}
    worst = max(gaps, key=gaps.get)
    return notes, gaps[worst], worst


def bare(document):
    """A document without anything of ours."""
    if isinstance(document, dict):
        return {key: bare(value) for key, value in document.items() if key != "extras"}
    return [bare(item) for item in document] if isinstance(document, list) else document


def gap(ours, theirs, name):
    """How far a vertex of a part is from where we show it, in the last frame, metres."""
    part, other = ours.part(name), theirs.part(name)
    where = np.linalg.norm(other.mesh.vertices[:, None] - part.mesh.vertices[None], axis=2).argmin(axis=1)
    mine = skinned(ours, part, *_last(ours.play("bend", np.array([1.0]))))
    world = theirs.animate(theirs.animations[0].name, np.array([1.0]))
    yours = skinned(theirs, replace(other, blend="linear"), world.rotations[0], world.positions[0])
    return float(np.linalg.norm(yours - mine[where], axis=1).max())


def _last(pose):
    return pose.rotations[-1], pose.positions[-1]


def skinned(character, part, turns, places):
    """The vertices of a part in a pose of the world, by its own blend."""
    rest = character.skeleton.rest_world
    turned = rotation.multiply(turns, rotation.invert(rest.rotations))
    moved = places - rotation.rotate(turned, rest.positions)
    numbers = np.tile([character.skeleton.index(joint) for joint in part.joints], (len(part.weights), 1))
    blend = binding.linear_blend if part.blend == "linear" else binding.dual_quaternion
    return blend(part.mesh.vertices, numbers, part.weights, turned, moved)


# ---- the claims ---------------------------------------------------------------------------------------------------


def is_valid(case, answer, context):
    """The file is written, and read without a note."""
    found = written(context.robot, answer["pieces"], answer["blends"])
    if isinstance(found, str):
        return Measure(False, "a file can be written", f"none: {found}"[:150], 99.0)
    told = f"{len(found[0])} notes, the first: {found[0][0]}"[:150] if found[0] else "no note"
    return Measure(not found[0], "the file is read again, and nothing has to be set right", told, len(found[0]))


def looks_the_same(case, answer, context):
    """No vertex of a sleeve is elsewhere for a stranger."""
    found = written(context.robot, answer["pieces"], answer["blends"])
    if isinstance(found, str):
        return Measure(False, "a file can be written", f"none: {found}"[:150], 99.0)
    _, off, name = found
    got = f"{name} is up to {millimetres(off, 2)} elsewhere, with the elbow bent"
    proves = "the file can't say dual quaternions: others blend that sleeve linearly" if off > SAME else ""
    return Measure(off <= SAME, "sleeves look the same to a stranger, within 0.1 mm", got, off, proves)


def lost_right(case, answer, context):
    """What linear blending takes off the radius in the middle of a twisted sleeve."""
    known = context.given["sister"]
    right = 1000 * known["radius"] * (1 - np.cos(np.radians(known["twist"]) / 2))
    off = abs(answer["lost_mm"] - right) / 1000
    return Measure(off <= LOST, "how many millimetres of radius others lose", f"{answer['lost_mm']:.4g} mm, {millimetres(off, 2)} off", off)


def stays_behind(case, answer, context):
    """What plain glTF 2.0 has no word for."""
    got = set(answer["stays_behind"])
    more, less = sorted(got - STAYS), sorted(STAYS - got)
    said = [f"{one}: the file holds that" for one in more] + [f"{len(less)} missing"] * bool(less)
    return Measure(
        got == STAYS, "all that others can't read from the file, and no more", "; ".join(said[:2]) or "all", len(more) + len(less)
    )


def hand_over(blend="linear", lost=lambda r, t: r * (1 - np.cos(t / 2)), stays=THINGS[4:], scale=1000):
    """The answer of 12.6 as a function of the context; every choice but ours is one planned mistake."""

    def answer(context):
        known = context.given["sister"]
        return {
            "pieces": build(context.given["model"]),
            "blends": dict.fromkeys(SLEEVES, blend),
            "lost_mm": float(scale * lost(known["radius"], np.radians(known["twist"]))),
            "stays_behind": list(stays),
        }

    return answer


MISTAKES = (
    Mistake(
        "dual quaternions",
        hand_over(blend="dual quaternion"),
        "the file can't say dual quaternions: what you see on your screen is not what others see",
        ("same",),
        ELSEWHERE,
    ),
    Mistake(
        "what is left",
        hand_over(lost=lambda r, t: r * np.cos(t / 2)),
        "this is the radius that is left; asked for is what is lost",
        ("lost",),
        LAW,
    ),
    Mistake("the whole angle", hand_over(lost=lambda r, t: r * (1 - np.cos(t))), "half of the twist goes into the cosine (11.3)", ("lost",), LAW),
    Mistake("metres", hand_over(scale=1), "lost_mm is in metres; millimetres are asked for", ("lost",), LAW),
    Mistake(
        "controls travel",
        hand_over(stays=THINGS[5:]),
        "controls are kept for our own program only: the standard has no word for them",
        ("stays",),
        FILE,
    ),
    Mistake(
        "weights stay",
        hand_over(stays=THINGS[2:]),
        "weights and keys on joints are in the standard: sections Skins and Animations",
        ("stays",),
        FILE,
    ),
)  # fmt: skip

CHECKPOINT = Checkpoint(
    id="12.6",
    title="The file, elsewhere",
    kind="value",
    names={
        "pieces": PIECES,
        "blends": named(SLEEVES, forms.choice(*BLENDS)),
        "lost_mm": forms.number(),
        "stays_behind": forms.listing(forms.choice(*THINGS)),
    },
    claims=(
        Claim("valid", "a file is written from your rig, and read again without a note", 1, is_valid, "", ("pieces", "blends"), FILE),
        Claim("same", "with the elbows bent, sleeves look the same to a stranger", 2, looks_the_same, "0.1 mm", ("pieces", "blends"), ELSEWHERE),
        Claim("lost", "lost_mm: what the sister's sleeve loses elsewhere", 1, lost_right, "0.1 mm", ("lost_mm",), LAW, settable=True),
        Claim("stays", "stays_behind: what others can't read from it", 2, stays_behind, "", ("stays_behind",), FILE),
    ),
    worked=hand_over(),
    hint="blends: what does the standard say of how weights are used? It knows one way only.\n"
    "lost_mm: the law of 11.3; half and half leaves cos(twist / 2) of the radius, so 1 - cos(twist / 2) is lost.\n"
    "stays_behind: look at what is printed of the file. What stands under nodes, skins or animations, others read.",
    mistakes=MISTAKES,
    closed=CLOSED,
    show=show_file,
    seconds=10.0,
)  # fmt: skip
