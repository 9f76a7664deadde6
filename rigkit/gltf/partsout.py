"""Parts on their way into a document: which stay as they came, which are written anew, and what they hang on."""

import copy

import numpy as np

from rigkit.gltf import scene, shapes


class Parts:
    """The parts of a job (see `rigkit.gltf.writing`)."""

    def __init__(self, job):
        self._job, self._draft = job, job.draft
        self._skin = None  # the one skin of all that is written anew
        self._columns = {}  # joint number to its place in that skin
        self._empty = []  # nodes whose mesh was taken out, to be used again

    def write(self):
        """Leave what came as it came, take out what is gone, write what is new."""
        job, source = self._job, self._job.source
        came = source.parts if source else {}
        kept, anew = {}, []
        for part in job.character.parts:
            one = self._origin(part, came)
            if one is not None and job.as_came and self._same(part, one):
                kept[one.node, one.primitive] = one, part
            else:
                anew.append((part, one))
        self._take_out(came.values(), kept)
        for one, part in kept.values():
            if part is not one.part:
                self._say(one, part)
        for part, one in anew:
            self._write(part, one)
        for node in self._empty:
            if scene.own(_Held(self._draft.nodes[node])).get("part") and not self._draft.nodes[node].get("children"):
                self._draft.drop(node)
            self._draft.nodes[node].pop("weights", None)

    def _origin(self, part, came):
        """The PartSource of a part: the one it is, or the one of its name or mesh."""
        every = came.values()
        found = next((one for one in every if one.part is part), None) or next((one for one in every if one.part.mesh is part.mesh), None)
        return found or came.get(part.name)

    def _same(self, part, one):
        """Whether a part has the very vertices, joints and weights that came."""
        skeleton = self._job.character.skeleton
        before = [self._job.source.skeleton.index(name) for name in one.part.joints]
        return (
            part is one.part
            and skeleton is self._job.source.skeleton
            or part.mesh is one.part.mesh
            and [skeleton.index(name) for name in part.joints] == before
            and (part.weights is one.part.weights or np.array_equal(part.weights, one.part.weights))
        )

    def _say(self, one, part):
        """Write a new name, kind or colour of a part that is otherwise as it came."""
        primitive = self._draft.document["meshes"][self._draft.nodes[one.node]["mesh"]]["primitives"][one.primitive]
        self._job._own(primitive).update(shapes.own_words(part))
        if part.colour != one.part.colour:
            primitive["material"] = self._job.materials.number(part.colour)

    # ------------------------------------------------------------ taking out

    def _take_out(self, came, kept):
        """Take primitives that are gone, or will be written anew, out of their nodes; a mesh that others show too is copied first."""
        draft, by_node = self._draft, {}
        for one in came:
            by_node.setdefault(one.node, []).append(one)
        for node, ones in by_node.items():
            gone = {one.primitive for one in ones if (node, one.primitive) not in kept}
            if not gone:
                continue
            mesh = draft.nodes[node]["mesh"]
            stay = [n for n in range(len(draft.document["meshes"][mesh]["primitives"])) if n not in gone]
            if stay:
                made = copy.deepcopy(draft.document["meshes"][mesh])
                made["primitives"] = [made["primitives"][n] for n in stay]
                draft.nodes[node]["mesh"] = draft.add("meshes", made)
                for one in ones:
                    if (node, one.primitive) in kept:
                        pair = kept[node, one.primitive]
                        kept[node, one.primitive] = _moved(pair[0], stay.index(one.primitive)), pair[1]
            else:
                del draft.nodes[node]["mesh"]
                if (skin := draft.nodes[node].pop("skin", None)) is not None:
                    draft.orphans["skins"].add(skin)
                self._empty.append(node)
            draft.orphans["meshes"].add(mesh)

    # ------------------------------------------------------------ writing

    def _write(self, part, one):
        job, mesh = self._job, part.mesh
        if not len(mesh.triangles):
            job.notes.append(f"part {part.name!r} has no face, and nothing of it can be shown; it is left out")
            return
        index = [job.character.skeleton.index(name) for name in part.joints]
        used = [column for column in range(len(index)) if part.weights[:, column].any()]
        rigid = len(used) == 1
        change = np.linalg.inv(job.bind[index[used[0]]]) if rigid else np.eye(4)
        places = None if rigid else self._places(index)
        if one is not None and not one.split and len(mesh.vertices) == len(one.part.mesh.vertices):
            place = f"meshes[{one.mesh}].primitives[{one.primitive}]"
            primitive = job.source.document["meshes"][one.mesh]["primitives"][one.primitive]
            weights = None if rigid else (places, part.weights)
            made = shapes.carried(job.packer, job.accessors, copy.deepcopy(primitive), one, part, change, place, weights, job.notes)
            job._own(made).update(shapes.own_words(part))
            if part.colour != one.part.colour:
                made["material"] = job.materials.number(part.colour)
        else:
            points = mesh.vertices @ change[:3, :3].T + change[:3, 3]
            made = shapes.fresh(job.packer, part, points, change[:3, :3], places)
            made["material"] = self._material(part, one)
        job.fresh.add(id(made))
        made_mesh = {"name": part.name, "primitives": [made]}
        if one is not None and "targets" in made:
            came = job.source.document["meshes"][one.mesh]
            made_mesh |= {key: copy.deepcopy(came[key]) for key in ("weights", "extras") if key in came}
        value = {"mesh": self._draft.add("meshes", made_mesh)} | ({} if rigid else {"skin": self._skin})
        self._show(part, one, value, job.nodes[index[used[0]]] if rigid else -1)

    def _show(self, part, one, value, joint):
        """Put a mesh on the node that its part had, if that is free now, else on a new one. joint: the node it hangs on, or -1."""
        draft, node = self._draft, one.node if one is not None and one.node in self._empty else -1
        if node < 0 or (node != joint and (node in self._job.nodes or draft.nodes[node].get("children"))):
            draft.node({"name": part.name, "extras": {scene.OWN: {"part": True}}} | value, joint)
            return
        self._empty.remove(node)
        draft.nodes[node].update(value)
        if node != joint:
            draft.hang(node, joint)
            draft.place(node, None, None)
            self._job._own(draft.nodes[node])["part"] = True

    def _material(self, part, one):
        """The material that came, where the colour is still its colour, else a plain one."""
        if one is not None and part.colour == one.part.colour:
            came = self._job.source.document["meshes"][one.mesh]["primitives"][one.primitive].get("material")
            if came is not None:
                return came
        return self._job.materials.number(part.colour)

    def _places(self, joints):
        """Places of joints in the skin, which grows as they are asked for; its arrays come last, in `go_over`."""
        if self._skin is None:
            self._skin = self._draft.add("skins", {"name": "skin", "joints": []})
        for joint in joints:
            if joint not in self._columns:
                self._columns[joint] = len(self._columns)
                self._draft.document["skins"][self._skin]["joints"].append(self._job.nodes[joint])
        return [self._columns[joint] for joint in joints]

    # ------------------------------------------------------------ the end

    def go_over(self, bone):
        """Bind skins, and hang rigid parts, to the bones of joints that have one. bone: node of a joint to node of its bone."""
        job, draft = self._job, self._draft
        if self._skin is not None:
            skin = draft.document["skins"][self._skin]
            matrices = job.inverse_binds(list(self._columns)).transpose(0, 2, 1).reshape(-1, 16).astype(np.float32)
            skin["inverseBindMatrices"] = job.packer.add(matrices, "MAT4", use="skins")
            job.fresh.add(id(skin))
            self._one_root(skin)
        for skin in draft.document.get("skins", ()):
            skin["joints"] = [bone.get(node, node) for node in skin["joints"]]
        for number, value in enumerate(list(draft.nodes)):
            above = draft.parents[number]
            if "mesh" in value and "skin" not in value:
                if number in bone:
                    moved = {key: value.pop(key) for key in ("mesh", "weights") if key in value}
                    draft.node(moved | {"name": f"{value.get('name', 'mesh')}_shape", "extras": {scene.OWN: {"part": True}}}, bone[number])
                elif above in bone and number not in job.nodes:
                    draft.hang(number, bone[above])

    def _one_root(self, skin):
        """Joints of a skin must have one root: where they have several, they get one above them."""
        draft = self._draft
        tops = {self._top(node) for node in skin["joints"]}
        if len(tops) > 1:
            root = draft.node({"name": "root", "extras": {scene.OWN: {"root": True}}})
            for top in sorted(tops):
                draft.hang(top, root)

    def _top(self, node):
        while self._draft.parents[node] >= 0:
            node = self._draft.parents[node]
        return node


class _Held:
    def __init__(self, value):
        self.value = value


def _moved(one, primitive):
    found = copy.copy(one)
    object.__setattr__(found, "primitive", primitive)
    return found
