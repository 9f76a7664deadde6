"""Rule files are read strictly: what is not known is an error that names what is near it."""

import math

import pytest

from rigkit import audit
from rigkit.audit import rulebook
from tests.audit import broken


def test_a_file_changes_only_what_it_states(tmp_path):
    path = tmp_path / "ours.toml"
    path.write_text("[rules.joint_centre]\nlimit = 2\nseverity = 'fault'\n[colours]\nleft = '#0072B2'\n")
    ours, default = rulebook.read(path), rulebook.read()
    assert ours.rules["joint_centre"].limit == 2.0 and ours.rules["joint_centre"].severity == "fault"
    assert ours.rules["joint_centre"].why == default.rules["joint_centre"].why
    assert {k: v for k, v in ours.rules.items() if k != "joint_centre"} == {k: v for k, v in default.rules.items() if k != "joint_centre"}
    assert default.colours["left"] == "#56B4E9"


@pytest.mark.parametrize(
    "given, told",
    [
        ({"rules": {"joint_center": {"limit": 2}}}, "no rule is called 'joint_center'; did you mean 'joint_centre'"),
        ({"rule": {}}, "no table is called 'rule'; did you mean 'rules'"),
        ({"rules": {"prebend": {"limt": 2}}}, "no key is called 'limt'; did you mean 'limit'"),
        ({"rules": {"prebend": {"limit": 2}}}, r"expected the form of \[2.0, 60.0\]"),
        ({"rules": {"prebend": {"limit": [9, 2]}}}, "low first"),
        ({"rules": {"prebend": {"limit": [1, 2, 3]}}}, "low first"),
        ({"rules": {"joint_centre": {"limit": "5 mm"}}}, "expected a number"),
        ({"rules": {"joint_centre": {"limit": True}}}, "expected a number"),
        ({"rules": {"joint_centre": {"limit": math.nan}}}, "expected a number"),
        ({"rules": {"joint_centre": {"unit": "cm"}}}, "unit is 'cm'; expected 'mm'"),
        ({"rules": {"joint_centre": {"severity": "loook"}}}, "did you mean 'look'"),
        ({"rules": {"joint_centre": 5}}, "expected a table"),
        ({"rules": 5}, "expected a table"),
        ({"colours": {"left": "blue"}}, "expected the form #rrggbb"),
        ({"colours": {"lft": "#000000"}}, "did you mean 'left'"),
        ({"names": {"left": "l"}}, "expected something like"),
        ({"names": {"left": [1]}}, "expected a list of texts"),
        ({"names": {"pattern": "("}}, "no regular expression"),
        ({"settings": {"near_plane_mm": "wide"}}, "expected something like 15.0"),
    ],
)
def test_a_slip_in_a_rule_file_is_told(given, told):
    with pytest.raises(ValueError, match=told):
        rulebook.read(given)


def test_text_that_is_no_toml_and_a_missing_file_are_told(tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text("[rules\n")
    with pytest.raises(ValueError, match="bad.toml is no TOML"):
        rulebook.read(path)
    with pytest.raises(ValueError, match="No such file"):
        rulebook.read(tmp_path / "none.toml")


def test_a_rule_turned_off_is_not_examined_and_not_passed():
    report = audit.examine(broken.BROKEN["near_plane"][0](), {"rules": {"near_plane": {"severity": "off"}}})
    assert list(report) == [] and "near_plane" not in report.examined
    assert ("near_plane", "", "turned off in the rule file") in report.not_examined


def test_a_pattern_of_ones_own_replaces_the_courses():
    report = audit.examine(broken.bare(), {"names": {"pattern": "(left|right|centre)_[a-z0-9_]+_joint"}})
    assert list(report) == []
    report = audit.examine(broken.bare(), {"names": {"pattern": "J_.*"}})
    assert len(report.of("name_pattern")) == 46


def test_every_row_says_why_and_what_to_do_in_plain_words():
    for rule in rulebook.read().rules.values():
        assert len(rule.why) > 20 and len(rule.do) > 6 and not rule.why.endswith(".") and rule.why[0].islower()


def test_colours_of_a_rule_file_are_measured():
    report = audit.examine(broken.healthy(), {"colours": {"left": "#0072B2"}})
    assert report.broken == {"control_colour"}
    assert all(found.where.startswith("left_") for found in report)
