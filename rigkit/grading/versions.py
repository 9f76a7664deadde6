"""What a notebook's points depend on beside the notebook: the versions that go into its key.

A fix in one chapter must not run the others again, so the sources count by
chapter: everything of the package but what stands above grading (an import never
points up, tests/test_layers.py) and what only tells points, and of the chapters
its own modules, those it imports, and those whose answers it uses.
"""

import ast
import hashlib
import platform
from functools import lru_cache
from importlib import metadata

from rigkit import __version__
from rigkit.course import chapters, coursefile
from rigkit.files import shared
from rigkit.grading import marking, package

ENGINE = "2"  # raise it when grading itself changes what it gives
ABOVE = ("cli.py", "book/", "course/handout.py", "course/lab.py", "course/far.py")  # nothing that makes points leans on them
UNGRADED = tuple(
    f"grading/{name}.py"
    for name in (
        "reports",
        "figures",
        "pages",
        "markup",
        "results",
        "schema",
        "times",
        "coordinator",
        "planning",
        "pools",
        "oneroster",
        "cluster",
        "telling",
        "reader",
        "versions",
    )
)  # they keep and tell points, they don't make them
CHAPTERS = "course/chapters/"
LIBRARIES = ("numpy", "ipython")


def key_of(data, ticket):
    """The key of one notebook: a hash of everything its points depend on."""
    parts = [
        data,
        ticket.learner,
        ticket.chapter,
        ticket.variant,
        sorted(ticket.seeds.items()),
        ticket.limits,
        ticket.mode,
        __version__,
        marking.set_up(chapters.get(ticket.chapter)),
        coursefile.in_use().digest,
        of_chapter(ticket.chapter),
    ]
    return hashlib.sha256(
        b"\0".join(hashlib.sha256(part if type(part) is bytes else repr(part).encode()).digest() for part in parts)
    ).hexdigest()


def of_chapter(chapter):
    """The version of what grades one chapter."""
    return _version(chapter, chapters.get(chapter).uses, tuple(_sources().items()))


@lru_cache(maxsize=64)
def _version(chapter, uses, sources):
    """As of_chapter, which is asked for each notebook; `uses` and `sources` are what can change while a process runs."""
    own = _own(chapter)
    digest = hashlib.sha256(f"{ENGINE} {platform.python_version()} {[metadata.version(one) for one in LIBRARIES]}".encode())
    for name, content in sources:
        if not name.startswith(CHAPTERS) or name.removeprefix(CHAPTERS).removesuffix(".py") in own:
            digest.update(name.encode() + b"\0" + content + b"\0")
    return digest.hexdigest()


def _own(chapter):
    """The modules a chapter is made of, by name, with __init__."""
    modules = {name.removeprefix(CHAPTERS).removesuffix(".py"): name for name in _sources() if name.startswith(CHAPTERS)}
    waiting, found = [f"chapter_{chapter}"] if f"chapter_{chapter}" in modules else [], {"__init__"}
    waiting += [f"chapter_{one[:2]}" for one in chapters.get(chapter).uses]
    while waiting:
        module = waiting.pop()
        if module in modules and module not in found:
            found.add(module)
            waiting += _chapters_in(modules[module])
            waiting += [f"chapter_{one[:2]}" for one in _uses_of(module)]
    return found


def _uses_of(module):
    number = module.removeprefix("chapter_")
    return chapters.get(number).uses if number in chapters.ids(printed=True) else ()


@lru_cache(maxsize=256)
def _chapters_in(name):
    """The modules of chapters that a module imports."""
    found = []
    for node in ast.walk(ast.parse((package.PACKAGE / name).read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            found += [f"{node.module}.{alias.name}" for alias in node.names] + [node.module or ""]
        elif isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
    parts = [part for one in found for part in one.split(".")]
    return [part for part in parts if part.startswith("chapter_")]


@lru_cache(maxsize=1)
def _sources():
    """Name to a hash of every source and of the course's data."""
    found = {}
    for place, pattern in ((package.PACKAGE, "*.py"), (shared("data"), "*.*")):
        for path in sorted(place.rglob(pattern)):
            name = path.relative_to(place).as_posix()
            if path.is_file() and not name.startswith(ABOVE) and name not in UNGRADED:
                found[name] = hashlib.sha256(path.read_bytes()).digest()
    return found
