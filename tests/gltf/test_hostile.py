"""Files that are broken, cut short or made to harm: a ValueError that names the place, soon, and never a crash, a hang or all the memory.

Sound files are changed at random, in their bytes and in their JSON; each must load or be refused with words. What loads must be saved.
A few hundred run always, thousands in the test that is marked slow.
"""

import copy
import json
import random
import struct
import time
import tracemalloc
import warnings

import pytest

import rigkit as rk
from rigkit.robot.rig import rigged_tally
from tests.gltf.made import Made, packed, skinned
from tests.gltf.test_kept import rich

ODD = [
    None,
    True,
    -1,
    0,
    1,
    3,
    255,
    65535,
    2**31,
    2**53,
    2**70,
    1e38,
    -1e38,
    1e-38,
    0.5,
    "",
    "x",
    "POSITION",
    [],
    [0],
    [[]],
    {},
    {"a": 1},
    "NaN",
]
SECONDS = 5.0
MEMORY = 400 << 20


@pytest.fixture(scope="module")
def seeds(tmp_path_factory):
    """(JSON, binary) of sound files: hand-made ones, and one of ours with a rig and a motion."""
    home = tmp_path_factory.mktemp("seeds")
    tally = rigged_tally()
    few = [part for part in tally.parts if part.kind == "sleeve"][:2]
    small = rk.Character("small", tally.skeleton, few, rig=tally.rig, motions=tally.motions, landmarks={"a": [0, 0, 0]})
    rk.save(small, home / "small.glb")
    found = [
        split(rich().data()),
        split(rich(0.01).data()),
        split(skinned(weight_code=5123).data()),
        split((home / "small.glb").read_bytes()),
    ]
    return found


def split(data):
    length = struct.unpack_from("<I", data, 12)[0]
    return json.loads(data[20 : 20 + length]), data[28 + length :]


def places(value, path=()):
    """Every place in a JSON value."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, one in inner:
        yield (*path, key)
        yield from places(one, (*path, key))


def mutated(document, dice, spots):
    """The document with one to three places changed, taken out or doubled."""
    document = copy.deepcopy(document)
    for _ in range(dice.randint(1, 3)):
        path = dice.choice(spots)
        try:
            holder = document
            for key in path[:-1]:
                holder = holder[key]
            what = dice.random()
            if what < 0.15:
                del holder[path[-1]]
            elif what < 0.3 and isinstance(holder, list):
                holder.append(copy.deepcopy(holder[path[-1]]))
            elif what < 0.5 and type(holder[path[-1]]) in (int, float):
                holder[path[-1]] += dice.choice([-1, 1, 2, 1000, 0.5, -(10**6)])
            else:
                holder[path[-1]] = copy.deepcopy(dice.choice(ODD))
        except (KeyError, IndexError, TypeError):
            pass  # an earlier change took the place away
    return document


def try_out(path, home):
    """Load a file, and save what loads; returns whether it loaded. Anything but a ValueError with the file's name fails."""
    began = time.process_time()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            character = rk.load(path)
            loaded = True
            rk.save(character, home / "saved.glb")
    except ValueError as told:
        loaded = "loaded" in locals()
        assert loaded or str(told).startswith(f"{path.name}: "), told
        assert len(str(told)) < 600
    assert time.process_time() - began < SECONDS
    return loaded


def shake(seeds, home, count, seed):
    """Try `count` changed files; returns how many loaded."""
    dice, good = random.Random(seed), 0
    every = [(document, binary, list(places(document))) for document, binary in seeds]
    for number in range(count):
        document, binary, spots = dice.choice(every)
        path = home / "mutated.glb"
        if number % 4 == 3:
            data = bytearray(packed(json.dumps(document).encode(), binary))
            for _ in range(dice.randint(1, 8)):
                data[dice.randrange(len(data))] = dice.randrange(256)
            if dice.random() < 0.3:
                del data[dice.randrange(len(data)) :]
            path.write_bytes(bytes(data))
        else:
            path.write_bytes(packed(json.dumps(mutated(document, dice, spots)).encode(), binary))
        try:
            good += try_out(path, home)
        except BaseException:
            kept = home / f"failing-{seed}-{number}.glb"
            path.rename(kept)
            print(f"the file that did it: {kept}")
            raise
    return good


@pytest.mark.timeout(300)
def test_hundreds_of_changed_files_load_or_are_refused_with_words(seeds, tmp_path):
    good = shake(seeds, tmp_path, 400, seed=1)
    assert 40 < good < 360


@pytest.mark.slow
@pytest.mark.timeout(1800)
def test_thousands_of_changed_files_load_or_are_refused_with_words(seeds, tmp_path):
    assert sum(shake(seeds, tmp_path, 1000, seed) for seed in range(2, 6)) > 400


def test_a_file_cut_short_anywhere_is_refused(tmp_path):
    data, path = rich().data(), tmp_path / "cut.glb"
    for length in range(0, len(data) - 4, 37):
        path.write_bytes(data[:length])
        with pytest.raises(ValueError, match=r"^cut\.glb: "):
            rk.load(path)


@pytest.mark.parametrize(
    "make",
    [
        lambda m: (
            m.json["accessors"].append({"componentType": 5126, "count": 2**40, "type": "MAT4"})
            or m.json["skins"][0].update(inverseBindMatrices=5)
        ),
        lambda m: m.json["accessors"][-1].update(count=2**52),
        lambda m: m.json["accessors"][2].pop("bufferView") and m.json["accessors"][2].update(count=2**30),
        lambda m: m.json["bufferViews"][2].update(byteStride=252, byteLength=2**40),
        lambda m: (
            m.json["meshes"][0]["primitives"].extend([{"attributes": {"POSITION": len(m.json["accessors"])}}] * 3)
            or m.json["accessors"].append({"componentType": 5126, "count": 20_000_000, "type": "VEC3"})
        ),
        lambda m: m.json["nodes"].extend([{"mesh": 0, "skin": 0}] * 70_000),
        lambda m: m.json["meshes"][0]["primitives"][0]["attributes"].update({f"JOINTS_{k}": 0 for k in range(1, 4000)}),
    ],
)
def test_a_small_file_that_claims_gigabytes_takes_no_memory(tmp_path, make):
    made = skinned()
    make(made)
    path = made.write(tmp_path / "huge.glb")
    tracemalloc.start()
    try:
        with pytest.raises(ValueError, match=r"^huge\.glb: "):
            rk.load(path)
        assert tracemalloc.get_traced_memory()[1] < MEMORY
    finally:
        tracemalloc.stop()


def test_a_mesh_shown_many_times_is_counted_each_time(tmp_path):
    """30,000 nodes that show one mesh of 2,000 vertices: a file of 2 MB that would fill gigabytes."""
    made = Made()
    points = [[k % 50, k // 50, 0] for k in range(2000)]
    mesh = made.add("meshes", {"primitives": [{"attributes": {"POSITION": made.accessor(points)}}]})
    for _ in range(30_000):
        made.node(mesh=mesh)
    made.show(*range(30_000))
    with pytest.raises(ValueError, match="more than it may ask for"):
        rk.load(made.write(tmp_path / "many.glb"))


def test_a_long_name_is_told_short(tmp_path):
    made = skinned()
    made.json["extras"] = {"rigkit": {"schema": 1, "links": [{"kind": "x" * 100_000}]}}
    with pytest.raises(ValueError) as told:
        rk.load(made.write(tmp_path / "long.glb"))
    assert len(str(told.value)) < 600
