"""Arrays of a document: as the specification lays them, and back as we do."""

import struct

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from rigkit.gltf.accessors import COMPONENTS, WIDTHS, Accessors, normalised
from rigkit.gltf.container import Files
from rigkit.gltf.packing import INDICES, VERTICES, Packer
from tests.gltf.made import Made

pytestmark = pytest.mark.source("glTF 2.0")


def read(made, size=1 << 20):
    return Accessors(Files(made.json, [bytes(made.bin)], {}, size, []))


# glTF 2.0, section 3.6.2.2: f = c / 127, c / 255, c / 32767, c / 65535, and for signed ones not below -1
@pytest.mark.parametrize(
    "code,stored,meant",
    [
        (5120, [-128, -127, 0, 127], [-1, -1, 0, 1]),
        (5121, [0, 51, 102, 255], [0, 0.2, 0.4, 1]),
        (5122, [-32768, -32767, 0, 32767], [-1, -1, 0, 1]),
        (5123, [0, 13107, 65535, 26214], [0, 0.2, 1, 0.4]),
    ],
)
def test_normalised_integers_stand_for_floats(code, stored, meant):
    made = Made()
    number = made.accessor([stored], "VEC4", code, normalized=True)
    np.testing.assert_allclose(read(made).numbers(number, "x", ("VEC4",), COMPONENTS), [meant], atol=1e-15)


@pytest.mark.parametrize("code,most", [(5120, 127), (5121, 255), (5122, 32767), (5123, 65535), (5125, 2**32 - 1)])
def test_integers_come_as_they_are(code, most):
    made = Made()
    number = made.accessor([[0, most], [1, 2]], "VEC2", code)
    assert read(made).array(number, "x")[0].tolist() == [[0, most], [1, 2]]


def test_interleaved_elements_are_found_by_their_stride():
    made = Made()
    data = b"".join(struct.pack("<3f4B", k, 10 + k, 20 + k, k, k + 1, k + 2, 0) for k in range(3))
    view = made.view(data, byteStride=16)
    first = made.add("accessors", {"bufferView": view, "componentType": 5126, "count": 3, "type": "VEC3"})
    second = made.add("accessors", {"bufferView": view, "byteOffset": 12, "componentType": 5121, "count": 3, "type": "VEC4"})
    found = read(made)
    assert found.numbers(first, "x", ("VEC3",)).tolist() == [[0, 10, 20], [1, 11, 21], [2, 12, 22]]
    assert found.integers(second, "x", ("VEC4",)).tolist() == [[0, 1, 2, 0], [1, 2, 3, 0], [2, 3, 4, 0]]


# section 3.6.2.4: each column of a matrix starts at a multiple of 4 bytes; 2 x 2 of bytes: 8 bytes, 3 x 3 of shorts: 24
def test_columns_of_small_matrices_are_padded():
    made = Made()
    small = made.add(
        "accessors", {"bufferView": made.view(bytes([1, 2, 0, 0, 3, 4, 0, 0])), "componentType": 5121, "count": 1, "type": "MAT2"}
    )
    short = struct.pack("<12H", 1, 2, 3, 0, 4, 5, 6, 0, 7, 8, 9, 0)
    large = made.add("accessors", {"bufferView": made.view(short), "componentType": 5123, "count": 1, "type": "MAT3"})
    assert read(made).array(small, "x")[0].tolist() == [[1, 2, 3, 4]]
    assert read(made).array(large, "x")[0].tolist() == [list(range(1, 10))]


# section 3.6.2.3
def test_sparse_elements_replace_those_below_and_zeros():
    made = Made()
    where, what = made.view(struct.pack("<2H", 1, 3)), made.view(struct.pack("<6f", 1, 2, 3, 4, 5, 6))
    sparse = {"count": 2, "indices": {"bufferView": where, "componentType": 5123}, "values": {"bufferView": what}}
    below = made.accessor([[9, 9, 9]] * 4, sparse=sparse)
    bare = made.add("accessors", {"componentType": 5126, "count": 4, "type": "VEC3", "sparse": sparse})
    assert read(made).numbers(below, "x", ("VEC3",)).tolist() == [[9, 9, 9], [1, 2, 3], [9, 9, 9], [4, 5, 6]]
    assert read(made).numbers(bare, "x", ("VEC3",)).tolist() == [[0, 0, 0], [1, 2, 3], [0, 0, 0], [4, 5, 6]]


@pytest.mark.parametrize(
    "change,told",
    [
        ({"count": 5}, "accessor 0: 5 elements, 12 bytes apart from byte 0, do not fit into bufferViews\\[0\\] of 48 bytes"),
        ({"byteOffset": 4}, "do not fit"),
        ({"count": 0}, "count is 0; expected a whole number from 1"),
        ({"count": 1 << 40}, "more than it may ask for"),
        ({"count": -1}, "count is -1"),
        ({"count": 1.5}, "count is 1.5"),
        ({"count": "4"}, "count is '4'"),
        ({"count": True}, "count is True"),
        ({"componentType": 5124}, "componentType is 5124; expected one of"),
        ({"componentType": 5123}, "accessor 0 is VEC3 of component type 5123; expected VEC3 of 5126"),
        ({"type": "VEC5"}, "type is 'VEC5'"),
        ({"type": ["VEC3"]}, "type is"),
        ({"bufferView": 7}, "bufferView is 7; expected a number from 0 to 0"),
        ({"bufferView": {}}, "bufferView is {}"),
    ],
)
def test_an_unsound_accessor_is_told_with_its_place(change, told):
    made = Made()
    made.accessor([[0, 0, 0]] * 4)
    made.json["accessors"][0] |= change
    with pytest.raises(ValueError, match=told):
        read(made).numbers(0, "meshes[0]", ("VEC3",))


@pytest.mark.parametrize(
    "change,told",
    [
        ({"byteLength": 400}, "bufferViews\\[0\\] ends at byte 400 of buffer 0, which has 48"),
        ({"byteOffset": 1 << 60}, "byteOffset"),
        ({"byteStride": 4}, "byteStride is 4; expected at least the 12 bytes"),
        ({"byteStride": 300}, "byteStride is 300"),
        ({"buffer": 3}, "buffer is 3"),
    ],
)
def test_an_unsound_view_is_told_with_its_place(change, told):
    made = Made()
    made.accessor([[0, 0, 0]] * 4)
    made.json["bufferViews"][0] |= change
    with pytest.raises(ValueError, match=told):
        read(made).numbers(0, "meshes[0]", ("VEC3",))


@pytest.mark.parametrize("rows,told", [([3, 1], "do not rise"), ([1, 1], "do not rise"), ([1, 4], "go beyond the 4")])
def test_unsound_sparse_indices_are_refused(rows, told):
    made = Made()
    where, what = made.view(bytes(rows)), made.view(struct.pack("<6f", *range(6)))
    made.accessor(
        [[9, 9, 9]] * 4, sparse={"count": 2, "indices": {"bufferView": where, "componentType": 5121}, "values": {"bufferView": what}}
    )
    with pytest.raises(ValueError, match=told):
        read(made).numbers(0, "x", ("VEC3",))


def test_numbers_that_are_not_finite_are_refused_by_their_row():
    made = Made()
    number = made.accessor([[0, 0, 0], [0, float("nan"), 0]])
    with pytest.raises(ValueError, match="accessor 0, element 1 is .*expected finite"):
        read(made).numbers(number, "x", ("VEC3",))


def test_a_small_file_may_not_claim_gigabytes_in_many_small_steps():
    made = Made()
    for _ in range(40):
        made.add("accessors", {"componentType": 5126, "count": 1_000_000, "type": "VEC3"})
    found = read(made, size=1000)
    with pytest.raises(ValueError, match="more than it may ask for"):
        for number in range(40):
            found.array(number, "x")


KINDS = st.sampled_from([np.int8, np.uint8, np.int16, np.uint16, np.uint32, np.float32])


@given(st.data())
def test_what_is_packed_is_read_back(data):
    """Any arrays, side by side in one buffer, in any order of kinds and targets."""
    packer, added = Packer(), []
    for _ in range(data.draw(st.integers(1, 5))):
        kind, target = data.draw(st.sampled_from(list(WIDTHS))), data.draw(st.sampled_from([None, VERTICES, INDICES]))
        columns, rows = WIDTHS[kind]
        array = data.draw(arrays.arrays(data.draw(KINDS), (data.draw(st.integers(1, 6)), columns * rows), elements={"allow_nan": False}))
        added.append((packer.add(array, kind, target), array))
    document = {}
    blob = packer.finish(document)
    found = Accessors(Files(document, [blob], {}, len(blob), []))
    for number, array in added:
        back = found.array(number, "x")[0]
        assert back.dtype == array.dtype and np.array_equal(back, array)
    for view in document["bufferViews"]:
        assert view["byteOffset"] % 4 == 0 and view.get("byteStride", 4) % 4 == 0


def test_normalised_takes_any_shape():
    assert normalised(np.array([[255, 0]], np.uint8)).tolist() == [[1, 0]]
