"""The chapters of the course, one module each (`chapter_NN.py` with a CHAPTER), loaded when asked for."""

from functools import cache
from importlib import import_module
from pathlib import Path


_course = [None, ()]  # how the course in use changes a chapter, and which chapters it has, in order; none for all


def adapt(change=None, order=()):
    """Have every chapter changed by `change` (a function of the Chapter) and the course hold the chapters `order`; all when empty."""
    _course[:] = [change, tuple(order)]


def ids(printed=False):
    """Return the ids of the course's chapters in its order: ["00", "01", ...]. printed: of all chapters there are."""
    if _course[1] and not printed:
        return list(_course[1])
    return list(_there())


@cache
def _there():
    return sorted(path.stem.removeprefix("chapter_") for path in Path(__file__).parent.glob("chapter_[0-9][0-9].py"))


def get(chapter, printed=False):
    """Return one Chapter by its id, as the course in use has it; an unknown id is a ValueError that lists them.

    printed: as it is printed, whatever the course changes.

    >>> get("99")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    ValueError: there is no chapter '99'; there are: ...
    """
    if chapter not in ids(printed=True):
        raise ValueError(f"there is no chapter {chapter!r}; there are: {', '.join(ids()) or 'none'}")
    found = import_module(f"{__name__}.chapter_{chapter}").CHAPTER
    return found if printed or _course[0] is None else _course[0](found)


def all_checkpoints(printed=False):
    """Return a dict of checkpoint id to Checkpoint, all chapters there are, in order."""
    return {checkpoint.id: checkpoint for chapter in ids(printed=True) for checkpoint in get(chapter, printed).checkpoints}
