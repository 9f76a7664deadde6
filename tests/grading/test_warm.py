"""Warm servers: equal to a fresh box, nothing passes from one submission to the next, and a server that dies costs nothing."""

import os
import signal
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest

from rigkit.grading import box, warm
from tests.grading.conftest import LIMITS, RIGHT, earned

pytestmark = pytest.mark.box("warm")


def servers():
    """The first processes of the warm servers that this process started."""
    found = []
    for child in Path(f"/proc/{os.getpid()}/task").glob("*/children"):
        for one in map(int, child.read_text().split()):
            if warm.PROGRAM.name.encode() in Path(f"/proc/{one}/cmdline").read_bytes():
                found += map(int, Path(f"/proc/{one}/task/{one}/children").read_text().split())
    return found


SEEN = """
import os, sys
why = 'seen : ' + str([os.getpid() > 1, os.getcwd(), sorted(os.environ), sorted(os.listdir('/tmp')), os.getuid(), sys.argv, __name__,
                       sorted(int(p) for p in os.listdir('/proc') if p.isdigit()), sorted({*os.listdir('/dev'), 'core'}), sorted(os.listdir('/')),
                       os.umask(0o22), sys.path, os.statvfs('/tmp').f_blocks, sys.flags.isolated,
                       os.uname().nodename, len(os.listdir('/proc/self/fd')), sorted(os.listdir('/tmp/home/ipython'))])
"""
CASES = {
    "what it sees": (SEEN,),
    "a cell that fails": ("1 / 0",),
    "an end": ("import os\nos._exit(0)",),
    "magics and shell lines": (
        "import asyncio\nawait asyncio.sleep(0)\n%timeit -n1 -r1 1\n!echo hello\nwhy = str(len(_exit_code.__repr__()))",
    ),
    "files": ("open('/tmp/x', 'w').write('x')\nopen('x', 'w').write('y')\nwhy = open('/tmp/work/x').read() + open('/tmp/x').read()",),
    "threads and processes": (
        "import os, subprocess, threading\nt = threading.Thread(target=print)\nt.start()\nt.join()\n"
        "why = subprocess.run(['/bin/sh', '-c', 'echo $HOME; pwd'], capture_output=True, text=True).stdout",
    ),
}


@pytest.mark.box("bubblewrap")
def test_a_corner_and_a_fresh_box_give_the_same(run, monkeypatch):
    """Points, lines, errors and what a notebook can see of its surroundings."""
    for name, cells in CASES.items():
        warm_one = run(*RIGHT, *cells)
        with monkeypatch.context() as patch:
            patch.setattr(box, "way", lambda: "bubblewrap")
            fresh = run(*RIGHT, *cells)
        assert replace(warm_one, seconds=0) == replace(fresh, seconds=0), name


def test_nothing_passes_to_the_next_submission(run):
    """Files, shared memory, patched modules, names, sockets in the abstract namespace, and random numbers."""
    leave = """
import builtins, os, random, socket, sys
import numpy as np, rigkit
open('/tmp/left', 'w').write('x'); open('/dev/shm/left', 'w').write('x'); os.environ['LEFT'] = 'x'
np.left = rigkit.left = builtins.left = 1
s = socket.socket(socket.AF_UNIX); s.bind('\\0left'); s.listen()
if os.fork() == 0:
    import time; time.sleep(100)
why = 'random : ' + str([random.random(), np.random.rand()])
"""
    look = """
import builtins, os, random, socket
import numpy as np, rigkit
found = [p for p in ('/tmp/left', '/dev/shm/left') if os.path.exists(p)] + [k for k in os.environ if k == 'LEFT']
found += [o for o in (np, rigkit, builtins) if hasattr(o, 'left')]
try:
    socket.socket(socket.AF_UNIX).connect('\\0left'); found.append('socket')
except OSError:
    pass
first = 'random : ' + str([random.random(), np.random.rand()])
why = str(found) if found else first
"""
    before = run(leave)
    assert not before.errors, before
    known = servers()
    after = [run(look) for _ in range(2)]
    assert servers() == known  # one and the same server
    told = {one.texts["90.4", "why"] for one in (before, *after)}
    assert len(told) == 3 and all(one.startswith("random") for one in told)


def test_two_at_once_do_not_see_each_other(run):
    """Each has a server of its own, and a list of processes of its own."""
    look = "why = 'seen : ' + str([p for p in os.listdir('/proc') if p.isdigit()])"
    cell = f"import os, time\nopen('/tmp/mine', 'x').close()\ntime.sleep(0.5)\n{look}"
    got = {}
    threads = [threading.Thread(target=lambda one=one: got.update({one: run(cell, learner=one)})) for one in ("ada7", "bo")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert {one.texts["90.4", "why"] for one in got.values()} == {"seen : ['1', '2']"}


def test_a_server_that_is_killed_midway_costs_nothing(run):
    """What ran in it is run again in a new one, and no learner is blamed."""
    box.close()
    killed = []

    def kill():
        end = time.monotonic() + 30
        while not killed and time.monotonic() < end:
            time.sleep(0.5)
            for one in servers():
                os.kill(one, signal.SIGKILL)
                killed.append(one)

    killer = threading.Thread(target=kill)
    killer.start()
    graded = run(*RIGHT, "import time\ntime.sleep(1.5)", limits=replace(LIMITS, cell=20.0))
    killer.join()
    assert killed and (graded.status, graded.lines) == ("graded", ())
    assert earned(graded) == {"90.1": 3, "90.2": 3, "90.3": 1, "90.4": 0}
    assert not set(killed) & set(servers())


def test_a_server_that_died_while_it_waited_is_replaced(run):
    """Nobody notices."""
    run(*RIGHT)
    for one in servers():
        os.kill(one, signal.SIGKILL)
    time.sleep(0.2)
    assert run(*RIGHT).status == "graded"


def test_idle_servers_are_few_and_end_when_told(run):
    """However many were used."""
    run("1")
    assert 1 <= len(servers()) <= warm.KEPT
    box.close()
    assert servers() == []
