"""Taking hand-ins in: each trouble is a named line about one learner, and nothing is followed, unpacked or run."""

import io
import json
import os
import re
import struct
import tracemalloc
import zipfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigkit.grading import intake
from tests.grading.make_class import notebook

CHAPTERS = {"00": "00-start-here.ipynb", "06": "06-two-bones.ipynb"}
NAME = CHAPTERS["06"]


def take(folder):
    """(sources by learner and chapter, {learner: [lines]}) of a folder."""
    sources, problems, _ = intake.find(folder, CHAPTERS)
    lines = {}
    for problem in problems:
        lines.setdefault(problem.learner, []).append(problem.line)
    return {(source.learner, source.chapter): source for source in sources}, lines


SOUND = notebook(["x = 1"])


def put(folder, learner, name=NAME, data=SOUND):
    """Write a file of a learner's hand-in."""
    (folder / learner).mkdir(exist_ok=True)
    (folder / learner / name).write_bytes(data)


def pack(folder, learner, members, kind=zipfile.ZIP_DEFLATED):
    """Write a learner's zip."""
    with zipfile.ZipFile(folder / f"{learner}.zip", "w", kind) as archive:
        for name, data in members.items():
            archive.writestr(name, data)


def test_folders_and_zips_are_taken_in_alike(tmp_path):
    """Learner by folder or by zip, a notebook at any depth of a zip."""
    put(tmp_path, "ada7")
    put(tmp_path, "ada7", CHAPTERS["00"])
    pack(tmp_path, "bo", {f"work/{NAME}": notebook(["y = 2"]), "notes.txt": b"-", "__MACOSX/06-x.ipynb": b"-"})
    sources, lines = take(tmp_path)
    assert set(sources) == {("ada7", "00"), ("ada7", "06"), ("bo", "06")}
    assert not lines
    assert intake.cells(intake.read(sources["bo", "06"])) == ["y = 2"]
    assert not any(path.name == "work" for path in tmp_path.rglob("*"))


def test_the_right_file_name_counts_and_copies_are_named(tmp_path):
    """A browser adds (1) to a second download."""
    for name in ("06-two-bones (1).ipynb", NAME, "06-two-bones-copy.ipynb", "99-extra.ipynb", "mine.ipynb"):
        put(tmp_path, "ada7", name)
    sources, lines = take(tmp_path)
    assert sources["ada7", "06"].name == NAME
    assert len(lines["ada7"]) == 4
    assert sum("a second notebook of chapter 06" in line for line in lines["ada7"]) == 2


def test_links_pipes_and_strange_things_are_named_and_not_opened(tmp_path):
    """Opening a pipe would wait for ever; following a link would read the host."""
    put(tmp_path, "honest")
    secret = tmp_path.parent / "secret.ipynb"
    secret.write_bytes(notebook(["secret"]))
    (tmp_path / "linker").mkdir()
    (tmp_path / "linker" / NAME).symlink_to(secret)
    (tmp_path / "whole").symlink_to(tmp_path / "honest")
    (tmp_path / "zipped.zip").symlink_to(secret)
    (tmp_path / "piper").mkdir()
    os.mkfifo(tmp_path / "piper" / NAME)
    os.mkfifo(tmp_path / "pipe.zip")
    (tmp_path / "folder").mkdir()
    (tmp_path / "folder" / NAME).mkdir()
    put(tmp_path, "bad\x1b[2J")
    (tmp_path / "loose.ipynb").write_bytes(b"")
    (tmp_path / "list.txt").write_bytes(b"")
    sources, lines = take(tmp_path)
    assert intake.cells(intake.read(sources["honest", "06"])) == ["x = 1"]
    for learner, why in {"linker": "it is a link", "piper": "not a regular file", "folder": "not a regular file"}.items():
        with pytest.raises(intake.Trouble, match=why):
            intake.read(sources[learner, "06"])
    assert "link" in lines["whole"][0] and "link" in lines["zipped"][0] and "regular" in lines["pipe"][0]
    assert "outside a learner's folder" in lines["loose.ipynb"][0] and "neither" in lines["list.txt"][0]
    assert all(who.isprintable() for who in lines) and "bad?[2J" in lines


@pytest.mark.parametrize("learner", ["a b", "=cmd", "-rf", "ä", "x" * 65, "_"])
def test_a_folder_whose_name_is_no_learner_id_is_named(tmp_path, learner):
    """Ids are letters, digits, - _ and ., as everywhere in the course."""
    put(tmp_path, learner)
    sources, lines = take(tmp_path)
    assert not sources
    assert "learner id" in lines[learner][0]


def test_a_missing_folder_is_trouble(tmp_path):
    """Nothing can be done then."""
    with pytest.raises(intake.Trouble, match="No such file"):
        intake.find(tmp_path / "no", CHAPTERS)


def zip_trouble(tmp_path, data):
    """The line about a zip of these bytes."""
    (tmp_path / "zipper.zip").write_bytes(data)
    sources, lines = take(tmp_path)
    if sources:
        with pytest.raises(intake.Trouble) as why:
            intake.cells(intake.read(sources["zipper", "06"]))
        return str(why.value)
    return lines["zipper"][0]


def zipped(members, kind=zipfile.ZIP_DEFLATED):
    """The bytes of a zip; members: list of (ZipInfo or name, data)."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", kind) as archive:
        for name, data in members:
            archive.writestr(name, data)
    return stream.getvalue()


def linked():
    """A member that says it is a symbolic link."""
    info = zipfile.ZipInfo(NAME)
    info.external_attr = 0o120777 << 16
    return zipped([(info, b"/etc/passwd")])


def patched(data, old, new):
    """Bytes with every `old` exchanged for `new` of the same length."""
    assert old in data and len(old) == len(new)
    return data.replace(old, new)


PLAIN_ZIP = zipped([(NAME, notebook(["x = 1"]))], zipfile.ZIP_STORED)


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "not a zip"),
        (b"PK\x05\x06", "not a zip"),
        (PLAIN_ZIP[:-10], "not a zip"),
        (PLAIN_ZIP[40:], "unpacked"),
        (zipped([("../" + NAME, b"")]), "climbs out"),
        (zipped([("/" + NAME, b"")]), "climbs out"),
        (zipped([("a/../../" + NAME, b"")]), "climbs out"),
        (zipped([("C:\\" + NAME, b"")]), "climbs out"),
        (zipped([("..\\" + NAME, b"")]), "climbs out"),
        (linked(), "a link"),
        (zipped([(NAME, b"\0" * (9 << 20))]), "unpacks to"),
        (zipped([(f"{i}", b"") for i in range(3000)]), "more than 200"),
        (zipped([("x" * 60_000, b"")] * 5), "more than 200|one name"),
        (patched(PLAIN_ZIP, b"x = 1", b"y = 1"), "CRC"),
        (zipped([(NAME, b"x" * 100)], zipfile.ZIP_BZIP2), "packed in a way"),
        (zipped([(NAME, b"x" * 100)], zipfile.ZIP_LZMA), "packed in a way"),
        (patched(PLAIN_ZIP, b"PK\x01\x02\x14\x03\x14\x00\x00", b"PK\x01\x02\x14\x03\x14\x00\x01"), "password"),
        (patched(PLAIN_ZIP, b"PK\x01\x02", b"PK\x01\x03"), "damaged"),
    ],
    ids=range(18),
)
def test_a_zip_that_is_not_sound_is_named(tmp_path, data, why):
    """Whatever it is, it is never unpacked, and nothing appears beside it."""
    line = zip_trouble(tmp_path, data)
    assert re.search(why, line) and line.isprintable()
    assert [path.name for path in tmp_path.iterdir()] == ["zipper.zip"]


def test_a_table_of_contents_that_lies_about_its_number_is_found_out(tmp_path):
    """The number says one file, the size of the table says a hundred thousand."""
    data = bytearray(zipped([(f"{i:05}", b"") for i in range(20_000)]))
    end = data.rfind(b"PK\x05\x06")
    struct.pack_into("<HH", data, end + 8, 1, 1)
    tracemalloc.start()
    assert "more than 200" in zip_trouble(tmp_path, bytes(data))
    assert tracemalloc.get_traced_memory()[1] < 20 << 20
    tracemalloc.stop()


def test_bytes_of_a_member_are_bounded_whatever_its_header_says(tmp_path):
    """The size in the header is the packer's word."""
    data = bytearray(zipped([(NAME, os.urandom(1 << 16) + b" " * (30 << 20))]))
    for signature, offset in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        struct.pack_into("<I", data, data.find(signature) + offset, 1000)
    assert zip_trouble(tmp_path, bytes(data))


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "empty"),
        (b" \n\0", "empty"),
        (b"{", "not a notebook"),
        (b"\xff\xfe{\0}\0", "not UTF-8"),
        (b"[" * 100_000, "nested too deep"),
        (b"[]", "no object"),
        (b"7", "no object"),
        (b'{"nbformat": 3, "worksheets": []}', "format 3"),
        (b'{"nbformat": "4"}', "format '4'"),
        (b'{"nbformat": 4.0}', "format 4.0"),
        (b'{"nbformat": true}', "format True"),
        (b'{"nbformat": 4}', "without a list"),
        (b'{"nbformat": 4, "cells": {}}', "without a list"),
        (b'{"nbformat": 4, "cells": [' + b",".join([b"{}"] * 3000) + b"]}", "3000 cells"),
        (b'{"nbformat": 4, "cells": [{"cell_type": "code", "source": 5}]}', "cell 1 holds no text"),
        (b'{"nbformat": 4, "cells": [{"cell_type": "code", "source": ["a", 5]}]}', "cell 1 holds no text"),
        (notebook(["x" * (3 << 20)]), "letters of code"),
        (b'{"nbformat": 4, "n": ' + b"9" * 10_000 + b"}", "not a notebook"),
    ],
    ids=range(18),
)
def test_a_notebook_that_is_not_sound_is_named(data, why):
    """Each with its reason, in signs that can be printed."""
    with pytest.raises(intake.Trouble, match=why) as trouble:
        intake.cells(data)
    assert str(trouble.value).isprintable()


def test_code_cells_come_in_order_and_everything_else_is_let_be():
    """Text cells, raw cells, unknown kinds, no metadata, doubled ids, a byte order mark, sources as lists or as text."""
    cells = [
        {"cell_type": "markdown", "source": "# x"},
        {"cell_type": "code", "id": "a", "source": ["x = 1\n", "y = 2"]},
        {"cell_type": "raw", "source": 7},
        {"cell_type": "code", "id": "a", "source": "z = 3", "outputs": "nonsense", "metadata": []},
        {"cell_type": "code"},
        5,
        None,
        {"cell_type": ["code"]},
    ]
    data = b"\xef\xbb\xbf" + json.dumps({"nbformat": 4, "nbformat_minor": 99, "cells": cells}).encode()
    assert intake.cells(data) == ["x = 1\ny = 2", "z = 3", ""]


@settings(max_examples=300, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 2000), st.binary(max_size=4), st.integers(0, 6)), min_size=1, max_size=8))
def test_mutated_notebooks_are_read_or_named(edits):
    """Nothing but Trouble, and nothing but a list of texts."""
    data = bytearray(notebook(["x = 1", "check('06.2')"]))
    for place, new, cut in edits:
        data[place % (len(data) + 1) : place % (len(data) + 1) + cut] = new
    try:
        assert all(type(source) is str for source in intake.cells(bytes(data)))
    except intake.Trouble as why:
        assert str(why).isprintable()


@settings(max_examples=300, deadline=None)
@given(edits=st.lists(st.tuples(st.integers(0, 2000), st.binary(max_size=4), st.integers(0, 6)), min_size=1, max_size=4))
def test_mutated_zips_are_read_or_named(tmp_path_factory, edits):
    """Nothing but Trouble."""
    data = bytearray(PLAIN_ZIP)
    for place, new, cut in edits:
        data[place % (len(data) + 1) : place % (len(data) + 1) + cut] = new
    folder = tmp_path_factory.mktemp("class")
    (folder / "zipper.zip").write_bytes(data)
    sources, problems, _ = intake.find(folder, CHAPTERS)
    for source in sources:
        try:
            intake.cells(intake.read(source))
        except intake.Trouble as why:
            assert str(why).isprintable()
    assert sources or problems
