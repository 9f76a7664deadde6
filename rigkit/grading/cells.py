"""The code cells of a stranger's notebook, and which chapter they open."""

import json
import re

from rigkit.course.archive import Trouble
from rigkit.course.archive import printable as _told

CELLS = 2_000
SOURCE = 2 << 20  # letters of code in one notebook
_QUICK = re.compile(rb"open_chapter\(\s*\\?[\"'](\d\d)\\?[\"']")
_OPENS = re.compile(r"^[^#\n]*\bopen_chapter\(\s*[\"'](\d\d)[\"']", re.MULTILINE)


def cells(data):
    """Return the sources of a notebook's code cells, in order; Trouble for anything but a sound notebook of format 4."""
    notebook = _json(data)
    if type(notebook) is not dict:
        raise Trouble("it is not a notebook: the JSON is no object")
    if notebook.get("nbformat") != 4 or type(notebook.get("nbformat")) is not int:
        raise Trouble(
            f"it is a notebook of format {_told(repr(notebook.get('nbformat')))}; open it in JupyterLab and save it, to get format 4"
        )
    found = notebook.get("cells")
    if type(found) is not list:
        raise Trouble("it is a notebook without a list of cells")
    if len(found) > CELLS:
        raise Trouble(f"it has {len(found)} cells; we read {CELLS}")
    sources = [_source(cell, number) for number, cell in enumerate(found, 1) if type(cell) is dict and cell.get("cell_type") == "code"]
    if sum(map(len, sources)) > SOURCE:
        raise Trouble(f"it has more than {SOURCE} letters of code")
    return sources


def chapter_of(data, named=""):
    """The chapter that a notebook's code opens, "06"; `named`, the one its name says, where it opens none or that one too.

    >>> chapter_of(b'{"nbformat": 4, "cells": [{"cell_type": "code", "source": "c = open_chapter(\\\\"06\\\\")"}]}', "07")
    '06'
    """
    if {found.decode() for found in _QUICK.findall(data)} <= {named}:
        return named
    try:
        found = [one for source in cells(data) for one in _OPENS.findall(source)]
    except Trouble:
        return named
    return named if named in found or not found else found[0]


def _json(data):
    if not data.strip(b" \t\r\n\0"):
        raise Trouble("it is empty")
    try:
        return json.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise Trouble("it is not a notebook: the text is not UTF-8") from None
    except RecursionError:
        raise Trouble("it is not a notebook: its JSON is nested too deep") from None
    except ValueError as error:
        raise Trouble(f"it is not a notebook: {_told(str(error))}") from None


def _source(cell, number):
    source = cell.get("source", "")
    if type(source) is list and all(type(line) is str for line in source):
        source = "".join(source)
    if type(source) is not str:
        raise Trouble(f"cell {number} holds no text")
    return source
