"""Answers moved from a learner's notebook into a newer copy of the same chapter.

A cell is known by what it fills: the names it sets and the questions it answers
(`chapter.predict("06.a", ...)`), never by its place. A cell of the newer copy that
waits for an answer (there is a `...` in it) takes the learner's cell that fills
the same. What fills nothing there stays in the older notebook, which is kept.
"""

import ast
import json

ASKED = ("recall", "predict", "explain", "wrap_up")  # chapter.recall(1, ...)


def moved(mine, newer):
    """Return (the newer notebook with the answers of `mine` in it, how many cells were moved); both notebooks are bytes.

    Raises ValueError when `mine` is no notebook.
    """
    old, new = _read(mine), json.loads(newer)
    filled = [(slots, _source(cell)) for cell in _code(old) if (slots := _slots(_source(cell))) and not _open(_source(cell))]
    count = 0
    for cell in _code(new):
        wanted = _slots(_source(cell))
        if not wanted or not _open(_source(cell)):
            continue
        found = next((one for one in filled if one[0] >= wanted), None) or next((one for one in filled if one[0] & wanted), None)
        if found is not None:
            filled.remove(found)
            cell["source"], count = found[1], count + 1
    return json.dumps(new, indent=1, ensure_ascii=False).encode() + b"\n", count


# -- helpers


def _read(data):
    try:
        told = json.loads(data)
        assert all(isinstance(cell, dict) and "cell_type" in cell for cell in told["cells"])
    except (ValueError, KeyError, TypeError, AssertionError, RecursionError):
        raise ValueError("it is no notebook that can be read") from None
    return told


def _code(notebook):
    return [cell for cell in notebook["cells"] if cell["cell_type"] == "code"]


def _source(cell):
    source = cell.get("source", "")
    return source if isinstance(source, str) else "".join(source)


def _tree(source):
    try:
        return ast.parse(source)
    except (SyntaxError, ValueError, RecursionError):
        return None  # a magic, or work that is not finished: it fills nothing


def _slots(source):
    """What a cell fills: names it sets at its top level, and questions as "predict 06.a"."""
    tree, found = _tree(source), set()
    for node in tree.body if tree else ():
        if isinstance(node, ast.FunctionDef):
            found.add(node.name)
        elif isinstance(node, (ast.Assign, ast.AnnAssign)):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            found |= {name.id for target in targets for name in ast.walk(target) if isinstance(name, ast.Name) and isinstance(name.ctx, ast.Store)}
        elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
            found |= _question(node.value)
    return frozenset(found)


def _question(call):
    known = isinstance(call.func, ast.Attribute) and call.func.attr in ASKED and call.args and isinstance(call.args[0], ast.Constant)
    return {f"{call.func.attr} {call.args[0].value}"} if known else set()


def _open(source):
    """Whether a cell still waits: every place to fill in it holds `...` or "..."."""
    tree = _tree(source)
    return tree is None or any(isinstance(node, ast.Constant) and node.value in (..., "...") and not _told(tree, node) for node in ast.walk(tree))


def _told(tree, node):
    """Whether a `...` is only asked about: `if hip is not ...:` waits for nothing."""
    return any(isinstance(compared, ast.Compare) and node in compared.comparators for compared in ast.walk(tree))
