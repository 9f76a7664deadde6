"""Roles: guessed from names of any make, from structure and from shape; corrected by a file."""

import tomllib
from dataclasses import replace

import numpy as np
import pytest

import rigkit as rk
from rigkit import audit
from rigkit.audit import guess, roles, rulebook, subject, wording
from rigkit.robot.rig import rigged_tally
from tests.audit import broken

BOOK = rulebook.read()
LIMB_ROLES = {role for chain in roles.LIMBS.values() for role in chain}


def told(looked_at):
    return {role: looked_at.names[joint] for role, joint in guess.roles(looked_at, BOOK).joints.items()}


def nameless(variant):
    """Tally's joints and model with names that say nothing."""
    found = subject.of(rigged_tally(variant))
    return found, replace(found, names=tuple(f"node_{i:02}" for i in range(len(found))), rig=None, loops={}, hinges={}, motions=())


def test_tallys_roles_are_those_of_its_names():
    for role, name in told(subject.of(broken.bare())).items():
        assert name == (f"{role}_joint" if role.startswith(("left", "right")) else f"centre_{role}_joint")
    assert set(told(subject.of(broken.bare()))) == set(roles.EVERY)


@pytest.mark.parametrize("variant", [0, 3, 8, 41])
def test_limbs_are_found_by_shape_where_names_say_nothing(variant):
    named, bare = nameless(variant)
    joints = guess.roles(bare, BOOK).joints
    assert {role: named.names[joint] for role, joint in joints.items()} == {role: f"{role}_joint" for role in LIMB_ROLES}


def test_names_of_other_makes_are_understood():
    parts = {"shoulder": "UpperArm", "elbow": "LowerArm", "wrist": "Hand", "hip": "Thigh", "knee": "Shin", "ankle": "Foot", "ball": "Toes"}
    names = {f"{side}_{part}_joint": f"{word}.{side[0].upper()}" for side in ("left", "right") for part, word in parts.items()}
    found = subject.of(broken.bare())
    other = replace(found, names=tuple(names.get(n, n) for n in found.names), loops={}, hinges={})
    roles_found = told(other)
    for side in ("left", "right"):
        for part, word in parts.items():
            assert roles_found[f"{side}_{part}"] == f"{word}.{side[0].upper()}"


def test_a_limb_is_completed_by_structure_where_only_its_end_is_named():
    names = {f"{side}_{part}_joint": f"{side}_{part[:2]}x" for side in ("left", "right") for part in ("shoulder", "elbow")}
    found = subject.of(broken.bare())
    other = replace(found, names=tuple(names.get(n, n) for n in found.names), loops={}, hinges={})
    assert told(other)["left_elbow"] == "left_elx" and told(other)["right_shoulder"] == "right_shx"
    assert guess.roles(other, BOOK).source["left_elbow"] in ("structure", "shape")


@pytest.mark.source("JVRC-1")
def test_a_single_letter_is_no_side_where_nothing_answers_it():
    # Names from PyPI jvrc-description 1.1.1 (Apache-2.0): waist_r and neck_r are rolls.
    table = BOOK.names
    names = ["waist_y", "waist_p", "waist_r", "neck_r", "left_knee", "right_knee"]
    assert [one.side for one in wording.all_apart(names, table)] == [None, None, None, None, "left", "right"]
    assert [one.side for one in wording.all_apart(["hand_l", "hand_r"], table)] == ["left", "right"]


def test_a_word_that_merely_contains_a_side_is_none():
    for name in ("bright_lamp", "uplift", "cleft_joint", "Rightful"):
        assert wording.taken_apart(name, BOOK.names).side in (None, "right" if name == "Rightful" else None)


def test_the_template_reads_back_as_what_was_guessed(tmp_path):
    character = broken.bare()
    path = tmp_path / "roles.toml"
    path.write_text(audit.roles_template(character), encoding="utf-8")
    looked_at = subject.of(character)
    guessed = guess.roles(looked_at, BOOK)
    settled = roles.settled(guess.Roles({}, {}, None, {}), path, looked_at.names)
    assert settled.joints == guessed.joints
    np.testing.assert_allclose(settled.plane.normal, guessed.plane.normal)
    for role, axis in settled.hinges.items():
        np.testing.assert_allclose(axis, guessed.hinges[role], atol=1e-8)


@pytest.mark.parametrize(
    "name", ['a"b\\c', "tab\there", "line\nbreak", "\x7f\x00", "\ud800", "\U0001f916", "# not a comment", "']]\n[hinges]"]
)
def test_hostile_names_stay_inside_their_quotes(name):
    text = roles.template(roles.Roles({"head": 0}, {}, None, {"head": "name"}), [name], f"file {name}")
    read = tomllib.loads(text)
    assert read["joints"]["head"] == name.replace("\ud800", "\ufffd")
    assert set(read) == {"joints", "hinges"}


def test_a_roles_file_settles_what_was_guessed():
    character = broken.bare()
    given = {
        "joints": {"left_elbow": "left_wrist_joint", "left_wrist": "left_gripper_joint", "left_shoulder": "left_elbow_joint", "head": ""}
    }
    report = audit.examine(character, roles=given)
    assert (
        "up",
        "Tally, variant 0",
        "no ankle and head are known: name them in a roles file",
    ) not in report.not_examined  # the body stands in
    assert any(found.where == "left_wrist_joint" for found in report.of("hinge_sides") + report.of("prebend") + report.of("bend_side"))


@pytest.mark.parametrize(
    "given, told_",
    [
        ({"joints": {"left_elbo": "x"}}, "no role is called 'left_elbo'; did you mean 'left_elbow'"),
        ({"joints": {"left_elbow": "left_elbow_jont"}}, "no joint here; did you mean 'left_elbow_joint'"),
        ({"joint": {}}, "'joint' is not expected; did you mean 'joints'"),
        ({"plane": {"normal": [1, 0, 0]}}, "expected point and normal"),
        ({"plane": {"normal": [0, 0, 0], "point": [0, 0, 0]}}, "length 0"),
        ({"hinges": {"left_elbow": [0, 0]}}, "shape"),
    ],
)
def test_a_slip_in_a_roles_file_is_told(given, told_):
    with pytest.raises(ValueError, match=told_):
        audit.examine(broken.bare(), roles=given)


def test_what_has_no_role_is_not_examined():
    lone = rk.Character("arm", rk.Skeleton(["a", "b", "c"], [-1, 0, 1], [[0, 1, 0], [0.3, 0, 0], [0.3, 0, 0.05]]), [])
    report = audit.examine(lone)
    assert {"prebend", "bend_side", "up"} <= {rule for rule, *_ in report.not_examined}
    assert {"prebend", "bend_side", "up"}.isdisjoint(report.examined)
