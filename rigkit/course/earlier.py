"""What a learner built in an earlier chapter, for use in a later one: their own if it passed, else ours.

A function that passed is kept as text: its source, and the helpers, imports and
plain constants it leans on, so that it runs without its notebook. A value that
passed is kept as JSON. Ours is the worked answer. Where a chapter is graded alone,
the learner's earlier notebooks are not there, and ours stands in.
"""

import ast
import builtins
import inspect
import json
import linecache
import textwrap
import types

import numpy as np

from rigkit.course import chapters
from rigkit.course import context as contexts

LONGEST = 100_000  # characters of a kept function
INLINE = ("rigkit.course.chapters.", "earlier_")  # modules whose functions travel as text: the box has no chapters, and what `run` made is in no file


class NotKept(Exception):
    """What a function leans on can't be written down; the message names it."""


def kept(checkpoint, record, namespace):
    """Return a dict of answer name to text of an answer that passed, to be kept in the progress file; names that can't be kept are left out."""
    if checkpoint.kind == "function":
        (name,) = checkpoint.names
        try:
            return {name: function_text(namespace[name], name)}
        except (NotKept, KeyError):
            return {}
    if checkpoint.kind == "value":
        return {name: json.dumps(_plain(call.value)) for name, call in record.values.items() if call.outcome == "ok"}
    return {}


def own(checkpoint, progress):
    """Return the learner's own passed answer, a function or a dict of name to value, or None where it has not passed."""
    texts = {name: progress.source(checkpoint.id, name) for name in checkpoint.names}
    if None in texts.values() or any(progress.best(checkpoint.id).get(claim.id, 0) < claim.points for claim in checkpoint.claims):
        return None
    try:
        if checkpoint.kind == "function":
            ((name, text),) = texts.items()
            return run(text, name, checkpoint.id)
        return {name: checkpoint.names[name](json.loads(text)) for name, text in texts.items()}
    except Exception:  # whatever an old text does: ours is there
        return None


def ours(checkpoint, context):
    """Return the worked answer: the function, or a dict of name to value for this variant."""
    return checkpoint.worked if checkpoint.kind == "function" else checkpoint.worked(context)


def handed(chapter, context):
    """Return checkpoint id to what the box is handed of it: {"name", "text"} of a function or {"values"}."""
    found, known = {}, {}  # known: a chapter's context is made once, however many of its answers are asked for
    for one in chapter.uses:
        earlier = chapters.all_checkpoints()[one]
        if earlier.kind == "function":
            (name,) = earlier.names
            found[one] = {"name": name, "text": function_text(earlier.worked, name)}
            continue
        where = _chapter_of(one)
        if where not in known:
            known[where] = context_of(one, context)
        found[one] = {"values": ours(earlier, known[where])}
    return found


def context_of(checkpoint_id, context):
    """The Context of the chapter that a checkpoint stands in, for the robot of another Context."""
    return contexts.context(chapters.get(_chapter_of(checkpoint_id)), context.variant, context.robot)


def _chapter_of(checkpoint_id):
    """The id of the chapter that a checkpoint stands in: "01" of "01.4"."""
    return checkpoint_id.partition(".")[0]


# ---- a function as text -------------------------------------------------------------------------------------------


def function_text(function, name=None):
    """Return a text that defines a function and everything of its own that it needs.

    name: what it is to be called, by default its own name. Raises NotKept for what has no
    source (a built-in function, a lambda in an expression) or leans on an object that is no plain value.

    >>> print(function_text(_plain).splitlines()[0])
    import numpy as np
    """
    lines = {}
    _write(function, lines, {})
    text = "\n".join(lines.values())
    if name is not None and name != function.__name__:
        text += f"\n{name} = {function.__name__}"
    if len(text) > LONGEST:
        raise NotKept(f"{function.__name__} and what it needs is longer than {LONGEST} characters")
    return text


def run(text, name, checkpoint_id):
    """Run a kept text and return the function it defines; its lines are known to tracebacks as "<name of checkpoint>"."""
    place = f"<{name} of {checkpoint_id}>"
    linecache.cache[place] = (len(text), None, text.splitlines(keepends=True), place)
    namespace = {"__name__": f"earlier_{name}"}
    exec(compile(text, place, "exec"), namespace)
    return namespace[name]


def _write(function, lines, seen):
    """Add the text of what a function needs, then its own, to `lines` (name to text, in the order it must run)."""
    if not isinstance(function, types.FunctionType) or function.__name__ == "<lambda>":
        raise NotKept(f"{getattr(function, '__name__', function)!s} is no function with a name of its own")
    if function.__closure__:
        raise NotKept(f"{function.__name__} was made inside another function")
    try:
        source = textwrap.dedent(inspect.getsource(function))
    except (OSError, TypeError):
        raise NotKept(f"the source of {function.__name__} can't be found") from None
    seen[function.__name__] = function
    for name in _names(source, function.__code__):
        if name in function.__globals__ and name not in lines:
            _write_name(name, function.__globals__[name], function.__module__, lines, seen)
    lines[function.__name__] = source.rstrip()


def _write_name(name, value, module, lines, seen):
    if isinstance(value, types.ModuleType):
        lines[name] = f"import {value.__name__} as {name}"
    elif isinstance(value, types.FunctionType) and (value.__module__ == module or value.__module__.startswith(INLINE)):
        if seen.get(value.__name__, value) is not value or value.__name__ != name:
            raise NotKept(f"two functions are called {value.__name__}")
        if name not in seen:
            _write(value, lines, seen)
    elif callable(value) and getattr(value, "__module__", None) and "<locals>" not in getattr(value, "__qualname__", "<locals>") \
            and value.__module__ not in ("__main__", module):
        lines[name] = f"from {value.__module__} import {value.__qualname__.split('.')[0]} as {name}"
    else:
        lines[name] = f"{name} = {_literal(name, value, lines)}"


def _names(source, code):
    """The global names a function uses: in its body, and in its decorators and default values."""
    found = _code_names(code)
    tree = ast.parse(source).body[0]
    for outside in (*tree.decorator_list, *tree.args.defaults, *filter(None, tree.args.kw_defaults)):
        found += [node.id for node in ast.walk(outside) if isinstance(node, ast.Name)]
    return [name for name in dict.fromkeys(found) if not hasattr(builtins, name)]


def _code_names(code):
    inner = [name for constant in code.co_consts if isinstance(constant, types.CodeType) for name in _code_names(constant)]
    return [*code.co_names, *inner]


def _literal(name, value, lines):
    """A plain value as Python text."""
    if isinstance(value, (np.ndarray, np.generic)):
        lines.setdefault("np", "import numpy as np")
        return f"np.array({np.asarray(value).tolist()!r}, dtype={str(np.asarray(value).dtype)!r})"
    try:
        if ast.literal_eval(repr(value)) == value:
            return repr(value)
    except (ValueError, SyntaxError, TypeError, MemoryError, RecursionError):
        pass
    raise NotKept(f"it uses {name}, which is no plain value")


def _plain(value):
    """A value as JSON knows it: arrays become lists."""
    if isinstance(value, (np.ndarray, np.generic)):
        return value.tolist()
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    return value
