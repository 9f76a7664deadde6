"""What a document means: joints, parts, skins and animations, from documents made by hand."""

import json

import numpy as np
import pytest
from scipy.spatial.transform import RigidTransform, Rotation

import rigkit as rk
from tests.gltf.made import SQUARE, Made, packed, skinned

pytestmark = pytest.mark.source("glTF 2.0")
QUARTER = [0, 0, np.sqrt(0.5), np.sqrt(0.5)]


def load(made, tmp_path, **more):
    return rk.load(made.write(tmp_path / "made.glb"), **more)


def notes(character):
    return " | ".join(character.extras["notes"])


# ---- nodes ----------------------------------------------------------------------------------------------------------


def test_nodes_are_joints_with_their_transforms(tmp_path):
    made = Made()
    made.node(name="arm", rotation=QUARTER, translation=[1, 2, 3], children=[1])
    made.node(name="hand", mesh=made.square(), translation=[1, 0, 0])
    made.show(0)
    character = load(made, tmp_path)
    assert character.skeleton.names == ("arm", "hand") and character.skeleton.parents.tolist() == [-1, 0]
    arm, hand = RigidTransform.from_components([1, 2, 3], Rotation.from_quat(QUARTER)), RigidTransform.from_translation([1, 0, 0])
    np.testing.assert_allclose(character.parts[0].mesh.vertices, (arm * hand).apply(np.array(SQUARE, float)), atol=1e-12)
    assert character.parts[0].joints == ("hand",) and character.parts[0].kind == "hard"


# section 3.5.3: a matrix is stored column after column
def test_a_matrix_is_taken_apart(tmp_path):
    made = Made()
    made.node(name="a", mesh=made.square(), matrix=[0, 1, 0, 0, -1, 0, 0, 0, 0, 0, 1, 0, 5, 6, 7, 1])
    character = load(made.show(0), tmp_path)
    np.testing.assert_allclose(character.skeleton.rest_translations, [[5, 6, 7]])
    assert rk.rotation.angle(character.skeleton.rest_rotations[0], QUARTER) < 1e-7


@pytest.mark.parametrize("scale", [0.01, 100.0])
def test_a_scale_of_the_whole_model_is_baked_in_and_told(tmp_path, scale):
    made = skinned()
    made.json["nodes"][0]["children"], made.json["nodes"][1]["translation"] = [1], [0, 1, 0]
    top = made.node(name="top", scale=[scale] * 3, children=[0])
    made.json["scenes"][0]["nodes"] = [top, 2]
    character = load(made, tmp_path)
    assert f"scale is {scale:g}" in notes(character) and character.scales is None
    np.testing.assert_allclose(character.skeleton.rest_world.positions[character.skeleton.index("tip")], [0, scale, 0])
    np.testing.assert_allclose(character.parts[0].mesh.vertices, scale * np.array(SQUARE), atol=1e-9)


def test_a_scale_inside_the_chain_is_kept_apart(tmp_path):
    made = Made()
    made.node(name="a", mesh=made.square(), scale=[1, 2, 1], children=[1])
    made.node(name="b", mesh=made.square(), translation=[0, 1, 0])
    character = load(made.show(0), tmp_path)
    assert character.scales.tolist() == [[1, 2, 1], [1, 1, 1]]
    assert character.rest.positions[1].tolist() == [0, 2, 0]
    np.testing.assert_allclose(character.parts[1].mesh.vertices, np.array(SQUARE) * [1, 2, 1] + [0, 2, 0])


def test_a_file_that_lies_on_its_back_stands_where_its_nodes_put_it(tmp_path):
    made = skinned()
    top = made.node(name="top", rotation=[-np.sqrt(0.5), 0, 0, np.sqrt(0.5)], children=[0])
    made.json["scenes"][0]["nodes"] = [top, 2]
    character = load(made, tmp_path)
    np.testing.assert_allclose(character.rest.positions[2], [0, 0, -1], atol=1e-12)
    np.testing.assert_allclose(character.parts[0].mesh.vertices[3], [0, 0, -1], atol=1e-12)


def test_names_that_are_missing_or_twice_are_made_up(tmp_path):
    made = Made()
    for name in ({"name": "a"}, {"name": "a"}, {}, {"name": ""}):
        made.node(mesh=made.square(), **name)
    character = load(made.show(0, 1, 2, 3), tmp_path)
    assert character.skeleton.names == ("a", "a (node 1)", "node 2", "node 3")
    assert len({part.name for part in character.parts}) == 4 and "nodes[1].name is 'a'" in notes(character)


def test_a_mesh_below_a_joint_of_a_skin_is_a_part_of_that_joint(tmp_path):
    made = skinned()
    made.node(name="cap", mesh=made.square(), translation=[0, 0.5, 0])
    made.json["nodes"][1]["children"] = [3]
    character = load(made, tmp_path)
    assert character.skeleton.names == ("base", "tip") and character.part("cap").joints == ("tip",)
    np.testing.assert_allclose(character.part("cap").mesh.vertices[0], [0, 1.5, 0])


def test_scenes_are_told_apart_by_name_and_number(tmp_path):
    made = Made()
    made.node(name="a", mesh=made.square())
    made.node(name="b", mesh=made.square())
    made.json["scenes"] = [{"name": "first", "nodes": [0]}, {"name": "second", "nodes": [1]}]
    made.json["scene"] = 1
    assert load(made, tmp_path).skeleton.names == ("b",)
    assert load(made, tmp_path, scene="first").skeleton.names == ("a",) and load(made, tmp_path, scene=0).skeleton.names == ("a",)
    for wrong in ("third", 2):
        with pytest.raises(ValueError, match="scene"):
            load(made, tmp_path, scene=wrong)
    del made.json["scenes"], made.json["scene"]
    assert load(made, tmp_path).skeleton.names == ("a", "b")


@pytest.mark.parametrize(
    "nodes,told",
    [
        ([{"children": [1]}, {"children": [0]}], r"nodes form a cycle: nodes\[0\] -> nodes\[1\] -> nodes\[0\]"),
        ([{"children": [0]}], "cycle"),
        ([{"children": [2]}, {"children": [2]}, {}], r"nodes\[2\] is a child of nodes\[0\] and of nodes\[1\]"),
        ([{"children": [1, 1]}, {}], r"nodes\[0\].children is \[1, 1\]; expected each number once"),
        ([{"children": [9]}], r"nodes\[0\].children\[0\] is 9; expected a number from 0 to 0"),
        ([{"rotation": [0, 0, 0, 0]}], r"nodes\[0\].rotation is .* expected a quaternion of length 1"),
        ([{"rotation": [0, 0, 1]}], "4 finite numbers"),
        ([{"translation": [1e39, 0, 0]}], "3 finite numbers"),
        ([{"matrix": [1] * 15}], "16 finite numbers"),
        ([{"matrix": [1] * 16}], "a last row of 0, 0, 0, 1"),
        ([{"mesh": 0}], r"nodes\[0\].mesh is 0; expected none, for there are 0"),
        ([[]], r"nodes\[0\] is \[\]; expected an object"),
        ([{"name": 3}], r"nodes\[0\].name is 3; expected a text"),
    ],
)
def test_unsound_nodes_are_told(tmp_path, nodes, told):
    with pytest.raises(ValueError, match=r"made\.glb: .*" + told):
        load(Made(nodes=nodes), tmp_path)


def test_a_long_chain_of_nodes_is_no_trouble(tmp_path):
    count = 5000
    made = Made(nodes=[{"children": [k + 1]} for k in range(count - 1)] + [{}])
    assert len(load(made, tmp_path).skeleton) == count


# ---- primitives -------------------------------------------------------------------------------------------------------


# section 3.7.2.1: strip i, i + 1 + i % 2, i + 2 - i % 2; fan i + 1, i + 2, 0
@pytest.mark.parametrize(
    "mode,expected",
    [
        (4, [[0, 1, 2]]),
        (5, [[0, 1, 2], [1, 3, 2]]),
        (6, [[1, 2, 0], [2, 3, 0]]),
    ],
)
@pytest.mark.parametrize("indexed", [True, False])
def test_lists_strips_and_fans_are_triangles(tmp_path, mode, expected, indexed):
    made = Made()
    primitive = {"attributes": {"POSITION": made.accessor(SQUARE)}, "mode": mode}
    if indexed:
        primitive["indices"] = made.accessor([0, 1, 2, 3], "SCALAR", 5125)
    made.node(mesh=made.add("meshes", {"primitives": [primitive]}))
    assert load(made.show(0), tmp_path).parts[0].mesh.triangles.tolist() == expected


def test_vertices_that_no_triangle_uses_are_no_part_of_it(tmp_path):
    made = Made()
    points = made.accessor([[9, 9, 9], *SQUARE])
    primitives = [{"attributes": {"POSITION": points}, "indices": made.accessor(rows, "SCALAR", 5121)} for rows in ([1, 2, 3], [1, 3, 4])]
    made.node(name="plate", mesh=made.add("meshes", {"primitives": primitives}))
    character = load(made.show(0), tmp_path)
    assert [part.name for part in character.parts] == ["plate 1", "plate 2"]
    assert character.parts[1].mesh.vertices.tolist() == [SQUARE[0], SQUARE[2], SQUARE[3]]


def test_points_and_lines_are_no_parts(tmp_path):
    made = Made()
    made.node(mesh=made.add("meshes", {"primitives": [{"attributes": {"POSITION": made.accessor(SQUARE)}, "mode": k} for k in range(4)]}))
    assert load(made.show(0), tmp_path).parts == ()


@pytest.mark.parametrize(
    "indices,told",
    [
        ([0, 1, 4], r"meshes\[0\].primitives\[0\].indices: accessor 1 points to vertex 4; expected 0 to 3"),
        ([0, 1, 65535], "points to vertex 65535"),
    ],
)
def test_an_index_beyond_the_vertices_is_told(tmp_path, indices, told):
    made = Made()
    made.node(
        mesh=made.add(
            "meshes",
            {"primitives": [{"attributes": {"POSITION": made.accessor(SQUARE)}, "indices": made.accessor(indices, "SCALAR", 5123)}]},
        )
    )
    with pytest.raises(ValueError, match=told):
        load(made.show(0), tmp_path)


# ---- skins ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("joint_code", [5121, 5123])
@pytest.mark.parametrize("weight_code", [5126, 5121, 5123])
def test_weights_of_all_allowed_types(tmp_path, joint_code, weight_code):
    part = load(skinned(joint_code, None, weight_code), tmp_path).parts[0]
    assert part.joints == ("base", "tip") and part.kind == "sleeve"
    np.testing.assert_allclose(part.weights, [[1, 0], [1, 0], [0.2, 0.8], [0, 1]], atol=1e-7)
    np.testing.assert_allclose(part.mesh.vertices, SQUARE, atol=1e-12)


def test_several_sets_of_joints_add_up(tmp_path):
    made = skinned(weights=[[0.5, 0, 0, 0]] * 4)
    attributes = made.json["meshes"][0]["primitives"][0]["attributes"]
    attributes["JOINTS_1"] = made.accessor([[1, 0, 1, 0]] * 4, "VEC4", 5121)
    attributes["WEIGHTS_1"] = made.accessor([[0.25, 0, 0.25, 0]] * 4, "VEC4")
    np.testing.assert_allclose(load(made, tmp_path).parts[0].weights, 0.5)


def test_a_part_moves_as_skinning_says(tmp_path):
    """sum w G B v, section 3.7.3.3, worked out beside with SciPy's matrices."""
    binds = [[1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1], [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, -1, 0, 1]]
    character = load(skinned(binds=binds), tmp_path)
    turn = Rotation.from_quat(QUARTER)
    tip = RigidTransform.from_components([0, 1, 0], turn) * RigidTransform.from_translation([0, -1, 0])
    weights = np.array([[1, 0], [1, 0], [0.2, 0.8], [0, 1]])
    expected = weights[:, :1] * np.array(SQUARE) + weights[:, 1:] * tip.apply(np.array(SQUARE, float))
    pose = rk.binding.skinning_transforms(character.skeleton, [[0, 0, 0, 1], QUARTER])
    part = character.parts[0]
    moved = rk.binding.linear_blend(part.mesh.vertices, np.tile([0, 1], (4, 1)), part.weights, *pose)
    np.testing.assert_allclose(moved, expected, atol=1e-7)


def test_where_a_file_is_posed_otherwise_than_bound_rest_is_the_bind_pose(tmp_path):
    made = skinned()
    made.json["nodes"][1] |= {"rotation": QUARTER, "translation": [0, 1, 0]}
    character = load(made, tmp_path)
    assert "rest is the bind pose" in notes(character)
    assert rk.rotation.angle(character.skeleton.rest_world.rotations[1], [0, 0, 0, 1]) < 1e-7
    np.testing.assert_allclose(character.parts[0].mesh.vertices, SQUARE, atol=1e-7)


def test_skins_that_contradict_each_other_are_carried_to_rest(tmp_path):
    made = skinned()
    other = [[1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1], [0, 1, 0, 0, -1, 0, 0, 0, 0, 0, 1, 0, 0, -1, 0, 1]]
    second = made.add("skins", {"joints": [0, 1], "inverseBindMatrices": made.accessor(other, "MAT4")})
    node = made.node(name="second", mesh=0, skin=second)
    made.json["scenes"][0]["nodes"].append(node)
    character = load(made, tmp_path)
    assert "skins[1] was bound in a pose that is no rest pose" in notes(character)
    matrix = np.array(other[1]).reshape(4, 4).T
    expected = np.array([0, 1, 0]) + matrix[:3, :3] @ SQUARE[3] + matrix[:3, 3]
    np.testing.assert_allclose(character.part("second").mesh.vertices[3], expected, atol=1e-7)


def test_a_skin_without_matrices_binds_where_the_mesh_lies(tmp_path):
    made = skinned()
    del made.json["skins"][0]["inverseBindMatrices"]
    character = load(made, tmp_path)
    np.testing.assert_allclose(character.parts[0].mesh.vertices[0], [0, 0, 0], atol=1e-12)


@pytest.mark.parametrize(
    "weights,told",
    [
        ([[1, 0, 0, 0]] * 3 + [[0, 0, 0, 0]], "1 vertices have no weight at all"),
        ([[1, 0, 0, 0]] * 3 + [[0.5, 0.2, 0, 0]], "1 vertices have weights that do not add up to 1 .the worst to 0.7"),
        ([[1, 0, 0, 0]] * 3 + [[1, -0.5, 0, 0]], "1 vertices have a weight below zero"),
    ],
)
def test_unsound_weights_are_set_right_and_told(tmp_path, weights, told):
    character = load(skinned(weights=weights), tmp_path)
    assert told.replace(".the", "(the") in notes(character)
    np.testing.assert_allclose(character.parts[0].weights.sum(axis=1), 1)


@pytest.mark.parametrize(
    "change,told",
    [
        (lambda j: j["skins"][0].update(joints=[0, 0]), r"skins\[0\].joints is \[0, 0\]; expected each number once"),
        (lambda j: j["skins"][0].update(joints=[]), r"skins\[0\].joints is \[\]; expected at least 1"),
        (lambda j: j["skins"][0].update(joints=[0, 77]), r"skins\[0\].joints\[1\] is 77"),
        (
            lambda j: j["skins"][0].update(joints=[0, 1, 2]),
            r"skins\[0\].inverseBindMatrices: accessor 4 has 2 matrices; expected one for each of 3",
        ),
        (lambda j: j["skins"][0].update(joints=[1]), "vertex 2 follows joint 1; expected 0 to 0"),
        (lambda j: j["skins"][0].update(inverseBindMatrices=0), r"skins\[0\].inverseBindMatrices: accessor 0 is VEC4"),
        (lambda j: j["skins"][0].update(inverseBindMatrices=77), r"skins\[0\].inverseBindMatrices is 77"),
        (lambda j: j["nodes"][2].update(skin=3), r"nodes\[2\].skin is 3"),
        (lambda j: j["meshes"][0]["primitives"][0]["attributes"].pop("JOINTS_0"), "has no JOINTS_0"),
        (lambda j: j["meshes"][0]["primitives"][0]["attributes"].pop("WEIGHTS_0"), "WEIGHTS_0 is missing"),
        (lambda j: j["accessors"][1].update(count=3), "4 and WEIGHTS_0 3 elements; expected 4"),
        (lambda j: j["accessors"][0].update(componentType=5120), "accessor 0 is VEC4 of component type 5120"),
        (lambda j: j["scenes"][0].update(nodes=[2]), r"nodes\[0\] is a joint of a skin and not in the scene"),
    ],
)
def test_unsound_skins_are_told(tmp_path, change, told):
    made = skinned()
    change(made.json)
    with pytest.raises(ValueError, match=told):
        load(made, tmp_path)


# section 3.7.3.1: the fourth row of each inverse bind matrix is 0, 0, 0, 1
def test_a_bind_matrix_with_another_last_row_is_told(tmp_path):
    binds = [[1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1], [1, 0, 0, 0.5, 0, 1, 0, 0, 0, 0, 1, 0, 0, -1, 0, 1]]
    with pytest.raises(ValueError, match=r"skins\[0\].inverseBindMatrices: accessor 4, matrix 1 has the last row"):
        load(skinned(binds=binds), tmp_path)


# ---- animations -------------------------------------------------------------------------------------------------------


def animated(kind, times, values, path="translation", **more):
    made = Made()
    made.node(name="door", mesh=made.square(), **more)
    width = "VEC4" if path == "rotation" else "VEC3"
    sampler = {"input": made.accessor(times, "SCALAR"), "output": made.accessor(values, width), "interpolation": kind}
    made.add("animations", {"name": "open", "samplers": [sampler], "channels": [{"sampler": 0, "target": {"node": 0, "path": path}}]})
    return made.show(0)


# Appendix C: step holds the key before; linear goes straight; turns by slerp: 0 to 90 degrees at a quarter is 22.5
@pytest.mark.parametrize("kind,at,expected", [("STEP", 0.999, [0, 0, 0]), ("STEP", 1, [4, 0, 0]), ("LINEAR", 0.25, [1, 0, 0])])
def test_steps_and_straight_lines(tmp_path, kind, at, expected):
    character = load(animated(kind, [0, 1], [[0, 0, 0], [4, 0, 0]]), tmp_path)
    np.testing.assert_allclose(character.animate("open", at).positions[0], expected, atol=1e-7)


def test_turns_go_at_an_even_speed(tmp_path):
    character = load(animated("LINEAR", [0, 1], [[0, 0, 0, 1], QUARTER], "rotation"), tmp_path)
    turned = rk.rotation.angle(character.animate("open", 0.25).rotations[0], [0, 0, 0, 1])
    assert np.degrees(turned) == pytest.approx(22.5, abs=1e-5)


def test_cubic_splines_with_tangents(tmp_path):
    """Appendix C: in-tangent, value, out-tangent a key; over a span of 2 s with out-tangent 3, the start's slope is 3 a second."""
    values = [[9, 0, 0], [0, 0, 0], [3, 0, 0], [0, 0, 0], [1, 0, 0], [9, 0, 0]]
    character = load(animated("CUBICSPLINE", [0, 2], values), tmp_path)
    t = 0.25
    expected = 2 * (t**3 - 2 * t**2 + t) * 3 + (3 * t**2 - 2 * t**3) * 1
    assert character.animate("open", 2 * t).positions[0, 0] == pytest.approx(expected)
    assert character.animate("open", 1e-6).positions[0, 0] == pytest.approx(3e-6, rel=1e-4)


def test_moves_in_a_scaled_model_come_in_metres(tmp_path):
    made = animated("LINEAR", [0, 1], [[0, 0, 0], [400, 0, 0]])
    top = made.node(name="top", scale=[0.01] * 3, children=[0])
    made.json["scenes"][0]["nodes"] = [top]
    character = load(made, tmp_path)
    np.testing.assert_allclose(character.animate("open", 1).positions[1], [4, 0, 0])


@pytest.mark.parametrize(
    "change,told",
    [
        (
            lambda j: j["animations"][0]["samplers"][0].update(interpolation="CUBIC"),
            r"animations\[0\].samplers\[0\].interpolation is 'CUBIC'",
        ),
        (lambda j: j["animations"][0]["samplers"][0].update(interpolation="CUBICSPLINE"), "has 2 elements; expected 3 for each of 2 times"),
        (lambda j: j["animations"][0]["samplers"][0].update(input=9), r"samplers\[0\].input is 9"),
        (lambda j: j["animations"][0]["samplers"][0].pop("output"), r"samplers\[0\].output is missing"),
        (lambda j: j["animations"][0]["channels"][0].update(sampler=1), r"channels\[0\].sampler is 1"),
        (lambda j: j["animations"][0]["channels"][0].pop("target"), r"channels\[0\].target is missing"),
        (lambda j: j["animations"][0]["channels"].append(j["animations"][0]["channels"][0]), "a second time"),
        (lambda j: j["animations"][0]["channels"][0]["target"].update(node=5), r"channels\[0\].target.node is 5"),
        (lambda j: j["accessors"][-1].update(type="SCALAR"), "expected VEC3"),
    ],
)
def test_unsound_animations_are_told(tmp_path, change, told):
    made = animated("LINEAR", [0, 1], [[0, 0, 0], [4, 0, 0]])
    change(made.json)
    with pytest.raises(ValueError, match=told):
        load(made, tmp_path)


def test_keys_that_do_not_grow_are_left_out_and_told(tmp_path):
    character = load(animated("LINEAR", [0, 1, 1, 0.5, 2], [[k, 0, 0] for k in range(5)]), tmp_path)
    assert "2 keys do not come after the one before" in notes(character)
    assert character.animate("open", 1.5).positions[0, 0] == pytest.approx(2.5)


# ---- our own data -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "ours,told",
    [
        ({"schema": 2}, r"extras.rigkit.schema is 2; this version of rigkit reads up to 1"),
        ({}, r"extras.rigkit.schema is missing"),
        ([], r"extras.rigkit is \[\]; expected an object"),
        ({"schema": 1, "controls": [{"name": "a", "position": [0, 0]}]}, r"extras.rigkit.controls\[0\].position is \[0, 0\]"),
        (
            {
                "schema": 1,
                "controls": [
                    {"name": "a", "position": [0, 0, 0], "rotation": [0, 0, 0, 1], "channels": [{"name": "move_x", "low": "far"}]}
                ],
            },
            r"controls\[0\].channels\[0\].low is 'far'",
        ),
        ({"schema": 1, "links": [{"kind": "Glue"}]}, r"extras.rigkit.links\[0\].kind is 'Glue'; expected one of Follow"),
        ({"schema": 1, "links": [{"kind": "Follow"}]}, r"extras.rigkit.links\[0\]"),
        ({"schema": 1, "links": [{"kind": "Follow", "driven": "base", "leaders": [{}]}]}, r"links\[0\].leaders"),
        ({"schema": 1, "links": [{"kind": "Follow", "driven": "base", "leaders": ["nobody"]}]}, "nobody"),
        ({"schema": 1, "links": [{"kind": "Follow", "driven": "base", "leaders": ["world"], "glue": 1}]}, "a Follow has no 'glue'"),
        ({"schema": 1, "motions": [{"name": "a", "times": [[0]], "tracks": {"x": {"times": 3, "values": [1]}}}]}, r"tracks.x.times is 3"),
        (
            {"schema": 1, "motions": [{"name": "a", "times": [[0]], "tracks": {"x": {"times": 0, "values": ["a"]}}}]},
            r"extras.rigkit.motions\[0\]",
        ),
        ({"schema": 1, "landmarks": {"a": [1, 2]}}, r"extras.rigkit.landmarks.a is \[1, 2\]"),
        ({"schema": 1, "loops": {"a": {"part": "x", "vertices": [0]}}}, "a landmark and a part"),
    ],
)
def test_unsound_data_of_ours_is_told_with_its_place(tmp_path, ours, told):
    made = skinned()
    made.json["extras"] = {"rigkit": ours}
    with pytest.raises(ValueError, match=told):
        load(made, tmp_path)


def test_extras_of_others_may_be_anything(tmp_path):
    for extras in (3, [], "rigkit", {"rigkitten": 1}, None):
        made = skinned()
        made.json["extras"] = extras
        for node in made.json["nodes"]:
            node["extras"] = extras
        assert load(made, tmp_path).skeleton.names == ("base", "tip")


def test_a_bone_of_ours_out_of_place_is_no_trouble(tmp_path):
    for words in ({"bone": True}, {"part": True}, {"root": True}, {"joint": True}, {"bone": 3, "part": [], "joint": "x"}):
        for number in range(3):
            made = skinned()
            made.json["nodes"][number]["extras"] = {"rigkit": words}
            try:
                assert load(made, tmp_path).parts
            except ValueError as told:
                assert "made.glb: " in str(told)


def test_the_json_may_hold_numbers_as_floats(tmp_path):
    made = skinned()
    text = json.dumps(made.json | {"buffers": [{"byteLength": len(made.bin)}]}).replace('"count": 4', '"count": 4.0')
    assert '"count": 4.0' in text
    path = tmp_path / "floats.glb"
    path.write_bytes(packed(text.encode(), bytes(made.bin)))
    assert rk.load(path).parts
