"""Chapter 12: any sound builder earns full marks, wrong turns cost their own claims, every case can be solved, and the facts told are facts."""

import ast
import copy
import json
import struct

import numpy as np
import pytest

from rigkit import audit, bend, gltf, limb, mirror
from rigkit.audit import RULES
from rigkit.course import telling
from rigkit.course.chapters import chapter_12_faults as faults
from rigkit.course.chapters import chapter_12_pieces as pieces
from rigkit.course.chapters import chapter_12_tools as tools
from rigkit.course.chapters.chapter_12_audit import GROUPS, MISTAKES_1
from rigkit.course.chapters.chapter_12_file import SLEEVES, STAYS, THINGS, bare, hand_over, written
from rigkit.course.chapters.chapter_12_hunt import answer as hunted
from rigkit.course.chapters.chapter_12_walk import gait
from rigkit.course.panel import panel
from rigkit.gltf import container
from rigkit.robot import assembly
from rigkit.robot.rig import rigged_tally
from tests.course.tried import Tried, missed

TRIED = Tried("12")
CHAPTER, TEXT, CHECKPOINT = TRIED.chapter, TRIED.text, TRIED.checkpoint
context, answered, cells = TRIED.context, TRIED.answered, TRIED.cells


# ---- the text ----------------------------------------------------------------------------------------------------


def test_no_name_of_a_cell_can_stand_in_for_a_line_forgotten_in_a_function():
    own = ["leg_frames", "sole_pivots", "both_sides", "build", "off_plane", "measured_all", "guilty", "range_test"]
    assert TRIED.worked_functions() == own


def test_every_scene_is_framed_and_told():
    scenes = [ast.unparse(tree) for tree in cells() if ".show()" in ast.unparse(tree)]
    assert len(scenes) == 5
    for scene in scenes:
        assert ".caption(" in scene and ".look(" in scene, scene


def test_panels_are_whole():
    known = context(41)
    for name in ("12.1", "12.2", "12.3", "12.4", "12.6"):
        checkpoint = CHECKPOINT[name]
        for mistake in checkpoint.mistakes:
            told = panel(answered(name, mistake.answer if checkpoint.kind == "function" else mistake.answer(known), 41), can_show=True).text
            assert "..." not in told and "nan" not in told, f"{mistake.name}\n{told}"


# ---- 12.1 and 12.5 -----------------------------------------------------------------------------------------------


def test_every_rule_of_the_audit_belongs_to_one_claim():
    every = [rule for rules in GROUPS.values() for rule in rules]
    assert sorted(every) == sorted(RULES)
    assert set(GROUPS) == {claim.id for claim in CHECKPOINT["12.1"].claims}


def test_the_worked_pieces_make_the_package_s_own_rig():
    ours, theirs = pieces.rigged(context(7).robot, pieces.build(context(7).given["model"])), rigged_tally(7)
    assert np.abs(ours.skeleton.rest_world.positions - theirs.skeleton.rest_world.positions).max() < 1e-9
    assert {c.name: [x.name for x in c.open_channels] for c in ours.rig.controls} == {
        c.name: [x.name for x in c.open_channels] for c in theirs.rig.controls
    }
    assert {(type(x).__name__, getattr(x, "driven", "")) for x in ours.rig.links} == {
        (type(x).__name__, getattr(x, "driven", "")) for x in theirs.rig.links
    }


def other_builder(model):
    """Another right way: markers nearer, square outlines, hand and head carried by others, pivots at other places of the same lines."""
    right = pieces.build(model)
    joints = right["joints"]
    near = {
        f"left_{mid}_marker": limb.pole_point(*(joints[f"left_{p}"] for p in parts), 0.2)
        for mid, parts in (("elbow", ("shoulder", "elbow", "wrist")), ("knee", ("hip", "knee", "ankle")))
    }
    across = np.array([-1, 1, 1])
    sole = {
        name: at + model["soles"]["axes"][:, 0] * 0.004 for name, at in right["pivots"].items() if name in ("left_heel", "left_sole_toe")
    }
    outlines = {name: 1.05 * (points - points.mean(axis=0)) + points.mean(axis=0) for name, points in right["outlines"].items()}
    return {
        **right,
        "markers": {**near, **{mirror.names(name): at * across for name, at in near.items()}},
        "pivots": {**right["pivots"], **sole, **{mirror.names(name): at * across for name, at in sole.items()}},
        "outlines": outlines,
        "follows": {**right["follows"], "left_hand_control": "centre_whole_control", "left_elbow_marker": "centre_body_control"},
    }


def test_another_sound_builder_earns_full_marks():
    known = context(7)
    own = {"pieces": other_builder(known.given["model"])}
    assert answered("12.1", own, 7).earned == 10
    assert answered("12.5", other_builder, 7, b"one").earned == 5


@pytest.mark.parametrize("what", ["ring", "unknown", "scaled"])
def test_what_no_rig_can_be_made_of_is_told_in_words(what):
    right = pieces.build(context(0).given["model"])
    wrong = {
        "ring": {"follows": {**right["follows"], "centre_body_control": "left_hand_control"}},
        "unknown": {"follows": {**right["follows"], "left_hand_control": "centre_tail_joint"}},
        "scaled": {"frames": {name: 2 * axes for name, axes in right["frames"].items()}},
    }[what]
    result = answered("12.1", {"pieces": {**right, **wrong}})
    assert result.earned == 0
    assert "it can't: " in result.claims[0].got and len(panel(result).text.splitlines()) < 15


def test_a_missing_name_is_told_by_its_name():
    right = pieces.build(context(0).given["model"])
    lame = {**right, "joints": {name: at for name, at in right["joints"].items() if name != "right_ball"}}
    assert "'right_ball'" in panel(answered("12.1", {"pieces": lame})).text


def test_what_is_built_once_is_kept():
    robot, model = context(7).robot, context(7).given["model"]
    assert pieces.report(robot, pieces.build(model)) is pieces.report(robot, pieces.build(model))
    assert pieces.digest(pieces.build(model)) != pieces.digest(pieces.frames_copied(model))


def test_another_robot_is_never_one_s_own_and_differs_enough():
    for variant in (0, 3):
        for seed in (None, b"a"):
            (case,) = TRIED.cases_of("12.5", variant, seed)
            number = int(case.about.split()[-1])
            other, own = context(number).robot.landmarks, context(variant).robot.landmarks
            assert number != variant and np.linalg.norm(other["left_elbow"] - own["left_elbow"]) > 0.009


# ---- 12.2 --------------------------------------------------------------------------------------------------------


def test_every_case_has_five_faults_that_stand_out_alone():
    """For a hundred learners: each rule of the sheet finds its own culprit and nobody else; a child of a turned joint excepted."""
    seen = set()
    for variant in range(100):
        sheet, complaints, truth = faults.case_of(context(variant).robot, variant)
        kinds = {kind: name for kind, name, _ in truth.values()}
        assert len(kinds) == 5 and sorted(complaints) == list("abcde")
        groups = {"off": "folds", "home": "controls", "marker": "markers", "short": "weights", "hand": "joints"}
        for kind in faults.KINDS:
            names = sheet[groups[kind]] if kind in groups else faults.KINDS[kind].places
            bad = [name for name in names if faults.beyond(kind, sheet, name)]
            turned = [name for name in bad if sheet["joints"].get(name, {}).get("parent") == kinds.get("hinge")] if kind == "hinge" else []
            assert [name for name in bad if name not in turned] == [kinds[kind] for _ in range(kind in kinds)], (variant, kind, bad)
        seen.add(tuple(name for _, name, _ in truth.values()))
    assert len(seen) > 95


def test_a_child_of_a_turned_joint_is_told_to_look_higher():
    for variant in range(100):
        sheet, _, truth = faults.case_of(context(variant).robot, variant)
        letter = next((one for one, (kind, _, _) in truth.items() if kind == "hinge"), None)
        if letter:
            child = next(name for name, joint in sheet["joints"].items() if joint["parent"] == truth[letter][1])
            right = hunted()(context(variant))
            result = answered("12.2", {**right, "culprits": {**right["culprits"], letter: child}}, variant)
            assert missed(result) == {letter}
            assert "the parent is turned over" in " ".join(panel(result).text.split())
            return
    pytest.fail("no case has a turned joint")


def test_a_wrong_name_is_answered_by_what_is_measured_there_and_gives_nothing_away():
    right = hunted()(context(0))
    _, _, truth = faults.case_of(context(0).robot, 0)
    letter = next(one for one, (kind, _, _) in truth.items() if kind == "off")
    sound = next(name for name in faults.case_of(context(0).robot, 0)[0]["folds"] if name != truth[letter][1])
    told = panel(answered("12.2", {**right, "culprits": {**right["culprits"], letter: sound}})).text
    assert f"{sound} is sound" in told and truth[letter][1] not in told


def test_the_learner_can_spoil_the_sheet_and_still_be_judged_by_the_true_one():
    known = context(3)
    right = hunted()(known)
    held = copy.deepcopy(known.given["sheet"])
    for joint in known.given["sheet"]["joints"].values():
        joint["at"] += 1.0
    assert answered("12.2", right, 3).earned == 7
    known.given["sheet"].clear()
    known.given["sheet"].update(held)


# ---- 12.3 --------------------------------------------------------------------------------------------------------


def high_first(channels):
    """Another right way: high before low, channels backwards, home left out of the poses, home between the ends too."""
    poses = [{}]
    for name in reversed(channels):
        _, low, high = channels[name]
        poses += [{name: high}, {}, {name: low}, {}]
    return poses


def test_any_order_earns_full_marks():
    assert answered("12.3", high_first, 7, b"one").earned == 6
    assert missed(answered("12.3", lambda channels: [], 7)) == {"ends", "home", "single", "range"}


# ---- 12.4 --------------------------------------------------------------------------------------------------------


def test_six_and_seven_cycles_are_right_and_five_and_nine_are_not():
    for variant in (0, 23, 41):
        known = context(variant)
        assert [answered("12.4", gait(cycles=n)(known), variant).earned == 7 for n in (5, 7, 9)] == [False, True, False]
    assert answered("12.4", gait(cycles=6)(context(0)), 0).earned == 7


def test_no_stride_and_no_time_are_told_in_words():
    right = gait()(context(0))
    for wrong in ({"stride": 0.0}, {"period": -1.0}, {"stride": 1e9}, {"cycles": -7}):
        result = answered("12.4", {**right, **wrong})
        assert result.earned < 7 and "fault of the workbook" not in panel(result).text


# ---- 12.6 --------------------------------------------------------------------------------------------------------


def test_a_stranger_s_file_says_nothing_of_ours(tmp_path):
    # glTF 2.0, Khronos: a GLB has a 12-byte header, then chunks of length, type, data; extras are application-specific
    character = pieces.rigged(context(0).robot, pieces.build(context(0).given["model"]))
    gltf.save(character, tmp_path / "ours.glb")
    held = container.read(tmp_path / "ours.glb")
    container.write(tmp_path / "theirs.glb", bare(held.document), bytes(held.buffers[0]))
    data = (tmp_path / "theirs.glb").read_bytes()
    length = struct.unpack("<I", data[12:16])[0]
    text = data[20 : 20 + length].decode()
    assert "extras" not in text and json.loads(text)["asset"]["version"] == "2.0"
    assert all(word not in text for word in ("elbow_control", "elbow_marker"))
    assert gltf.load(tmp_path / "theirs.glb").rig is None
    assert set(THINGS) - STAYS == {"joints", "parents", "weights", "the walk as keys on joints"}


def test_dual_quaternions_look_otherwise_elsewhere_and_linear_ones_do_not():
    known = context(0)
    own = pieces.build(known.given["model"])
    notes, off, _ = written(known.robot, own, dict.fromkeys(SLEEVES, "linear"))
    assert notes == () and off < 1e-6
    assert written(known.robot, own, dict.fromkeys(SLEEVES, "dual quaternion"))[1] > 0.0005


def test_the_order_of_what_stays_behind_does_not_matter():
    right = hand_over()(context(0))
    assert answered("12.6", {**right, "stays_behind": [*reversed(right["stays_behind"]), "links"]}).earned == 6


# ---- the tools ---------------------------------------------------------------------------------------------------


@pytest.fixture
def said(monkeypatch):
    lines = []
    monkeypatch.setattr(telling, "say", lines.append)
    return lines


def test_tools_say_what_will_come_where_nothing_is_built_yet(said):
    known = context(0)
    assert tools.assemble(known, None) is None and tools.assemble(known, ...) is None
    tools.examine(known, {"joints": {}})
    tools.what_breaks(known, None)
    tools.file_of(known, None)
    assert tools.try_walk(known, None, 0.8, 1.1) is None
    assert tools.stranger(known, lambda model: model["nothing"], 5) is None
    tools.stage(known, None).show()
    assert len(said) == 8 and all(line.strip() for line in said)
    assert tools.channels_of(known, None) == {} and tools.as_motion(known, None, None) is None


def test_an_audit_prints_what_to_do_for_what_it_finds(said):
    known = context(0)
    tools.examine(known, MISTAKES_1[0].answer(known)["pieces"])
    assert "joint_centre" in said[-1] and "do: put the joint at the area centre" in said[-1]


def test_the_range_of_a_hinge_is_from_straight_to_where_the_shells_are_free():
    model = context(7).given["model"]
    found = pieces.build(model)
    for part, names in (("elbow", ("shoulder", "elbow", "wrist")), ("knee", ("hip", "knee", "ankle"))):
        rest = bend.angle(*(found["joints"][f"left_{name}"] for name in names))
        low, high = found["ranges"][part]
        assert rest + low == pytest.approx(0, abs=1e-12) and rest + high == pytest.approx(model["most_bend"][part], abs=1e-12)


def test_the_audit_of_a_rig_with_its_feet_on_the_body_finds_nothing_and_the_walk_does():
    known = context(0)
    dragged = pieces.feet_on_the_body(known.given["model"])
    assert not audit.examine(pieces.rigged(known.robot, dragged)).findings
    assert {one.rule for one in pieces.walked(known.robot, dragged)[1] if not one.good} >= {"slide", "floor"}


def test_the_pieces_and_the_names_in_the_text_are_those_of_the_sockets():
    for name in (*assembly.FOLLOWERS, *pieces.FOLLOWS):
        assert f"`{name}`" in TEXT, name
    assert set(pieces.FOLLOWS) == set(assembly.FOLLOWERS)
