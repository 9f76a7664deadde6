"""How a session speaks: lines of text, folded between words, and questions with lettered answers."""

import string
import sys
import textwrap

import numpy as np


def none_told(function, line):
    """A second line where an error says that something is None: numpy's own words for it name neither None nor where it comes from."""
    if "NoneType" not in line and "matmul: Input operand" not in line:
        return ""
    who = "`unit` gave None: a vector had no length" if "unit" in getattr(getattr(function, "__code__", None), "co_names", ()) else (
        "a value is None where a vector or a number is wanted")
    return f"\nlikely: {who}"


def told(value):
    """A value of plain data as a person reads it: numbers to six digits, a name a line."""
    if isinstance(value, dict):
        width = max(len(str(key)) for key in value)
        return "\n".join(f"{key!s:<{width}}  {told(item)}" for key, item in value.items())
    if isinstance(value, np.ndarray):
        return np.array2string(value + 0.0, precision=6, suppress_small=True)
    if isinstance(value, list) and all(type(item) is int for item in value):
        return str(value)
    if isinstance(value, (list, tuple)):
        return "\n".join(told(item) for item in value)
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def lettered(choices):
    """A line for each choice, with its letter."""
    return [f"   {letter}) {choice}" for letter, choice in zip(string.ascii_lowercase, choices)]


def asked(kind, number, question):
    """A question with its choices, and how to answer it."""
    return "\n".join([f"{number}. {question[0]}", *lettered(question[1]), f'   answer with  chapter.{kind}({number}, "a")'])


def chosen(answer, choices):
    """The index of the choice an answer means: its letter, the choice itself or its words before a colon; None when it is none of them."""
    told = " ".join(str(answer).split()).casefold().rstrip(")")
    letters = string.ascii_lowercase[:len(choices)]
    if len(told) == 1 and told in letters:
        return letters.index(told)
    words = [{str(choice).casefold(), str(choice).casefold().split(":")[0]} for choice in choices]
    return next((i for i, meant in enumerate(words) if told in meant), None)


def shell():
    """The IPython shell this runs in, or None."""
    module = sys.modules.get("IPython")
    return module.get_ipython() if module is not None else None


def display(shown):
    """Display a thing in the cell, or print it where there is none."""
    if shell() is None:
        print(shown)
        return
    import IPython.display
    IPython.display.display(shown)


def say(text):
    """Print text, long lines folded between words: a notebook would cut them anywhere."""
    print("\n".join(part for line in text.split("\n") for part in _folded(line)))


def _folded(line):
    indent = " " * (len(line) - len(line.lstrip()))
    return textwrap.wrap(line, 110, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False) if len(line) > 110 else [line]
