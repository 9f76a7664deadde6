"""The box's copy of the package: what a chapter's notebook may use, without anything that would hand an answer over.

Left out: the chapters with their checks, worked answers and planned mistakes, the
robot's table and its maker, the grader, the audit. The viewer and the chapter's
session are stand-ins that stay silent. Every function that a checkpoint of the
chapter closes keeps its name and signature and raises ClosedBook. The copy is
compiled once, so that a box starts fast.
"""

import ast
import compileall
import py_compile
import tempfile
import threading
from pathlib import Path

import rigkit

PACKAGE = Path(rigkit.__file__).resolve().parent
HERE = Path(__file__).resolve().parent
LEFT_OUT = {"robot", "view", "audit", "gltf.py", "grading", "course", "cli.py", "_shared", "__pycache__"}
COURSE = ("checkpoint.py", "forms.py", "collect.py", "closed.py")
PROGRAM = ("inbox.py", "confining.py", "records.py", "forker.py", "nest.py")
_BUILDING, _built = threading.Lock(), {}


def build(chapter, folder):
    """Write the box's copy for a chapter below `folder`, once, and return its path.

    In it: the programs of the box (PROGRAM) and rigkit/.
    """
    with _BUILDING:
        if (chapter.id, folder) not in _built:
            _built[chapter.id, folder] = _build(chapter, Path(folder))
        return _built[chapter.id, folder]


def _build(chapter, folder):
    closed = sorted({name for checkpoint in chapter.checkpoints for name in checkpoint.closed})
    target = Path(tempfile.mkdtemp(prefix=f"{chapter.id}-", dir=folder))
    for name, source in _files(closed):
        path = target / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(source, encoding="utf-8")
    compileall.compile_dir(
        target, quiet=2, stripdir=str(target), prependdir="/box", invalidation_mode=py_compile.PycInvalidationMode.UNCHECKED_HASH
    )
    return target


def closed_source(source, names, label):
    """A module's source with the functions `names` ("solve", "Plane.flip", or "" for all) raising ClosedBook(label.name).

    >>> print(closed_source("def f(x):\\n    return 2 * x", {"f"}, "toy"))
    def f(x):
        from rigkit.course.closed import ClosedBook
        raise ClosedBook('toy.f')
    """
    if not names:
        return source
    tree = ast.parse(source)
    _close(tree, names, label, "" in names, "")
    return ast.unparse(ast.fix_missing_locations(tree))


def _files(closed):
    """(name in the copy, source) of every file."""
    by_module = _by_module(closed)
    for path in sorted(PACKAGE.iterdir()):
        if path.name in LEFT_OUT or path.suffix != ".py":
            continue
        yield f"rigkit/{path.name}", closed_source(path.read_text(encoding="utf-8"), by_module(path.stem), path.stem)
    for name in COURSE:
        yield f"rigkit/course/{name}", (PACKAGE / "course" / name).read_text(encoding="utf-8")
    for path in sorted((HERE / "standin").rglob("*.py")):
        place = path.relative_to(HERE / "standin").as_posix()
        if place != "__init__.py":
            yield f"rigkit/{place}", path.read_text(encoding="utf-8").replace("rigkit.grading.standin.", "rigkit.")
    for name in PROGRAM:
        yield name, (HERE / name).read_text(encoding="utf-8")


def _by_module(closed):
    """A function from a module's name to the names in it that are closed; a private helper `_limb_...` closes with limb."""
    table = {}
    for name in closed:
        module, _, rest = name.partition(".")
        table.setdefault(module, set()).add(rest)

    def names(module):
        if module in table:
            return table[module]
        return {""} if any(module.startswith(f"_{known}_") for known in table) else set()

    return names


def _close(node, names, label, inside, prefix):
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.ClassDef):
            name = prefix + child.name
            _close(child, names, label, inside or name in names, name + ".")
        elif isinstance(child, (ast.FunctionDef, ast.AsyncFunctionDef)):
            name = prefix + child.name
            if inside or name in names:
                child.body = _raising(child, f"{label}.{name}")
        elif isinstance(child, (ast.If, ast.Try, ast.With)):
            _close(child, names, label, inside, prefix)


def _raising(function, told):
    keep = function.body[:1] if ast.get_docstring(function) is not None else []
    return keep + ast.parse(f"from rigkit.course.closed import ClosedBook\nraise ClosedBook({told!r})").body
