"""Handing out and handing in: copies from a roster, one packed file with a list and a receipt, and what is not whole is told."""

import csv
import json
import shutil
import subprocess
import zipfile

import pytest

from rigkit import cli
from rigkit.course import archive, coursefile, handin, handout, lab, learner
from rigkit.files import shared

NAMES = ("00-start-here.ipynb", "06-two-bones.ipynb")
ROSTER = '\ufeffid,name,seat\nada7,Ada A.,3\n\nbo,"B., Bo",4\n'


@pytest.fixture
def workbooks(tmp_path, monkeypatch):
    """A workbook of two chapters, laid out and missed alike."""
    place = tmp_path / "workbooks"
    place.mkdir()
    for name in NAMES:
        shutil.copy(shared("workbooks", name), place)
    for module in (lab, handin):
        monkeypatch.setattr(module, "shared", lambda *parts: tmp_path.joinpath(*parts))
    return place


@pytest.fixture
def roster(tmp_path):
    """A class of two, as a table program writes it."""
    path = tmp_path / "roster.csv"
    path.write_text(ROSTER, encoding="utf-8")
    return path


def test_a_class_gets_a_copy_each_with_its_variant_and_no_name_in_it(workbooks, roster, tmp_path, capsys):
    out = tmp_path / "out"
    for _ in range(2):  # done again, nothing changes
        assert cli.main(["handout", str(roster), str(out)]) == 0
        for one in ("ada7", "bo"):
            who = learner.read(out / one)
            assert (who.id, who.variant) == (one, learner.variant_of(one))
            assert sorted(path.name for path in (out / one).glob("*.ipynb")) == list(NAMES)
        assert list(csv.reader((out / "class.csv").open())) == [
            ["id", "name", "variant", "copy"],
            ["ada7", "Ada A.", "7", "ada7"],
            ["bo", "B., Bo", "23", "bo"],
        ]
        (out / "bo" / NAMES[1]).write_bytes(b"work")
    assert (out / "bo" / NAMES[1]).read_bytes() == b"work"
    assert not [path for path in out.rglob("*") if path.is_file() and path.name != "class.csv" and b"Ada A." in path.read_bytes()]
    assert "robot variant 23" in capsys.readouterr().out


def test_zips_to_send_unpack_to_a_folder_one_can_work_in(workbooks, roster, tmp_path):
    course = tmp_path / "course.toml"
    course.write_text('name = "Short"\nchapters = ["06"]\n')
    for _ in range(2):
        copies, _ = handout.hand_out(handout.read_roster(roster), tmp_path / "out", course, zipped=True)
    assert [copy.new for copy in copies] == [0, 0]
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["ada7.zip", "bo.zip", "class.csv"]
    with zipfile.ZipFile(tmp_path / "out" / "bo.zip") as packed:
        packed.extractall(tmp_path / "home")
    who, copied = lab.prepare(tmp_path / "home" / "rigkit-bo")
    assert who.id == "bo" and [(one.name, one.what) for one in copied] == [(NAMES[1], "same")]
    assert coursefile.of_folder(tmp_path / "home" / "rigkit-bo").name == "Short"
    coursefile.use()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "has the columns none; expected id and name"),
        ("name\nAda\n", "has the columns name; expected id and name"),
        ("id;name\n", "names nobody"),
        ("id;name\nada7;Ada\n../bo;Bo\n", "line 3: learner id '../bo' is not one"),
        ("id,name\nada7,Ada\nADA7,Adam\n", "line 3: ADA7 is there twice"),
        ('id,name\nada7,"Ada\n', "can't be read"),
    ],
)
def test_a_roster_that_can_not_be_read_names_the_line_and_makes_nothing(tmp_path, capsys, text, words):
    (tmp_path / "r.csv").write_text(text)
    assert cli.main(["handout", str(tmp_path / "r.csv"), str(tmp_path / "out")]) == 3
    assert words in capsys.readouterr().err and not (tmp_path / "out").exists()


@pytest.fixture
def folder(workbooks, tmp_path):
    """ada7's folder with both chapters."""
    lab.prepare(tmp_path / "mine", "ada7")
    return tmp_path / "mine"


def test_a_packed_file_is_whole_and_the_same_work_has_the_same_receipt(folder, capsys):
    assert cli.main(["handin", "--folder", str(folder)]) == 0
    packed = folder / "hand-in" / "ada7.zip"
    first, told = packed.read_bytes(), capsys.readouterr().out
    assert cli.main(["handin", "--folder", str(folder)]) == 0
    assert packed.read_bytes() == first and handin.receipt(first) in told
    assert (folder / "hand-in" / handin.RECEIPTS).read_text().count(handin.receipt(first)) == 2
    found = handin.check(first)
    assert (found.learner, found.lines, sorted(found.found)) == ("ada7", (), list(NAMES))
    assert cli.main(["handin", "--check", str(packed)]) == 0
    assert f"of learner ada7\n  {NAMES[0]}" in capsys.readouterr().out


@pytest.mark.source("coreutils")
@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="no sha256sum to compare with")
def test_the_receipt_is_what_sha256sum_says(folder):
    handin.pack_told(folder)
    packed = folder / "hand-in" / "ada7.zip"
    told = subprocess.run(["sha256sum", str(packed)], capture_output=True, text=True, check=True).stdout
    assert told.split()[0] == handin.receipt(packed.read_bytes())


def test_what_is_missing_or_can_not_be_read_is_told_before_it_is_sent(folder, capsys):
    (folder / NAMES[0]).write_bytes(b"{")
    (folder / NAMES[1]).unlink()
    assert cli.main(["handin", "--folder", str(folder)]) == 1
    told = capsys.readouterr().out
    assert f"{NAMES[1]} is not in the folder" in told and f"{NAMES[0]} is no notebook that can be read" in told
    (folder / NAMES[0]).write_bytes(b'{"cells": []' + b" " * (11 << 20) + b"}")
    assert cli.main(["handin", "--folder", str(folder)]) == 1
    assert "it has more than 10485760 bytes" in capsys.readouterr().out


def test_a_notebook_as_tight_as_a_bomb_is_packed_so_that_it_is_taken_in(folder):
    """An output of a million equal letters: honest, and packed a thousand times smaller it would be refused."""
    (folder / NAMES[1]).write_bytes(json.dumps({"cells": [], "x": "x" * 2_000_000}).encode())
    assert handin.pack(folder, learner.read(folder)).lines == ()


def test_a_folder_of_nobody_packs_nothing(tmp_path, capsys):
    assert cli.main(["handin", "--folder", str(tmp_path)]) == 3
    assert "belongs to no learner yet" in capsys.readouterr().err and not list(tmp_path.iterdir())


def rewritten(folder, change):
    """The bytes of ada7's hand-in with its files changed by `change(dict)`."""
    handin.pack(folder, learner.read(folder))
    with zipfile.ZipFile(folder / "hand-in" / "ada7.zip") as packed:
        files = {name: packed.read(name) for name in packed.namelist()}
    change(files)
    with zipfile.ZipFile(folder / "new.zip", "w") as packed:
        for name, data in files.items():
            packed.writestr(name, data)
    return (folder / "new.zip").read_bytes()


@pytest.mark.parametrize(
    ("change", "line"),
    [
        (lambda files: files.update({NAMES[1]: b"{}"}), f"{NAMES[1]} was changed after it was packed"),
        (lambda files: files.pop(NAMES[1]), f"{NAMES[1]} is on its list and not in it"),
        (lambda files: files.update({"07-feet.ipynb": b"{}"}), "07-feet.ipynb is in it and not on its list"),
        (lambda files: files.update({handin.FILE: b"["}), "its list, hand-in.json, can't be read"),
        (lambda files: files.update({handin.FILE: b"[]"}), "it is no list of a hand-in"),
        (lambda files: files.update({handin.FILE: b"[" * 100_000}), "it is no list of a hand-in"),
        (lambda files: files.update({handin.FILE: b" " * (1 << 18)}), "it has more than"),
        (
            lambda files: files.update({handin.FILE: files[handin.FILE].replace(b"hand-in-1", b"hand-in-9")}),
            "its schema is 'rigkit-hand-in-9'",
        ),
        (lambda files: files.update({handin.FILE: files[handin.FILE].replace(b'"ada7"', b'"../x"')}), "learner id '../x' is not one"),
        (lambda files: files.update({handin.FILE: files[handin.FILE].replace(b'"sha256": "', b'"sha256": "x')}), "its hashes are none"),
    ],
    ids=range(10),
)
def test_a_file_that_was_changed_on_the_way_is_found_out(folder, change, line):
    found = handin.check(rewritten(folder, change))
    assert any(line in told for told in found.lines), found.lines
    assert all(told.isprintable() for told in found.lines)


def test_what_is_no_zip_is_refused_with_a_reason(tmp_path, capsys):
    (tmp_path / "x.zip").write_bytes(b"x")
    assert cli.main(["handin", "--check", str(tmp_path / "x.zip")]) == 3
    assert "it is not a zip" in capsys.readouterr().err
    with pytest.raises(archive.Trouble):
        handin.check(b"")
