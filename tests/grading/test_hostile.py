"""Hostile notebooks: each with the points it must get and the reason the report must name, and nothing left behind.

Every case stands beside right answers, so that no point too few is given either.
All of them run in the box; where there is none they are skipped, in CI they fail.
"""

import os
import socket
import time
from dataclasses import replace
from pathlib import Path

import pytest

from rigkit.grading import box, confinement, warm
from tests.grading.conftest import LIMITS, POINTS, RIGHT, earned

pytestmark = pytest.mark.box

ALL = POINTS
NONE = dict.fromkeys(POINTS, 0)
# A new virtual machine may take seconds to hand out its first gigabyte; the clock must not end what memory should.
AMPLE = replace(LIMITS, cell=20.0, memory=512 << 20)
SEND = """
import os
def send(data):
    for handle in range(3, 30):
        try:
            os.write(handle, data)
        except OSError:
            pass
"""


def strays():
    """Processes of this machine that run our programs or carry our mark, but for the warm servers that wait for more work."""
    waiting = {process for server in warm._IDLE for process in (server.process.pid, *children(server.process.pid))}
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        try:
            command = (place / "cmdline").read_bytes()
        except OSError:
            continue
        if any(mark in command for mark in (b"/box/inbox.py", b"/box/forker.py", b"rigkit-stray")) and int(place.name) not in waiting:
            found.append((place.name, command))
    return found


def children(process):
    """The processes that a process started itself."""
    return [int(one) for one in Path(f"/proc/{process}/task/{process}/children").read_text().split()]


@pytest.fixture(autouse=True)
def nothing_is_left():
    """No process outlives its notebook."""
    yield
    for _ in range(50):
        if not strays():
            return
        time.sleep(0.05)
    raise AssertionError(strays())


DAEMONS = """
import os, sys
for i in range(3):
    if os.fork() == 0:
        os.setsid()
        if os.fork() == 0:
            os.execv(sys.executable, [sys.executable, "-c", "import time; time.sleep(1000)", "rigkit-stray"])
        os._exit(0)
"""

# name: (cells behind right answers, points, status, words of a line or of an error)
ENDS = {
    "an endless loop": ("while True:\n    pass", ALL, "graded", "took too long"),
    "an endless loop that catches everything": (
        "while True:\n    try:\n        while True:\n            pass\n    except BaseException:\n        pass",
        ALL,
        "look",
        "took too long in code cell 5; it was run once more",
    ),
    "an endless loop in C": ("sum(iter(int, 1))", ALL, "look", "took too long in code cell 5"),
    "an endless sleep with the signals blocked": (
        "import signal, time\nsignal.pthread_sigmask(signal.SIG_BLOCK, signal.valid_signals())\ntime.sleep(1000)",
        ALL,
        "look",
        "took too long in code cell 5",
    ),
    "sys.exit": ("import sys\nsys.exit(0)", ALL, "graded", "SystemExit"),
    "exit": ("exit()", ALL, "graded", ""),
    "os._exit": ("import os\nos._exit(0)", ALL, "look", "Python itself ended in code cell 5"),
    "abort": ("import os\nos.abort()", ALL, "look", "Python itself ended in code cell 5"),
    "segfault": ("import ctypes\nctypes.string_at(0)", ALL, "look", "Python itself ended in code cell 5"),
    "killing the parent": (
        "import os, signal\nos.kill(os.getppid(), signal.SIGKILL)\nos.kill(1, signal.SIGKILL)\nos.kill(-1, signal.SIGKILL)",
        ALL,
        "graded or look",
        "",
    ),
    "a fork bomb": (
        "import os\nwhile True:\n    try:\n        os.fork()\n    except OSError:\n        pass",
        ALL,
        "look",
        "in code cell 5",
    ),
    "a thread bomb": (
        "import threading, time\nwhile True:\n    threading.Thread(target=time.sleep, args=(100,)).start()",
        ALL,
        "look",
        "started too many processes in code cell 5",
    ),
    "a huge allocation": ("x = bytearray(1 << 40)", ALL, "graded", "MemoryError"),
    "a growing allocation": ("x = []\nwhile True:\n    x.append(bytearray(1 << 24))", ALL, "look", "memory"),
    "many allocations in many processes": (
        "import os, time\nfor i in range(12):\n    if os.fork() == 0:\n        x = bytearray(b'x') * (200 << 20)\n        time.sleep(100)\n"
        "time.sleep(100)",
        ALL,
        "look",
        "memory",
    ),
    "shared memory": (
        "import os, mmap\nwith open('/dev/shm/x', 'wb') as f:\n    while True:\n        f.write(b'x' * (1 << 20))",
        ALL,
        "graded",
        "OSError",
    ),
    "a full disk": ("with open('/tmp/x', 'wb') as f:\n    while True:\n        f.write(b'x' * (1 << 20))", ALL, "graded", "OSError"),
    "a flood of files": ("i = 0\nwhile True:\n    i += 1\n    open(f'/tmp/{i}', 'w').close()", ALL, "graded or look", ""),
    "a flood of output": ("while True:\n    print('x' * 100000)", ALL, "graded", "took too long"),
    "a flood of errors": ("import sys\nwhile True:\n    sys.stderr.write('x' * 100000)", ALL, "graded", "took too long"),
    "a flood of records": (
        SEND + "while True:\n    send(b'{\"kind\":\"done\",\"x\":1}\\n' * 1000)",
        ALL,
        "look",
        "sent out more than we read",
    ),
    "one endless line": (SEND + "while True:\n    send(b'x' * 65536)", ALL, "look", "sent out more than we read"),
    "prompts for input": ("name = input('your name')", ALL, "graded", "Error"),
    "a deep recursion": ("def f():\n    return f()\nf()", ALL, "graded", ""),
    "an error whose words hang": (
        "class WordsHang(Exception):\n    def __str__(self):\n        while True: pass\nraise WordsHang",
        ALL,
        "graded",
        "WordsHang",
    ),
    "a result whose repr hangs": ("class R:\n    def __repr__(self):\n        while True: pass\nR()", ALL, "graded", "took too long"),
    "broken code": ("def (:", ALL, "graded", "SyntaxError"),
    "half a character": ("x = '\ud800'", ALL, "graded", ""),
    "top-level await, magics and shell lines": (
        "import asyncio\nawait asyncio.sleep(0)\n%timeit -n1 -r1 1\n!echo hello\n%%capture\n_",
        ALL,
        "graded",
        "",
    ),
    "deleting its folder": ("import shutil, os\nshutil.rmtree('/tmp', ignore_errors=True)\nos.chdir('/')", ALL, "graded", ""),
    "daemons": (DAEMONS, ALL, "graded", ""),
    "exiting when all seems done": (
        "import atexit, os, threading, time\nthreading.Thread(target=lambda: (time.sleep(0.3), os._exit(0)), daemon=True).start()",
        None,
        "any",
        "",
    ),
}


@pytest.mark.parametrize("name", ENDS)
def test_a_notebook_that_ends_badly_keeps_its_points(run, name):
    """Right answers first, then one cell that does harm."""
    cell, points, status, words = ENDS[name]
    graded = run(*RIGHT, cell, limits=AMPLE if words == "memory" else LIMITS)
    if points is not None:
        assert earned(graded) == points
        assert graded.status in status.split(" or "), graded
    assert words in " ".join([*graded.lines, *graded.errors.values()]), graded


@pytest.mark.parametrize(
    "cell", ["while True:\n    pass", "import os\nos._exit(0)", "sum(iter(int, 1))"], ids=["loop", "exit", "loop in C"]
)
def test_a_cell_that_ends_the_notebook_costs_nothing_that_comes_after_it(run, cell):
    """It is run once more without that cell."""
    assert earned(run(cell, *RIGHT)) == ALL


def test_two_cells_that_end_the_notebook_leave_the_answers_given_before(run):
    """Values handed to a check before the end are kept; a function needs its hidden inputs, and has lost them."""
    graded = run("import os\nos._exit(0)", *RIGHT, "os._exit(1)" if False else "import os\nos._exit(1)")
    assert earned(graded) == {**ALL, "90.1": 0}
    assert graded.status == "look" and len(graded.lines) == 2
    assert "the notebook ended before this was tried" in graded.results[0].line


# Each tries to get at something outside; the cell puts what it found into `found`, and the last cell hands it over as the text answer.
ESCAPES = {
    "files of the host": """
found = [p for p in ('/etc/passwd', '/etc/shadow', os.path.expanduser('~root'), '/home', '/var', HERE) if os.path.exists(p)]
""",
    "the environment": """
found = [k for k in os.environ if 'RIGKIT_SECRET' in k]
""",
    "the environment of the first process": """
found = [p for p in os.listdir('/proc') if p.isdigit() and b'RIGKIT_SECRET' in read(f'/proc/{p}/environ')]
""",
    "command lines of other processes": """
found = [p for p in os.listdir("/proc") if p.isdigit() and b"pytest" in read(f"/proc/{p}/cmdline")]
""",
    "worked copies and chapters": """
for top in ("/box", *sys.path):
    for folder, _, files in os.walk(top):
        found += [f for f in files if "chapter_0" in f or f == "tally.toml" or (f.endswith(".ipynb") and "worked" in folder)]
""",
    "the judge": """
import importlib
for name in ("course.judge", "course.chapters", "course.context", "grading", "grading.marking"):
    try:
        importlib.import_module("rigkit." + name)
        found.append(name)
    except ImportError:
        pass
""",
    "the true robot": """
import gc
gc.unfreeze()
names = ("Context", "Claim", "Mistake", "Ticket", "Measure", "Checkpoint")
found = [type(o).__name__ for o in gc.get_objects() if str(type(o).__module__).startswith("rigkit") and type(o).__name__ in names]
""",
    "writing outside": """
for place in ("/", "/usr", "/box", "/dev", sys.prefix, "/proc/sys/kernel/hostname", "/etc"):
    try:
        open(os.path.join(place, "x") if os.path.isdir(place) else place, "w").write("x")
        found.append(place)
    except OSError:
        pass
""",
    "sockets": """
import socket
for family, kind in ((socket.AF_INET, socket.SOCK_STREAM), (socket.AF_INET6, socket.SOCK_STREAM), (socket.AF_NETLINK, socket.SOCK_RAW)):
    try:
        socket.socket(family, kind)
        found.append(str(family))
    except OSError:
        pass
""",
    "the network by a program": """
address = "http://127.0.0.1:PORT"
found = [c for c in (f"curl -m 2 -s {address}", f"wget -t1 -T2 -qO- {address}") if os.system(c + " > /dev/null 2>&1") == 0]
""",
    "namespaces": """
import ctypes
found = [flag for flag in (0x10000000, 0x20000000, 0x40000000, 0x02000000) if ctypes.CDLL(None).unshare(flag) == 0]
""",
    "mounting": """
import ctypes
libc = ctypes.CDLL(None)
found = [1] if libc.mount(b'none', b'/tmp', b'tmpfs', 0, None) == 0 else []
""",
    "tracing": """
import ctypes
libc = ctypes.CDLL(None)
found = [1] if libc.ptrace(16, 1, 0, 0) == 0 else []
""",
    "becoming root": """
found = ["root"] if os.getuid() == 0 else []
for call in (os.setuid, os.setgid):
    try:
        call(0)
        found.append(call.__name__)
    except OSError:
        pass
""",
    "raising its limits": """
import resource
for kind in (resource.RLIMIT_AS, resource.RLIMIT_NPROC, resource.RLIMIT_FSIZE):
    try:
        resource.setrlimit(kind, (resource.RLIM_INFINITY,) * 2)
        found.append(kind)
    except (OSError, ValueError):
        pass
""",
    "handles left open": """
for handle in range(3, 64):
    try:
        told = os.readlink(f"/proc/self/fd/{handle}")
    except OSError:
        continue
    if "memfd" in told or (told.startswith("/") and not told.startswith(("/dev/null", "/dev/urandom", "/proc"))):
        found.append(told)
""",
    "hidden inputs before their time": """
import select, stat
for handle in range(3, 20):
    try:
        if stat.S_ISFIFO(os.fstat(handle).st_mode) and select.select([handle], [], [], 0)[0]:
            found.append(handle)
    except (OSError, ValueError):
        pass
""",
}


@pytest.mark.parametrize("name", ESCAPES)
def test_nothing_outside_can_be_reached(run, monkeypatch, name):
    """What each attempt found is handed over as the text answer; it must be nothing."""
    monkeypatch.setenv("RIGKIT_SECRET", "not for the box")
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen()
        code = ESCAPES[name].replace("HERE", repr(str(Path(__file__).resolve().parent))).replace("PORT", str(listening.getsockname()[1]))
        read = "def read(path):\n    try:\n        return open(path, 'rb').read()\n    except OSError:\n        return b''"
        hand_over = "why = 'what was found : ' + str(list(found))"
        graded = run(*RIGHT, f"import os, sys\nfound = []\n{read}", code, hand_over, limits=box.Limits(cell=30.0))
    assert not graded.errors, graded
    assert graded.texts["90.4", "why"] == "what was found : []"
    assert earned(graded) == ALL


def test_an_installed_package_is_hidden_from_the_box(run, monkeypatch, tmp_path):
    """Where rigkit was installed by pip, the chapters and worked copies lie beside numpy."""
    site = tmp_path / "site-packages"
    (site / "rigkit" / "course" / "chapters").mkdir(parents=True)
    (site / "rigkit" / "course" / "chapters" / "chapter_06.py").write_text("SECRET = 1")
    (site / "other.py").write_text("THERE = 1")
    known = confinement.import_paths()
    monkeypatch.setattr(confinement, "import_paths", lambda: (*known, str(site)))
    confinement.python_places.cache_clear()
    try:
        graded = run(
            "import os, other",
            f"why = 'the folder holds : ' + str(os.listdir({str(site / 'rigkit')!r}))",
            f"open({str(site / 'rigkit' / 'x')!r}, 'w')",
        )
    finally:
        confinement.python_places.cache_clear()
    assert graded.texts["90.4", "why"] == "the folder holds : []"
    assert list(graded.errors) == [3] and "Read-only" in graded.errors[3]


def answer_line(checkpoint, **record):
    """A cell that sends a record of its own making."""
    import json

    record = {"outcome": "ok", "line": "", "calls": [], "values": {}, **record}
    line = json.dumps({"kind": "answer", "checkpoint": checkpoint, "record": record})
    return SEND + f"send({(line + chr(10)).encode()!r})"


VALUE = {"outcome": "ok", "line": "", "value": 1}


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ((answer_line("90.1", calls=[VALUE] * 5),), ""),
        ((answer_line("90.1", outcome="awaits a reader"),), ""),
        ((answer_line("90.2", values={"length": VALUE, "points": VALUE}),), ""),
        ((answer_line("90.1", points=5),), ""),
        ((SEND + "send(b'{\"kind\":\"points\",\"points\":7}\\n')",), "no message is of the kind"),
        ((SEND + "send(b'\\xff\\x00\\n')",), "not JSON"),
        ((SEND + "send(b'[' * 100000 + b'\\n')",), "nested"),
        ((SEND + "send(b'{\"kind\":\"done\"}\\n')\nimport time; time.sleep(60)",), ""),
        ((SEND + "send(b'{\"kind\":\"frozen\"}\\n')\nimport os; os._exit(0)",), ""),
        (
            (
                "import rigkit.course.collect as c\nfrom rigkit.course.checkpoint import Record, Call\n"
                "c.collect = lambda *a: Record('90.1', 'ok', calls=(Call('ok', 1),) * 5)",
            ),
            "",
        ),
        (("import records\nrecords.pack_record = lambda r: {'points': 7}",), "no record"),
        (("import rigkit.course.notebook as n\nn._OPEN['handed']['variant'] = 0\nn._OPEN['handed']['given'] = {}",), ""),
        (("import numpy as np\nnp.linalg.norm = lambda *a, **k: 0.0\nnp.isclose = np.allclose = lambda *a, **k: True",), ""),
        (("import builtins\nbuiltins.abs = lambda x: 0\nbuiltins.float = lambda x: 0.0",), ""),
    ],
    ids=range(14),
)
def test_points_can_not_be_made_up(run, cells, words):
    """No answer was given; what is forged, patched or claimed earns nothing."""
    graded = run(*cells)
    assert earned(graded) == NONE
    assert words in " ".join(graded.lines)


EQUAL = """
class Equal(float):
    def __eq__(self, other): return True
    def __sub__(self, other): return self
    def __abs__(self): return self
    __lt__ = __le__ = __gt__ = __ge__ = __eq__
    __rsub__ = __add__ = __radd__ = __sub__
    __hash__ = float.__hash__
"""
ANSWERS = {
    "an object that equals everything": (EQUAL + "length = Equal(0)", "wrong kind"),
    "an array of objects": ("length = np.array([1, None], dtype=object)", "wrong kind"),
    "a subclass of array": ("length = np.array(1.0).view(type('A', (np.ndarray,), {'__array_ufunc__': None}))", "wrong kind"),
    "a cycle": ("length = []\nlength.append(length)", "wrong kind"),
    "a deep list": ("length = 1\nfor i in range(100000):\n    length = [length]", "wrong kind"),
    "a huge array": ("length = np.zeros(30_000_000)", "wrong kind"),
    "a huge list": ("length = [0] * 3_000_000", "wrong kind"),
    "a huge whole number": ("length = 10 ** 100_000", "wrong kind"),
    "nan": ("length = float('nan')", "not a number"),
    "infinity": ("length = np.inf", "not a number"),
    "text": ("length = '5'", "wrong kind"),
    "true": ("length = True", "wrong kind"),
    "a complex number": ("length = 5 + 0j", "wrong kind"),
    "a list": ("length = [5.0]", "wrong shape"),
    "nothing": ("del length", "name missing"),
    "the dots": ("length = ...", "not started"),
    "a function": ("length = lambda: 5", "wrong kind"),
    "a silent viewer's thing": ("length = chapter.viewer().target", "wrong kind"),
    "a name that answers for itself": ("get_ipython().user_ns['length'] = chapter", "wrong kind"),
}


@pytest.mark.parametrize("name", ANSWERS)
def test_a_value_that_is_none_costs_its_own_claim(run, name):
    """The reason is named; the other claims are judged."""
    code, outcome = ANSWERS[name]
    graded = run(*RIGHT, code)
    claims = {claim.id: claim for claim in graded.results[1].claims}
    if name == "nothing":
        assert earned(graded) == ALL  # the value that was there at the check counts
    else:
        assert claims["length"].outcome == outcome, claims["length"]
        assert earned(graded) == {**ALL, "90.2": 2}


@pytest.mark.parametrize(
    ("record", "words"),
    [
        ({"outcome": "awaits a reader"}, "no record: an outcome"),
        ({"calls": [VALUE]}, "no record: 1 results for 5 calls"),
        ({"points": 5}, "no record: a record with other"),
        ({"values": {"x": VALUE}}, "no record: 0 results"),
    ],
)
def test_a_forged_record_that_is_no_record_is_named(run, record, words):
    """It is the last word about its checkpoint, sent while the function is tried, and still earns nothing."""
    graded = run(
        *RIGHT,
        answer_line("90.1", **record).replace("send(b", "DATA = (b"),
        "def middle(a, b):\n    send(DATA)\n    os._exit(1)\n",
        "import rigkit.course.collect as c\nc.Record = None",
    )
    assert graded.results[0].earned == 0
    assert words in " ".join(graded.lines) or graded.results[0].outcome == "stopped with an error"


FUNCTIONS = {
    "never ends": ("while True: pass", "took too long"),
    "never ends in C": ("return sum(iter(int, 1))", "took too long"),
    "never ends and catches all": (
        "while True:\n        try:\n            while True: pass\n        except BaseException: pass",
        "took too long",
    ),
    "ends Python": ("import os; os._exit(0)", "stopped with an error"),
    "crashes": ("import ctypes; ctypes.string_at(0)", "stopped with an error"),
    "raises": ("return 1 / 0", "stopped with an error"),
    "exits": ("raise SystemExit", "stopped with an error"),
    "interrupts": ("raise KeyboardInterrupt", "stopped with an error"),
    "changes its input": ("a += 1\n    return (a + b) / 2", "changed its input"),
    "gives nothing": ("pass\n    x = 1", "wrong kind"),
    "gives an object": ("return object()", "wrong kind"),
    "gives nan": ("return a * np.nan", "not a number"),
    "gives a generator": ("return (x for x in (1, 2, 3))", "wrong kind"),
    "calls what is closed": ("import rigkit.words\n    return rigkit.words.point(a)", "closed book"),
    "calls what is closed by another way": (
        "import importlib\n    return getattr(importlib.import_module('rigkit' + '.words'), 'po' + 'int')(a)",
        "closed book",
    ),
    "asks for a huge allocation": ("return np.zeros((1 << 40, 3))", "stopped with an error"),
    "forks": ("import os\n    while True: os.fork()", "stopped with an error|took too long"),
}


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_function_that_misbehaves_costs_its_own_checkpoint(run, name):
    """It is tried in a process of its own."""
    body, outcome = FUNCTIONS[name]
    graded = run(*RIGHT, f"def middle(a, b):\n    {body}")
    assert graded.results[0].earned == 0
    assert graded.results[0].outcome in outcome.split("|") or graded.results[0].claims[0].outcome in outcome.split("|"), graded.results[0]
    assert earned(graded) == {**ALL, "90.1": 0}


def test_hidden_inputs_are_not_those_of_the_notebook_nor_of_another_learner(run):
    """A function that knows the answers to the learner's own cases by heart has learned nothing."""
    from rigkit.course import context
    from tests.course import tiny

    here = [case.inputs for case in context.cases(tiny.MIDDLE, tiny.context(7))]
    table = [(case["a"].tolist(), case["b"].tolist(), tiny.middle(**case).tolist()) for case in here]
    graded = run(
        f"def middle(a, b):\n    return next(np.array(m) for p, q, m in {table!r} if p == a.tolist() and q == b.tolist())", learner="ada7"
    )
    assert graded.results[0].earned == 0


def test_a_hidden_input_is_not_told_by_an_error(run):
    """What an error says of a hidden call would carry the inputs out into the learner's page."""
    graded = run("def middle(a, b):\n    raise ValueError(f'inputs {a.tolist()} {b.tolist()}')")
    claim = graded.results[0].claims[0]
    assert claim.outcome == "stopped with an error"
    assert claim.got.startswith("ValueError  (line 2 of your cell: raise ValueError(f'inputs"), claim
    graded = run("def middle(a, b):\n    raise type(f'E{a.tolist()}', (Exception,), {})")
    assert graded.results[0].claims[0].got.startswith("an error of its own  (line 2"), graded.results[0]


def test_neighbours_of_a_hostile_notebook_are_graded(run):
    """After a fork bomb the next one starts and earns all its points."""
    assert run("import os\nwhile True: os.fork()", *RIGHT).status == "look"
    assert earned(run(*RIGHT)) == ALL


def test_a_run_is_ended_when_the_grader_is_to_stop(run):
    """Ctrl+C must not wait for a notebook that never ends."""
    import threading

    timer = threading.Timer(1.0, box.STOP.set)
    timer.start()
    began = time.monotonic()
    try:
        run("import time\ntime.sleep(1000)", limits=box.Limits(cell=60, notebook=100))
        assert time.monotonic() - began < 20
    finally:
        timer.join()
        box.STOP.clear()


def test_the_box_dies_with_the_grader(tmp_path):
    """Killed without a word, it takes its boxes along."""
    import signal
    import subprocess
    import sys

    code = (
        "import threading, pickle\nfrom rigkit.grading import box\n"
        "job = dict(cells=['import time; time.sleep(1000)'], leave_out=[], seconds={'cell': 1000.0, 'grace': 1.0},\n"
        "           checkpoints=[], handed=pickle.dumps({}))\n"
        "from rigkit.grading import package\nfrom rigkit.course import chapters\n"
        f"copy = package.build(chapters.get('00'), {str(tmp_path)!r})\nprint('go', flush=True)\nbox.run(copy, job, {{}})\n"
    )
    grader = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, cwd=Path(__file__).resolve().parents[2])
    assert grader.stdout.readline() == b"go\n"
    end = time.monotonic() + 30
    while not strays() and time.monotonic() < end:
        time.sleep(0.05)
    assert strays()
    os.kill(grader.pid, signal.SIGKILL)
    grader.wait()
    grader.stdout.close()


def test_without_a_box_the_same_notebook_is_run_with_limits(run):
    """The mode is told; an endless loop and a huge allocation are ended all the same."""
    graded = run(*RIGHT, "sum(iter(int, 1))", "x = bytearray(1 << 40)", mode="trusted")
    assert graded.mode == "trusted"
    assert earned(graded) == ALL
    assert graded.status == "look" and "took too long in code cell 5" in graded.lines[0]


@pytest.mark.parametrize("limits", [LIMITS])
def test_a_box_that_can_not_start_is_no_fault_of_the_learner(run, monkeypatch, limits):
    """The grader says so, and tries again next time."""
    from rigkit.grading import marking

    monkeypatch.setattr(confinement, "python_places", lambda: ("/nowhere",))
    with pytest.raises(marking.Failed, match="did not start"):
        run(*RIGHT, limits=limits)
