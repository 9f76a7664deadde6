"""From a notebook's names to plain data: look an answer up, try it, and keep what came out.

This is the only part of the course that runs the learner's code, and all that
the confined side of grading needs of it: it reads a checkpoint's id, kind,
names, closed and seconds, never its claims. What it returns is a Record of
plain data. Whatever the answer does (raises, never ends, changes what it was
given, calls the package's own answer) becomes an outcome with one line.
"""

import contextlib
import copy
import ctypes
import dis
import inspect
import io
import linecache
import random
import signal
import threading
import time
import types
import warnings

import numpy as np

from rigkit.arguments import shorten
from rigkit.course.checkpoint import Call, Record
from rigkit.course.closed import ClosedBook, closed

DEEPEST = 20
LARGEST = 2_000_000  # items, numbers and letters in one answer
AGAIN = 0.1  # seconds between two tries to end an answer whose time is up


class TookTooLong(BaseException):
    """The time is up. Not an Exception, so that an answer's own `except Exception` doesn't hold it back."""


class NotPlain(Exception):
    """A value that isn't plain data; the message says what it is. inside: whether it lies in another value."""

    inside = False


class Blank(NotPlain):
    """A value that is, or holds, the `...` of a task not yet done."""


def collect(checkpoint, namespace, cases):
    """Return the Record of one checkpoint's answer.

    checkpoint: anything with .id, .kind, .names, .closed and .seconds. namespace:
    name to value, as the learner's notebook left it. cases: what a function is
    called with, a sequence of Case. KeyboardInterrupt passes through.
    """
    if checkpoint.kind == "function":
        return _collect_function(checkpoint, namespace, cases)
    values = {name: value_of(name, namespace) for name in checkpoint.names}
    outcomes = {call.outcome for call in values.values()}
    for outcome in ("not started", "name missing"):
        if outcomes == {outcome}:
            first = next(iter(values.values()))
            return Record(checkpoint.id, outcome, first.line, values=values)
    return Record(checkpoint.id, values=values)


def value_of(name, namespace):
    """Return the Call of one value: plain data, or why there is none."""
    if name not in namespace:
        return Call("name missing", None, f"there is no {name} yet; run the cell that defines it")
    value = namespace[name]
    if value is ...:
        return Call("not started", None, f"{name} is still `...`")
    try:
        return Call("ok", plain(value))
    except Blank:
        return Call("not started", None, f"{name} still holds a `...`")
    except NotPlain as error:
        return Call("wrong kind", None, f"{name} {'holds' if error.inside else 'is'} {error}")


def plain(value):
    """Return a copy of `value` as plain data, exact types only; anything else raises NotPlain.

    Plain are None, bool, int, float, complex, str, list, tuple, dict with text
    or number keys, and arrays of numbers. numpy scalars become Python ones.

    >>> plain((np.float64(1.5), [np.arange(2)]))
    (1.5, [array([0, 1])])
    """
    return _plain(value, 0, [0])


def not_started(function):
    """Whether a function's body is nothing but a docstring and `...` (it then returns Ellipsis or None).

    >>> def loop_centre(points):
    ...     "Return the centre."
    ...     ...
    >>> not_started(loop_centre)
    True
    """
    code = getattr(function, "__code__", None)
    if code is None:
        return False
    steps = [step for step in dis.get_instructions(code) if step.opname not in ("RESUME", "NOP", "CACHE")]
    returned = [step for step in steps if step.opname in ("LOAD_CONST", "RETURN_CONST")]
    others = [step for step in steps if step.opname not in ("LOAD_CONST", "RETURN_CONST", "RETURN_VALUE")]
    return not others and all(step.argval is None or step.argval is ... for step in returned)


def call(function, case, seconds=5.0, namespace=None):
    """Call `function` once with a copy of the case's inputs, in order, and return the Call.

    seconds: when it takes longer the outcome is "took too long". namespace: the
    globals of the learner's notebook, to tell the learner's own lines from others'.
    """
    inputs = copy.deepcopy(dict(case.inputs))
    try:
        with quiet():
            value = limited(seconds, lambda: _with_errstate(function, inputs))
    except KeyboardInterrupt:
        raise
    except TookTooLong:
        return Call("took too long", None, f"no result after {seconds:.3g} s; is there a loop that never ends?")
    except ClosedBook as error:
        return Call("closed book", None, closed_line(error))
    except BaseException as error:
        if isinstance(error, (TypeError, AttributeError, ValueError)) and "ellipsis" in str(error).lower():
            return Call("not started", None, "a `...` is left in the function")
        return Call("stopped with an error", None, error_line(error, namespace))
    changed = next((name for name, given in case.inputs.items() if not same(given, inputs[name])), None)
    if changed is not None:
        return Call("changed its input", None, f"the call changed {changed}, which is not its own; take a copy first: {changed}.copy()")
    try:
        return Call("ok", plain(value))
    except Blank:
        return Call("not started", None, "the function still returns a `...`")
    except NotPlain as error:
        return Call("wrong kind", None, f"the function returns {error}")


def same(a, b, tolerance=0.0):
    """Whether two plain values are the same; numbers within `tolerance`, relative and absolute. nan equals nan.

    >>> same([1.0, np.arange(3)], [1.0, np.arange(3)]), same(1.0, 1.0 + 1e-12), same(1.0, 1.0 + 1e-12, 1e-9)
    (True, False, True)
    """
    if a is b:
        return True
    if isinstance(a, np.ndarray) or isinstance(b, np.ndarray):
        return _same_arrays(a, b, tolerance)
    if type(a) in (int, float, complex) and type(b) in (int, float, complex):
        return a == b or bool(np.isclose(complex(a), complex(b), rtol=tolerance, atol=tolerance, equal_nan=True))
    if type(a) is not type(b):
        return False
    if isinstance(a, (list, tuple)):
        return len(a) == len(b) and all(same(x, y, tolerance) for x, y in zip(a, b))
    if isinstance(a, dict):
        return list(a) == list(b) and all(same(a[key], b[key], tolerance) for key in a)
    if hasattr(a, "__dataclass_fields__"):
        return all(same(getattr(a, f), getattr(b, f), tolerance) for f in a.__dataclass_fields__)
    return bool(a == b)


def closed_line(error):
    """The line for an answer that called the package's own."""
    return f"the answer calls rigkit.{error}, which is the package's own answer"


MESSAGE, OWN_LINE = 72, 46  # letters: the two rows of a panel hold both, so that a long message never hides the line it came from


def error_line(error, namespace=None):
    """What an error says, and the learner's own line it came from; no traceback."""
    message = " ".join(str(error).split())
    told = f"{type(error).__name__}: {shorten_text(message, MESSAGE)}" if message else type(error).__name__
    line = _own_line(error, namespace)
    return f"{told}  (line {line[0]} of your cell: {shorten_text(line[1], OWN_LINE)})" if line else told


def shorten_text(text, width):
    """`text` cut to `width` letters."""
    return text if len(text) <= width else text[: width - 3] + "..."


@contextlib.contextmanager
def quiet():
    """Run a block with numpy's and Python's global random numbers, warnings and prints set apart."""
    numpy_state, python_state = np.random.get_state(), random.getstate()
    np.random.seed(0)
    random.seed(0)
    try:
        with warnings.catch_warnings(), contextlib.redirect_stdout(_Nowhere()), contextlib.redirect_stderr(_Nowhere()):
            warnings.simplefilter("ignore")
            yield
    finally:
        np.random.set_state(numpy_state)
        random.setstate(python_state)


def limited(seconds, work):
    """Return work(), or raise TookTooLong in it when the time is up, and again every tenth of a second until it gives in."""
    by_signal = hasattr(signal, "setitimer") and threading.current_thread() is threading.main_thread()
    return (_by_signal if by_signal else _by_thread)(max(seconds, 1e-3), work)


# -- helpers


def _collect_function(checkpoint, namespace, cases):
    (name,) = checkpoint.names
    if name not in namespace:
        return Record(checkpoint.id, "name missing", f"there is no {name} yet; run the cell that defines it")
    function = namespace[name]
    if function is ... or not_started(function):
        return Record(checkpoint.id, "not started", f"{name} is still `...`")
    if not callable(function):
        return Record(checkpoint.id, "wrong kind", f"{name} is {_words(function)}; expected a function")
    cases = list(cases)
    mismatch = cases and _wrong_arguments(name, function, cases[0])
    if mismatch:
        return Record(checkpoint.id, "wrong kind", mismatch)
    return _record_calls(checkpoint, namespace, function, cases)


def _with_errstate(function, inputs):
    """The call, with numpy's error settings set apart (they belong to a thread, so inside the limit)."""
    with np.errstate(divide="warn", over="warn", under="ignore", invalid="warn"):
        return function(*inputs.values())


def _record_calls(checkpoint, namespace, function, cases):
    calls = []
    end = time.monotonic() + checkpoint.seconds
    with closed(getattr(checkpoint, "closed", ())):
        for case in cases:
            left = end - time.monotonic()
            late = Call("took too long", None, f"no result after {checkpoint.seconds:.3g} s for all {len(cases)} cases together")
            calls.append(call(function, case, left, namespace) if left > 0 else late)
            if calls[-1].outcome == "took too long":
                calls[-1] = late
    if calls and all(one.outcome == "not started" for one in calls):
        return Record(checkpoint.id, "not started", calls[0].line, tuple(calls))
    return Record(checkpoint.id, calls=tuple(calls))


def _wrong_arguments(name, function, case):
    try:
        signature = inspect.signature(function)
    except (TypeError, ValueError):
        return ""
    try:
        signature.bind(*case.inputs.values())
    except TypeError:
        return f"it is {name}{shorten_text(str(signature), 60)}; expected {name}({', '.join(case.inputs)})"
    return ""


def _plain(value, depth, count):
    count[0] += 1
    if depth > DEEPEST:
        raise NotPlain(f"nested more than {DEEPEST} deep; expected plain lists or arrays")
    if count[0] > LARGEST:
        raise NotPlain(f"more than {LARGEST} items; expected a smaller answer")
    kind = type(value)
    if value is None or kind in (bool, int, float, complex):
        return value
    if kind is str:
        count[0] += len(value)
        return value
    if kind in (list, tuple):
        return kind(_plain(item, depth + 1, count) for item in value)
    if kind is dict:
        return {_key(key): _plain(item, depth + 1, count) for key, item in value.items()}
    if kind is np.ndarray and value.dtype.kind in "biufc":
        count[0] += value.size
        return np.array(value)
    if kind in _NUMPY_SCALARS:
        return value.item()
    if value is ... or (kind is np.ndarray and value.dtype == object and any(item is ... for item in value.flat)):
        raise Blank
    error = NotPlain(f"{_words(value)}; expected plain data: numbers, text, lists, dicts or arrays of numbers")
    error.inside = depth > 0
    raise error


_NUMPY_SCALARS = {np.dtype(code).type for code in "?bBhHiIlLqQefdFD"}


def _key(key):
    if type(key) in (str, int, float, bool):
        return key
    raise NotPlain(f"a dict with a {type(key).__name__} among its keys; expected names or numbers")


LISTABLE = (types.GeneratorType, range, map, zip, filter, set, frozenset, type({}.keys()), type({}.values()), type({}.items()))


def _words(value):
    kind = type(value)
    if isinstance(value, LISTABLE):
        return f"a {kind.__name__}; put list(...) around it"
    if kind is np.ndarray and value.dtype.kind == "U":
        return "an array of texts; put .tolist() behind it"
    if kind is np.ndarray:
        return f"an array of type {value.dtype}"
    if kind in (bool, int, float, str, list, tuple, dict):
        return f"a {kind.__name__} ({shorten(value, 30)})"
    return f"a {kind.__name__}"


def _same_arrays(a, b, tolerance):
    a, b = np.asarray(a), np.asarray(b)
    if a.shape != b.shape:
        return False
    if a.dtype.kind in "biufc" and b.dtype.kind in "biufc":
        return bool(np.isclose(a, b, rtol=tolerance, atol=tolerance, equal_nan=True).all())
    return a.dtype == b.dtype and bool((a == b).all())


def _own_line(error, namespace):
    """(number, text) of the last line of the learner's that the error passed through, or None."""
    found = None
    step = error.__traceback__
    while step is not None:
        frame = step.tb_frame
        if namespace is not None and frame.f_globals is namespace:
            found = (step.tb_lineno, linecache.getline(frame.f_code.co_filename, step.tb_lineno, frame.f_globals).strip())
        step = step.tb_next
    if found is None and isinstance(error, SyntaxError) and error.lineno:
        found = (error.lineno, (error.text or "").strip())
    return found


class _Nowhere(io.TextIOBase):
    """Prints go nowhere while an answer is tried: a check calls it many times."""

    def writable(self):
        return True

    def write(self, text):
        return len(text)


def _by_signal(seconds, work):
    """In the main thread, by an alarm; a timer that ran before goes on afterwards."""
    before = signal.signal(signal.SIGALRM, _ring)
    began = time.monotonic()
    rest, interval = signal.setitimer(signal.ITIMER_REAL, seconds, AGAIN)
    try:
        return _guarded(work)
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before if before is not None else signal.SIG_DFL)
        if rest:
            signal.setitimer(signal.ITIMER_REAL, max(rest - (time.monotonic() - began), 1e-3), interval)


def _guarded(work):
    return work()


def _ring(signum, frame):
    """Raise only while the work is running, never in the code that cleans up after it."""
    while frame is not None:
        if frame.f_code is _guarded.__code__:
            raise TookTooLong
        frame = frame.f_back


def _by_thread(seconds, work):
    """Elsewhere, in a thread of its own. It can end Python code only: a call into C goes on alone when we stop waiting."""
    done = {}

    def run():
        try:
            done["value"] = work()
        except BaseException as error:
            done["error"] = error
    worker = threading.Thread(target=run, daemon=True)
    worker.start()
    try:
        worker.join(seconds)
        late = worker.is_alive()
    finally:
        _end(worker)
    if late or not done:
        raise TookTooLong
    if "error" in done:
        raise done["error"]
    return done["value"]


def _end(worker):
    """Make a thread that still runs give in; give up after a second."""
    for _ in range(10):
        if not worker.is_alive():
            return
        ctypes.pythonapi.PyThreadState_SetAsyncExc(ctypes.c_ulong(worker.ident), ctypes.py_object(TookTooLong))
        worker.join(AGAIN)
