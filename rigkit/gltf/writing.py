"""From a Character to files: what came from a file goes back as it came, what is new or was changed is written beside it.

The order: the tree of joints; parts; bones for drawn lengths; animations and baked motions; our own data; then what is left of the
document that came is packed anew. See `drafting` for why numbers stay, and `source` for what "as it came" means.
"""

from pathlib import Path
from typing import NamedTuple

import numpy as np

import rigkit
from rigkit.gltf import animations, baking, container, rigdata, scene
from rigkit.gltf.accessors import Accessors
from rigkit.gltf.container import Files
from rigkit.gltf.drafting import Draft, binds, in_parent
from rigkit.gltf.packing import Packer
from rigkit.gltf.partsout import Parts
from rigkit.gltf.reading import HARMLESS
from rigkit.gltf.remains import pack_rest
from rigkit.gltf.shapes import Materials

OUR_EXTRAS = ("gltf", "notes")


class Saved(NamedTuple):
    """What `save` did. path: of the file. size: bytes in all. notes: texts on what others will see otherwise than it is meant."""

    path: Path
    size: int
    notes: tuple


def save(character, path):
    """Write a Character; see `rigkit.save`."""
    notes = []
    document, binary = packed(character, notes)
    return Saved(Path(path), container.write(path, document, binary), tuple(dict.fromkeys(notes)))


def packed(character, notes):
    """Return (document, bytes of its buffer) of a character; what can't be written as it is goes to the notes."""
    job = _Job(character, notes)
    job.write_joints()
    parts = Parts(job)
    parts.write()
    every = [job.bake(motion) for motion in character.motions]
    job.write_bones(every, parts)
    job.write_animations(every)
    job.tell_dual_quaternions(every)
    job.write_ours()
    return job.finish()


class _Job:
    """What the steps of saving share.

    draft: the document under way. packer: its arrays. source: the Source of the character, or None. as_came: whether the
    skeleton is the one that was loaded, names aside. nodes: (J,) the node of each joint. bind: (J, 4, 4) joints at rest, in the
    document's units. sizes: (J,) see `scene.baked`."""

    def __init__(self, character, notes):
        self.character, self.notes = character, notes
        found = character.extras.get("gltf")
        self.source = found if hasattr(found, "document") else None
        document = self.source.document if self.source else None
        self.draft = Draft(document, self.source.scene if self.source else None)
        self.files = Files(document, self.source.buffers, self.source.images, 1 << 40, []) if self.source else None
        self.accessors = Accessors(self.files) if self.source else None
        self.unknown = self.source is not None and any(not HARMLESS.fullmatch(str(name)) for name in document.get("extensionsUsed", ()))
        self.packer, self.kept = _packer(self.source, self.unknown)
        self.materials = Materials(self.draft)
        self.as_came = self.source is not None and _same_joints(character, self.source)
        self.bones = {}
        self.fresh = set()  # id of each dict whose accessors are new already

    # ------------------------------------------------------------ joints

    def write_joints(self):
        names = self.character.skeleton.names
        if self.as_came:
            self.nodes = list(self.source.nodes.values())
            self.bind, self.sizes = self.source.bind, self.source.sizes
            for node, name, came in zip(self.nodes, names, self.source.nodes):
                if name != came:
                    self.draft.nodes[node]["name"] = name
            self.bones = {names[list(self.source.nodes).index(name)]: node for name, node in self.source.bones.items()}
        else:
            self._write_joints_anew(names)

    def _write_joints_anew(self, names):
        """Every joint where the skeleton has it, in metres; what else hangs on a joint stays where it is."""
        skeleton, draft = self.character.skeleton, self.draft
        old = self.source.nodes if self.source else {}
        self.bind, self.sizes = self.character.rest.matrices, np.ones(len(skeleton))
        hung = [n for n in range(draft.came) if draft.parents[n] in set(old.values()) and n not in set(old.values())]
        gone = [node for name, node in old.items() if name not in names]
        for node in [*old.values(), *hung]:
            draft.unhang(node)
        self.nodes = []
        for j, name in enumerate(names):
            above = self.nodes[skeleton.parents[j]] if skeleton.parents[j] >= 0 else -1
            node = old.get(name)
            if node is None:
                node = draft.node({"name": name}, above)
            else:
                draft.hang(node, above)
            scales = None if self.character.scales is None else self.character.scales[j]
            draft.place(node, skeleton.rest_translations[j], skeleton.rest_rotations[j], scales)
            self.nodes.append(node)
        world = dict(zip(self.nodes, self.bind))
        for node in hung:
            above = draft.parents[node] if draft.parents[node] in world else -1
            draft.hang(node, above)
            draft.place_matrix(node, in_parent(world.get(above, np.eye(4)), draft.stood[node]))
        for node in gone:
            if set(draft.nodes[node]) <= {"name", "translation", "rotation", "scale", "matrix"}:
                draft.drop(node)
            else:
                draft.hang(node, -1)
                draft.place_matrix(node, draft.stood[node])
        self.bones = {name: node for name, node in (self.source.bones if self.source else {}).items() if name in names}
        for name, node in self.bones.items():
            draft.place(node, None, None)
        for one in draft.document.get("skins", ()):
            self.draft.orphans["skins"].add(draft.document["skins"].index(one))

    def inverse_binds(self, joints):
        """Inverse bind matrices of joints, by number."""
        return binds(self.bind[joints])

    # ------------------------------------------------------------ motion

    def bake(self, motion):
        one, notes = baking.baked(self.character, motion)
        self.notes += notes
        return one

    def write_bones(self, every, parts):
        """A node below each joint whose bone is drawn at another scale; skins and rigid parts go over to it."""
        names = self.character.skeleton.names
        self.scaled = baking.stretched(every) if every else np.zeros(len(names), bool)
        self.scaled |= [name in self.bones for name in names]
        for j in np.flatnonzero(self.scaled):
            if names[j] not in self.bones:
                node = {"name": f"{names[j]}_drawn", "extras": {scene.OWN: {"bone": True}}}
                self.bones[names[j]] = self.draft.node(node, self.nodes[j])
        bone = {self.nodes[j]: self.bones[names[j]] for j in np.flatnonzero(self.scaled)}
        parts.go_over(bone)

    def write_animations(self, every):
        document, loaded = self.draft.document, self.source.animations if self.source else {}
        now = {id(one) for one in self.character.animations}
        kept = []
        for number, one in enumerate(document.get("animations", ())):
            came = next((c for c in loaded.values() if c[1] == number), None)
            if "motion" in scene.own(_Holder(one)) or (came and id(came[0]) not in now):
                continue
            kept.append(one)
            if came and not (self.as_came and came[2]):
                self._rewrite(one, came[0])
        there = {id(came[0]) for came in loaded.values()}
        new = [self._rewrite({"name": one.name}, one) for one in self.character.animations if id(one) not in there and one.tracks]
        baked = [made for one in every if (made := self._baked(one))]
        document.pop("animations", None)
        if kept or new or baked:
            document["animations"] = [*kept, *new, *baked]

    def _rewrite(self, item, animation):
        """The animation, its tracks of joints written from what the character has; others (weights of morphs ...) stay."""
        writer = animations.Writer(self.packer)
        parents, names = self.character.skeleton.parents, self.character.skeleton
        for (joint, path), keys in animation.tracks.items():
            j = names.index(joint)
            above = self.sizes[parents[j]] if parents[j] >= 0 else 1.0
            factor = {"translation": 1 / above, "scale": self.sizes[j] / above, "rotation": 1.0}[path]
            smooth = keys.kind == "smooth"
            writer.add(
                self.nodes[j],
                path,
                keys.times,
                keys.values * factor,
                keys.kind,
                *((keys.ins * factor, keys.outs * factor) if smooth else ()),
            )
        joints = set(self.nodes) | set(self.source.nodes.values() if self.source else ())
        channels = item.get("channels", [])
        stay = [c for c in channels if c["target"].get("node") not in joints or c["target"].get("path") not in animations.PATHS]
        old = [item["samplers"][c["sampler"]] for c in stay]  # one for each channel, so that numbers are plain
        self.fresh |= {id(sampler) for sampler in writer.samplers}
        item["channels"] = writer.channels + [c | {"sampler": len(writer.samplers) + k} for k, c in enumerate(stay)]
        item["samplers"] = writer.samplers + old
        return item

    def _baked(self, one):
        writer = animations.Writer(self.packer)
        skeleton = self.character.skeleton
        for j, path, values in baking.tracks(one, skeleton, self.scaled):
            above = self.sizes[skeleton.parents[j]] if skeleton.parents[j] >= 0 else 1.0
            if path == "bone":
                writer.add(self.bones[skeleton.names[j]], "scale", one.times, values)
            else:
                writer.add(self.nodes[j], path, one.times, values / above if path == "translation" else values)
        self.fresh |= {id(sampler) for sampler in writer.samplers}
        item = {"name": one.name, "channels": writer.channels, "samplers": writer.samplers, "extras": {scene.OWN: {"motion": one.name}}}
        return item if writer.channels else None

    def tell_dual_quaternions(self, every):
        for part in self.character.parts:
            if part.blend != "linear" and len(part.joints) > 1:
                off = baking.off_linear(part, self.character.skeleton, every)
                worst = f": up to {1000 * off:.1f} mm off in {', '.join(one.name for one in every)}" if every else ""
                self.notes.append(
                    f"part {part.name!r} is blended by dual quaternions, for which glTF has no place; others blend it linearly{worst}"
                )

    # ------------------------------------------------------------ our own data, and the end

    def write_ours(self):
        character, document = self.character, self.draft.document
        more = {}
        for key, value in character.extras.items():
            if key not in OUR_EXTRAS:
                try:
                    more[key] = rigdata.plain(value)
                except ValueError as wrong:
                    self.notes.append(f"extras[{key!r}] is left out: {wrong}")
        extras = document.get("extras", {})
        extras = extras if isinstance(extras, dict) else {"was": extras}
        extras.pop(scene.OWN, None)
        had = self.source is not None and bool(scene.own(_Holder(self.source.document)))
        said = character.rig or character.motions or character.landmarks or character.hinges or character.loops or more
        if said or self.source is None or self.kept or had:
            extras[scene.OWN] = rigdata.written(character) | ({"extras": more} if more else {}) | self.kept
            for node in self.nodes:
                self._own(self.draft.nodes[node])["joint"] = True
        if extras and extras != {"was": document.get("extras")}:
            document["extras"] = extras
        asset = document["asset"] = document["asset"] if isinstance(document.get("asset"), dict) else {}
        asset["version"] = "2.0"
        asset.setdefault("generator", f"rigkit {rigkit.__version__}")

    @staticmethod
    def _own(holder):
        extras = holder.get("extras")
        holder["extras"] = extras if isinstance(extras, dict) else {} if extras is None else {"was": extras}
        if not isinstance(holder["extras"].get(scene.OWN), dict):
            holder["extras"][scene.OWN] = {}
        return holder["extras"][scene.OWN]

    def finish(self):
        self.draft.free_skinned()
        self.draft.let_go_of_morphs()
        self.draft.set_right()
        if not self.unknown:
            self.draft.prune()
        if self.source:
            pack_rest(self)
        for name in [name for name, value in self.draft.document.items() if value == []]:
            del self.draft.document[name]
        return self.draft.document, self.packer.finish(self.draft.document)


class _Holder:
    """Enough of an Item for `scene.own`."""

    def __init__(self, value):
        self.value = value


def _same_joints(character, source):
    """Whether a character's joints stand as they did when they were loaded; they may have other names."""
    ours, theirs = character.skeleton, source.skeleton
    if ours is theirs:
        return character.scales is source.scales or np.array_equal(character.scales, source.scales)
    return (
        len(ours) == len(theirs)
        and all(np.array_equal(getattr(ours, name), getattr(theirs, name)) for name in ("parents", "rest_translations", "rest_rotations"))
        and (character.scales is source.scales or (character.scales is not None and np.array_equal(character.scales, source.scales)))
    )


def _packer(source, unknown):
    """(Packer, what to note about it): where an unknown extension may point to arrays by number, those that came stay in front."""
    if not unknown:
        return Packer(), {}
    document, starts, data = source.document, [], bytearray()
    came = (document.get("extras") or {}).get(scene.OWN) if isinstance(document.get("extras"), dict) else None
    came = came.get("kept") if isinstance(came, dict) and isinstance(came.get("kept"), dict) else {}
    came = {name: number for name, number in came.items() if type(number) is int and number >= 0}
    for buffer in source.buffers:
        data += b"\0" * (-len(data) % 4)
        starts.append(len(data))
        data += b"" if buffer is None else bytes(buffer)
    accessors, views = document.get("accessors", []), document.get("bufferViews", [])
    accessors, views = accessors[: came.get("accessors", len(accessors))], views[: came.get("bufferViews", len(views))]
    if "bytes" in came:
        del data[came["bytes"] :]
    moved = [view | {"buffer": 0, "byteOffset": view.get("byteOffset", 0) + starts[view["buffer"]]} for view in views]
    return Packer(accessors, moved, data), {"kept": {"accessors": len(accessors), "bufferViews": len(views), "bytes": len(data)}}
