"""Nothing a file brought along is lost: loaded and saved, and after changes to the character."""

import json
import struct
import zlib
from dataclasses import replace

import numpy as np
import pytest

import rigkit as rk
from rigkit.animation import Animation
from rigkit.control import Control, moves
from rigkit.links import Follow
from rigkit.motion import Keys, Motion
from tests.gltf.khronos import problems
from tests.gltf.made import SQUARE, skinned
from tests.gltf.reader import File

QUARTER = [0, 0, np.sqrt(0.5), np.sqrt(0.5)]


def png():
    """A picture of one pixel (PNG specification, W3C, sections 5 and 11)."""

    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", 1, 1, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0\xff\0\0")) + chunk(b"IEND", b"")


def rich(scale=None):
    """A skinned square with all that a Character has no place for."""
    made = skinned(weight_code=5121)
    primitive = made.json["meshes"][0]["primitives"][0]
    primitive["attributes"] |= {
        "NORMAL": made.accessor([[0, 0, 1]] * 4),
        "TANGENT": made.accessor([[1, 0, 0, -1]] * 4, "VEC4"),
        "TEXCOORD_0": made.accessor([[0, 0], [1, 0], [1, 1], [0, 1]], "VEC2"),
        "TEXCOORD_1": made.accessor([[0, 0], [255, 0], [255, 255], [0, 255]], "VEC2", 5121, normalized=True),
        "COLOR_0": made.accessor([[0, 128, 255, 255]] * 4, "VEC4", 5121, normalized=True),
        "_WEAR": made.accessor([0.1, 0.2, 0.3, 0.4], "SCALAR"),
    }
    view = made.json["accessors"][primitive["attributes"]["TEXCOORD_1"]]["bufferView"]
    data = bytes(made.bin[made.json["bufferViews"][view]["byteOffset"] :][:8])
    made.json["accessors"][primitive["attributes"]["TEXCOORD_1"]]["bufferView"] = made.view(
        b"".join(data[k : k + 2] + b"\0\0" for k in range(0, 8, 2)), byteStride=4
    )
    primitive["targets"] = [{"POSITION": made.accessor([[0, 0, 0], [0, 0, 0], [0, 0, 1], [0, 0, 0]])}]
    primitive["material"] = made.add(
        "materials",
        {
            "name": "steel",
            "pbrMetallicRoughness": {"baseColorFactor": [1, 0, 0, 1], "baseColorTexture": {"index": 0}},
            "extras": {"age": 3},
            "extensions": {"KHR_materials_clearcoat": {"clearcoatFactor": 1}},
            "doubleSided": True,
        },
    )
    made.json["meshes"][0] |= {"weights": [0.5], "name": "plate mesh", "extras": {"targetNames": ["bulge"]}}
    made.add("images", {"bufferView": made.view(png()), "mimeType": "image/png"})
    made.add("samplers", {"wrapS": 33071})
    made.add("textures", {"source": 0, "sampler": 0})
    made.json["extensionsUsed"] = ["KHR_materials_clearcoat"]
    made.json["extras"] = {"maker": "nobody"}
    made.json["asset"] |= {"copyright": "invented", "generator": "by hand"}
    made.add("cameras", {"type": "perspective", "perspective": {"yfov": 0.7, "znear": 0.01}})
    camera = made.node(name="camera", camera=0, translation=[0, 2, 3], extras={"lens": 50})
    made.json["nodes"][1]["children"] = [camera]
    times = made.accessor([0.0, 1.0], "SCALAR")
    made.add(
        "animations",
        {
            "name": "bend",
            "samplers": [
                {"input": times, "output": made.accessor([[0, 0, 0, 1], QUARTER], "VEC4")},
                {"input": times, "output": made.accessor([0.0, 1.0], "SCALAR")},
                {"input": times, "output": made.accessor([[0, 2, 3], [0, 2, 4]]), "interpolation": "STEP"},
            ],
            "channels": [
                {"sampler": 0, "target": {"node": 1, "path": "rotation"}},
                {"sampler": 1, "target": {"node": 2, "path": "weights"}},
                {"sampler": 2, "target": {"node": camera, "path": "translation"}},
            ],
            "extras": {"loop": True},
        },
    )
    spare = made.node(name="spare", mesh=made.square(), matrix=[1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 3, 0, 0, 1])
    made.add("scenes", {"name": "store", "nodes": [spare]})
    if scale:
        top = made.node(name="top", scale=[scale] * 3, children=[0])
        made.json["scenes"][0]["nodes"] = [top, 2]
    return made


@pytest.fixture
def loaded(tmp_path):
    return rk.load(rich().write(tmp_path / "rich.glb"))


def again(character, tmp_path, name="again.glb"):
    """The document written, and the character in it."""
    rk.save(character, tmp_path / name)
    assert problems(tmp_path / name) == []
    data = (tmp_path / name).read_bytes()
    return json.loads(data[20 : 20 + struct.unpack_from("<I", data, 12)[0]]), rk.load(tmp_path / name)


def arrays(path, mesh):
    """Every array of a mesh's first primitive as the second reader has it."""
    file = File(path)
    primitive = next(m for m in file.gltf.meshes if m.name == mesh).primitives[0]
    found = {name: file.array(number) for name, number in vars(primitive.attributes).items() if number is not None}
    return found | {
        f"target {k} {name}": file.array(number) for k, target in enumerate(primitive.targets or ()) for name, number in target.items()
    }


@pytest.mark.source("Khronos validator")
def test_the_file_itself_is_sound(tmp_path):
    assert problems(rich().write(tmp_path / "rich.glb")) == []


@pytest.mark.source("pygltflib")
def test_all_comes_back_after_load_and_save(loaded, tmp_path):
    document, back = again(loaded, tmp_path)
    before = rich().json
    for name in ("materials", "cameras", "samplers", "textures", "extensionsUsed", "extras", "scenes", "scene"):
        assert document[name] == before[name], name
    assert document["asset"] == before["asset"]
    assert [{k: v for k, v in node.items()} for node in document["nodes"]] == before["nodes"]
    assert document["meshes"][0]["weights"] == [0.5] and document["meshes"][0]["extras"] == {"targetNames": ["bulge"]}
    assert document["animations"][0]["extras"] == {"loop": True} and len(document["animations"][0]["channels"]) == 3
    view = document["bufferViews"][document["images"][0]["bufferView"]]
    data = (tmp_path / "again.glb").read_bytes()
    assert png() in data and view["byteLength"] == len(png())
    ours, theirs = arrays(tmp_path / "again.glb", "plate mesh"), arrays(tmp_path / "rich.glb", "plate mesh")
    assert ours.keys() == theirs.keys() and len(ours) == 10
    for name in ours.keys() - {"JOINTS_0", "WEIGHTS_0"}:  # of those the order within a vertex is free
        np.testing.assert_allclose(ours[name], theirs[name], atol=1e-7, err_msg=name)
    np.testing.assert_allclose(back.parts[0].weights, loaded.parts[0].weights, atol=1e-7)
    assert back.skeleton.names == loaded.skeleton.names and back.animation("bend").length == 1


def test_the_second_scene_can_be_loaded_from_what_was_saved(loaded, tmp_path):
    again(loaded, tmp_path)
    assert rk.load(tmp_path / "again.glb", scene="store").skeleton.names == ("spare",)


def test_images_beside_a_gltf_come_along(tmp_path):
    home = tmp_path / "home"
    home.mkdir()
    (home / "red paint.png").write_bytes(png())
    made = rich()
    made.json["images"] = [{"uri": "red%20paint.png", "name": "paint"}]
    character = rk.load(made.write(home / "rich.gltf"))
    document, _ = again(character, tmp_path)
    assert document["images"] == [{"name": "paint", "mimeType": "image/png", "bufferView": document["images"][0]["bufferView"]}]
    (home / "red paint.png").unlink()
    assert "images[0].uri: 'red%20paint.png' can't be read" in rk.load(home / "rich.gltf").extras["notes"][0]


@pytest.mark.parametrize("uri", ["../red.png", "http://example.org/red.png", "/etc/passwd"])
def test_images_elsewhere_are_refused(tmp_path, uri):
    made = rich()
    made.json["images"] = [{"uri": uri}]
    with pytest.raises(ValueError, match=r"images\[0\].uri is "):
        rk.load(made.write(tmp_path / "rich.gltf"))


def test_an_extension_nobody_knows_keeps_its_numbers(tmp_path):
    """It may point to accessors and views by number: those that came stay in front, also when it is saved again and again."""
    made = rich()
    number = made.accessor([[1, 2, 3], [4, 5, 6]])
    made.json["extensionsUsed"].append("NOBODY_knows")
    made.json["nodes"][0]["extensions"] = {"NOBODY_knows": {"points": number, "view": made.json["accessors"][number]["bufferView"]}}
    character, sizes = rk.load(made.write(tmp_path / "rich.glb")), []
    for turn in range(3):
        with_part = replace(character, parts=(*character.parts, plate(f"new {turn}"))) if turn == 0 else character
        rk.save(with_part, tmp_path / "again.glb")
        character = rk.load(tmp_path / "again.glb")
        sizes.append((tmp_path / "again.glb").stat().st_size)
        file = File(tmp_path / "again.glb")
        assert file.array(number).tolist() == [[1, 2, 3], [4, 5, 6]]
        assert file.gltf.nodes[0].extensions == {"NOBODY_knows": {"points": number, "view": file.gltf.accessors[number].bufferView}}
    assert sizes[2] <= sizes[1] and {part.name for part in character.parts} == {"plate", "new 0"}


# ---- changes ----------------------------------------------------------------------------------------------------------


def plate(name, joints=("base",), weights=None, **more):
    mesh = rk.Mesh([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]], [[0, 1, 2, 3]])
    return rk.Part(name, mesh, joints, np.ones((4, 1)) if weights is None else weights, **more)


def test_a_part_may_be_renamed_coloured_and_told_to_be_hard(loaded, tmp_path):
    part = replace(loaded.parts[0], name="left_plate", colour="#00FF00", smooth=True)
    document, back = again(replace(loaded, parts=(part,)), tmp_path)
    assert (back.parts[0].name, back.parts[0].colour, back.parts[0].smooth) == ("left_plate", "#00FF00", True)
    assert len(document["materials"]) == 2 and "targets" in document["meshes"][0]["primitives"][0]
    assert np.array_equal(back.parts[0].mesh.vertices, loaded.parts[0].mesh.vertices)


def test_joints_may_be_renamed(loaded, tmp_path):
    skeleton = rk.Skeleton(
        ("left_base", "left_tip", "eye"), loaded.skeleton.parents, loaded.skeleton.rest_translations, loaded.skeleton.rest_rotations
    )
    rename = dict(zip(loaded.skeleton.names, skeleton.names))
    parts = [replace(part, joints=[rename[joint] for joint in part.joints]) for part in loaded.parts]
    moved = [Animation(one.name, {(rename[joint], path): keys for (joint, path), keys in one.tracks.items()}) for one in loaded.animations]
    document, back = again(replace(loaded, skeleton=skeleton, parts=parts, animations=moved), tmp_path)
    assert back.skeleton.names == skeleton.names and back.parts[0].joints == ("left_base", "left_tip")
    assert "targets" in document["meshes"][0]["primitives"][0] and len(document["nodes"]) == len(rich().json["nodes"])
    np.testing.assert_allclose(back.animate("bend", 0.5).positions, loaded.animate("bend", 0.5).positions, atol=1e-7)
    assert document["nodes"][3]["extras"] == {"lens": 50}


def test_vertices_may_be_moved_and_the_rest_comes_along(loaded, tmp_path):
    part = loaded.parts[0]
    moved = replace(part, mesh=part.mesh.moved(part.mesh.vertices + [0, 0, 0.5]))
    with pytest.warns(UserWarning, match="tangents are left out"):
        document, back = again(replace(loaded, parts=(moved,)), tmp_path)
    np.testing.assert_allclose(back.parts[0].mesh.vertices, moved.mesh.vertices, atol=1e-7)
    found = arrays(tmp_path / "again.glb", "plate")
    assert {"TEXCOORD_0", "TEXCOORD_1", "COLOR_0", "_WEAR", "target 0 POSITION"} <= found.keys()
    assert found["target 0 POSITION"][2].tolist() == [0, 0, 1]
    mesh = next(m for m in document["meshes"] if m.get("name") == "plate")
    assert mesh["weights"] == [0.5] and mesh["primitives"][0]["material"] == 0 and document["materials"] == rich().json["materials"]


def test_weights_may_be_changed(loaded, tmp_path):
    part = replace(loaded.parts[0], weights=[[1, 0], [0.5, 0.5], [0.5, 0.5], [0, 1]])
    _, back = again(replace(loaded, parts=(part,)), tmp_path)
    np.testing.assert_allclose(back.parts[0].weights, part.weights)
    assert "TANGENT" in arrays(tmp_path / "again.glb", "plate")


@pytest.mark.parametrize("scale", [None, 0.01])
def test_parts_may_be_added_and_taken_away(tmp_path, scale):
    loaded = rk.load(rich(scale).write(tmp_path / "rich.glb"))
    soft = np.array([[1, 0], [0.5, 0.5], [0.25, 0.75], [0, 1]])
    added = plate("cap", ("tip",)), plate("sleeve", ("base", "tip"), soft, kind="sleeve")
    document, back = again(replace(loaded, parts=(*loaded.parts, *added)), tmp_path)
    assert len(back.parts) == 3
    for other in (*loaded.parts, *added):
        one = back.part(other.name)
        np.testing.assert_allclose(one.mesh.vertices, other.mesh.vertices, atol=1e-6)
        np.testing.assert_allclose(one.weights, other.weights, atol=1e-7)
    assert np.array_equal(back.part("cap").mesh.faces, added[0].mesh.faces)
    document, back = again(replace(loaded, parts=(added[0],)), tmp_path)
    assert [part.name for part in back.parts] == ["cap"] and len(document["meshes"]) == 2  # the spare one of the other scene


@pytest.mark.parametrize("scale", [None, 0.01])
def test_a_joint_may_be_moved_and_the_model_stays(tmp_path, scale):
    loaded = rk.load(rich(scale).write(tmp_path / "rich.glb"))
    tip = loaded.skeleton.index("tip")
    places = loaded.skeleton.rest_translations.copy()
    places[tip] += [0.1, 0, 0]
    skeleton = rk.Skeleton(loaded.skeleton.names, loaded.skeleton.parents, places, loaded.skeleton.rest_rotations)
    document, back = again(replace(loaded, skeleton=skeleton), tmp_path)
    np.testing.assert_allclose(back.rest.positions[: tip + 1], skeleton.rest_world.positions[: tip + 1], atol=1e-7)
    np.testing.assert_allclose(back.parts[0].mesh.vertices, loaded.parts[0].mesh.vertices, atol=1e-6)
    assert back.extras["notes"] == () and {"TEXCOORD_0", "TANGENT", "target 0 POSITION"} <= arrays(tmp_path / "again.glb", "plate").keys()
    assert document["cameras"] == rich().json["cameras"]
    before, after = loaded.animate("bend", 1.0), back.animate("bend", 1.0)
    np.testing.assert_allclose(before.rotations[tip], after.rotations[tip], atol=1e-6)
    np.testing.assert_allclose(
        before.positions[loaded.skeleton.index("camera")], after.positions[back.skeleton.index("camera")] - QUARTER_OFF, atol=1e-5
    )


QUARTER_OFF = np.array([0.1, 0, 0])  # the camera hangs on the joint that was moved


def test_joints_may_be_added_taken_away_and_hung_elsewhere(loaded, tmp_path):
    skeleton = rk.Skeleton(["ground", "base", "tip"], [-1, 0, 0], [[0, -1, 0], [0, 1, 0], [0, 2, 0]])
    document, back = again(replace(loaded, skeleton=skeleton, animations=()), tmp_path)
    assert back.skeleton.names == skeleton.names and back.skeleton.parents.tolist() == [-1, 0, 0]
    np.testing.assert_allclose(back.parts[0].mesh.vertices, SQUARE, atol=1e-7)
    assert {"camera"} <= {node.get("name") for node in document["nodes"]}


def test_a_file_of_others_takes_a_rig_and_a_motion(tmp_path):
    loaded = rk.load(rich(0.01).write(tmp_path / "rich.glb"))
    tip = loaded.skeleton.index("tip")
    control = Control("tip_control", loaded.rest.positions[tip], channels=moves())
    rig = rk.Rig(loaded.skeleton, [control], [Follow("tip", "tip_control")])
    motion = Motion("rise", {"tip_control.move_y": Keys([0, 1], [0, 0.02])})
    document, back = again(replace(loaded, rig=rig, motions=(motion,)), tmp_path)
    assert [one["name"] for one in document["animations"]] == ["bend", "rise"] and [one.name for one in back.animations] == ["bend"]
    np.testing.assert_allclose(
        back.play("rise", 0.5).positions,
        loaded.rest.positions + np.where(np.arange(len(rig.skeleton)) >= tip, 0.01, 0)[:, None] * [0, 1, 0],
    )
    file = File(tmp_path / "again.glb")
    assert file.world(file.animation("rise"), 1.0)[file.node("tip"), 1, 3] == pytest.approx(0.03, abs=1e-6)
    _, third = again(replace(back, motions=(), rig=None), tmp_path)
    assert third.motions == () and [one.name for one in third.animations] == ["bend"]


def test_animations_may_be_changed_added_and_taken_away(loaded, tmp_path):
    turned = Animation("bend", {("tip", "rotation"): Keys([0, 2], [QUARTER, [0, 0, 0, 1]], "step")})
    new = Animation("grow", {("base", "scale"): Keys([0, 1], [[1, 1, 1], [2, 2, 2]], "smooth", np.zeros((2, 3)), np.ones((2, 3)))})
    document, back = again(replace(loaded, animations=(turned, new)), tmp_path)
    assert [one["name"] for one in document["animations"]] == ["bend", "grow"]
    assert back.animation("bend").length == 2 and back.animation("grow").tracks["base", "scale"].kind == "smooth"
    document, back = again(replace(loaded, animations=()), tmp_path)
    assert "animations" not in document and back.animations == ()
