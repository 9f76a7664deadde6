"""What a hand-in is, whatever it is called: whose, of which chapter, whole or not, and what hides in it."""

import csv
import io
import zipfile

import pytest

from rigkit.course import handin, learner
from rigkit.grading import coordinator, intake
from tests.grading.make_class import notebook

CHAPTERS = {"00": "00-start-here.ipynb", "06": "06-two-bones.ipynb", "07": "07-feet-that-roll.ipynb"}
SIX, SEVEN = CHAPTERS["06"], CHAPTERS["07"]


def opening(chapter, *cells):
    """A notebook that opens a chapter, as its learner copy does."""
    return notebook([f'from rigkit.course import open_chapter\nchapter = open_chapter("{chapter}")', *cells])


def packed(tmp_path, who="ada7", **cells):
    """The bytes of a hand-in as `rigkit handin` makes it: chapter 06 with a cell of its own."""
    folder = tmp_path.parent / f"{tmp_path.name}-{who}"
    folder.mkdir(exist_ok=True)
    (folder / SIX).write_bytes(opening("06", cells.get("cell", "x = 1")))
    return handin.pack(folder, learner.write(folder, who)).path.read_bytes()


def zipped(**members):
    """The bytes of a zip without a list; names with _ for the dot of their kind."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return stream.getvalue()


def put(folder, **files):
    """Write files below a folder."""
    for name, data in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)


def take(folder, every=False):
    """(what is graded: (learner, chapter, place), lines by learner, receipts)."""
    found = intake.find(folder, CHAPTERS, every)
    lines = {}
    for problem in found.problems:
        assert problem.line.isprintable() and problem.name.isprintable()
        lines.setdefault(problem.learner, []).append(problem.line)
    for source in found.sources:
        intake.cells(intake.read(source))
    return [(source.learner, source.chapter, source.place) for source in found.sources], lines, found.receipts


def test_a_whole_hand_in_is_taken_without_a_word_and_its_receipt_is_the_learner_s(tmp_path):
    data = packed(tmp_path)
    put(tmp_path, **{"ada7.zip": data})
    assert take(tmp_path) == ([("ada7", "06", f"ada7.zip/{SIX}")], {}, [("ada7.zip", "ada7", handin.receipt(data), "whole")])


@pytest.mark.parametrize("name", ["ada7 (1).zip", "ada7 - Copy.zip", "ada7-copy2.zip", "ada7 (1) (2).ZIP"])
def test_a_second_copy_s_name_is_no_other_name(tmp_path, name):
    put(tmp_path, **{name: packed(tmp_path)})
    assert take(tmp_path)[:2] == ([("ada7", "06", f"{name}/{SIX}")], {})


@pytest.mark.parametrize("place", ["submission_4711.zip", "Lovelace, Ada/homework.zip", "bo.zip", "bo/x.zip"])
def test_a_renamed_file_is_known_by_its_list(tmp_path, place):
    put(tmp_path, **{place: packed(tmp_path)})
    sources, lines, receipts = take(tmp_path)
    assert sources == [("ada7", "06", f"{place}/{SIX}")]
    called = place.partition("/")[0].removesuffix(".zip")
    assert lines == {"ada7": [f"it is called {called}, and its list says it is ada7's"]}
    assert receipts[0].learner == "ada7"


@pytest.mark.parametrize("every", [False, True])
def test_nobody_s_points_can_be_spoiled_by_a_file_that_calls_itself_theirs(tmp_path, every):
    put(tmp_path, **{"ada7.zip": packed(tmp_path), "bo.zip": packed(tmp_path, cell="worse")})
    sources, lines, _ = take(tmp_path, every)
    assert sources == [("ada7", "06", f"ada7.zip/{SIX}")]
    assert lines == {"ada7": ["its list says it is ada7's, who handed in ada7.zip; it is not graded"]}


def test_several_files_of_one_learner_are_one_hand_in_or_with_times_all(tmp_path):
    put(tmp_path, **{"ada7.zip": packed(tmp_path), "ada7 (1).zip": packed(tmp_path, cell="y"), f"ada7/{SIX}": opening("06")})
    sources, lines, _ = take(tmp_path)
    assert sources == [("ada7", "06", f"ada7/{SIX}")]
    assert [line.partition(" (")[0] for line in lines["ada7"]] == ["ada7 handed in more than once; ada7 is graded"] * 2
    assert [place for *_, place in take(tmp_path, every=True)[0]] == [f"ada7/{SIX}", f"ada7 (1).zip/{SIX}", f"ada7.zip/{SIX}"]


def test_zips_in_a_learner_s_folder_are_hand_ins_with_places_of_their_own(tmp_path):
    put(tmp_path, **{"ada7/monday.zip": packed(tmp_path), "ada7/tuesday.zip": packed(tmp_path, cell="y")})
    sources, lines, _ = take(tmp_path)
    assert sources == [("ada7", "06", f"ada7/monday.zip/{SIX}")] and lines == {"ada7": ["a second zip; monday.zip is opened"]}
    sources, lines, _ = take(tmp_path, every=True)
    assert [place for *_, place in sources] == [f"ada7/monday.zip/{SIX}", f"ada7/tuesday.zip/{SIX}"] and not lines


def test_a_zip_in_a_zip_is_opened_once_where_it_stands_alone_and_told_where_it_does_not(tmp_path):
    inner = packed(tmp_path)
    beside = zipped(**{SIX: opening("06"), "hand-in/ada7.zip": inner})
    put(
        tmp_path,
        **{"ada7.zip": zipped(**{"x/ada7.zip": inner}), "bo.zip": beside, "cy.zip": zipped(**{"a.zip": zipped(**{"b.zip": inner})})},
    )
    sources, lines, receipts = take(tmp_path)
    assert sources == [("ada7", "06", f"ada7.zip/{SIX}"), ("bo", "06", f"bo.zip/{SIX}")]
    assert lines == {
        "bo": ["it holds a zip too, hand-in/ada7.zip, which is not opened"],
        "cy": ["it holds a zip too, b.zip, which is not opened", "nothing to grade was handed in"],
    }
    assert receipts[0].receipt == handin.receipt(inner)  # what the learner packed, not what was packed around it


def test_an_inner_zip_that_is_not_sound_is_refused_with_its_reason(tmp_path):
    bomb = zipped(**{SIX: b"\0" * (9 << 20)})
    put(tmp_path, **{"ada7.zip": zipped(**{"in.zip": bomb}), "bo.zip": zipped(**{"in.zip": zipped(**{"../x": b""})})})
    sources, lines, _ = take(tmp_path)
    assert not sources
    assert "unpacks to" in lines["ada7"][0] and "climbs out" in lines["bo"][0]


def test_a_notebook_is_of_the_chapter_its_code_opens(tmp_path):
    said = notebook(['# open_chapter("07") comes next', 'chapter = open_chapter("06")'])
    put(tmp_path, **{f"ada7/{SIX}": opening("07"), "bo/homework.ipynb": opening("06"), f"cy/{SIX}": said, f"di/{SIX}": notebook(["x"])})
    sources, lines, _ = take(tmp_path)
    assert [one[:2] for one in sources] == [("ada7", "07"), ("bo", "06"), ("cy", "06"), ("di", "06")]
    assert lines == {
        "ada7": ["its name says chapter 06, and it opens chapter 07; it is taken as that"],
        "bo": ["its name says no chapter, and it opens chapter 06; it is taken as that"],
    }


def test_a_wrong_name_never_stands_before_the_right_one(tmp_path):
    put(tmp_path, **{f"ada7/{SIX}": opening("07", "wrong"), f"ada7/{SEVEN}": opening("07", "right"), "bo/99-x.ipynb": opening("33")})
    sources, lines, _ = take(tmp_path)
    assert sources == [("ada7", "07", f"ada7/{SEVEN}")]
    assert f"a second notebook of chapter 07; {SEVEN} is graded" in lines["ada7"]
    assert lines["bo"] == ["there is no chapter 33 to grade"]


def test_what_is_not_whole_is_told_and_the_rest_is_graded(tmp_path):
    with zipfile.ZipFile(io.BytesIO(packed(tmp_path))) as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    put(tmp_path, **{"ada7.zip": zipped(**files | {SIX: opening("06", "later")}), f"bo/{handin.FILE}": b"{", f"bo/{SIX}": opening("06")})
    sources, lines, receipts = take(tmp_path)
    assert [one[:2] for one in sources] == [("ada7", "06"), ("bo", "06")]
    assert lines["ada7"] == [f"{SIX} was changed after it was packed"] and "can't be read" in lines["bo"][0]
    assert [receipt.state for receipt in receipts] == ["not whole"]


def test_work_of_another_course_is_told(tmp_path):
    with zipfile.ZipFile(io.BytesIO(packed(tmp_path))) as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    files[handin.FILE] = files[handin.FILE].replace(b'"course": ""', b'"course": "autumn"')
    put(tmp_path, **{"ada7.zip": zipped(**files)})
    assert take(tmp_path)[1] == {"ada7": ["it was packed with another course file than the one that grades"]}


def test_a_roster_tells_who_is_missing_and_receipts_are_kept(tmp_path, capsys):
    """A notebook that can't be read costs no box, so this runs anywhere."""
    folder = tmp_path / "class"
    folder.mkdir()
    put(folder, **{"ada7.zip": zipped(**{SIX: b"{"}), "eve.zip": zipped(**{SIX: b"{"})})
    (tmp_path / "r.csv").write_text("id,name\nada7,Ada\nbo,Bo\n")
    how = {"roster": tmp_path / "r.csv", "progress": False, "trust_submissions": True}
    assert coordinator.grade(folder, tmp_path / "out", **how) == 1
    told = capsys.readouterr().out
    assert "bo: of the roster, and nothing was handed in" in told and "eve: handed in, and is not of the roster" in told
    with (tmp_path / "out" / "receipts.csv").open() as file:
        rows = list(csv.reader(file))
    assert rows[0] == ["file", "learner", "receipt", "state"]
    assert rows[1] == ["ada7.zip", "ada7", handin.receipt((folder / "ada7.zip").read_bytes()), "no list"]
