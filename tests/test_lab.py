"""The learner's folder: copies are laid out, work is never overwritten, a damaged record loses nothing."""

import json
import subprocess
import sys

import pytest

from rigkit import cli
from rigkit.course import lab, learner


@pytest.fixture
def workbooks(tmp_path, monkeypatch):
    """A workbook of two chapters that the test may change."""
    place = tmp_path / "workbooks"
    place.mkdir()
    for name in ("00-start-here.ipynb", "06-two-bones.ipynb"):
        (place / name).write_text(edition(f"first edition of {name}"))
    monkeypatch.setattr(lab, "shared", lambda *parts: tmp_path.joinpath(*parts))
    return place


def edition(text):
    """A notebook that says `text` and has been run."""
    ran = [{"output_type": "stream", "name": "stdout", "text": ["from another robot"]}]
    cells = [{"cell_type": "markdown", "id": "a", "metadata": {}, "source": [text]},
             {"cell_type": "code", "id": "b", "metadata": {}, "source": ["1 + 1"], "execution_count": 7, "outputs": ran}]
    return json.dumps({"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5})


def told(folder):
    return {copied.name[:2]: copied.what for copied in lab.prepare(folder)[1]}


def test_first_time_every_chapter_is_copied_and_the_learner_is_known(workbooks, tmp_path):
    who, copied = lab.prepare(tmp_path / "mine", "ada7")
    assert [c.what for c in copied] == ["new", "new"]
    assert (who.id, who.variant) == ("ada7", learner.variant_of("ada7"))
    assert learner.read(tmp_path / "mine") == who


def test_copies_carry_no_outputs_of_another_robot(workbooks, tmp_path):
    lab.prepare(tmp_path / "mine")
    laid = json.loads((tmp_path / "mine" / "06-two-bones.ipynb").read_text())
    assert laid["cells"][0]["source"] == ["first edition of 06-two-bones.ipynb"]
    assert (laid["cells"][1]["outputs"], laid["cells"][1]["execution_count"]) == ([], None)


def test_a_newer_chapter_replaces_an_untouched_copy(workbooks, tmp_path):
    lab.prepare(tmp_path / "mine")
    (workbooks / "06-two-bones.ipynb").write_text(edition("second edition"))
    assert told(tmp_path / "mine") == {"00": "same", "06": "renewed"}
    assert "second edition" in (tmp_path / "mine" / "06-two-bones.ipynb").read_text()


def test_a_newer_chapter_is_laid_beside_work_and_only_once(workbooks, tmp_path):
    mine = tmp_path / "mine"
    lab.prepare(mine)
    (mine / "06-two-bones.ipynb").write_text("my work")
    assert told(mine)["06"] == "same"
    (workbooks / "06-two-bones.ipynb").write_text(edition("second edition"))
    assert told(mine)["06"] == "kept"
    assert (mine / "06-two-bones.ipynb").read_text() == "my work"
    assert "second edition" in (mine / "06-two-bones-newer.ipynb").read_text()
    assert told(mine)["06"] == "same"


def test_a_damaged_record_of_copies_loses_no_work(workbooks, tmp_path):
    mine = tmp_path / "mine"
    lab.prepare(mine)
    (mine / "06-two-bones.ipynb").write_text("my work")
    (mine / ".rigkit" / "copied.json").write_text("{broken")
    assert told(mine) == {"00": "same", "06": "kept"}
    assert (mine / "06-two-bones.ipynb").read_text() == "my work"


def test_a_folder_keeps_its_learner(workbooks, tmp_path):
    lab.prepare(tmp_path / "mine", "ada7")
    assert lab.prepare(tmp_path / "mine")[0].id == "ada7"
    with pytest.raises(ValueError, match="belongs to learner 'ada7', not 'ben'; choose another place with --folder"):
        lab.prepare(tmp_path / "mine", "ben")


def test_a_folder_that_cannot_be_made_is_named(workbooks, tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(ValueError, match="can't write to .*file.* choose another place"):
        lab.prepare(tmp_path / "file" / "mine")


def test_settings_ask_for_no_news_and_are_json():
    settings = json.loads((lab.SETTINGS / "overrides.json").read_text())
    assert settings["@jupyterlab/apputils-extension:notification"]["fetchNews"] == "false"


def test_every_command_has_help_with_an_example(capsys):
    for command in ("lab", "grade", "points", "forget", "checkpoints"):
        with pytest.raises(SystemExit) as stop:
            cli.main([command, "--help"])
        assert stop.value.code == 0
        assert f"example: rigkit {command}" in capsys.readouterr().out


def test_wrong_usage_exits_with_2_and_bad_input_with_3(tmp_path, capsys):
    with pytest.raises(SystemExit) as stop:
        cli.main(["grade"])
    assert stop.value.code == 2
    (tmp_path / "file").write_text("")
    assert cli.main(["lab", "--prepare-only", "--folder", str(tmp_path / "file" / "x")]) == 3
    assert "can't write" in capsys.readouterr().err


def test_checkpoints_are_printed_as_json_with_their_claims(capsys):
    assert cli.main(["checkpoints", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    rows = {row["id"]: row for row in told["checkpoints"]}
    assert told["schema"] and {"00.1", "01.4", "06.2"} <= set(rows)
    assert rows["06.2"]["kind"] == "function" and int(rows["06.2"]["points"]) >= 4 and rows["06.2"]["claims"] and rows["06.2"]["mistakes"]


def test_importing_the_package_loads_no_widgets():
    program = "import sys, rigkit; rigkit.rotation; sys.exit(any(m in sys.modules for m in ('pythreejs', 'ipywidgets', 'matplotlib', 'IPython')))"
    assert subprocess.run([sys.executable, "-c", program]).returncode == 0
