"""Answers of the course as code cells, the way a learner would have them in a notebook.

The worked answer and the planned mistakes of a checkpoint are Python objects of
the chapters' modules. A hand-in holds source text, so for functions the text is
taken from the module: the expression that makes the answer, and every definition
it leans on, inside one function so that names can't collide. Values are written
out as numbers for the learner's own variant.
"""

import ast
import importlib
from functools import cache
from pathlib import Path

import numpy as np

from rigkit.grading import marking


def cell(checkpoint, learner, mistake=None):
    """The source of one answer cell: the worked answer, or a planned mistake's."""
    if checkpoint.kind == "function":
        (name,) = checkpoint.names
        return function_cell(checkpoint, name, mistake)
    context = marking.context_of(checkpoint.id[:2], marking.variant_of(learner))
    right = dict(checkpoint.worked(context))
    wrong = dict(mistake.answer(context)) if mistake else {}
    return "\n".join(f"{name} = {literal({**right, **wrong}[name])}" for name in checkpoint.names)


def literal(value):
    """A plain value as Python source; arrays as np.array."""
    if isinstance(value, np.ndarray):
        return f"np.array({literal(value.tolist())})"
    if isinstance(value, np.generic):
        return literal(value.item())
    if isinstance(value, float) and not np.isfinite(value):
        return f"float({str(value)!r})"
    if isinstance(value, (list, tuple)):
        inside = "".join(literal(member) + ", " for member in value)
        return f"[{inside}]" if isinstance(value, list) else f"({inside})"
    if isinstance(value, dict):
        return "{" + "".join(f"{literal(k)}: {literal(v)}, " for k, v in value.items()) + "}"
    return repr(value)


def function_cell(checkpoint, name, mistake=None):
    """The source of a function answer, self-contained but for numpy and the parts of rigkit that a box has."""
    module, expression = _expression(checkpoint, mistake)
    lines = _definitions(module, expression)
    body = "\n".join([*lines, f"return {ast.unparse(expression)}"])
    indented = "\n".join("    " + line if line else line for line in body.splitlines())
    return f"import numpy as np\n\n\ndef _answer():\n{indented}\n\n\n{name} = _answer()"


def _expression(checkpoint, mistake):
    """(module name, AST) of what makes an answer: the argument of Mistake(...), or the `worked` of Checkpoint(...)."""
    for module in _modules(checkpoint.id[:2]):
        for node in ast.walk(_tree(module)):
            if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
                continue
            if (
                mistake is not None
                and node.func.id == "Mistake"
                and ast.literal_eval(node.args[0]) == mistake.name
                and _is(node.args[2], mistake.diagnosis)
            ):
                return module, node.args[1]
            if mistake is None and node.func.id == "Checkpoint":
                told = {keyword.arg: keyword.value for keyword in node.keywords}
                if _is(told.get("id"), checkpoint.id):
                    return module, told["worked"]
    raise LookupError(f"{checkpoint.id}: the source of {mistake.name if mistake else 'the worked answer'} was not found")


def _is(node, value):
    try:
        return ast.literal_eval(node) == value
    except (ValueError, TypeError):
        return False


def _definitions(module, expression):
    """Source lines of all that an expression leans on, in an order that runs: imports, then definitions as the modules have them."""
    imports, found, waiting = set(), {}, [(module, name) for name in _names(expression)]
    while waiting:
        where, name = waiting.pop()
        node = _top(where).get(name)
        if node is None or (where, name) in found:
            continue
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("rigkit.course.chapters"):
            alias = next(a for a in node.names if (a.asname or a.name) == name)
            waiting.append((node.module, alias.name))
        elif isinstance(node, (ast.Import, ast.ImportFrom)):
            alias = next(a for a in node.names if (a.asname or a.name.split(".")[0]) == name)
            told = f"import {alias.name}" if isinstance(node, ast.Import) else f"from {node.module} import {alias.name}"
            imports.add(told + (f" as {alias.asname}" if alias.asname else ""))
        else:
            found[where, name] = node
            waiting += [(where, other) for other in _names(node)]
    order = {id(node): (where != module, where, node.lineno, ast.unparse(node)) for (where, _), node in found.items()}
    ordered = sorted(order.values(), key=lambda entry: (not entry[0], entry[1], entry[2]))
    return sorted(imports) + [line for entry in ordered for line in entry[3].splitlines()]


def _names(node):
    return {n.id for n in ast.walk(node) if isinstance(n, ast.Name)}


@cache
def _tree(module):
    return ast.parse(Path(importlib.import_module(module).__file__).read_text(encoding="utf-8"))


@cache
def _top(module):
    """Top-level name to the node that makes it."""
    table = {}
    for node in _tree(module).body:
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)):
            table[node.name] = node
        elif isinstance(node, (ast.Assign, ast.AnnAssign)):
            for target in node.targets if isinstance(node, ast.Assign) else [node.target]:
                table |= {n.id: node for n in ast.walk(target) if isinstance(n, ast.Name)}
        elif isinstance(node, (ast.Import, ast.ImportFrom)):
            table |= {alias.asname or alias.name.split(".")[0]: node for alias in node.names}
    return table


@cache
def _modules(chapter):
    folder = Path(importlib.import_module("rigkit.course.chapters").__file__).parent
    return tuple(f"rigkit.course.chapters.{path.stem}" for path in sorted(folder.glob(f"chapter_{chapter}*.py")))
