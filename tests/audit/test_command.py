"""The command `rigkit audit`: exit codes, what it prints and what it writes."""

import json
import tomllib
from argparse import Namespace

import pytest

from rigkit import cli
from rigkit.audit import command
from tests.audit import broken

OPTIONS = {"rules": None, "roles": None, "baseline": None, "html": None, "json": False, "all": False, "roles_template": False,
           "baseline_template": False, "no_progress": True}


def run(character, **options):
    """The exit code for a character that a loader hands over."""
    return command.run(Namespace(file="robot.glb", **(OPTIONS | options)), lambda path: character, lambda report, found: "<html>page</html>")


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
