"""Tally with rig and walk, out and in: the same rig comes back, and everybody else sees the same mesh, skin and motion."""

import json
import warnings
from dataclasses import asdict, replace

import numpy as np
import pytest
import trimesh

import rigkit as rk
from rigkit.control import Channel, Control, moves
from rigkit.gltf import baking
from rigkit.links import Blend, Chain, Follow, Gaze, Limb, Share
from rigkit.motion import Keys, Motion
from rigkit.robot.rig import rigged_tally
from tests.gltf.khronos import problems
from tests.gltf.reader import File

TIMES = np.linspace(0.0, 1.0, 23)
REACHING = {
    "left_hand_control.move_x": Keys([0, 0.5, 1], [0, 0.5, 0.5]),
    "left_hand_control.stretch": Keys([0], [1.0]),
    "left_hand_control.girth": Keys([0], [1.0]),
    "centre_whole_control.size": Keys([0, 1], [1.0, 1.5]),
}


@pytest.fixture(scope="module")
def tally():
    return rigged_tally()


@pytest.fixture(scope="module")
def reaching(tally):
    """A motion in which an arm grows longer and thinner, and the whole robot larger."""
    return replace(tally, motions=(Motion("reach", REACHING),))


@pytest.fixture(scope="module")
def folder(tmp_path_factory, tally, reaching):
    home = tmp_path_factory.mktemp("out")
    for name, character in (("walk.glb", tally), ("walk.gltf", tally), ("reach.glb", reaching)):
        assert rk.save(character, home / name).notes == ()
    return home


def told(links):
    """Kinds and fields of links, numbers as numbers."""
    return [(type(link).__name__, json.loads(json.dumps(asdict(link), default=float))) for link in links]


def shown(character, pose):
    """Part name to its vertices as linear skinning with the pose's own matrices has them, (V, 3)."""
    rest = character.skeleton.rest_world.matrices
    found = {}
    for part in character.parts:
        joints = [character.skeleton.index(name) for name in part.joints]
        matrices = pose.matrices[joints] @ np.linalg.inv(rest[joints])
        points = np.c_[part.mesh.vertices, np.ones(len(part.mesh.vertices))]
        found[part.name] = np.einsum("vk,kij,vj->vi", part.weights, matrices, points)[:, :3]
    return found


# ---- the same comes back ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["walk.glb", "walk.gltf"])
def test_rig_and_walk_come_back_the_same(tally, folder, name):
    back = rk.load(folder / name)
    assert back.name == tally.name and back.skeleton.names == tally.skeleton.names and back.animations == ()
    assert [c.name for c in back.rig.controls] == [c.name for c in tally.rig.controls]
    assert [c.channels for c in back.rig.controls] == [c.channels for c in tally.rig.controls]
    assert told(back.rig.links) == told(tally.rig.links)
    for a, b in zip(tally.rig.controls, back.rig.controls):
        assert all(np.array_equal(x, y) for x, y in zip(a.outline.lines, b.outline.lines)) and a.outline.closed == b.outline.closed
    walk, again = tally.motion("walk"), back.motion("walk")
    assert walk.period == again.period and walk.advance == again.advance
    sampled, resampled = walk.sample(TIMES), again.sample(TIMES)
    assert all(np.array_equal(sampled[channel], resampled[channel]) for channel in sampled)
    pose, other = tally.play("walk", 2 * TIMES), back.play("walk", 2 * TIMES)
    np.testing.assert_allclose(pose.positions, other.positions, atol=1e-14)
    np.testing.assert_allclose(pose.rotations, other.rotations, atol=1e-14)


def test_parts_landmarks_and_loops_come_back(tally, folder):
    back = rk.load(folder / "walk.glb")
    assert [part.name for part in back.parts] == [part.name for part in tally.parts]
    for a, b in zip(tally.parts, back.parts):
        assert (a.kind, a.joints, a.smooth, a.colour.upper(), a.blend) == (b.kind, b.joints, b.smooth, b.colour.upper(), b.blend)
        assert np.array_equal(a.mesh.faces, b.mesh.faces)
        np.testing.assert_allclose(a.mesh.vertices, b.mesh.vertices, atol=2e-7)
        np.testing.assert_allclose(a.weights, b.weights, atol=1e-7)
    for field in ("landmarks", "hinges"):
        ours, theirs = getattr(tally, field), getattr(back, field)
        assert list(ours) == list(theirs) and all(np.array_equal(ours[key], theirs[key]) for key in ours)
    assert all(np.array_equal(tally.loops[key][1], back.loops[key][1]) for key in tally.loops)
    assert back.extras["notes"] == ()


def test_a_file_saved_again_is_the_same_rig_and_no_larger(folder, tmp_path):
    for name in ("walk.glb", "reach.glb"):
        first = rk.load(folder / name)
        rk.save(first, tmp_path / "again.glb")
        second = rk.load(tmp_path / "again.glb")
        rk.save(second, tmp_path / "third.glb")
        assert (tmp_path / "third.glb").read_bytes() == (tmp_path / "again.glb").read_bytes()
        assert (tmp_path / "again.glb").stat().st_size <= (folder / name).stat().st_size + 64
        motion = first.motions[0].name
        np.testing.assert_allclose(first.play(motion, TIMES).positions, second.play(motion, TIMES).positions, atol=1e-13)
        for a, b in zip(first.parts, second.parts):
            assert a.name == b.name and np.array_equal(a.mesh.faces, b.mesh.faces)
            np.testing.assert_allclose(a.mesh.vertices, b.mesh.vertices, atol=1e-7)


def test_every_kind_of_link_and_key_comes_back(tmp_path):
    names = ["a_joint", "b_joint", "c_joint", "eye_joint", "h1_joint", "h2_joint", "mid_joint"]
    places = [[0, 1, 0], [0.1, 0, 0.02], [0.1, 0, -0.02], [0, 0.5, 0], [0, -0.5, 0], [0, -0.2, 0], [0.5, 0, 0]]
    skeleton = rk.Skeleton(names, [-1, 0, 1, -1, -1, 4, -1], places)
    controls = [
        Control("hand_control", [0.2, 1, 0], channels=(*moves(), Channel("curl", 0.0, -1.0, 1.0, flips=True), Channel("share", 0.5))),
        Control("pole_control", [0.1, 1, 0.5], channels=moves()),
        Control("look_control", [0, 0.5, 1], channels=moves()),
        Control("tip_control", [0, -0.9, 0], channels=moves(), order="ZXY"),
    ]
    links = [
        Follow("look_control", ("world", "hand_control"), "hand_control.curl"),
        Limb(("a_joint", "b_joint", "c_joint"), "hand_control", "pole_control", hinge=(0, 0, 1), most_bend=2.5),
        Gaze("eye_joint", "look_control", limits=((-1, 1), (-0.5, 0.5)), carrier="world"),
        Chain(("h1_joint", "h2_joint"), "tip_control", (0.0, -0.9, 0.0)),
        Blend("mid_joint", "hand_control", "world", "hand_control.share"),
        Share("hand_control.curl", {"eye_joint.turn_z": 0.25}),
    ]
    tracks = {
        "hand_control.move": Keys([0, 1], [[0, 0, 0], [0.1, 0, 0]]),
        "look_control.move_x": Keys([0, 0.4, 1], [0, 1, 0], "step"),
        "tip_control.move_z": Keys([0, 1], [0, 0.2], "smooth", [1.0, 0.5], [0.25, 0]),
    }
    rig = rk.Rig(skeleton, controls, links)
    character = rk.Character(
        "links", skeleton, (), rig=rig, motions=(Motion("try", tracks),), extras={"styles": {"hand_control": ["#ffffff", "solid"]}}
    )
    rk.save(character, tmp_path / "links.glb")
    back = rk.load(tmp_path / "links.glb")
    assert told(back.rig.links) == told(rig.links)
    assert back.extras["styles"] == {"hand_control": ["#ffffff", "solid"]} and back.rig.control("tip_control").order == "ZXY"
    np.testing.assert_array_equal(character.play("try", TIMES).positions, back.play("try", TIMES).positions)
    assert problems(tmp_path / "links.glb") == []


# ---- what others see --------------------------------------------------------------------------------------------------


@pytest.mark.source("Khronos validator")
def test_the_validator_finds_no_error_and_no_warning(folder):
    assert problems(*sorted(folder.glob("*.gl*"))) == []


@pytest.mark.source("trimesh")
def test_trimesh_reads_the_same_vertices_faces_and_joints(tally, folder):
    scene = trimesh.load(folder / "walk.glb", process=False)
    world = tally.skeleton.rest_world
    for j, name in enumerate(tally.skeleton.names):
        np.testing.assert_allclose(scene.graph.get(name)[0], world.matrices[j], atol=1e-12)
    for part in tally.parts:
        node = next(n for n in scene.graph.nodes_geometry if scene.graph[n][1] == part.name)
        mesh, place = scene.geometry[part.name], scene.graph[node][0]
        owner = mesh.vertex_attributes["_RIGKIT_VERTEX"].astype(int).ravel()
        points = mesh.vertices @ place[:3, :3].T + place[:3, 3]
        np.testing.assert_allclose(points, part.mesh.vertices[owner], atol=2e-7)
        assert np.array_equal(owner[mesh.faces], part.mesh.triangles)


@pytest.mark.source("pygltflib", "glTF 2.0")
def test_pygltflib_reads_the_same_joints_weights_and_matrices(tally, folder):
    file = File(folder / "walk.glb")
    skin = file.gltf.skins[0]
    names = [file.gltf.nodes[n].name for n in skin.joints]
    binds = file.array(skin.inverseBindMatrices).reshape(-1, 4, 4).transpose(0, 2, 1)
    index = [tally.skeleton.index(name) for name in names]
    np.testing.assert_allclose(binds, np.linalg.inv(tally.skeleton.rest_world.matrices[index]), atol=1e-6)
    soft = [part for part in tally.parts if len(part.joints) > 1]
    assert len(soft) == 7
    for part in soft:
        attributes = next(m for m in file.gltf.meshes if m.name == part.name).primitives[0].attributes
        joints, weights, owner = file.array(attributes.JOINTS_0), file.array(attributes.WEIGHTS_0), file.vertices_of_parts(part.name)
        full = np.zeros((len(owner), len(part.joints)))
        for row, (each, shares) in enumerate(zip(joints, weights)):
            for joint, share in zip(each, shares):
                if share:
                    full[row, part.joints.index(names[joint])] += share
        np.testing.assert_allclose(full, part.weights[owner], atol=1e-7)


@pytest.mark.source("pygltflib", "glTF 2.0")
@pytest.mark.parametrize("name,motion", [("walk.glb", "walk"), ("reach.glb", "reach")])
def test_another_reader_shows_the_same_picture(tally, reaching, folder, name, motion):
    """Every vertex at moments off the samples: 0.2 mm, where the joints are kept to 0.1 mm; on a sample to 32-bit rounding."""
    character, file = {"walk": tally, "reach": reaching}[motion], File(folder / name)
    for time in (0.0, 0.131, 0.4987, 0.777, 1.0):
        picture = file.picture(file.animation(motion), time)
        expected = shown(character, character.play(motion, time))
        assert set(picture) == set(expected)
        off = max(np.abs(points - expected[part][file.vertices_of_parts(part)]).max() for part, points in picture.items())
        assert off < (1e-6 if time in (0.0, 1.0) else 2e-4)
    if motion == "reach":
        assert character.play(motion, 1.0).stretch.max() > 1.05 and character.play(motion, 1.0).girth.min() < 0.98


def test_normals_are_square_to_the_faces_where_a_part_is_flat(folder):
    file = File(folder / "walk.glb")
    for mesh in file.gltf.meshes[:20]:
        normals = file.array(mesh.primitives[0].attributes.NORMAL)
        np.testing.assert_allclose(np.linalg.norm(normals, axis=1), 1, atol=1e-6)


def test_dual_quaternions_are_told_with_how_far_off_others_are(tally, tmp_path):
    """A sleeve that turns by an angle is thinner by its cosine's half under linear blending (Kavan et al. 2008): others see that."""
    parts = tuple(replace(part, blend="dual quaternion") if part.name == "left_elbow_sleeve" else part for part in tally.parts)
    bent = Motion("bend", {"left_hand_control.move_y": Keys([0, 1], [0, 0.2])})
    character = replace(tally, parts=parts, motions=(bent,))
    with pytest.warns(UserWarning, match="left_elbow_sleeve.*dual quaternions.*mm off in bend"):
        saved = rk.save(character, tmp_path / "dual.glb")
    assert len(saved.notes) == 1 and rk.load(tmp_path / "dual.glb").part("left_elbow_sleeve").blend == "dual quaternion"
    one, _ = baking.baked(character, bent)
    part = character.part("left_elbow_sleeve")
    joints = np.tile([character.skeleton.index(name) for name in part.joints], (len(part.mesh.vertices), 1))
    transforms = rk.binding.skinning_transforms(character.skeleton, one.rotations, one.translations)
    off = [blend(part.mesh.vertices, joints, part.weights, *transforms) for blend in (rk.binding.linear_blend, rk.binding.dual_quaternion)]
    worst = np.linalg.norm(off[0] - off[1], axis=-1).max()
    assert f"{1000 * worst:.1f} mm" in saved.notes[0] and worst > 1e-4


def test_what_json_cannot_hold_is_left_out_and_told(tally, tmp_path):
    with pytest.warns(UserWarning, match="extras\\['thing'\\] is left out"):
        rk.save(replace(tally, extras={"thing": object(), "kept": [1, "two"]}), tmp_path / "a.glb")
    assert rk.load(tmp_path / "a.glb").extras["kept"] == [1, "two"]


def test_a_long_motion_is_sampled_within_reason(tally, tmp_path):
    long = Motion("sleep", {"left_hand_control.move_y": Keys([0, 7200], [0, 0.01])})
    one, notes = baking.baked(replace(tally, motions=(long,)), Motion("short", {"left_hand_control.move_y": Keys([0, 2], [0, 0.01])}))
    assert len(one.times) == 61 and notes == []
    times, notes = baking._times(long)
    assert len(times) == 20_001 and "lasts 7200 s" in notes[0]


def test_a_step_stays_a_step(tally):
    times, _ = baking._times(Motion("jump", {"left_hand_control.move_y": Keys([0, 0.5], [0, 0.1], "step")}))
    assert 0.5 in times and np.isclose(times, 0.499, atol=1e-6).any()


def test_a_character_without_rig_or_parts_is_saved_too(tmp_path):
    character = rk.Character("bare", rk.Skeleton(["a", "b"], [-1, -1], [[0, 0, 0], [1, 0, 0]]), ())
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        rk.save(character, tmp_path / "bare.glb")
    back = rk.load(tmp_path / "bare.glb")
    assert back.skeleton.names == ("a", "b") and back.parts == () and back.name == "bare"
    assert problems(tmp_path / "bare.glb") == []


def test_joints_of_two_trees_in_one_skin_get_one_root(tmp_path):
    skeleton = rk.Skeleton(["a", "b"], [-1, -1], [[0, 0, 0], [1, 0, 0]])
    mesh = rk.Mesh([[0, 0, 0], [1, 0, 0], [1, 1, 0]], [[0, 1, 2]])
    part = rk.Part("plate", mesh, ("a", "b"), [[1, 0], [0, 1], [0.5, 0.5]], kind="sleeve")
    rk.save(rk.Character("two", skeleton, [part]), tmp_path / "two.glb")
    back = rk.load(tmp_path / "two.glb")
    assert back.skeleton.names == ("a", "b") and back.skeleton.parents.tolist() == [-1, -1]
    assert problems(tmp_path / "two.glb") == []


def test_many_joints_on_one_vertex_take_several_sets(tmp_path):
    count = 9
    skeleton = rk.Skeleton([f"j{k}" for k in range(count)], [-1, *range(count - 1)], np.tile([0.0, 0.1, 0], (count, 1)))
    mesh = rk.Mesh([[0, 0, 0], [1, 0, 0], [1, 1, 0]], [[0, 1, 2]])
    weights = np.array([np.arange(1, count + 1), np.eye(count)[3], np.ones(count)], float)
    part = rk.Part("plate", mesh, skeleton.names, weights / weights.sum(axis=1, keepdims=True), kind="sleeve")
    rk.save(rk.Character("many", skeleton, [part]), tmp_path / "many.glb")
    np.testing.assert_allclose(rk.load(tmp_path / "many.glb").parts[0].weights, part.weights, atol=1e-7)
    assert problems(tmp_path / "many.glb") == []
