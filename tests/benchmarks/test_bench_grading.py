"""Seconds for one submission: warm server, fresh box and judge, beside a kernel for each submission (nbclient) on the same notebook."""

import os
from concurrent.futures import ThreadPoolExecutor

import pytest

from rigkit.course import chapters
from rigkit.files import shared
from rigkit.grading import box, marking, records
from tests.grading import make_class, stages

CHAPTER, LEARNER = "06", "ada7"


@pytest.fixture(scope="module")
def sources():
    """The code cells of chapter 06 with every answer right: set-up, views, answers and checks, about fifty cells."""
    return make_class.answered(CHAPTER, LEARNER)


@pytest.mark.benchmark(group="one submission of chapter 06")
@pytest.mark.box
def test_box_and_judge(benchmark, sources, tmp_path):
    """Cells in the box as it is made here (a warm server's fork, where that can be), hidden inputs, records, points."""
    data, ticket = make_class.notebook(sources), marking.ticket(LEARNER, CHAPTER)
    marking.grade(data, ticket, str(tmp_path))  # the box's copy is made once a class, the server started once
    graded = benchmark.pedantic(marking.grade, (data, ticket, str(tmp_path)), rounds=5, iterations=1)
    assert graded.earned == make_class.automatic(CHAPTER)


@pytest.mark.benchmark(group="one submission of chapter 06")
@pytest.mark.box("bubblewrap")
def test_fresh_box_and_judge(benchmark, sources, tmp_path, monkeypatch):
    """The same in a box made for it alone by bubblewrap."""
    monkeypatch.setattr(box, "way", lambda: "bubblewrap")
    data, ticket = make_class.notebook(sources), marking.ticket(LEARNER, CHAPTER)
    marking.grade(data, ticket, str(tmp_path))
    graded = benchmark.pedantic(marking.grade, (data, ticket, str(tmp_path)), rounds=5, iterations=1)
    assert graded.earned == make_class.automatic(CHAPTER)


@pytest.mark.benchmark(group="ten submissions of chapter 06 on each core")
@pytest.mark.box
def test_on_every_core(benchmark, sources, tmp_path):
    """As a class is graded: a thread a core. The figure is for all of them together."""
    cores = os.cpu_count() or 1
    data, ticket = make_class.notebook(sources), marking.ticket(LEARNER, CHAPTER)
    with ThreadPoolExecutor(cores) as pool:

        def all_of_them(each):
            return list(pool.map(lambda _: marking.grade(data, ticket, str(tmp_path)).earned, range(each * cores)))

        all_of_them(1)
        earned = benchmark.pedantic(all_of_them, (10,), rounds=1, iterations=1)
    assert set(earned) == {make_class.automatic(CHAPTER)}


@pytest.mark.benchmark(group="one submission of chapter 06")
@pytest.mark.box
def test_box_without_the_box(benchmark, sources, tmp_path):
    """The same as an ordinary process: what the box itself costs is the difference."""
    data, ticket = make_class.notebook(sources), marking.ticket(LEARNER, CHAPTER, mode="trusted")
    marking.grade(data, ticket, str(tmp_path))
    graded = benchmark.pedantic(marking.grade, (data, ticket, str(tmp_path)), rounds=5, iterations=1)
    assert graded.earned == make_class.automatic(CHAPTER)


@pytest.mark.benchmark(group="one submission of chapter 06")
def test_kernel_through_nbclient(benchmark, sources, tmp_path, monkeypatch):
    """The peer: nbclient starts a kernel and runs the same cells; nothing is judged but by the notebook's own checks."""
    nbformat, nbclient = pytest.importorskip("nbformat"), pytest.importorskip("nbclient")
    monkeypatch.setenv("RIGKIT_OUTPUT", "text")
    text = make_class.notebook(sources).decode()

    def run():
        notebook = nbformat.reads(text, as_version=4)
        nbclient.NotebookClient(
            notebook, timeout=60, kernel_name="python3", resources={"metadata": {"path": str(tmp_path)}}, allow_errors=True
        ).execute()
        return notebook

    notebook = benchmark.pedantic(run, rounds=3, iterations=1, warmup_rounds=1)
    assert len(notebook.cells) == len(sources)


@pytest.mark.benchmark(group="a class of 200, one box for all: intake, keys, storing, reports")
@pytest.mark.box
def test_what_grows_with_the_class(benchmark, tmp_path):
    """`python -m tests.grading.stages 10000` tells the same stage by stage. Once without the clock: three hand-ins."""
    count = 3 if benchmark.disabled else 200
    _, stored, _ = benchmark.pedantic(stages.measure, (count, CHAPTER, False, tmp_path), rounds=1, iterations=1)
    assert stored == count


@pytest.mark.benchmark(group="the worked notebook's bytes")
def test_reading_a_notebook(benchmark):
    """Intake of one worked copy."""
    from rigkit.grading import intake

    data = shared("workbooks", "worked", chapters.get(CHAPTER).file).read_bytes()
    assert benchmark(intake.cells, data)


@pytest.mark.benchmark(group="records")
def test_reading_a_record_of_thousand_points(benchmark):
    """Decoding one record with an array of a thousand points."""
    import numpy as np

    from rigkit.course.checkpoint import Call, Record

    line = records.message(
        "answer", checkpoint="06.2", record=records.pack_record(Record("06.2", calls=(Call("ok", np.zeros((1000, 3))),)))
    )
    assert benchmark(lambda: records.read_record(records.read_message(line).fields["record"])).calls[0].value.shape == (1000, 3)
