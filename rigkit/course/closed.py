"""Closed book: while an answer is tried, the package's own answer is out of reach.

Every function that would hand the answer over has its code exchanged for one
line that raises ClosedBook, and gets it back afterwards. The function object
stays the same, so it makes no difference how the learner's code came by it, and
an answer that is the package's function itself is caught as well. Copying a
source text can't be detected, and isn't meant to be.
"""

import inspect
import sys
import threading
import types
from contextlib import contextmanager
from functools import cache
from importlib import import_module
from pathlib import Path

_lock = threading.RLock()
_closed = {}  # function -> [how many times it is closed, its own code]


class ClosedBook(Exception):
    """The answer called a function of the package that is the answer itself."""


@contextmanager
def closed(names):
    """Close functions of the package while the block runs.

    names: "module.function", "module.Class", "module.Class.method" or "module"
    (everything defined in it), seen from rigkit. May be nested. Raises ValueError
    for a name that is not there.

    >>> import rigkit.words
    >>> with closed(["words.millimetres"]):
    ...     rigkit.words.millimetres(1.0)
    Traceback (most recent call last):
    ...
    rigkit.course.closed.ClosedBook: words.millimetres
    >>> rigkit.words.millimetres(1.0)
    '1000.0 mm'
    """
    found = [pair for name in names for pair in functions(name)]
    try:
        with _lock:
            for name, function in found:
                _close(name, function)
        yield
    finally:
        with _lock:
            for _, function in found:
                _open(function)


def functions(name):
    """Return the (name, function) pairs that a name closes, each function once.

    A private helper module `_limb_...` belongs to limb, and closes with it or with any part of it.
    """
    target, module = _resolve(name)
    pairs = dict.fromkeys(_inside(name, target, module))
    head = name.split(".")[0]
    for helper in _helpers(head):
        pairs |= dict.fromkeys(_inside(helper.__name__.split(".")[-1], helper, helper))
    if not pairs:
        raise ValueError(f"{name!r} is no function of the package, nor holds any; give module.function or module")
    return list(pairs)


def _resolve(name):
    parts = name.split(".")
    for length in range(len(parts), 0, -1):
        path = ".".join(["rigkit", *parts[:length]])
        try:
            module = sys.modules.get(path) or import_module(path)
        except ModuleNotFoundError as error:
            if not path.startswith(error.name or path + "."):
                raise
            continue
        target = module
        for part in parts[length:]:
            target = inspect.getattr_static(target, part, None)
            if target is None:
                raise ValueError(f"{name!r} is not in the package: {path} has no {part!r}")
        return target, module
    raise ValueError(f"{name!r} is not in the package: there is no module rigkit.{parts[0]}")


@cache
def _helpers(head):
    """The private modules that belong to a module: those called `_head_...`."""
    folder = Path(__file__).resolve().parent.parent
    return [import_module(f"rigkit.{path.stem}") for path in sorted(folder.glob(f"_{head}_*.py"))]


def _inside(name, target, module):
    """All functions in a function, class or module that are defined in `module`."""
    target = inspect.unwrap(target) if callable(target) else target
    if isinstance(target, (staticmethod, classmethod)):
        target = target.__func__
    if isinstance(target, types.FunctionType):
        yield name, target
    elif isinstance(target, property):
        yield from ((name, part) for part in (target.fget, target.fset) if part is not None)
    elif isinstance(target, (type, types.ModuleType)):
        for key, value in list(vars(target).items()):
            if getattr(inspect.unwrap(value) if callable(value) else value, "__module__", module.__name__) == module.__name__:
                if isinstance(value, (types.FunctionType, type, staticmethod, classmethod, property)) or hasattr(value, "__wrapped__"):
                    yield from _inside(f"{name}.{key}", value, module)


def _close(name, function):
    entry = _closed.get(function)
    if entry is None:
        own = function.__code__
        function.__code__ = _raising(name, len(own.co_freevars))
        _closed[function] = [1, own]
    else:
        entry[0] += 1


def _open(function):
    entry = _closed.get(function)
    if entry is None:
        return
    entry[0] -= 1
    if entry[0] == 0:
        function.__code__ = entry[1]
        del _closed[function]


@cache
def _raising(name, free):
    """Code that raises ClosedBook(name), with as many free variables as the code it stands in for."""
    letters = ", ".join(f"v{i}" for i in range(free))
    source = (
        "def outer():\n"
        + (f"    {letters} = {', '.join(['None'] * free)}\n" if free else "")
        + "    def closed(*args, **kwargs):\n"
        + (f"        if False: ({letters},)\n" if free else "")
        + "        from rigkit.course.closed import ClosedBook\n"
        + f"        raise ClosedBook({name!r})\n"
        + "    return closed\n"
    )
    space = {}
    exec(compile(source, "<closed book>", "exec"), space)
    return space["outer"]().__code__
