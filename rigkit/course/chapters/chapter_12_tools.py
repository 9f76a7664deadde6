"""What chapter 12 lends its notebook: put pieces together, audit them, put them on a stage, let them walk, look into their file.

Each takes what the learner has so far. Where that is nothing yet, it says what will come there, and hands on None.
"""

import json
import tempfile
import warnings
from dataclasses import replace
from pathlib import Path

import numpy as np

from rigkit import gltf
from rigkit.course import telling
from rigkit.course.chapters.chapter_12_audit import told
from rigkit.course.chapters.chapter_12_pieces import PIECES, build, report, rigged
from rigkit.course.collect import NotPlain, plain
from rigkit.course.forms import Wrong
from rigkit.gltf import container
from rigkit.keys import Keys, Motion
from rigkit.motion import range_of_motion
from rigkit.robot import assembly, tally

SHOWN = 6
LATER = "Your rig comes here as soon as build gives all seven pieces."
TRIED = 0.3  # metres or radians, for a channel with no limits of its own


class Later:
    """Stands in for a viewer of a rig that is not there yet: it takes every call, and says so when shown."""

    def __getattr__(self, name):
        if name.startswith("_"):
            raise AttributeError(name)
        return (lambda *args, **kwargs: telling.say(LATER)) if name == "show" else (lambda *args, **kwargs: None)


def sound(pieces):
    """(pieces in their form, "") or (None, why not)."""
    if pieces is None or pieces is ...:
        return None, LATER
    try:
        return PIECES(plain(pieces)), ""
    except (Wrong, NotPlain) as wrong:
        return None, f"No rig yet. pieces: {getattr(wrong, 'line', wrong)}"


def assemble(context, pieces):
    """The Character of somebody's pieces on their own robot, or None; says what was made."""
    return _assembled(context.robot, pieces)


def _assembled(robot, pieces):
    checked, why = sound(pieces)
    found = why if checked is None else rigged(robot, checked)
    if isinstance(found, str):
        telling.say(found if checked is None else f"No rig can be made of the pieces: {found}")
        return None
    controls, channels = len(found.rig.controls), len(found.rig.home())
    telling.say(f"{found.name}: {len(found.skeleton)} joints, {controls} controls, {channels} open channels, {len(found.rig.links)} links")
    return found


def examine(context, pieces, robot=None):
    """Print the audit of somebody's pieces: what was found, worst first, and what to do."""
    checked, why = sound(pieces)
    found = why if checked is None else report(robot or context.robot, checked)
    if isinstance(found, str):
        if why != LATER:  # that has been said where the rig was to be put together
            telling.say(found if checked is None else f"No rig can be made of the pieces: {found}")
        return
    measured = sum(found.examined.values())
    lines = [f"{len(found.examined)} rules, {measured} things measured, {len(found.findings)} open, {len(found.not_examined)} not examined"]
    for one in found.findings[:SHOWN]:
        lines += [f"  {one.rule}: {one.what}", f"      do: {one.do}"]
    more = len(found.findings) - SHOWN
    telling.say("\n".join([*lines, f"  and {more} more; mend these first"] if more > 0 else lines))


def stage(context, character, caption=""):
    """A viewer of a rigged character; where there is none, something that says so."""
    if character is None:
        return Later()
    from rigkit.view import Viewer

    return Viewer(character, caption=caption or character.name)


def stranger(context, builder, number):
    """The Character that a builder makes of another robot, or None."""
    robot = tally(number)
    try:
        pieces = builder(assembly.material(robot))
    except Exception as error:  # noqa: BLE001 (whatever a half-written builder does)
        telling.say(f"{robot.name}: build stopped with {type(error).__name__}: {error}")
        return None
    character = _assembled(robot, pieces)
    if character is not None:
        examine(context, pieces, robot)
    return character


def finished(context):
    """A finished rig of a sister: a robot of other measures, by our builder."""
    robot = tally(64 if context.variant != 64 else 65)
    return rigged(robot, build(assembly.material(robot)))


def channels_of(context, character, *words):
    """The open channels of the controls of these names, or that hold one of these words: name to (home, low, high); those with no limit, 0.3 both ways."""
    found = {}
    for control in character.rig.controls if character is not None else ():
        if not words or {control.name, *control.name.split("_")} & set(words):
            for one in control.open_channels:
                low = one.low if one.low > -50 else one.home - TRIED
                high = one.high if one.high < 50 else one.home + TRIED
                found[f"{control.name}.{one.name}"] = (float(one.home), float(low), float(high))
    return found


def as_motion(context, character, poses, seconds=0.4):
    """A Motion that goes through poses, dicts of channel to number, so many seconds for each; None where there is nothing to go through."""
    if character is None or not isinstance(poses, list) or len(poses) < 2:
        return None
    home, times = character.rig.home(), np.arange(len(poses)) * seconds
    names = [name for name in dict.fromkeys(name for pose in poses for name in pose) if name in home]
    return Motion("range of motion", {name: Keys(times, [pose.get(name, home[name]) for pose in poses]) for name in names})


def what_breaks(context, character, *words):
    """Print which channels bring a foot or a hand out of reach, or a hinge out of its range, and at which value."""
    if character is None:
        telling.say(LATER)
        return
    wanted = set(channels_of(context, character, *words))
    sweeps = [one for one in range_of_motion(_only(character.rig, wanted), assembly.hinges(character), steps=9) if one.channel in wanted]
    lines = [f"  {one.channel:31} from {nearest(one.hits):+.3f}  {', '.join(one.hits)}" for one in sweeps if one.hits]
    telling.say("\n".join([f"{len(sweeps)} channels, {len(lines)} reach an end; metres and radians", *lines]))


def nearest(hits):
    """The value nearest to zero at which anything happens."""
    return min(hits.values(), key=abs)


def _only(rig, wanted):
    """The rig, as `range_of_motion` asks for it: home() tells the channels to go through."""

    class Some:
        def __getattr__(self, name):
            return getattr(rig, name)

        def home(self):
            return {name: value for name, value in rig.home().items() if name in wanted}

    return Some()


def try_walk(context, character, stride, period):
    """Print the animator's test of a walk, and hand the Walk on; None where there is none."""
    if character is None or stride is ... or period is ...:
        telling.say(LATER if character is None else "stride and period come first")
        return None
    try:
        walk, measures = assembly.walked(character, stride, period)
    except ValueError as error:
        telling.say(f"There is no such walk: {error}")
        return None
    lines = [f"  {'ok  ' if one.good else 'look'}  {told(one)}" for one in measures]
    telling.say("\n".join([f"a cycle goes {walk.stride:.3f} m in {period:.3f} s", *lines]))
    return walk


def file_of(context, character, walk=None):
    """Write the character as a file, with its walk where there is one, look into it, and print what stands under the standard's words and what under ours."""
    if character is None:
        telling.say(LATER)
        return
    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        path = Path(folder) / "tally.glb"
        gltf.save(replace(character, motions=(walk.motion,)) if walk is not None else character, path)
        document, notes = container.read(path).document, gltf.load(path).extras["notes"]
    own = document.get("extras", {}).get("rigkit", {})
    skin = document["skins"][0]
    lines = [
        f"{len(json.dumps(document))} letters of JSON, {sum(b['byteLength'] for b in document['buffers'])} bytes of numbers, {len(notes)} notes",
        "under the standard's own words:",
        f"  nodes       {len(document['nodes'])}: names, children, translation, rotation, mesh, skin",
        f"  skins       {len(document['skins'])}: {len(skin['joints'])} joints with their inverse binds",
        f"  meshes      {len(document['meshes'])}: attributes {', '.join(sorted({k for m in document['meshes'] for p in m['primitives'] for k in p['attributes']}))}",
        f"  animations  {len(document.get('animations', []))}: {', '.join(one['name'] for one in document.get('animations', [])) or 'none'}",
        "under extras, which nobody else has to read:",
        *(f"  {name:11} {len(value)}" for name, value in own.items() if isinstance(value, (list, dict))),
    ]
    telling.say("\n".join(lines))


TOOLS = {
    "assemble": assemble,
    "audit": examine,
    "stage": stage,
    "finished": finished,
    "stranger": stranger,
    "channels_of": channels_of,
    "as_motion": as_motion,
    "what_breaks": what_breaks,
    "try_walk": try_walk,
    "file_of": file_of,
}
