"""Packing: arrays laid into the one buffer of a file that is written, and the accessors that tell where.

Accessors of one kind share a view. Every element of a vertex attribute starts at a multiple of four bytes (glTF 2.0, section
3.6.2.4, "Data Alignment"), and so does everything else here, which is more than is asked for.
"""

import numpy as np

from rigkit.gltf.accessors import COMPONENTS, WIDTHS

CODES = {np.dtype(kind).newbyteorder("="): code for code, kind in COMPONENTS.items()}
VERTICES, INDICES = 34962, 34963  # the two targets of a view
MOST_TYPES = ("SCALAR", "VEC2", "VEC3", "VEC4")


class Packer:
    """Accessors and views under way. `add` arrays, then `finish` into a document."""

    def __init__(self, accessors=(), views=(), data=b""):
        self.accessors, self.views = list(accessors), list(views)
        self._first, self._shared, self._parts = bytes(data), {}, []

    def add(self, array, kind, target=None, normalised=False, bounds=False, use=""):
        """Add an array (count, n) and return the number of its accessor.

        kind: "SCALAR", "VEC3" ... target: VERTICES, INDICES or None. bounds: tell the least and the greatest, as
        positions and times must. use: keeps views apart: matrices of skins and keys of animations may not share one.
        """
        array = np.ascontiguousarray(array).reshape(len(array), -1)
        columns, rows = WIDTHS[kind]
        assert array.shape[1] == columns * rows, (array.shape, kind)
        item = {"componentType": CODES[array.dtype.newbyteorder("=")], "count": len(array), "type": kind}
        if normalised:
            item["normalized"] = True
        if bounds:
            item |= {"min": array.min(axis=0).tolist(), "max": array.max(axis=0).tolist()}
        data, stride = _rows(array, columns, rows, target)
        view, start = self._place(data, stride if target == VERTICES else None, target, use)
        item |= {"bufferView": view, "byteOffset": start}
        self.accessors.append(item)
        return len(self.accessors) - 1

    def blob(self, data):
        """Add bytes, an image's for example, and return the number of their view."""
        self.views.append(None)
        self._parts.append((len(self.views) - 1, [bytes(data)], {}))
        return len(self.views) - 1

    def _place(self, data, stride, target, use):
        key = (target, stride, use)
        if key not in self._shared:
            self.views.append(None)
            about = ({"byteStride": stride} if stride else {}) | ({"target": target} if target else {})
            self._parts.append((len(self.views) - 1, [], about))
            self._shared[key] = [self._parts[-1], 0]
        (number, pieces, _), start = self._shared[key]
        pieces.append(data + b"\0" * (-len(data) % 4))
        self._shared[key][1] += len(pieces[-1])
        return number, start

    def finish(self, document):
        """Put accessors, views and the buffer's length into the document; return the buffer's bytes."""
        out = bytearray(self._first)
        for number, pieces, about in self._parts:
            out += b"\0" * (-len(out) % 4)
            start = len(out)
            out += b"".join(pieces)
            self.views[number] = {"buffer": 0, "byteOffset": start, "byteLength": len(out) - start, **about}
        for name, value in (
            ("accessors", self.accessors),
            ("bufferViews", self.views),
            ("buffers", [{"byteLength": len(out)}] if out else []),
        ):
            document.pop(name, None)
            if value:
                document[name] = value
        return bytes(out)


def _rows(array, columns, rows, target):
    """(bytes, stride) of an array with each element, and each column of a matrix, padded to four bytes where that is asked for."""
    count, size = len(array), array.dtype.itemsize
    if (target == VERTICES or columns > 1) and rows * size % 4:
        padded = np.zeros((count, columns, -(-rows * size // 4) * 4 // size), array.dtype)
        padded[:, :, :rows] = array.reshape(count, columns, rows)
        array = padded
    little = array.astype(array.dtype.newbyteorder("<"), copy=False)
    return little.tobytes(), little.nbytes // count
