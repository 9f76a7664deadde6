"""The program in the box: it runs a learner's cells, then tries the answers, and sends out plain records.

Phase 1 runs the cells in order in an InteractiveShell, as a notebook would, with
a time limit for each. Phase 2 begins when the shell is done: only then do the
hidden inputs come in. Each function is tried in a process of its own, so that one
that never ends or crashes costs only itself. Nothing here is trusted: whatever
this program sends is treated as something the learner wrote.

It is copied into the box beside records.py, confining.py and the box's copy of the package; it
never runs inside the grader.
"""

import asyncio
import os
import pickle
import select
import signal
import struct
import sys
import time
from types import SimpleNamespace

HERE = os.path.dirname(os.path.abspath(__file__))
EARLY = 20  # records a notebook may send for one checkpoint before its end


class CellTookTooLong(BaseException):
    """A cell's time is up."""


def main():
    """Read the job, run the cells, try the answers, say so."""
    inward, outward = _take_channels()
    job = _receive(inward)
    sys.path[:0] = [HERE] if HERE not in sys.path else []
    import confining

    confining.confine(job["confine"])
    sys.path += [path for path in job["paths"] if path not in sys.path]
    import records

    def send(kind, **fields):
        _write(outward, records.message(kind, **fields))

    notebook = Notebook(job, send, records)
    send("ready")
    _silence()
    notebook.run()
    if job["confine"]["alone"] and HERE == "/box":
        _alone()
    send("frozen")
    cases = _receive(inward)
    notebook.answer(cases)
    send("done")


def warm_up():
    """Import and make what every submission needs; a process that has done so is forked for each (see forker.py)."""
    import importlib
    import pkgutil

    import confining
    import records

    import rigkit
    from rigkit.course import closed, collect, notebook

    _shell().transform_cell("%time 1\n")
    for module in pkgutil.iter_modules(rigkit.__path__):
        importlib.import_module(f"rigkit.{module.name}")
    return confining, records, closed, collect, notebook


class Notebook:
    """A learner's notebook as it runs: the shell, the checkpoints, and the way out."""

    def __init__(self, job, send, records):
        self.job, self.send, self.records = job, send, records
        self.checkpoints = {c["id"]: SimpleNamespace(closed=(), **c) for c in job["checkpoints"]}
        self.early = dict.fromkeys(self.checkpoints, EARLY)
        self.closed_names = {}
        self.shell = _shell()
        self.loop = asyncio.new_event_loop()
        from rigkit.course import closed, collect, notebook

        self.collect, self.ClosedBook = collect, closed.ClosedBook
        notebook.hand_out(pickle.loads(job["handed"]), self.called)

    def run(self):
        """Run every cell that is not to be left out; a cell that stops with an error doesn't stop the others."""
        signal.signal(signal.SIGALRM, _ring)
        for number, source in enumerate(self.job["cells"]):
            if number in self.job["leave_out"]:
                continue
            self.send("cell", number=number, state="start", error="")
            error = self._cell(source)
            self.send("cell", number=number, state="end", error=error)

    def called(self, what, checkpoint=""):
        """What the stand-ins for check, hint and the rest do: say that they were called, and keep the answers given so far."""
        spec = self.checkpoints.get(checkpoint) if isinstance(checkpoint, str) else None
        self.send("called", what=what, checkpoint=spec.id if spec else "")
        if what == "check" and spec is not None and spec.kind != "function" and self.early[spec.id] > 0:
            self.early[spec.id] -= 1
            record = self.collect.collect(spec, self.shell.user_ns, [])
            self._send_record("early", spec.id, record)

    def answer(self, cases):
        """Try every checkpoint's answer: functions with the hidden inputs, each in a process of its own."""
        for spec in self.checkpoints.values():
            self.send("begin", checkpoint=spec.id)
            if spec.kind == "function":
                self._apart(spec, cases[spec.id])
            else:
                self._send_record("answer", spec.id, self._collect(spec, []))

    def _cell(self, source):
        error = _timed(self.job["seconds"]["cell"], lambda: self._run_cell(source))
        if self.loop.is_running() or self.loop.is_closed():
            self.loop = asyncio.new_event_loop()
        line = _timed(2.0, lambda: self._told(source, error))  # an error's own words may hang
        return line if type(line) is str else type(error).__name__[: self.records.WORDS]

    def _run_cell(self, source):
        try:
            transformed, trouble = self.shell.transform_cell(source), None
        except Exception:
            transformed, trouble = source, sys.exc_info()
        work = self.shell.run_cell_async(source, store_history=True, transformed_cell=transformed, preprocessing_exc_tuple=trouble)
        result = self.loop.run_until_complete(work)
        return result.error_before_exec or result.error_in_exec

    def _told(self, source, error):
        """One line about what stopped a cell; what it would have defined is remembered where the book is closed."""
        if error is None:
            return ""
        if isinstance(error, CellTookTooLong):
            return f"took too long: more than {self.job['seconds']['cell']:g} s"
        if isinstance(error, self.ClosedBook):
            line = self.collect.closed_line(error)
            self.closed_names |= dict.fromkeys(_names_defined(source), line)
            return f"closed book: {line}"
        return self.collect.error_line(error, self.shell.user_ns)[: self.records.WORDS]

    def _collect(self, spec, cases):
        record = self.collect.collect(spec, self.shell.user_ns, cases)
        return closed_instead(record, self.closed_names)

    def _apart(self, spec, cases):
        ours, theirs = os.pipe()
        child = os.fork()
        if child == 0:
            try:
                os.close(ours)
                _write(theirs, self._record_line("answer", spec.id, self._collect(spec, cases)))
                os._exit(0)
            finally:
                os._exit(1)
        os.close(theirs)
        line, ended = _read_until(ours, time.monotonic() + spec.seconds + self.job["seconds"]["grace"], self.records.LINE)
        os.close(ours)
        try:
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
        except PermissionError:  # where no signal may be sent, it ends with the run
            os.waitpid(child, os.WNOHANG)
        if line.endswith(b"\n"):
            _write(OUTWARD[0], line)
            return
        outcome = ("stopped with an error", "Python itself ended while the answer was tried")
        if not ended:
            outcome = ("took too long", f"no result after {spec.seconds:.3g} s for all {len(cases)} cases together")
        self._send_record("answer", spec.id, SimpleNamespace(outcome=outcome[0], line=outcome[1], calls=(), values={}))

    def _send_record(self, kind, checkpoint, record):
        _write(OUTWARD[0], self._record_line(kind, checkpoint, record))

    def _record_line(self, kind, checkpoint, record):
        line = self.records.message(kind, checkpoint=checkpoint, record=self.records.pack_record(record))
        if len(line) <= self.records.LINE:
            return line
        small = SimpleNamespace(
            outcome="wrong kind", line=f"the answer is larger than the {self.records.LINE} bytes we read", calls=(), values={}
        )
        return self.records.message(kind, checkpoint=checkpoint, record=self.records.pack_record(small))


def closed_instead(record, closed_names):
    """A record whose missing names were lost to a closed book, saying that instead."""
    from dataclasses import replace

    lost = {name: closed_names[name] for name, call in record.values.items() if call.outcome == "name missing" and name in closed_names}
    if not lost:
        return record
    values = {name: replace(call, outcome="closed book", line=lost[name]) if name in lost else call for name, call in record.values.items()}
    return replace(record, outcome="ok", line="", values=values)


def _names_defined(source):
    import ast

    try:
        tree = ast.parse(source)
    except (SyntaxError, ValueError, RecursionError):
        return set()
    return {node.id for node in ast.walk(tree) if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)}


def _shell():
    from IPython.core.interactiveshell import InteractiveShell
    from traitlets.config import Config

    config = Config()
    config.HistoryManager.enabled = False
    config.InteractiveShell.autocall = 0
    config.DisplayFormatter.active_types = ["text/plain"]
    shell = InteractiveShell.instance(config=config)
    shell.showtraceback = shell.showsyntaxerror = lambda *args, **kwargs: None  # nobody reads them, and they are slow to make
    shell._format_exception_for_storage = lambda *args, **kwargs: []  # newer versions keep them in the history too
    return shell


ARMED = [False]


def _ring(signum, frame):
    if ARMED[0]:
        raise CellTookTooLong


def _timed(seconds, work):
    """What `work()` returns or raises; CellTookTooLong, again and again until it gives in, when the time is up."""
    try:
        try:
            ARMED[0] = True
            signal.setitimer(signal.ITIMER_REAL, seconds, 0.2)
            return work()
        except BaseException as error:
            ARMED[0] = False
            return error
        finally:
            ARMED[0] = False
            signal.setitimer(signal.ITIMER_REAL, 0)
    except CellTookTooLong as error:  # it rang on the last step
        return error


# --- channels --------------------------------------------------------------------------------------------------------

OUTWARD = []


def _take_channels():
    """Keep standard input and output for ourselves; what the cells read and print goes nowhere."""
    inward, outward = os.dup(0), os.dup(1)
    nowhere = os.open(os.devnull, os.O_RDWR)
    os.dup2(nowhere, 0)
    os.dup2(nowhere, 1)
    os.close(nowhere)
    OUTWARD.append(outward)
    return inward, outward


def _silence():
    """From here on the error stream belongs to the learner's code, and goes nowhere."""
    sys.stderr.flush()
    os.dup2(1, 2)


def _alone():
    """End every other process of the box, so that nothing runs beside the answers.

    Only in a box: outside, it would be everything of this user.
    """
    try:
        os.kill(-1, signal.SIGKILL)
        while os.waitpid(-1, os.WNOHANG) != (0, 0):
            pass
    except OSError:
        pass


def _receive(handle):
    length = struct.unpack("<Q", _read_exactly(handle, 8))[0]
    return pickle.loads(_read_exactly(handle, length))


def _read_exactly(handle, count):
    parts = []
    while count:
        part = os.read(handle, min(count, 1 << 20))
        if not part:
            raise EOFError("the grader hung up")
        parts.append(part)
        count -= len(part)
    return b"".join(parts)


def _write(handle, data):
    view = memoryview(data)
    while view:
        view = view[os.write(handle, view) :]


def _read_until(handle, deadline, most):
    """What comes through a pipe until its end or the deadline, and whether the end came."""
    parts, size = [], 0
    while size <= most:
        left = deadline - time.monotonic()
        if left <= 0 or not select.select([handle], [], [], left)[0]:
            return b"".join(parts), False
        part = os.read(handle, 1 << 20)
        parts.append(part)
        size += len(part)
        if not part or part.endswith(b"\n"):
            return b"".join(parts), True
    return b"", True


if __name__ == "__main__":
    main()
