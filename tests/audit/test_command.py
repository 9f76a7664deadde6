"""The command `rigkit audit`: exit codes, what it prints and what it writes."""

import base64
import json
import re
import tomllib
from argparse import Namespace

import numpy as np
import pytest

import rigkit as rk
from rigkit import cli
from rigkit.audit import command
from rigkit.audit.rules import RULES
from tests.audit import broken

OPTIONS = {
    "rules": None,
    "roles": None,
    "baseline": None,
    "html": None,
    "json": False,
    "all": False,
    "roles_template": False,
    "baseline_template": False,
    "no_progress": True,
}


def run(character, **options):
    """The exit code for a character that a loader hands over."""
    return command.run(
        Namespace(file="robot.glb", **(OPTIONS | options)), lambda path: character, lambda report, found: "<html>page</html>"
    )


def test_a_clean_character_ends_with_0_and_a_poor_one_with_1(capsys):
    assert run(broken.healthy()) == 0
    assert "no finding" in capsys.readouterr().out
    assert run(broken.BROKEN["near_plane"][0]()) == 1
    assert "near_plane" in capsys.readouterr().out


def test_json_is_all_that_is_printed(capsys, tmp_path):
    page = tmp_path / "page.html"
    assert run(broken.BROKEN["near_plane"][0](), json=True, html=str(page)) == 1
    assert json.loads(capsys.readouterr().out)["findings"][0]["rule"] == "near_plane"
    assert page.read_text() == "<html>page</html>"


def test_a_stale_entry_without_end_is_json_too(capsys, tmp_path):
    known = tmp_path / "known.toml"
    known.write_text('[[accepted]]\nrule = "prebend"\nwhere = "x"\nvalue = inf\nreason = "old"\n')
    assert run(broken.bare(), json=True, baseline=str(known)) == 0
    assert json.loads(capsys.readouterr().out)["stale"] == [{"rule": "prebend", "where": "x", "value": None, "reason": "old"}]


def test_templates_are_toml_and_nothing_else(capsys):
    assert run(broken.healthy(), roles_template=True) == 0
    assert tomllib.loads(capsys.readouterr().out)["joints"]["left_elbow"] == "left_elbow_joint"
    assert run(broken.BROKEN["near_plane"][0](), baseline_template=True) == 0
    assert tomllib.loads(capsys.readouterr().out)["accepted"][0]["rule"] == "near_plane"


def test_the_commands_help_has_an_example(capsys):
    with pytest.raises(SystemExit) as stopped:
        cli.main(["audit", "--help"])
    assert stopped.value.code == 0
    assert "example: rigkit audit" in capsys.readouterr().out


# ---- end to end, on files written by hand as glTF 2.0 (ISO/IEC 12113:2022) says --------------------------------


def arm(tmp_path, weights=((1, 0, 0, 0), (0.5, 0.5, 0, 0), (0, 1, 0, 0)), names=("left_shoulder_joint", "left_elbow_joint"), **root):
    """A .gltf with a tube on two joints: rings at heights 1, 0.7 and 0.4, one row of weights each."""
    ring = np.array([[np.cos(t), 0, np.sin(t)] for t in np.linspace(0, 2 * np.pi, 8, endpoint=False)]) * 0.05
    points = np.concatenate([ring + (0, h, 0) for h in (1.0, 0.7, 0.4)]).astype("<f4")
    faces = [[k + a, k + (a + 1) % 8, k + 8 + a] for k in (0, 8) for a in range(8)]
    faces += [[k + (a + 1) % 8, k + 8 + (a + 1) % 8, k + 8 + a] for k in (0, 8) for a in range(8)]
    binds = [np.eye(4), np.eye(4)]
    binds[0][1, 3], binds[1][1, 3] = -1.0, -0.7
    blobs = [
        points.tobytes(),
        np.array(faces, "<u2").tobytes(),
        np.tile([0, 1, 0, 0], (24, 1)).astype("u1").tobytes(),
        np.repeat(weights, 8, axis=0).astype("<f4").tobytes(),
        np.array([m.T for m in binds]).astype("<f4").tobytes(),
    ]
    kinds = [(5126, "VEC3", 24), (5123, "SCALAR", 96), (5121, "VEC4", 24), (5126, "VEC4", 24), (5126, "MAT4", 2)]
    starts = np.cumsum([0, *map(len, blobs)])
    accessors = [{"bufferView": k, "componentType": c, "type": t, "count": n} for k, (c, t, n) in enumerate(kinds)]
    accessors[0] |= {"min": points.min(axis=0).tolist(), "max": points.max(axis=0).tolist()}
    attributes = {"POSITION": 0, "JOINTS_0": 2, "WEIGHTS_0": 3}
    document = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0, 2]}],
        "nodes": [
            {"name": names[0], "translation": [0, 1, 0], "children": [1]},
            {"name": names[1], "translation": [0, -0.3, 0]},
            {"name": "skin", "mesh": 0, "skin": 0},
        ],
        "meshes": [{"primitives": [{"attributes": attributes, "indices": 1}]}],
        "skins": [{"joints": [0, 1], "inverseBindMatrices": 4}],
        "accessors": accessors,
        "bufferViews": [{"buffer": 0, "byteOffset": int(s), "byteLength": len(b)} for s, b in zip(starts, blobs)],
        "buffers": [
            {"byteLength": int(starts[-1]), "uri": "data:application/octet-stream;base64," + base64.b64encode(b"".join(blobs)).decode()}
        ],
    } | root
    path = tmp_path / "arm.gltf"
    path.write_text(json.dumps(document))
    return path


def audited(capsys, *arguments):
    code = cli.main(["audit", *map(str, arguments)])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_a_file_is_audited_from_the_command_line(tmp_path, capsys):
    page = tmp_path / "arm.html"
    code, out, _ = audited(capsys, arm(tmp_path), "--json", "--html", page)
    read = json.loads(out)
    assert code == 1 and {found["rule"] for found in read["findings"]} == {"counterpart"}  # an arm of the left alone
    assert {"joint_centre", "weight_sum", "zero_bone"} <= {row["rule"] for row in read["examined"]}
    assert "control_pivot" in {row["rule"] for row in read["not_examined"]}
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_a_file_within_ones_own_rules_is_clean(tmp_path, capsys):
    rules = tmp_path / "ours.toml"
    rules.write_text('[rules.counterpart]\nseverity = "off"\n')
    code, out, _ = audited(capsys, arm(tmp_path), "--rules", rules)
    assert code == 0 and "no finding" in out


def test_a_negative_weight_in_a_file_is_found(tmp_path, capsys):
    code, out, _ = audited(capsys, arm(tmp_path, ((1, 0, 0, 0), (1.5, -0.5, 0, 0), (0, 1, 0, 0))), "--json")
    read = json.loads(out)
    assert code == 1 and any("below zero" in found["what"] for found in read["findings"] if found["rule"] == "file_mended")
    assert {"weight_negative", "weight_sum"} <= {row["rule"] for row in read["not_examined"]}


def test_a_name_that_is_there_twice_in_a_file_is_found(tmp_path, capsys):
    _, out, _ = audited(capsys, arm(tmp_path, names=("left_arm_joint", "left_arm_joint")), "--json")
    read = json.loads(out)
    assert any("another node's" in found["what"] for found in read["findings"] if found["rule"] == "file_mended")
    assert "name_duplicate" in {row["rule"] for row in read["not_examined"]}


@pytest.mark.parametrize(
    "root, told",
    [
        ({"nodes": [{"children": [1]}, {"children": [0]}, {}]}, "cycle|more than one|roots"),
        ({"asset": {"version": "1.0"}}, "version"),
        ({"accessors": []}, r"meshes\[0\]\.primitives\[0\]\.attributes\.POSITION is 0; expected none"),
    ],
)
def test_what_can_not_be_read_ends_with_3_and_names_the_place(tmp_path, capsys, root, told):
    code, out, err = audited(capsys, arm(tmp_path, **root))
    assert code == 3 and out == "" and "arm.gltf" in err
    assert re.search(told, err)


def test_a_file_that_is_not_there_ends_with_3(tmp_path, capsys):
    code, _, err = audited(capsys, tmp_path / "none.glb")
    assert code == 3 and "none.glb" in err


def test_a_slip_in_a_rule_file_ends_with_3(tmp_path, capsys):
    rules = tmp_path / "ours.toml"
    rules.write_text("[rules.counterprt]\nlimit = 1\n")
    code, _, err = audited(capsys, arm(tmp_path), "--rules", rules)
    assert code == 3 and "did you mean 'counterpart'" in err


def test_a_saved_tally_is_clean_and_all_rules_examine_it(tmp_path, capsys):
    path = tmp_path / "tally.glb"
    rk.save(broken.healthy(), path)
    code, out, _ = audited(capsys, path, "--json")
    read = json.loads(out)
    assert code == 0 and read["findings"] == [] and read["not_examined"] == []
    assert {row["rule"] for row in read["examined"]} == set(RULES)


@pytest.mark.slow
@pytest.mark.parametrize(
    "rule",
    [
        "feet_floor",
        "name_side",
        "zero_bone",
        "prebend",
        "hinge_chain",
        "near_plane",
        "control_pivot",
        "marker_side",
        "double_transform",
        "hinge_range",
        "foot_contact",
    ],
)
def test_a_poor_rig_is_as_poor_in_a_file(rule, tmp_path, capsys):
    make, others = broken.BROKEN[rule]
    path = tmp_path / "poor.glb"
    rk.save(make(), path)
    code, out, _ = audited(capsys, path, "--json")
    assert code == 1 and {found["rule"] for found in json.loads(out)["findings"]} == {rule} | others
