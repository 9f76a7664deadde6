"""Beyond one machine: a real scheduler and two workers over TLS on loopback, one of them killed midway."""

import contextlib
import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from concurrent.futures import Future
from pathlib import Path

import pytest

from rigkit import cli
from rigkit.course import chapters
from rigkit.grading import box, cluster, coordinator, intake, pools
from tests import settings
from tests.grading import make_class

ROOT = Path(__file__).resolve().parents[2]
GUIDE = ROOT / "workbooks" / "guide" / "cluster.md"
LEARNERS = [f"learner-{number}" for number in range(6)]


@pytest.fixture(scope="module")
def certificates(tmp_path_factory):
    """A folder with ca.pem, cert.pem and key.pem, made by the guide's own commands."""
    if shutil.which("openssl") is None:
        settings.missing("no openssl on this machine; install the package openssl")
    folder = tmp_path_factory.mktemp("certificates")
    commands = GUIDE.read_text(encoding="utf-8").partition("<!-- command: certificates -->")[2].partition("```sh\n")[2].partition("```")[0]
    subprocess.run(["sh", "-e", "-c", commands], cwd=folder, check=True, capture_output=True)
    return folder


def started(certificates, *command):
    """A process of dask with our certificates; what it says goes to a file beside them."""
    tls = [f"--tls-{name}={certificates / file}" for name, file in (("ca-file", "ca.pem"), ("cert", "cert.pem"), ("key", "key.pem"))]
    log = (certificates / f"{command[0]}.log").open("ab")
    environment = {**os.environ, "DASK_DISTRIBUTED__DIAGNOSTICS__NVML": "False"}
    process = subprocess.Popen([sys.executable, "-m", "dask", *command, *tls], cwd=certificates, stdout=log, stderr=log, env=environment)
    log.close()
    return process


@pytest.fixture(scope="module")
def machines(certificates):
    """(address of the scheduler, the two worker processes)."""
    file = certificates / "scheduler.json"
    processes = [
        started(certificates, "scheduler", "--host=127.0.0.1", "--port=0", "--protocol=tls", "--no-dashboard", f"--scheduler-file={file}")
    ]
    worker = ("worker", f"--scheduler-file={file}", "--nthreads=1", "--no-nanny", "--no-dashboard", "--host=127.0.0.1")
    try:
        until = time.monotonic() + 120
        while not file.exists() and time.monotonic() < until:
            time.sleep(0.05)
        processes += [started(certificates, *worker) for _ in range(2)]
        while (told := (certificates / "worker.log").read_text().count("Registered to")) < 2 and time.monotonic() < until:
            time.sleep(0.05)
        assert told == 2, (certificates / "worker.log").read_text()[-2000:]
        yield json.loads(file.read_text())["address"], processes[1:]
    finally:
        for process in processes:
            process.kill()
            process.wait()


def stored(path):
    """The keys in a record that another thread is writing."""
    if not path.exists():
        return []
    with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as database:
        try:
            return [key for (key,) in database.execute("SELECT key FROM notebooks")]
        except sqlite3.OperationalError:  # the tables aren't there yet
            return []


@pytest.mark.box
def test_a_worker_that_is_killed_midway_costs_nothing_and_nothing_is_graded_twice(machines, certificates, tmp_path, capsys):
    """The same keys as on one machine: grading the folder here afterwards runs nothing."""
    address, workers = machines
    folder, out = tmp_path / "class", tmp_path / "out"
    folder.mkdir()
    for learner in LEARNERS:
        make_class.hand_in(
            folder, learner, "00", make_class.notebook([*make_class.answered("00", learner), "import time\ntime.sleep(0.2)"])
        )
    killed = []

    def kill():
        until = time.monotonic() + 120
        while time.monotonic() < until and not killed:
            time.sleep(0.02)
            if len(stored(out / "results.sqlite")) >= 2:
                workers[0].send_signal(signal.SIGKILL)
                killed.append(len(stored(out / "results.sqlite")))

    killer = threading.Thread(target=kill)
    killer.start()
    command = ["grade", str(folder), "--out", str(out), "--chapters", "00", "--no-progress", "--json"]
    code = cli.main([*command, "--cluster", address, "--certificates", str(certificates)])
    killer.join()
    captured = capsys.readouterr()
    assert code == 0, captured.err
    told = json.loads(captured.out)
    assert (told["run now"], told["notebooks"], told["need a look"], told["mode"]) == (6, 6, 0, "box")
    assert killed and killed[0] < 6 and len(set(stored(out / "results.sqlite"))) == 6
    grades = json.loads((out / "grades.json").read_text(encoding="utf-8"))
    assert {claim["points"] for claim in grades["claims"]} == {"1"} and {claim["learner"] for claim in grades["claims"]} == set(LEARNERS)
    assert cli.main(command) == 0
    assert json.loads(capsys.readouterr().out)["run now"] == 0


@pytest.mark.box
def test_a_cluster_of_other_versions_grades_nothing(machines, certificates, tmp_path, capsys, monkeypatch):
    """Here another chapter 00 than there."""
    address, _ = machines
    folder = tmp_path / "class"
    folder.mkdir()
    make_class.hand_in(folder, "ada7", "00", make_class.notebook([]))
    monkeypatch.setattr(cluster, "of_chapter", lambda chapter: "another")
    how = {"chapters": ["00"], "progress": False, "cluster": address, "certificates": certificates}
    assert coordinator.grade(folder, tmp_path / "out", **how) == 3
    assert "has other sources of chapter 00; install the same rigkit" in capsys.readouterr().err and not (tmp_path / "out").exists()


def test_a_worker_that_came_later_is_compared_too(monkeypatch):
    """It may be of another version than those that were asked at the start."""
    from rigkit.course import coursefile
    from rigkit.grading import marking

    ticket, inside = marking.ticket("ada7", "00"), coursefile.in_use()
    with pytest.raises(cluster.Mismatch, match="another version of what grades chapter 00"):
        cluster.grade_there("key", b"", ticket, "another", "box", inside)
    monkeypatch.setattr(box, "mode", lambda trust: "landlock")
    with pytest.raises(cluster.Mismatch, match="can't confine notebooks as the others do"):
        cluster.grade_there("key", b"", ticket, cluster.of_chapter("00"), "box", inside)
    key, graded = cluster.grade_there("key", b"", ticket, cluster.of_chapter("00"), "landlock", inside)
    assert (key, graded.status, graded.lines) == ("key", "unreadable", ("it is empty",))


@pytest.mark.parametrize(
    ("end", "code", "words"),
    [
        (
            lambda future: future.set_exception(RuntimeError("four workers died of it")),
            1,
            "run the command again: RuntimeError: four workers",
        ),
        (lambda future: future.cancel() and future.set_running_or_notify_cancel(), 3, "the cluster is gone; what was graded is kept"),
    ],
    ids=["a worker's error", "no scheduler any more"],
)
def test_what_the_cluster_could_not_do_is_told_and_tried_again_next_time(tmp_path, capsys, monkeypatch, end, code, words):
    def submit(*job):
        future = Future()
        end(future)
        return future

    @contextlib.contextmanager
    def lost(*_):
        yield pools.Pool(1, submit, lambda: None), "box"

    monkeypatch.setattr(cluster, "opened", lost)
    (tmp_path / "class").mkdir()
    make_class.hand_in(tmp_path / "class", "ada7", "00", make_class.notebook([]))
    how = {"chapters": ["00"], "progress": False, "cluster": "tls://x", "certificates": tmp_path}
    assert coordinator.grade(tmp_path / "class", tmp_path / "out", **how) == code
    captured = capsys.readouterr()
    assert words in captured.out + captured.err


def test_what_differs_is_told_by_worker():
    here = {"rigkit": "1", "numpy": "2.4", "chapter 00": "a", "mode": ""}
    same = {**here, "mode": "box"}
    assert cluster.differences(here, {"a": same, "b": same}) == []
    assert cluster.differences(here, {"a": same, "b": {**same, "numpy": "2.3"}}) == ["b has numpy 2.3, here it is 2.4"]
    assert cluster.differences(here, {"a": same, "b": {**same, "mode": "landlock"}}) == [
        "workers confine notebooks in different ways (box, landlock); take those of one way"
    ]
    assert "a can't confine notebooks" in cluster.differences(here, {"a": {**same, "mode": ""}, "b": same})[0]


@pytest.mark.parametrize(
    ("address", "files", "words"),
    [
        ("tcp://localhost:8786", 3, "is not encrypted"),
        ("localhost:8786", 2, "not there: key.pem"),
        ("localhost:8786", 0, "not there: ca.pem, cert.pem, key.pem"),
        ("tls://127.0.0.1:9", 3, "no scheduler answers at tls://127.0.0.1:9"),
    ],
)
def test_a_cluster_that_can_not_be_used_is_told_and_nothing_is_written(certificates, tmp_path, monkeypatch, address, files, words):
    monkeypatch.setattr(cluster, "WAIT", 1)
    for name in ("ca.pem", "cert.pem", "key.pem")[:files]:
        shutil.copy(certificates / name, tmp_path)
    with pytest.raises(intake.Trouble, match=words), cluster.opened(address, tmp_path, chapters.ids()):
        pass
