"""The degraded way: without namespaces a submission reads, writes and reaches as little, by what it gives up itself."""

import os
import time
from dataclasses import replace
from pathlib import Path

import pytest

from rigkit.grading import box, confinement, coordinator, groups, landlock, pages, seccomp
from tests.grading.conftest import LIMITS, POINTS, RIGHT, earned
from tests.grading.test_coordinator import class_of
from tests.grading.test_seccomp import ALLOW, ARCHITECTURE, EPERM, decide

AMPLE = replace(LIMITS, cell=20.0)
landlocked = pytest.mark.box("landlock")

# Each line is tried alone; what goes through without an error is handed over as the text answer.
TRIED = """
open({readme!r})
open({readme!r}, 'a')
os.truncate({readme!r}, 0)
os.rename({readme!r}, 'mine')
os.link({readme!r}, 'mine')
os.unlink({readme!r})
os.mkdir('/tmp/rigkit-stray')
os.mkfifo('/tmp/rigkit-stray')
os.listdir('/tmp')
os.listdir('/proc')
open('/etc/passwd')
open('/dev/shm/rigkit-stray', 'w')
open(f'/proc/{{os.getppid()}}/environ', 'rb')
os.kill({outside}, 0)
os.kill({outside}, 9)
os.killpg({outside}, 0)
signal.pidfd_send_signal(os.pidfd_open({outside}), 0)
resource.prlimit({outside}, resource.RLIMIT_CPU)
resource.setrlimit(resource.RLIMIT_AS, (resource.RLIM_INFINITY,) * 2)
os.setpriority(os.PRIO_PROCESS, {outside}, 19)
os.sched_setaffinity({outside}, {{0}})
os.setxattr({readme!r}, 'user.x', b'')
os.setsid()
os.setpgid(0, 0)
socket.socket(socket.AF_UNIX)
socket.socket(socket.AF_INET)
fcntl.fcntl(0, fcntl.F_SETOWN, {outside})
fcntl.fcntl(0, fcntl.F_SETSIG, 9)
done(ctypes.CDLL(None).unshare(0x10000000))
done(ctypes.CDLL(None).ptrace(16, {outside}, 0, 0))
done(ctypes.CDLL(None).mount(b'none', b'.', b'tmpfs', 0, None))
"""
TRY = """
import ctypes, fcntl, os, resource, signal, socket
def done(answer):
    if answer != 0:
        raise OSError
through = []
for line in {lines!r}.strip().splitlines():
    try:
        exec(line)
        through.append(line)
    except (OSError, ValueError):
        pass
os.chmod({readme!r}, 0)
os.utime({readme!r}, (0, 0))
import asyncio
await asyncio.sleep(0)
open('x', 'w').write('mine')
os.chmod('x', 0o600)
why = 'what went through : ' + str(through + [open('x').read(), sorted(os.environ)])
"""


@landlocked
def test_nothing_outside_is_read_written_or_reached_and_what_a_notebook_needs_goes_on(run, tmp_path):
    outside = tmp_path / "outside.txt"
    outside.write_text("as it was")
    before = outside.stat()
    lines = TRIED.format(readme=str(outside), outside=os.getpid())
    graded = run(*RIGHT, TRY.format(lines=lines, readme=str(outside)), mode="landlock", limits=AMPLE)
    assert (graded.errors, graded.status, graded.mode) == ({}, "graded", "landlock")
    kept = {**confinement.ENVIRONMENT, "PATH": ""}
    assert graded.texts["90.4", "why"] == f"what went through : {['mine', sorted(kept)]}"
    assert earned(graded) == POINTS
    after = outside.stat()
    assert outside.read_text() == "as it was" and (after.st_mode, after.st_mtime_ns) == (before.st_mode, before.st_mtime_ns)
    assert not Path("/tmp/rigkit-stray").exists()


@landlocked
@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ("import os\nwhile True:\n    try:\n        os.fork()\n    except OSError:\n        pass", "memory|too many processes"),
        ("for i in range(100):\n    open(str(i), 'wb').write(b'x' * (1 << 22))\nimport time\ntime.sleep(10)", "wrote more than"),
        ("import os\nif os.fork() == 0 and os.fork() == 0:\n    import time\n    time.sleep(100)\nos._exit(0)", "Python itself ended"),
    ],
    ids=["fork bomb", "full disk", "daemon"],
)
def test_what_takes_too_much_is_ended_whole_and_costs_no_point(run, monkeypatch, cell, words):
    """Each process of the group is gone before the next notebook begins."""
    seen = []
    monkeypatch.setattr(groups.PlainGroup, "end", lambda self, end=groups.PlainGroup.end: (end(self), seen.append(self.first)))
    graded = run(*RIGHT, cell, mode="landlock", limits=AMPLE)
    assert earned(graded) == POINTS and graded.status == "look"
    assert any(word in graded.lines[0] for word in words.split("|")), graded.lines
    assert len(seen) == 2 and not any(groups.members(one) for one in seen)


@landlocked
def test_nothing_that_a_cell_left_behind_runs_beside_the_answers(run):
    """A process that beats until then; the function sees whether it still does."""
    beat = "import os, time\nif os.fork() == 0:\n    while True:\n        open('beat', 'a').write('x')\n        time.sleep(0.01)\ntime.sleep(0.3)"
    body = (
        "before = os.path.getsize('beat')\n    time.sleep(0.1)\n    return (a + b) / 2 if os.path.getsize('beat') == before > 0 else None"
    )
    assert earned(run(*RIGHT, beat, f"def middle(a, b):\n    {body}", mode="landlock", limits=AMPLE)) == POINTS


@landlocked
def test_where_no_signal_may_be_sent_a_function_that_never_ends_costs_its_own_checkpoint(run, monkeypatch):
    """As on a kernel whose Landlock does not keep signals inside (before its version 6)."""
    monkeypatch.setattr(landlock, "version", lambda: 5)
    look = "import os\ntry:\n    os.kill(os.getpid(), 0)\nexcept PermissionError:\n    why = 'no signal may be sent'"
    graded = run(*RIGHT, look, "def middle(a, b):\n    while True: pass", mode="landlock")
    assert earned(graded) == {**POINTS, "90.1": 0}
    assert graded.results[0].claims[0].outcome == "took too long" and graded.texts["90.4", "why"] == "no signal may be sent"


@landlocked
def test_what_can_not_be_given_up_ends_the_run_before_it_began(run, monkeypatch):
    """A filter that the kernel refuses: no cell runs half confined."""
    from rigkit.grading import marking

    monkeypatch.setattr(seccomp, "program", lambda **_: b"\0" * 8)
    with pytest.raises(marking.Failed, match="did not start.*system calls could not be put on"):
        run(*RIGHT, mode="landlock")


def test_an_installed_rigkit_is_left_out_of_what_may_be_read(monkeypatch, tmp_path):
    """It holds the chapters and worked copies; its neighbours may be read, the folders above it listed only."""
    site = tmp_path / "env" / "lib" / "site-packages"
    (site / "rigkit" / "course").mkdir(parents=True)
    (site / "numpy").mkdir()
    (tmp_path / "env" / "bin").mkdir()
    monkeypatch.setattr(confinement, "import_paths", lambda: (str(site),))
    read, listed = confinement.without_own([str(tmp_path / "env"), "/usr"])
    assert read == [str(tmp_path / "env" / "bin"), str(site / "numpy"), "/usr"]
    assert listed == [str(tmp_path / "env"), str(tmp_path / "env" / "lib"), str(site)]


@pytest.mark.parametrize("machine", ["x86_64", "aarch64"])
def test_the_filter_without_namespaces_refuses_more(machine):
    column, own = list(ARCHITECTURE).index(machine), ARCHITECTURE[machine]
    program, silent = seccomp.program(machine, bare=True), seccomp.program(machine, bare=True, signals=False)
    for entry in (*seccomp.BARE.values(), *seccomp.REFUSED.values()):
        assert decide(program, entry[column], own) == EPERM
    for entry in seccomp.MODES.values():
        assert decide(program, entry[column], own) == 0x00050000  # "done", and nothing is done
    for entry in seccomp.SIGNALS.values():
        assert (decide(program, entry[column], own), decide(silent, entry[column], own)) == (ALLOW, EPERM)
    assert {decide(program, seccomp.SOCKET[column], own, family) for family in (1, 2, 10, 16)} == {EPERM}
    assert [decide(program, seccomp.PRLIMIT[column], own, process) for process in (0, 1, 4711)] == [ALLOW, EPERM, EPERM]
    assert [decide(program, seccomp.FCNTL[column], own, 3, what) for what in (1, 2, 3, 4, 8, 10, 15)] == [ALLOW] * 4 + [EPERM] * 3
    assert [decide(program, seccomp.IOCTL[column], own, 3, what) for what in (0x5401, 0x8901, 0x8902)] == [ALLOW, EPERM, EPERM]
    for number in {"x86_64": (0, 1, 9, 59, 257, 53), "aarch64": (63, 64, 222, 221, 56, 199)}[machine]:  # read ... openat, socketpair
        assert decide(program, number, own) == ALLOW


def test_the_best_way_there_is_is_taken_and_no_unconfined_one_without_a_word(monkeypatch):
    for no_box, no_landlock, ways in (("", "", "box box"), ("x", "", "landlock landlock"), ("x", "y", " trusted"), ("", "y", "box box")):
        monkeypatch.setattr(box, "trouble", lambda no_box=no_box: no_box)
        monkeypatch.setattr(landlock, "trouble", lambda no_landlock=no_landlock: no_landlock)
        assert f"{box.mode()} {box.mode(trust=True)}" == ways


@landlocked
def test_the_report_says_which_way_it_was(tiny_chapter, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(box, "trouble", lambda: "there are no namespaces")
    assert coordinator.grade(class_of(tmp_path / "class", "ada7"), tmp_path / "out", chapters=["90"], progress=False, limits=LIMITS) == 0
    assert "NOTE: there are no namespaces here" in capsys.readouterr().out
    assert all("confined by Landlock" in path.read_text(encoding="utf-8") for path in (tmp_path / "out" / "pages").iterdir())
    assert '"mode": "landlock"' in (tmp_path / "out" / "grades.json").read_text()
    assert "Without a box" in pages._mode({"mode": "trusted"}, [])


def test_dead_and_foreign_processes_are_no_members_of_a_group():
    """Our own group holds us; a child that ended and was not asked for yet is dead."""
    child = os.fork()
    if child == 0:
        os._exit(0)
    time.sleep(0.2)
    found = groups.members(os.getpgid(0))
    os.waitpid(child, 0)
    assert os.getpid() in found and child not in found
