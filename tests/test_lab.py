"""The learner's folder: copies are laid out, work is never overwritten, a damaged record loses nothing."""

import json
import re
import subprocess
import sys

import pytest

from rigkit import cli
from rigkit.course import lab, learner, moving
from rigkit.files import shared


@pytest.fixture
def workbooks(tmp_path, monkeypatch):
    """A workbook of two chapters that the test may change."""
    place = tmp_path / "workbooks"
    place.mkdir()
    for name in ("00-start-here.ipynb", "06-two-bones.ipynb"):
        (place / name).write_text(edition(f"first edition of {name}"))
    monkeypatch.setattr(lab, "shared", lambda *parts: tmp_path.joinpath(*parts))
    return place


def edition(text, *answers):
    """A notebook that says `text` and has been run, with code cells of answers behind."""
    ran = [{"output_type": "stream", "name": "stdout", "text": ["from another robot"]}]
    cells = [{"cell_type": "markdown", "id": "a", "metadata": {}, "source": [text]},
             {"cell_type": "code", "id": "b", "metadata": {}, "source": ["1 + 1"], "execution_count": 7, "outputs": ran}]
    cells += [{"cell_type": "code", "id": f"c{n}", "metadata": {}, "source": one, "execution_count": 1, "outputs": []} for n, one in enumerate(answers)]
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


def test_a_newer_chapter_takes_the_answers_and_leaves_the_work_as_it_was(workbooks, tmp_path):
    mine = tmp_path / "mine"
    lab.prepare(mine)
    work = edition("first edition of 06-two-bones.ipynb", "elbow = (1, 2, 3)", "my_own = 5")
    (mine / "06-two-bones.ipynb").write_text(work)
    assert told(mine)["06"] == "same"
    (workbooks / "06-two-bones.ipynb").write_text(edition("second edition", "wrist = ...", "elbow = ..."))
    copied = lab.prepare(mine)[1][1]
    assert (copied.what, copied.answers, copied.beside) == ("moved", 1, "06-two-bones-older.ipynb")
    assert "1 of your cells was moved into it" in str(copied)
    assert (mine / "06-two-bones-older.ipynb").read_text() == work
    laid = (mine / "06-two-bones.ipynb").read_text()
    assert "second edition" in laid and "elbow = (1, 2, 3)" in laid and "wrist = ..." in laid
    assert told(mine)["06"] == "same"
    (workbooks / "06-two-bones.ipynb").write_text(edition("third edition", "elbow = ..."))
    assert lab.prepare(mine)[1][1].beside == "06-two-bones-older2.ipynb"
    assert (mine / "06-two-bones-older.ipynb").read_text() == work and "elbow = (1, 2, 3)" in (mine / "06-two-bones.ipynb").read_text()


def test_beside_work_that_can_not_be_read_the_newer_chapter_is_laid_once(workbooks, tmp_path):
    mine = tmp_path / "mine"
    lab.prepare(mine)
    (mine / "06-two-bones.ipynb").write_text("my work")
    (workbooks / "06-two-bones.ipynb").write_text(edition("second edition"))
    assert told(mine)["06"] == "kept"
    assert (mine / "06-two-bones.ipynb").read_text() == "my work"
    assert "second edition" in (mine / "06-two-bones-newer.ipynb").read_text()
    assert told(mine)["06"] == "same"


def cells(*sources):
    """A notebook of code cells, as bytes."""
    return json.dumps({"cells": [{"cell_type": "code", "metadata": {}, "source": one, "outputs": []} for one in sources]}).encode()


def after(mine, newer):
    """The sources of the newer notebook after the answers of mine were moved in."""
    return ["".join(cell["source"]) for cell in json.loads(moving.moved(mine, newer)[0])["cells"]]


@pytest.mark.parametrize("mine,newer,expected", [
    ('chapter.predict("06.a", "b")', 'chapter.predict("06.a", ..., choices=["x"])', 'chapter.predict("06.a", "b")'),
    ("chapter.recall(2, 'a')", "chapter.recall(1, ...)", "chapter.recall(1, ...)"),
    ("def f(a):\n    return a", "def f(a):\n    ...", "def f(a):\n    return a"),
    ("def f(a):\n    ...", "def f(a, b):\n    ...", "def f(a, b):\n    ..."),
    ("def f(a):\n    return (", "def f(a):\n    ...", "def f(a):\n    ..."),
    ("a, b = 1, 2", "a = ...\nb = ...", "a, b = 1, 2"),
    ("a = 1\nb = 2\nif a is not ...:\n    print(a)", "a = ...\nb = ...", "a = 1\nb = 2\nif a is not ...:\n    print(a)"),
    ("a = 5", "a = 2", "a = 2"),
    ("print(1)", "print(2)", "print(2)"),
])
def test_an_answer_is_known_by_what_it_fills(mine, newer, expected):
    assert after(cells(mine), cells(newer)) == [expected]


def test_cells_that_fill_the_same_are_taken_in_their_order():
    assert after(cells("words = 'one'", "words = 'two'"), cells("words = '...'", "x = ...", "words = '...'")) == ["words = 'one'", "x = ...", "words = 'two'"]


def waiting_cells(notebook):
    """The cells of a notebook that wait for an answer; the worked copy leaves open what has to be said in one's own words."""
    sources = [moving._source(cell) for cell in moving._code(json.loads(notebook.read_bytes()))]
    return [source for source in sources if moving._slots(source) and moving._open(source)]


@pytest.mark.parametrize("chapter", sorted(shared("workbooks").glob("[0-9][0-9]-*.ipynb")), ids=lambda path: path.name[:2])
def test_the_worked_copy_s_answers_move_into_the_learner_copy(chapter):
    """Every cell that waits in the learner copy finds its answer in the worked copy, which other cells don't lose theirs to."""
    worked = chapter.parent / "worked" / chapter.name
    answered, count = moving.moved(worked.read_bytes(), chapter.read_bytes())
    waiting, left = (waiting_cells(path) for path in (chapter, worked))
    assert count == len(waiting) - len(left) > 0
    right = {moving._source(cell).strip() for cell in moving._code(json.loads(worked.read_bytes()))}
    assert all(moving._source(cell).strip() in right for cell in moving._code(json.loads(answered)))


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
    commands = next(action.choices for action in cli._parser()._actions if action.dest == "command")
    assert {"lab", "handout", "handin", "grade", "oneroster", "audit"} <= set(commands)
    for command in commands:
        with pytest.raises(SystemExit) as stop:
            cli.main([command, "--help"])
        assert stop.value.code == 0
        assert re.search(rf"examples?:\s+rigkit {command}", capsys.readouterr().out), command


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
