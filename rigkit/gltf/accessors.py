"""Accessors: how the arrays of a document lie in its bytes (glTF 2.0, section 3.6, "Binary Data Storage").

An accessor is `count` elements of a type (SCALAR, VEC3, MAT4 ...) and a component type, in a view of a buffer, tightly packed or
with a stride, and some elements may be replaced by a sparse list. Normalised integers stand for floats (section 3.11,
"Animations", has the equations; section 3.6.2.2): f = c / 255 for unsigned bytes, f = max(c / 127, -1) for signed ones.
"""

import numpy as np

from rigkit import arguments
from rigkit.gltf import limits
from rigkit.gltf.fields import MUST, Item

COMPONENTS = {
    5120: np.dtype("i1"),
    5121: np.dtype("u1"),
    5122: np.dtype("<i2"),
    5123: np.dtype("<u2"),
    5125: np.dtype("<u4"),
    5126: np.dtype("<f4"),
}
WIDTHS = {"SCALAR": (1, 1), "VEC2": (1, 2), "VEC3": (1, 3), "VEC4": (1, 4), "MAT2": (2, 2), "MAT3": (3, 3), "MAT4": (4, 4)}  # columns, rows
UNSIGNED = (5121, 5123, 5125)


class Accessors:
    """The arrays of a document. `array` gives them as they lie there, `numbers` as floats.

    All arrays of one load together may take `limits`; a file that claims more is refused before any is made.
    """

    def __init__(self, files):
        root = Item(files.document, "")
        self.items, self._views, self._buffers = root.items("accessors"), root.items("bufferViews"), files.buffers
        self._left = min(limits.DECODED_BYTES, max(limits.DECODED_LEAST, limits.DECODED_SHARE * files.size))

    def numbers(self, number, place, kinds, components=(5126,)):
        """Return the accessor as float64, (count, n): floats, or normalised integers as what they stand for.

        place: what points to it, for errors. kinds: the types allowed. components: the component types allowed.
        """
        item, stored = self._checked(number, place, kinds, components)
        if stored.dtype.kind != "f":
            return normalised(stored) if item.truth("normalized") else stored.astype(np.float64)
        found = stored.astype(np.float64)
        if not np.isfinite(found).all():
            row = int(np.argmin(np.isfinite(found).all(axis=1)))
            raise ValueError(f"{place}: accessor {number}, element {row} is {arguments.shorten(found[row])}; expected finite numbers")
        return found

    def integers(self, number, place, kinds, components=UNSIGNED):
        """Return the accessor as int64, (count, n)."""
        return self._checked(number, place, kinds, components)[1].astype(np.int64)

    def array(self, number, place):
        """Return (array (count, n) as stored, type, whether normalised), of any type."""
        item, stored = self._checked(number, place, WIDTHS, COMPONENTS)
        return stored, item.text("type"), item.truth("normalized")

    def count(self, number):
        """How many elements an accessor has."""
        return self.items[number].integer("count", low=1)

    def bytes_of(self, view, place):
        """The bytes of a view."""
        if not 0 <= view < len(self._views):
            raise ValueError(f"{place} is {view}; expected a view, 0 to {len(self._views) - 1}")
        return bytes(self._view(view)[0])

    # ------------------------------------------------------------ decoding

    def _checked(self, number, place, kinds, components):
        if not 0 <= number < len(self.items):
            raise ValueError(f"{place} is {number}; expected an accessor, 0 to {len(self.items) - 1}")
        item = self.items[number]
        kind, component = item.choice("type", WIDTHS), item.choice("componentType", COMPONENTS)
        if kind not in kinds or component not in components:
            raise ValueError(
                f"{place}: accessor {number} is {kind} of component type {component}; "
                f"expected {' or '.join(kinds)} of {', '.join(map(str, components))}"
            )
        try:
            return item, self._stored(item, kind, component)
        except ValueError as wrong:
            raise ValueError(f"{place}: accessor {number}: {wrong}") from None

    def _stored(self, item, kind, component):
        dtype, (columns, rows) = COMPONENTS[component], WIDTHS[kind]
        count = item.integer("count", low=1)
        self.spend(count * columns * rows * 8)
        view = item.index("bufferView", len(self._views))
        if view is None:
            out = np.zeros((count, columns * rows), dtype)
        else:
            out = self._strided(view, item.integer("byteOffset", 0), count, dtype, columns, rows)
        sparse = item.item("sparse")
        return out if sparse is None else self._replaced(out, sparse, dtype, columns, rows)

    def spend(self, size):
        """Count `size` bytes that this load takes, before they are taken."""
        self._left -= size
        if self._left < 0:
            raise ValueError(f"with it the arrays of the file take {size} bytes more than it may ask for: see rigkit.gltf.limits")

    def _view(self, number):
        """(bytes of a view, its stride or None)."""
        view = self._views[number]
        buffer = view.index("buffer", len(self._buffers), MUST)
        data = self._buffers[buffer]
        if data is None:
            raise ValueError(f"{view.place} lies in buffer {buffer}, whose bytes are not there")
        start, length = view.integer("byteOffset", 0), view.integer("byteLength", low=1)
        if start + length > len(data):
            raise ValueError(f"{view.place} ends at byte {start + length} of buffer {buffer}, which has {len(data)}")
        return data[start : start + length], view.integer("byteStride", None, low=4, high=252)

    def _strided(self, number, start, count, dtype, columns, rows):
        """The elements (count, columns * rows) in a view: a copy, in the machine's own order."""
        data, stride = self._view(number)
        column = rows * dtype.itemsize if columns == 1 else -(-rows * dtype.itemsize // 4) * 4  # a matrix's columns start at multiples of 4
        size = column * (columns - 1) + rows * dtype.itemsize
        stride = stride or column * columns
        if stride < size:
            raise ValueError(f"{self._views[number].place}.byteStride is {stride}; expected at least the {size} bytes of one element")
        if start + stride * (count - 1) + size > len(data):
            raise ValueError(
                f"{count} elements, {stride} bytes apart from byte {start}, do not fit into "
                f"{self._views[number].place} of {len(data)} bytes"
            )
        out = np.ndarray((count, columns, rows), dtype, data, start, (stride, column, dtype.itemsize))
        return out.reshape(count, columns * rows).astype(dtype.newbyteorder("="), copy=True)

    def _replaced(self, out, sparse, dtype, columns, rows):
        count = sparse.integer("count", low=1, high=len(out))
        where, values = (
            sparse.item("indices") or sparse.fail("indices", "an object"),
            sparse.item("values") or sparse.fail("values", "an object"),
        )
        kind = COMPONENTS[where.choice("componentType", UNSIGNED)]
        rows_at = self._strided(where.index("bufferView", len(self._views), MUST), where.integer("byteOffset", 0), count, kind, 1, 1)[:, 0]
        if (np.diff(rows_at.astype(np.int64)) <= 0).any() or rows_at[-1] >= len(out):
            raise ValueError(f"sparse.indices do not rise, or go beyond the {len(out)} elements")
        out[rows_at] = self._strided(
            values.index("bufferView", len(self._views), MUST), values.integer("byteOffset", 0), count, dtype, columns, rows
        )
        return out


def normalised(stored):
    """Return the floats that normalised integers stand for.

    >>> normalised(np.array([0, 51, 255], np.uint8)).tolist(), normalised(np.array([-128, -127, 127], np.int8)).tolist()
    ([0.0, 0.2, 1.0], [-1.0, -1.0, 1.0])
    """
    most = np.iinfo(stored.dtype).max
    return np.maximum(stored.astype(np.float64) / most, -1.0)
