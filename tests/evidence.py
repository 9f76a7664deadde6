"""What the tests rest on: how many there are of each kind, and what each outside source says. Run `python -m tests.evidence`.

The tests are collected, not run. A test has one kind, the first that fits in the order of KINDS; a test with several sources counts
for each of them. A check is one collected item: a parametrised test gives several. Paths may be given, for example
`python -m tests.evidence tests/test_limb.py`.
"""

import contextlib
import inspect
import io
import sys
from collections import Counter, defaultdict
from functools import cache

import pytest

from tests.sources import SOURCES


def _named_in(*files):
    return lambda item: item.path.name in files


def _from(kind):
    return lambda item: any(SOURCES[name].kind == kind for name in named(item))


@cache
def _asks_for_an_error(test):
    return "pytest.raises(" in inspect.getsource(test)


def _random(item):
    return hasattr(getattr(item, "obj", None), "hypothesis")


# In this order: the first that fits is the kind of a test.
KINDS = {
    "notebook cell": lambda item: type(item).__name__ == "IPyNbCell",
    "doctest": lambda item: isinstance(item, pytest.DoctestItem),
    "browser": lambda item: item.get_closest_marker("browser"),
    "hostile hand-in": _named_in("test_hostile.py"),
    "in a box": lambda item: item.get_closest_marker("box"),
    "benchmark, called once": lambda item: "benchmarks" in item.path.parts,
    "planned mistake": lambda item: "planned_mistake" in item.name,
    "oracle: another library": _from("library"),
    "reference value: a publication": _from("text"),
    "somebody's model": _from("model"),
    "property": _random,
    "error text": lambda item: _asks_for_an_error(item.function),
    "unit": lambda item: True,
}


def named(item):
    """The names of the sources of a test, in order, each once; an unknown one is a ValueError."""
    names = list(dict.fromkeys(name for mark in item.iter_markers("source") for name in mark.args))
    unknown = [name for name in names if name not in SOURCES]
    if unknown:
        raise ValueError(f"{item.nodeid} names the source {unknown[0]!r}; expected one of tests/sources.py: add it there")
    return names


def kind(item):
    """The kind of a test."""
    return next(name for name, fits in KINDS.items() if fits(item))  # the last fits every test


def function(item):
    """What a test is without its parameters."""
    return item.nodeid.partition("[")[0]


class _Collector:
    def pytest_collection_finish(self, session):
        self.items = session.items


def collect(paths):
    """The items of a collection of these paths, all of the project for none; what can't be collected is a RuntimeError."""
    collector, told = _Collector(), io.StringIO()
    with contextlib.redirect_stdout(told), contextlib.redirect_stderr(told):
        code = pytest.main(["--collect-only", "-q", "-p", "no:cacheprovider", *paths], plugins=[collector])
    if code != pytest.ExitCode.OK:
        raise RuntimeError(f"pytest could not collect the tests (exit code {int(code)}):\n{told.getvalue()[-3000:]}")
    return collector.items


def tables(items):
    """(kinds: rows of kind, tests, checks; sources: rows of name, kind, tests, checks, citation; tests on random input) of items."""
    by_kind, by_source = defaultdict(Counter), defaultdict(Counter)
    for item in items:
        by_kind[kind(item)][function(item)] += 1
        for name in named(item):
            by_source[name][function(item)] += 1
    kinds = [(name, len(by_kind[name]), by_kind[name].total()) for name in KINDS if by_kind[name]]
    sources = [(name, SOURCES[name].kind, len(count), count.total(), SOURCES[name].citation) for name, count in by_source.items()]
    return kinds, sorted(sources, key=lambda row: (row[1], -row[3], row[0])), len({function(item) for item in items if _random(item)})


def text(kinds, sources, on_random_input):
    """The tables as they are printed."""
    lines = [f"{'kind':<32}{'tests':>7}{'checks':>8}"]
    lines += [f"{name:<32}{tests:>7}{checks:>8}" for name, tests, checks in kinds]
    lines += [f"{'all':<32}{sum(row[1] for row in kinds):>7}{sum(row[2] for row in kinds):>8}"]
    lines += [f"{'of them on input by hypothesis':<32}{on_random_input:>7}", ""]
    lines += [f"{'source':<32}{'tests':>7}{'checks':>8}  what"]
    lines += [f"{name:<32}{tests:>7}{checks:>8}  {what}: {citation}" for name, what, tests, checks, citation in sources]
    return "\n".join(lines)


def main(paths):
    """Collect and print."""
    print(text(*tables(collect(paths))))


if __name__ == "__main__":
    main(sys.argv[1:])
