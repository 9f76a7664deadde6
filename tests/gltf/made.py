"""Documents made by hand for the tests: bytes laid with struct, by the letter of the specification, with nothing of rigkit."""

import json
import struct

FORMATS = {5120: "b", 5121: "B", 5122: "h", 5123: "H", 5125: "I", 5126: "f"}
WIDTHS = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4, "MAT4": 16}
SQUARE = [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]
HALVES = [0, 1, 2, 0, 2, 3]


class Made:
    """A document and its buffer, growing."""

    def __init__(self, **fields):
        self.json = {"asset": {"version": "2.0"}} | fields
        self.bin = bytearray()

    def add(self, name, value):
        """Append to a list of the document; its number."""
        self.json.setdefault(name, []).append(value)
        return len(self.json[name]) - 1

    def view(self, data, **more):
        """A view of these bytes; its number."""
        self.bin += b"\0" * (-len(self.bin) % 4)
        start = len(self.bin)
        self.bin += data
        return self.add("bufferViews", {"buffer": 0, "byteOffset": start, "byteLength": len(data)} | more)

    def accessor(self, values, kind="VEC3", code=5126, **more):
        """An accessor of rows of numbers; its number."""
        rows = [row if isinstance(row, (list, tuple)) else [row] for row in values]
        flat = [number for row in rows for number in row]
        data = struct.pack(f"<{len(flat)}{FORMATS[code]}", *flat)
        item = {"bufferView": self.view(data), "componentType": code, "count": len(rows), "type": kind}
        if kind == "VEC3" and code == 5126:
            item |= {"min": [min(column) for column in zip(*rows)], "max": [max(column) for column in zip(*rows)]}
        if kind == "SCALAR" and code == 5126:
            item |= {"min": [min(flat)], "max": [max(flat)]}
        return self.add("accessors", item | more)

    def square(self, **attributes):
        """A mesh of one square of two triangles, with more attributes; its number."""
        primitive = {"attributes": {"POSITION": self.accessor(SQUARE)} | attributes, "indices": self.accessor(HALVES, "SCALAR", 5123)}
        return self.add("meshes", {"primitives": [primitive]})

    def node(self, **fields):
        """A node; its number."""
        return self.add("nodes", fields)

    def show(self, *roots):
        """A scene of these roots, the default one."""
        self.json["scene"] = self.add("scenes", {"nodes": list(roots)})
        return self

    def data(self):
        """The bytes of the .glb."""
        if self.bin:
            self.json["buffers"] = [{"byteLength": len(self.bin)}]
        return packed(json.dumps(self.json).encode(), bytes(self.bin))

    def write(self, path):
        """Write it as .glb, or as .gltf with a .bin; the path."""
        if path.suffix == ".glb":
            path.write_bytes(self.data())
        else:
            self.json["buffers"] = [{"byteLength": len(self.bin), "uri": "made.bin"}]
            path.with_name("made.bin").write_bytes(self.bin)
            path.write_text(json.dumps(self.json))
        return path


def packed(text, binary=b""):
    """A .glb of a JSON text and bytes (glTF 2.0, section 4.4)."""
    text += b" " * (-len(text) % 4)
    binary += b"\0" * (-len(binary) % 4)
    chunks = struct.pack("<I4s", len(text), b"JSON") + text
    if binary:
        chunks += struct.pack("<I4s", len(binary), b"BIN\0") + binary
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def skinned(joint_code=5121, weights=None, weight_code=5126, joints=None, binds=None, **more):
    """A square on two joints, one above the other: nodes 0 and 1, the mesh on node 2."""
    made = Made()
    scale = {5121: 255, 5123: 65535, 5126: 1}[weight_code]
    given = weights is not None
    weights = weights or [[1, 0, 0, 0], [1, 0, 0, 0], [0.2, 0.8, 0, 0], [1, 0, 0, 0]]
    joints = joints or ([[0, 1, 0, 0]] * 4 if given else [[0, 0, 0, 0], [0, 0, 0, 0], [0, 1, 0, 0], [1, 0, 0, 0]])
    stored = [[round(w * scale) if scale > 1 else w for w in row] for row in weights]
    attributes = {
        "JOINTS_0": made.accessor(joints, "VEC4", joint_code),
        "WEIGHTS_0": made.accessor(stored, "VEC4", weight_code, **({"normalized": True} if scale > 1 else {})),
    }
    mesh = made.square(**attributes)
    made.node(name="base", children=[1])
    made.node(name="tip", translation=[0, 1, 0])
    made.node(name="plate", mesh=mesh, skin=0)
    binds = binds or [[1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1], [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, -1, 0, 1]]
    made.add("skins", {"joints": [0, 1], "inverseBindMatrices": made.accessor(binds, "MAT4")} | more)
    return made.show(0, 2)
