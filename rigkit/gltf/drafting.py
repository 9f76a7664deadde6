"""A document under way: nodes added, moved and dropped, without disturbing the numbers that others may point to.

Lists of a document point to each other by number, and an extension that we do not know may do so too. So what came keeps its
number, what is new goes to the end, and what fell out of use is taken out only where no unknown extension is there.
"""

import copy

import numpy as np

from rigkit.gltf import scene


class Draft:
    """A document that is written, begun from one that was read (or from none), with where its nodes stand."""

    def __init__(self, document=None, scene_number=None):
        self.document = copy.deepcopy(document) if document else {"asset": {"version": "2.0"}}
        self.scene = scene_number
        tree = scene.Tree(self.document, scene_number) if document else None
        self.came = len(self.nodes)
        self.stood = tree.world if tree else np.zeros((0, 4, 4))  # where each node that came stood
        self.local = tree.local if tree else np.zeros((0, 4, 4))
        self.parents = dict(enumerate(tree.parents.tolist())) if tree else {}
        self.dropped = set()
        self.orphans = {"meshes": set(), "skins": set()}  # what we took out of use

    def list(self, name):
        """A list of the document, made where there is none."""
        return self.document.setdefault(name, [])

    @property
    def nodes(self):
        return self.document.setdefault("nodes", [])

    def add(self, name, value):
        """Append to a list of the document; returns the number."""
        self.list(name).append(value)
        return len(self.document[name]) - 1

    def node(self, value, above=-1):
        """Add a node under another (-1: as a root of the scene); returns its number."""
        number = self.add("nodes", value)
        self.parents[number] = -1
        self.dropped.discard(number)
        self.hang(number, above)
        return number

    def hang(self, node, above):
        """Hang a node under another, or make it a root (-1)."""
        self.unhang(node)
        self.parents[node] = above
        if above >= 0:
            self.nodes[above].setdefault("children", []).append(node)
        else:
            self.roots().append(node)

    def unhang(self, node):
        """Take a node out of the tree, with all below it."""
        above = self.parents[node]
        lists = [(self.nodes[above], "children")] if above >= 0 else [(one, "nodes") for one in self.document.get("scenes", ())]
        for holder, field in lists:
            if node in holder.get(field, ()):
                holder[field].remove(node)
                if not holder[field]:
                    del holder[field]

    def drop(self, node):
        """Take a node out for good."""
        self.unhang(node)
        self.dropped.add(node)

    def roots(self):
        """The roots of our scene, a list that may be appended to."""
        if self.scene is None:
            self.scene = self.add("scenes", {"nodes": [n for n in range(self.came) if self.parents[n] < 0]} if self.came else {})
            self.document["scene"] = self.scene
        return self.document["scenes"][self.scene].setdefault("nodes", [])

    def place(self, node, translation, rotation, scale=None):
        """Set where a node stands in its parent."""
        value = self.nodes[node]
        for name in ("matrix", "translation", "rotation", "scale"):
            value.pop(name, None)
        for name, given, still in (
            ("translation", translation, (0, 0, 0)),
            ("rotation", rotation, (0, 0, 0, 1)),
            ("scale", scale, (1, 1, 1)),
        ):
            if given is not None and tuple(given) != still:
                value[name] = [
                    float(c) for c in (np.clip(given, -1, 1) if name == "rotation" else given)
                ]  # a turn may be past 1 by rounding

    def place_matrix(self, node, matrix):
        """Set where a node stands in its parent, by a matrix (4, 4)."""
        turn, scale, _ = scene.taken_apart(matrix[:3, :3])
        self.place(node, matrix[:3, 3], turn, scale)

    # ------------------------------------------------------------ setting right

    def free_skinned(self):
        """Make every skinned mesh's node a root that stands nowhere: its transform and its parents count for nothing, and only confuse."""
        moved = {
            c["target"].get("node")
            for a in self.document.get("animations", ())
            for c in a.get("channels", ())
            if isinstance(c.get("target"), dict)
        }
        joints = {node for skin in self.document.get("skins", ()) for node in skin["joints"]}
        for number, value in enumerate(self.nodes):
            if "mesh" not in value or "skin" not in value or number in self.dropped:
                continue
            plain = not {"matrix", "translation", "rotation", "scale"} & set(value)
            if self.parents[number] < 0 and plain:
                continue
            if value.get("children") or number in moved or number in joints:
                self.node(
                    {key: value.pop(key) for key in ("mesh", "skin", "weights") if key in value} | {"name": value.get("name", "skin")}
                )
            else:
                self.place(number, None, None)
                if self.parents[number] >= 0:
                    self.hang(number, -1)

    def let_go_of_morphs(self):
        """Take out channels that blend the morph targets of a mesh which is gone."""
        for item in self.document.get("animations", ()):
            item["channels"] = [
                c for c in item.get("channels", ()) if c["target"].get("path") != "weights" or self._has_targets(c["target"].get("node"))
            ]
        if "animations" in self.document:
            self.document["animations"] = [item for item in self.document["animations"] if item["channels"]]

    def _has_targets(self, node):
        mesh = None if node is None else self.nodes[node].get("mesh")
        return node is None or (mesh is not None and "targets" in self.document["meshes"][mesh]["primitives"][0])

    def set_right(self):
        """Write turns at unit length."""
        for number, value in enumerate(self.nodes):
            turn = value.get("rotation")
            if turn is not None and number < self.came and abs(np.linalg.norm(turn) - 1) > 1e-6:
                value["rotation"] = (np.array(turn) / np.linalg.norm(turn)).tolist()
            if not value.get("children", True):
                del value["children"]

    def prune(self):
        """Take out nodes that were dropped, and meshes and skins that we took out of use and nobody else uses."""
        self._renumber("nodes", self.dropped, _node_pointers)
        for name, gone in self.orphans.items():
            used = {holder[field] for holder, field in _pointers(name)(self.document)}
            self._renumber(name, gone - used, _pointers(name))

    def _renumber(self, name, gone, pointers):
        if not gone:
            return
        kept = [n for n in range(len(self.document[name])) if n not in gone]
        new = {old: place for place, old in enumerate(kept)}
        self.document[name] = [self.document[name][n] for n in kept]
        for holder, field in pointers(self.document):
            value = holder[field]
            holder[field] = [new[n] for n in value if n in new] if isinstance(value, list) else new.get(value)
            if holder[field] is None or holder[field] == []:
                del holder[field]


def _pointers(name):
    field = {"meshes": "mesh", "skins": "skin"}[name]
    return lambda document: [(node, field) for node in document.get("nodes", ()) if field in node]


def _node_pointers(document):
    found = [(node, "children") for node in document["nodes"] if "children" in node]
    found += [(one, "nodes") for one in document.get("scenes", ()) if "nodes" in one]
    for skin in document.get("skins", ()):
        found += [(skin, field) for field in ("joints", "skeleton") if field in skin]
    channels = [channel for one in document.get("animations", ()) for channel in one.get("channels", ())]
    return found + [(channel["target"], "node") for channel in channels if "node" in channel.get("target", ())]


def in_parent(above, world):
    """Return the local transform (4, 4) of a world one in its parent's (4, 4)."""
    return np.linalg.inv(above) @ world


def binds(world):
    """Inverse bind matrices (J, 4, 4) of joints at rest; one that has no inverse is a ValueError."""
    bad = np.abs(np.linalg.det(world[:, :3, :3])) < 1e-18
    if bad.any():
        raise ValueError(f"joint {int(bad.argmax())} has a scale of zero at rest, so nothing can be bound to it; expected another one")
    found = np.linalg.inv(world)
    found[:, 3] = 0.0, 0.0, 0.0, 1.0
    return found
