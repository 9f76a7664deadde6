"""Each rule finds the rig that breaks it, Tally breaks none, and what can't be told is said to be not examined."""

from dataclasses import replace

import numpy as np
import pytest

import rigkit as rk
from rigkit import audit, mirror
from rigkit.audit import centre, inside, rulebook, subject
from rigkit.audit.rules import RULES
from rigkit.audit.view import View
from rigkit.robot.rig import rigged_tally
from rigkit.view import collide
from tests.audit import broken
from tests.audit.broken import BROKEN

SLOW = ("control_hidden", "dead_channel", "double_transform", "whole_carries", "hinge_range")
FAST = {"rules": {rule: {"severity": "off"} for rule in SLOW}}


def examined(view_of, rule, **options):
    """The measurements of one rule alone, {where: value}."""
    looked_at = subject.of(view_of)
    book = rulebook.read(options.get("rules"))
    view = View(looked_at, audit._roles.settled(audit.guess.roles(looked_at, book), options.get("roles"), looked_at.names), book)
    return {one.where: one.value for one in RULES[rule](view) if isinstance(one, audit.Measured)}


def test_every_rule_has_a_row_in_the_rule_file_and_a_rig_that_breaks_it():
    assert set(RULES) == set(rulebook.read().rules) == set(BROKEN)


@pytest.mark.parametrize("rule", BROKEN)
def test_a_poor_rig_breaks_its_rule_and_those_told_beside_it_alone(rule):
    make, others = BROKEN[rule]
    report = audit.examine(make())
    assert report.broken == {rule} | others
    for found in report.of(rule):
        assert found.where and found.what and found.why and found.do
        assert audit.beyond(found.value, found.limit)


def test_tally_breaks_no_rule_and_every_rule_examines_it():
    report = audit.examine(broken.healthy())
    assert list(report) == []
    assert report.not_examined == ()
    assert set(report.examined) == set(RULES)


@pytest.mark.parametrize("tens", range(10))
def test_no_variant_of_tally_breaks_a_rule(tens):
    for variant in range(10 * tens, 10 * tens + 10):
        report = audit.examine(rigged_tally(variant), FAST)
        assert [(found.rule, found.where, found.value) for found in report] == [], variant
        assert {rule for rule, *_ in report.not_examined} == set(SLOW), variant


@pytest.mark.slow
@pytest.mark.parametrize("variant", [3, 19, 57, 98])
def test_the_slow_rules_pass_on_variants_too(variant):
    assert list(audit.examine(rigged_tally(variant))) == []


def test_without_a_rig_controls_are_not_examined_and_not_passed():
    report = audit.examine(broken.bare())
    missing = {rule for rule, _, reason in report.not_examined if "no rig" in reason}
    assert {rule for rule in RULES if rule.startswith(("control", "marker", "dead", "double", "whole", "foot_", "hinge_open"))} <= missing
    assert missing.isdisjoint(report.examined)


def test_an_empty_skeleton_alone_is_examined_without_an_error():
    lone = rk.Character("one joint", rk.Skeleton(["thing"], [-1], [[0, 1, 0]]), [])
    report = audit.examine(lone)
    assert {"size", "zero_bone", "prebend", "weight_sum", "mirror_place"} <= {rule for rule, *_ in report.not_examined}


@pytest.mark.parametrize("seed", range(20))
def test_random_trees_are_examined_without_an_error(seed):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(2, 25))
    names = [str(rng.choice(["left_arm", "L", "Hand.R", "foot_l", "x", "head", "\u202e<b>", "a" * 300])) + str(k) for k in range(count)]
    parents = [-1, *(int(rng.integers(-1, k)) for k in range(1, count))]
    moves = rng.normal(size=(count, 3)) * rng.choice([0.0, 1.0, 1e-9, 1e5], (count, 1))
    mesh = rk.mesh.tube(5, [0, 0.5, 1.0])
    weights = rng.dirichlet(np.ones(count), 15)
    character = rk.Character("random", rk.Skeleton(names, parents, moves), [rk.Part("skin", mesh, names, weights, "sleeve")])
    report = audit.examine(character)
    assert audit.text(report) and report.json()
    assert all(np.isfinite(found.value) or found.value == np.inf for found in report)


# ---- single measurements against what a hand or another way tells -------------------------------------------------


def sleeve(offset):
    """A tube of 0.1 m radius with a joint `offset` (3,) off the middle of where it bends, at height 0.5."""
    mesh = rk.mesh.tube(24, np.linspace(0, 1, 41), 0.1)
    weights = rk.binding.sleeve_weights(mesh.vertices[:, 1], [0.4, 0.6])
    skeleton = rk.Skeleton(["low", "high"], [-1, 0], [[0, 0.2, 0], np.add([0, 0.3, 0], offset)])
    return rk.Character("sleeve", skeleton, [rk.Part("sleeve", mesh, ["low", "high"], weights, "sleeve")])


@pytest.mark.parametrize("offset", [(0, 0, 0), (0.012, 0, 0), (0, 0.02, 0), (0.003, 0.004, 0.012)])
def test_a_joint_off_the_middle_of_its_bend_is_measured_in_full(offset):
    # By hand: the weight is a half at height 0.5, on the axis of the tube; 3-4-12 gives 13.
    assert examined(sleeve(offset), "joint_centre")["high"] == pytest.approx(1000 * np.linalg.norm(offset), abs=1e-3)


def test_the_contour_agrees_with_the_area_centre_of_an_ordered_loop():
    """A D-shaped, unevenly spaced tube: the contour's centre is that of its loop by `placement.area_centre`."""
    turn = np.radians([0, 10, 20, 30, 60, 90, 120, 150, 180])
    ring = np.stack([np.cos(turn), 0 * turn, -np.sin(turn)], axis=1) * 0.1
    heights = np.linspace(0, 1, 11)
    vertices = np.concatenate([ring + (0, h, 0) for h in heights])
    k = len(ring)
    faces = [[i * k + a, i * k + (a + 1) % k, (i + 1) * k + (a + 1) % k, (i + 1) * k + a] for i in range(10) for a in range(k)]
    centre_of_loop = rk.placement.area_centre(ring) + (0, 0.5, 0)
    weights = np.clip((vertices[:, 1] - 0.25) / 0.5, 0, 1)
    skeleton = rk.Skeleton(["low", "high"], [-1, 0], [[0, 0, 0], centre_of_loop])
    part = rk.Part("tube", rk.Mesh(vertices, faces), ["low", "high"], np.stack([1 - weights, weights], axis=1), "sleeve")
    assert examined(rk.Character("tube", skeleton, [part]), "joint_centre")["high"] == pytest.approx(0, abs=1e-3)


def test_a_mesh_whose_vertices_are_split_has_the_same_centre():
    """Files hold a vertex once for each face or seam."""
    whole = sleeve((0.01, 0, 0))
    part = whole.parts[0]
    corners = part.mesh.triangles.ravel()
    split = rk.Mesh(part.mesh.vertices[corners], np.arange(len(corners)).reshape(-1, 3))
    torn = replace(whole, parts=[replace(part, mesh=split, weights=part.weights[corners])])
    assert examined(torn, "joint_centre")["high"] == pytest.approx(10.0, abs=1e-3)


def test_an_open_mesh_has_no_centre_and_is_not_examined():
    whole = sleeve((0, 0, 0))
    part = whole.parts[0]
    half = replace(part, mesh=rk.Mesh(part.mesh.vertices, part.mesh.faces[part.mesh.faces[:, 0] % 24 < 12]))
    report = audit.examine(replace(whole, parts=[half]))
    assert ("joint_centre", "high", "no closed line around the model shows where it bends") in report.not_examined


def test_contours_agree_with_the_loops_that_tally_names():
    """Elbows, knees and the hose of Tally by its weights alone: each within 5 mm of the joint, as by its own loops."""
    found = examined(replace(broken.bare(), loops={}), "joint_centre")
    assert {f"{side}_{part}_joint" for side in ("left", "right") for part in ("elbow", "knee", "ball")} <= set(found)
    assert max(found.values()) < 5.0


@pytest.mark.source("van Oosterom & Strackee")
def test_inside_agrees_with_winding_numbers():
    """Two ways to tell what is inside: rays sent up, and the solid angle of the faces (van Oosterom & Strackee 1983 (memory))."""
    rng = np.random.default_rng(0)
    character = broken.healthy()
    part = character.part("body_drum").mesh
    points = rng.uniform(*part.bounds, (200, 3))
    by_rays = inside.inside(inside.faces([subject.of(replace(character, parts=[character.part("body_drum")], loops={})).skins[0]]), points)
    by_angle = np.array([abs(collide.winding(p[None], part.vertices, part.triangles)[0]) > 0.5 for p in points])
    assert 20 < by_angle.sum() < 200
    np.testing.assert_array_equal(by_rays, by_angle)


def test_the_plane_is_found_and_not_assumed():
    """A figure turned by 20 degrees and moved is as symmetric as before: only its plane and where it faces have changed."""
    turn = rk.rotation.to_matrix(rk.rotation.from_axis_angle([0, 1, 0], np.radians(20)))
    report = audit.examine(broken.placed(turn, (0.3, 0, 0.1)))
    assert report.broken == {"plane_place"}


def test_one_joint_out_of_place_does_not_tilt_the_plane():
    moved = broken.reposed(broken.bare(), {"right_wrist_joint": (0.0, 0.08, 0.05)})
    found = examined(moved, "mirror_place")
    assert found.pop("right_wrist_joint") == pytest.approx(1000 * np.hypot(0.08, 0.05), rel=1e-6)
    assert max(found.values()) < 1e-6


@pytest.mark.parametrize("how", mirror.WAYS)
def test_matched_and_parallel_frames_both_pass(how):
    turns = rk.rotation.normalise([[0, 0, 0, 1], [0.1, 0.5, 0.1, 0.85]])
    left = rk.Skeleton(["centre_body_joint", "left_arm_joint"], [-1, 0], [[0, 1, 0], [0.3, 0.1, 0.2]], turns)
    both = mirror.complete(left, mirror.Plane(), how)
    report = audit.examine(rk.Character("both", both, []))
    assert report.examined["mirror_frame"] == report.examined["mirror_place"] == 1
    assert {"mirror_frame", "mirror_place"}.isdisjoint(report.broken)


def test_bone_axes_may_run_back_along_the_bone_if_all_of_a_chain_do():
    straight = rk.Skeleton(["a", "b", "c", "d"], [-1, 0, 1, 2], [[0, 0, 0], [-0.2, 0, 0], [-0.2, 0, 0], [-0.2, 0, 0]])
    found = examined(rk.Character("back", straight, []), "chain_axis")
    assert found == {"a": 0.0, "b": 0.0, "c": 0.0}


def test_a_figure_in_centimetres_is_told_so():
    report = audit.examine(broken.placed(100 * np.eye(3)))
    assert "as if centimetres had been taken for metres" in report.of("unit")[0].what


def test_a_deep_chain_and_a_long_cycle_end():
    count = 3000
    deep = subject.Subject(
        "deep",
        tuple(f"joint_{k}" for k in range(count)),
        np.arange(count) - 1,
        np.tile([0, 0, 0, 1.0], (count, 1)),
        np.tile([0, 0.001, 0], (count, 1)),
        np.ones((count, 3)),
    )
    assert audit.examine(deep, FAST).examined["zero_bone"] == count - 1
    ring = replace(deep, parents=np.roll(np.arange(count), 1))
    report = audit.examine(ring)
    assert report.of("cycle")[0].value == count and "..." in report.of("cycle")[0].what
    assert ("prebend", "deep", "the parents form a cycle, so no joint has a place") in report.not_examined


def test_a_far_weight_is_measured_beyond_the_main_joint():
    report = audit.examine(BROKEN["weight_far"][0]())
    (found,) = report.of("weight_far")
    assert found.where == "left_elbow_sleeve: right_wrist_joint"
    assert 20 < found.value < 60  # the other wrist is about half a metre away, of 1.2


def test_the_contour_walk_puts_each_branch_in_a_row():
    view = View(subject.of(broken.bare()), None, None)
    place, end = view.walk
    assert sorted(place) == list(range(len(place)))
    for joint in range(len(place)):
        assert sorted(place[view.subject.below(joint)]) == list(range(place[joint], end[joint]))
    assert centre.HALF < 0.5


def test_an_animation_that_bends_a_knee_backward_is_found():
    """A file of others has no rig: its animations are examined."""
    from rigkit.animation import Animation
    from rigkit.keys import Keys

    joint, skeleton = "left_knee_joint", broken.bare().skeleton
    rest = skeleton.rest_rotations[skeleton.index(joint)]
    bent = [rk.rotation.multiply(rest, rk.rotation.from_axis_angle([0, 0, 1], np.radians(degrees))) for degrees in (0, 60, -40, 0)]
    kick = Animation("kick", {(joint, "rotation"): Keys([0, 1, 2, 3], bent)})
    report = audit.examine(replace(broken.bare(), animations=(kick,)))
    (found,) = report.of("hinge_range")
    at_rest = np.degrees(
        rk.bend.angle(*(skeleton.rest_world.positions[skeleton.index(f"left_{p}_joint")] for p in ("hip", "knee", "ankle")))
    )
    assert found.where == "left_knee_joint in kick" and found.value == pytest.approx(at_rest - 40, abs=0.5)


def test_what_a_loader_set_right_is_found_and_its_rules_do_not_pass():
    note = "meshes[0].primitives[0].attributes: 3 vertices have a weight below zero; it is taken as zero"
    report = audit.examine(replace(broken.bare(), extras={"notes": (note,)}))
    assert report.of("file_mended")[0].what == note and report.of("file_mended")[0].where == "meshes[0].primitives[0].attributes"
    assert ("weight_negative", "Tally, variant 0", "what the file held was set right on loading: see file_mended") in report.not_examined


def test_scales_of_a_character_are_examined():
    scales = np.ones((len(broken.bare().skeleton), 3))
    scales[-1] = (1.0, 1.3, 1.0)
    report = audit.examine(replace(broken.bare(), scales=scales))
    assert report.broken == {"joint_scale"} and report.of("joint_scale")[0].value == pytest.approx(30)
