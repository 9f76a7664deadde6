"""Which of the package's closed functions the cell behind a value calls.

A function answer is tried with the book closed; a value was computed before
anybody asked. So the cell that set it is read: a call in it that leads to a
closed function, straight or through a function of the learner's own, is told in
the notebook as grading will tell it, where that call raises.
"""

import ast
import inspect
import textwrap
import types

from rigkit.course.closed import functions


def closed_calls(names, cells, namespace, closed):
    """Return a dict of answer name to the closed function its cell calls ("limb.pole_point"); names without one are left out.

    cells: the sources that were run, oldest first. closed: as in Checkpoint.
    """
    found = {}
    forbidden = {function: told for name in closed for told, function in functions(name)}
    for name in names:
        tree = next((tree for tree in map(_tree, reversed(cells)) if tree is not None and _sets(tree, name)), None)
        told = _called(tree, namespace, forbidden, set()) if tree is not None else None
        if told:
            found[name] = told
    return found


# -- helpers


def _tree(source):
    try:
        return ast.parse(textwrap.dedent(source))
    except (SyntaxError, ValueError, RecursionError):
        return None  # a magic or a shell line: the cell is left to grading


def _sets(tree, name):
    return any(isinstance(node, ast.Name) and node.id == name and isinstance(node.ctx, ast.Store) for node in ast.walk(tree))


def _called(tree, namespace, forbidden, seen):
    """The first closed function that a call in the tree leads to, or None."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        target = _resolve(node.func, namespace)
        if not isinstance(target, types.FunctionType) or target in seen:
            continue
        if target in forbidden:
            return forbidden[target]
        if target.__globals__ is namespace:
            seen.add(target)
            inner = _tree(_text(target))
            told = _called(inner, namespace, forbidden, seen) if inner is not None else None
            if told:
                return told
    return None


def _resolve(node, namespace):
    """What a name or a dotted name stands for; only modules and classes of the package are looked into."""
    if isinstance(node, ast.Name):
        found = namespace.get(node.id)
    elif isinstance(node, ast.Attribute):
        owner = _resolve(node.value, namespace)
        ours = isinstance(owner, types.ModuleType) and owner.__name__.split(".")[0] == "rigkit"
        found = getattr(owner, node.attr, None) if ours else None
    else:
        return None
    return inspect.unwrap(found) if isinstance(found, types.FunctionType) else found


def _text(function):
    try:
        return inspect.getsource(function)
    except (OSError, TypeError):
        return ""
